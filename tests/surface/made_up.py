"""Invented blocks whose true incidence is known: a pattern, the vines' own part, and counted clusters."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.special import expit

from vinemap.surface.kriging import data_covariance
from vinemap.surface.variogram import Variogram, in_ranges

BEARING_DEG = 20.0


@dataclass(frozen=True)
class MadeUp:
    """Vines (n, 2) [m], their true incidence (n,), and stops at some of them with counts."""

    vines_m: np.ndarray
    truth: np.ndarray
    stop: np.ndarray
    examined: np.ndarray
    infected: np.ndarray

    @property
    def stops_m(self):
        return self.vines_m[self.stop]

    @property
    def others(self):
        return np.setdiff1d(np.arange(len(self.truth)), self.stop)


@cache
def _vines_and_root(range_m, ratio, rows=28, places=45):
    across, along = (axis.ravel() for axis in np.meshgrid(np.arange(rows) * 2.5, np.arange(places) * 1.5, indexing="ij"))
    sin, cos = np.sin(np.radians(BEARING_DEG)), np.cos(np.radians(BEARING_DEG))
    vines_m = np.column_stack([along * sin + across * cos, along * cos - across * sin])
    pattern = Variogram("exponential", 0.0, 1.0, range_m, ratio, BEARING_DEG)
    return vines_m, np.linalg.cholesky(data_covariance(in_ranges(pattern, vines_m), np.full(len(vines_m), 1e-8), pattern))


def made_up_block(rng, middle=-2.5, shared=1.5, own=0.5, range_m=25.0, ratio=0.6, stops=40, per_vine=10):
    """A block with logit incidence of mean ``middle`` and variances ``shared`` and ``own``."""
    vines_m, root = _vines_and_root(range_m, ratio)
    logit = (
        middle + np.sqrt(shared) * root @ rng.standard_normal(len(vines_m)) + np.sqrt(own) * rng.standard_normal(len(vines_m))
    )
    truth = expit(logit)
    stop = rng.choice(len(vines_m), stops, replace=False)
    examined = np.full(stops, per_vine)
    return MadeUp(vines_m, truth, stop, examined, rng.binomial(examined, truth[stop]))
