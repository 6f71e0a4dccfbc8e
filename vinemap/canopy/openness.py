"""How closed the leaves are again after a pass, and how much faster mildew grows where it is shaded and still."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from vinemap.columns import Floats

SUN_SWING, WIND_SWING = 0.23, 0.07


def closedness(days_since_pass: npt.ArrayLike, vigour: npt.ArrayLike = 0.5) -> Floats:
    """How far the leaves have closed again (n,) 0 (just opened) .. 1 (closed), for days since the pass (n,) [days].

    ``vigour`` (n,) 0..1: a weak vine closes in 42 days, a usual one in 28, a rank one in 14. NaN or infinite days: never
    opened, 1; before the pass, 1. Source: stated assumption: laterals refill an opened fruit zone in about a month.
    """
    days, vigour = np.broadcast_arrays(np.asarray(days_since_pass, np.float64), np.asarray(vigour, np.float64))
    full = 42.0 - 28.0 * np.clip(vigour, 0.0, 1.0)
    return np.asarray(np.where(days >= 0, np.minimum(days / full, 1.0), 1.0), np.float64)


def growth_factor(sun_frac: npt.ArrayLike, wind_frac: npt.ArrayLike) -> Floats:
    """How fast mildew grows in a place (n,), relative to the usual 1: 0.7 in sun and wind .. 1.3 in shade and shelter.

    ``sun_frac``, ``wind_frac`` (n,) 0..1: how sunny and windy the place is among its like, 0.5 usual.
    Source: shade raised leaf severity by 49 to 75 % (Austin & Wilcox 2012, Phytopathology 102:857): shade against sun is 1.6
    here with the wind as usual; the smaller part of the wind is a stated assumption.
    """
    sun = np.clip(np.asarray(sun_frac, np.float64), 0.0, 1.0)
    wind = np.clip(np.asarray(wind_frac, np.float64), 0.0, 1.0)
    return np.asarray(1.0 + SUN_SWING * (1.0 - 2.0 * sun) + WIND_SWING * (1.0 - 2.0 * wind), np.float64)
