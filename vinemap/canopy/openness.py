"""How closed the leaves are, how they close again, and how much faster mildew grows where it is shaded and still."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from vinemap.columns import Floats

SUN_SWING, WIND_SWING = 0.23, 0.07
CLOSING_DEGREE_DAYS = 300.0
OPEN_LAYERS, CLOSED_LAYERS = 1.5, 3.0
CLOSED_BY_LIGHT = (np.nan, 0.0, 0.5, 1.0)
"""How closed leaves are by what a scout saw through them: not noted, daylight, some, none (stated assumption)."""


def regrowth(
    degree_days: npt.ArrayLike, vigour: npt.ArrayLike = 0.5, closing_degree_days: float = CLOSING_DEGREE_DAYS
) -> Floats:
    """How much of what was open has closed again (n,) 0 .. 1, after ``degree_days`` (n,) [degC days above 10].

    ``vigour`` (n,) 0..1: a usual vine closes within ``closing_degree_days`` [degC days], a weak one in one and a half times
    as many, a rank one in half. NaN or infinite: 1.
    Source: leaves appear in step with degree days above 10 degC, on main shoots about one in 25, on laterals one in 50 or so
    (from memory, Schultz 1992; Lebon et al. 2004); six such leaves to close an opening, and vigour:
    stated assumptions.
    """
    warmth, vigour = np.broadcast_arrays(np.asarray(degree_days, np.float64), np.asarray(vigour, np.float64))
    full = closing_degree_days * (1.5 - np.clip(vigour, 0.0, 1.0))
    return np.asarray(np.where(np.isnan(warmth), 1.0, np.clip(warmth / full, 0.0, 1.0)), np.float64)


def closed_by_layers(layers: npt.ArrayLike) -> Floats:
    """How closed leaves of so many ``layers`` (n,) are (n,) 0 (open) .. 1 (closed).

    Source: 1.0 to 1.5 layers are the aim (Smart & Robinson 1991, Sunlight into Wine); closed from 3 on, stated assumption.
    """
    return np.asarray(np.clip((np.asarray(layers, np.float64) - OPEN_LAYERS) / (CLOSED_LAYERS - OPEN_LAYERS), 0.0, 1.0))


def growth_factor(sun_frac: npt.ArrayLike, wind_frac: npt.ArrayLike) -> Floats:
    """How fast mildew grows in a place (n,), relative to the usual 1: 0.7 in sun and wind .. 1.3 in shade and shelter.

    ``sun_frac``, ``wind_frac`` (n,) 0..1: how sunny and windy the place is among its like, 0.5 usual.
    Source: shade raised leaf severity by 49 to 75 % (Austin & Wilcox 2012, Phytopathology 102:857): shade against sun is 1.6
    here with the wind as usual; the smaller part of the wind is a stated assumption.
    """
    sun = np.clip(np.asarray(sun_frac, np.float64), 0.0, 1.0)
    wind = np.clip(np.asarray(wind_frac, np.float64), 0.0, 1.0)
    return np.asarray(1.0 + SUN_SWING * (1.0 - 2.0 * sun) + WIND_SWING * (1.0 - 2.0 * wind), np.float64)
