"""A figure known at many places of the estate that may help to map mildew: vigour, height of the ground, depth of soil."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from vinemap.columns import Floats, freeze

REACH_M = 5.0
"""How far [m] a known value still speaks for a vine: about two rows (a choice)."""
OWN_M = 0.5
"""A place nearer than this [m] is the vine's own."""


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Covariate:
    """A column of figures by place, so that it stays right when rows are changed.

    ``name``: what it is called; ``source``: the file it came from; ``points_m``: (n, 2) [m] places in the estate's frame;
    ``values``: (n,) figures in the unit of the file. All are finite: raises ValueError otherwise, which is a defect.
    """

    name: str
    source: str
    points_m: Floats
    values: Floats

    def __post_init__(self) -> None:
        freeze(self, points_m=np.float64, values=np.float64)
        if self.points_m.shape != (len(self.values), 2) or self.values.ndim != 1:
            raise ValueError(f"covariate {self.name}: places and values do not match")
        if not (np.isfinite(self.points_m).all() and np.isfinite(self.values).all()):
            raise ValueError(f"covariate {self.name}: a place or value is not finite")

    def __len__(self) -> int:
        return len(self.values)


def value_at(covariate: Covariate, at_m: Floats, reach_m: float = REACH_M) -> Floats:
    """Value (k,) of the nearest known place within ``reach_m`` [m] of each place (k, 2) [m]; NaN where there is none."""
    found = np.full(len(at_m), np.nan)
    if not len(covariate) or not len(at_m):
        return found
    away_m, nearest = cKDTree(covariate.points_m).query(np.asarray(at_m, np.float64))
    near = np.asarray(away_m) <= reach_m
    found[near] = covariate.values[np.asarray(nearest)[near]]
    return found


def smoothed_at(covariate: Covariate, at_m: Floats, neighbours: int = 8) -> Floats:
    """Value (k,) at each place (k, 2) [m] from the nearest known places but never from its own, weighted by inverse distance.

    For figures noted at some vines only: a vine where the figure was noted is told as all others are, from around it, so that
    what it gains there it gains everywhere.
    """
    at_m = np.asarray(at_m, np.float64).reshape(-1, 2)
    if len(covariate) < 2:
        return np.full(len(at_m), np.nan)
    most = min(neighbours + 1, len(covariate))
    away_m, nearest = cKDTree(covariate.points_m).query(at_m, np.arange(1, most + 1))
    weight = np.where(away_m < OWN_M, 0.0, 1.0 / np.maximum(away_m, OWN_M))
    total = weight.sum(axis=1)
    summed = (weight * covariate.values[nearest]).sum(axis=1)
    values: Floats = np.divide(summed, total, out=np.full(len(at_m), np.nan), where=total > 0.0)
    return values
