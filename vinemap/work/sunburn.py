"""Sunburn risked when clusters are laid open: a small stated model, so that opening shows both of its costs.

Of the clusters that an opening lays bare a share burns, and a burned cluster loses a part of its fruit. The share grows
with the hot sun on the face until harvest, with the heat that is forecast, and with how late the fruit is laid bare.

Sources: berries laid bare early harden, sudden sun after veraison is worst (Gambetta et al. 2021, Frontiers in Plant
Science 11:604691); damage mainly on the face toward the afternoon and the equator (common practice). The figures are
stated assumptions.
"""

from __future__ import annotations

import numpy as np

from vinemap.columns import Floats
from vinemap.work.assumptions import Assumptions

PEA_SIZE_DAYS = 28.0
"""Days from bloom to pea size, until when fruit hardens as it grows (common practice)."""
HARDENED = 0.3
"""Burn of fruit laid bare by pea size, relative to fruit laid bare after veraison (stated assumption)."""
HEAT_TIMES = 3.0
"""How many times more burns where the heat that stops opening is forecast (stated assumption)."""
HEAT_DAYS = 5
"""Days ahead that heat counts (stated assumption: fruit hardens in about a week)."""
LAID_BARE = np.array([0.35, 0.70, 0.70])
"""Share of the clusters of the first face that opening lightly, firmly and on both faces lays bare (stated assumption)."""
ROOF = 0.35
"""Share laid bare on the other face, which keeps an outer leaf as a roof (stated assumption)."""
FACE_SHARE = 0.5
"""Share of a row's clusters that hang on one face (stated assumption)."""


def burn_share(
    hot_kwh_m2: Floats, since_bloom: float, colour_days: float, heat_degc: float, assumptions: Assumptions
) -> Floats:
    """Share (n,) of clusters laid bare today that burn, on faces with this hot sun until harvest (n,) [kWh/m2].

    ``since_bloom``: days since half bloom, NaN where not known; ``colour_days``: days from bloom to colour; ``heat_degc``:
    the highest temperature that is forecast [degC], NaN where there is no forecast.
    """
    sun = np.minimum(np.asarray(hot_kwh_m2, np.float64) / assumptions.burn_hot_kwh_m2, 1.0)
    burned: Floats = assumptions.burn_share * sun * lateness(since_bloom, colour_days) * heat_factor(heat_degc, assumptions)
    return np.minimum(burned, 1.0)


def lateness(since_bloom: float, colour_days: float) -> float:
    """Burn of fruit laid bare now, relative to fruit laid bare after colour: 0.3 until pea size, then rising to 1."""
    if np.isnan(since_bloom):
        return HARDENED
    late = (since_bloom - PEA_SIZE_DAYS) / max(colour_days - PEA_SIZE_DAYS, 1.0)
    return HARDENED + (1.0 - HARDENED) * float(np.clip(late, 0.0, 1.0))


def heat_factor(heat_degc: float, assumptions: Assumptions) -> float:
    """How many times more burns in the heat that is forecast: 1 below the cautious limit, 3 at the one that stops opening."""
    if np.isnan(heat_degc):
        return 1.0
    low, high = assumptions.heat_caution_degc, max(assumptions.heat_stop_degc, assumptions.heat_caution_degc + 0.1)
    return 1.0 + (HEAT_TIMES - 1.0) * float(np.clip((heat_degc - low) / (high - low), 0.0, 1.0))


def is_too_hot(heat_degc: float, assumptions: Assumptions) -> bool:
    """Whether the heat that is forecast stops opening a hot face."""
    return bool(heat_degc >= assumptions.heat_stop_degc)


def burned_clusters(
    clusters: Floats, closed: Floats, strength: np.ndarray, burn: tuple[Floats, Floats], burn_loss: float
) -> Floats:
    """Clusters (n,) lost to the sun by opening spans (n,) today.

    ``clusters`` (n,) of each span; ``closed`` (n,) how closed its leaves are, 0..1: what is bare already is not laid bare;
    ``strength`` (n,) index into the strengths of opening; ``burn``: share (n,) that burns on the first and the other face.
    """
    first, other = burn
    on_other = np.where(strength == len(LAID_BARE) - 1, ROOF, 0.0)
    lost: Floats = clusters * closed * FACE_SHARE * (LAID_BARE[strength] * first + on_other * other) * burn_loss
    return lost
