"""Ordinary kriging of all vines of a block from all stops at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt
from scipy.linalg import LinAlgError, cho_solve, cholesky, solve_triangular
from scipy.spatial import cKDTree
from scipy.spatial.distance import cdist

from vinemap.columns import Bools, Floats, freeze
from vinemap.errors import InputError, Tick, TooFewData, no_tick
from vinemap.surface.variogram import SAME_PLACE_M, Variogram, correlation, in_ranges

ALL_AT_ONCE = 1500
"""Up to so many stops are solved in one system; above, each vine is given its nearest stops only."""
NEAREST = 64
CHUNK_CELLS = 500_000
"""Places times points worked at once: small enough for the processor's near memory."""


@dataclass(frozen=True, slots=True, eq=False)
class Kriged:
    """Kriged values at m places.

    ``mean``: (m,); ``variance``: (m,) of a new value there, the vine's own part (nugget) included; ``structured_variance``:
    (m,) of the part that neighbours share.
    """

    mean: Floats
    variance: Floats
    structured_variance: Floats

    def __post_init__(self) -> None:
        freeze(self, mean=np.float64, variance=np.float64, structured_variance=np.float64)


def check_places(points_m: Floats, *columns: Floats) -> None:
    """Raise TooFewData without points (n, 2) [m], InputError when they or columns (n,) differ in length or are not finite."""
    if len(points_m) == 0:
        raise TooFewData("There are no stops to map.", "Add at least one stop with examined clusters.")
    if points_m.ndim != 2 or points_m.shape[1] != 2 or any(len(column) != len(points_m) for column in columns):
        raise InputError("Stops and their counts do not match in number.", "Check that every stop has a place and counts.")
    if not np.isfinite(points_m).all() or not all(np.isfinite(column).all() for column in columns):
        raise InputError("A stop has no place or no count.", "Give every stop a place and counts, or leave it out.")


def nearest_points(tree: cKDTree, places: Floats, count: int) -> tuple[Floats, npt.NDArray[np.int64]]:
    """Distances and indices (m, count) of the nearest points of ``tree`` to places (m, 2)."""
    distance, index = tree.query(places, np.arange(1, count + 1))
    return np.asarray(distance, np.float64), np.asarray(index, np.int64)


def data_covariance(reach_points: Floats, noise_var: Floats, variogram: Variogram) -> Floats:
    """Covariance (n, n) of the noisy values at points scaled by ``in_ranges``."""
    reach = cdist(reach_points, reach_points)
    matrix = variogram.structured_sill * correlation(variogram.kind, reach)
    matrix[reach * variogram.range_m < SAME_PLACE_M] += variogram.nugget
    matrix[np.diag_indices_from(matrix)] += noise_var
    return matrix


def krige(
    points_m: Floats, values: Floats, noise_var: Floats, variogram: Variogram, at_m: Floats, tick: Tick = no_tick
) -> Kriged:
    """Ordinary kriging of ``values`` (n,) at ``points_m`` (n, 2) [m] to ``at_m`` (m, 2) [m].

    ``noise_var`` (n,): variance of the error of each value, 0 where it is exact. A place within a millimetre of a point
    stands at the same vine: it shares the nugget, so an exact value is given back with variance 0. Above 1,500 points
    each place uses its 64 nearest in ranges; the surface can then jump a little where neighbours change.

    Raises TooFewData without points; InputError when figures are not finite or two exact values stand at one place.
    Source: Cressie 1993, Statistics for Spatial Data, section 3.2; noise on the diagonal, section 3.2.1.
    """
    points_m, at_m = np.asarray(points_m, float), np.asarray(at_m, float)
    values, noise_var = np.asarray(values, float), np.asarray(noise_var, float)
    check_places(points_m, values, noise_var)
    points, places = in_ranges(variogram, points_m), in_ranges(variogram, at_m.reshape(-1, 2))
    refuse_exact_twins(points * variogram.range_m, noise_var)
    if len(points) <= ALL_AT_ONCE:
        solve, cells = partial(_from_all, _factor(points, values, noise_var, variogram)), len(points)
    else:
        solve, cells = partial(_from_nearest, cKDTree(points), values, noise_var, variogram), NEAREST**2
    out = np.empty((3, len(places)))
    step = max(1, CHUNK_CELLS // cells)
    for start in range(0, len(places), step):
        tick(start / len(places))
        out[:, start : start + step] = solve(places[start : start + step])
    tick(1.0)
    mean, variance, shared = out
    return Kriged(mean, np.maximum(variance, 0.0), np.clip(shared, 0.0, np.maximum(variance, 0.0)))


def refuse_exact_twins(points_m: Floats, noise_var: Floats) -> None:
    """Raise InputError when two values without error stand at one place (n, 2) [m]."""
    exact = points_m[noise_var <= 0.0]
    if len(exact) > 1 and cKDTree(exact).query_pairs(SAME_PLACE_M):
        raise InputError("Two stops stand at the same vine.", "Add their counts together, or leave one out.")


@dataclass(frozen=True, slots=True, eq=False)
class _System:
    """All points in one system, factored once: lower root (n, n); through it the ones, the rest and the level of the data."""

    points: Floats
    variogram: Variogram
    root: Floats
    ones: Floats
    rest: Floats
    level: float

    def solve(self, to_points: Floats, sill: float) -> tuple[Floats, Floats]:
        """Mean and variance (m,) for covariances (m, n) to the points."""
        spread = solve_triangular(self.root, to_points.T, lower=True, check_finite=False)
        slack = 1.0 - self.ones @ spread
        mean: Floats = self.level + self.rest @ spread
        variance: Floats = sill - np.einsum("ij,ij->j", spread, spread) + slack * slack / (self.ones @ self.ones)
        return mean, variance


def _factor(points: Floats, values: Floats, noise_var: Floats, variogram: Variogram) -> _System:
    try:
        root = cholesky(data_covariance(points, noise_var, variogram), lower=True, check_finite=False)
    except LinAlgError as error:
        raise InputError(
            "The stops are too close together for this variogram.", "Give it a little more nugget or another kind."
        ) from error
    ones = solve_triangular(root, np.ones(len(points)), lower=True)
    data = solve_triangular(root, values, lower=True)
    level = float(ones @ data) / float(ones @ ones)
    return _System(points, variogram, root, ones, data - level * ones, level)


def _from_all(system: _System, places: Floats) -> tuple[Floats, Floats, Floats]:
    """Mean, variance and shared variance (m,) at places (m, 2) from every point."""
    variogram = system.variogram
    reach = cdist(places, system.points)
    same: Bools = reach < SAME_PLACE_M / variogram.range_m
    to_points = correlation(variogram.kind, reach)
    to_points *= variogram.structured_sill
    mean, shared = system.solve(to_points, variogram.structured_sill)
    variance = shared + variogram.nugget
    at_stop = np.flatnonzero(same.any(axis=1))
    if len(at_stop):
        own = to_points[at_stop] + variogram.nugget * same[at_stop]
        mean[at_stop], variance[at_stop] = system.solve(own, variogram.sill)
    return mean, variance, shared


def _from_nearest(
    tree: cKDTree, values: Floats, noise_var: Floats, variogram: Variogram, places: Floats
) -> tuple[Floats, Floats, Floats]:
    """Mean, variance and shared variance (m,) at places (m, 2) from the nearest points, a small system for each."""
    reach, near = nearest_points(tree, places, NEAREST)
    points = tree.data[near]
    between = np.sqrt(((points[:, :, None] - points[:, None]) ** 2).sum(axis=-1))
    matrix = variogram.structured_sill * correlation(variogram.kind, between)
    matrix[between * variogram.range_m < SAME_PLACE_M] += variogram.nugget
    corner = np.arange(NEAREST)
    matrix[:, corner, corner] += noise_var[near]
    same: Bools = reach * variogram.range_m < SAME_PLACE_M
    shared_to = variogram.structured_sill * correlation(variogram.kind, reach)
    own_to = shared_to + variogram.nugget * same
    right = np.stack([np.ones_like(reach), shared_to, own_to], axis=-1)
    ones, shared_w, own_w = np.moveaxis(np.linalg.solve(matrix, right), -1, 0)
    weight = ones.sum(axis=1)
    slack, own_slack = 1.0 - shared_w.sum(axis=1), 1.0 - own_w.sum(axis=1)
    shared = variogram.structured_sill - (shared_to * shared_w).sum(axis=1) + slack**2 / weight
    # away from a stop the two solutions are one, and the nugget is all new
    at_stop = same.any(axis=1)
    sill = np.where(at_stop, variogram.sill, variogram.structured_sill)
    variance = sill - (own_to * own_w).sum(axis=1) + own_slack**2 / weight + np.where(at_stop, 0.0, variogram.nugget)
    mean = ((own_w + ones * (own_slack / weight)[:, None]) * values[near]).sum(axis=1)
    return mean, variance, shared


def leave_one_out(points_m: Floats, values: Floats, noise_var: Floats, variogram: Variogram) -> tuple[Floats, Floats]:
    """Mean (n,) and variance (n,) of the true value at each point, kriged from all the others.

    Up to 1,500 points. Source: Dubrule 1983, Mathematical Geology 15:687.
    """
    matrix = data_covariance(in_ranges(variogram, points_m), noise_var, variogram)
    root = cholesky(matrix, lower=True)
    precision = cho_solve((root, True), np.eye(len(values)))
    total = precision.sum(axis=1)
    # taking out the unknown level turns the precision into that of ordinary kriging
    precision -= np.outer(total, total) / total.sum()
    diagonal = np.diag(precision)
    mean: Floats = values - (precision @ values) / diagonal
    variance: Floats = np.maximum(1.0 / diagonal - noise_var, 0.0)
    return mean, variance
