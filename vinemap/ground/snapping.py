"""A stop beside its row goes to the nearest vine of it, never farther than told."""

from __future__ import annotations

import math

import numpy as np

from vinemap.columns import Floats, Ints
from vinemap.ground.block import Vines
from vinemap.ground.locate import nearest_vine

SNAP_M = 5.0
"""How far a stop may be moved where nobody says else [m]: under two usual row spacings. A choice."""
MOST_SNAP_M = 20.0


def snap(vines: Vines, x_m: Floats, y_m: Floats, most_m: float) -> tuple[Ints, Floats]:
    """Index (n,) of the living vine nearest to each place (n,) [m], -1 beyond ``most_m`` [m], and its distance (n,) [m]."""
    found, away_m = nearest_vine(vines, x_m, y_m)
    return np.where(away_m <= most_m, found, -1).astype(np.int32), away_m


def snap_to_row(vines: Vines, row: int, x_m: float, y_m: float, most_m: float) -> tuple[int, float]:
    """Index of the living vine of a row (by its index) nearest to a place [m], and its distance [m]; -1 beyond ``most_m``."""
    own = np.arange(vines.row_start[row], vines.row_start[row + 1])
    own = own[vines.is_living[own]]
    if not len(own):
        return -1, math.inf
    away_m = np.hypot(vines.x_m[own] - x_m, vines.y_m[own] - y_m)
    nearest = int(np.argmin(away_m))
    distance_m = float(away_m[nearest])
    return (int(own[nearest]) if distance_m <= most_m else -1), distance_m
