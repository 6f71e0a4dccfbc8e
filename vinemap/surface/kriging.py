"""Kriging of all vines of a block from its stops: a known mean, an unknown level, or drift, on one path."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.linalg import LinAlgError, cho_solve, cholesky
from scipy.linalg.lapack import dtrtri
from scipy.spatial import cKDTree
from scipy.spatial.distance import cdist

from vinemap.columns import Bools, Floats, freeze
from vinemap.errors import InputError, Tick, TooFewData, no_tick
from vinemap.surface.blending import Patch, patches
from vinemap.surface.crossing import told
from vinemap.surface.variogram import SAME_PLACE_M, Variogram, correlation, in_ranges

ALL_AT_ONCE = 1500
"""Up to so many stops are solved in one system; above, overlapping patches of them are blended."""
TREND_POINTS = 1500
"""So many stops, spread over all, tell the trend of still more."""


@dataclass(frozen=True, slots=True, eq=False)
class Kriged:
    """Kriged values at m places.

    ``mean``: (m,); ``variance``: (m,) of a new value there, the vine's own part (nugget) included; ``structured_variance``:
    (m,) of the part that neighbours share, at a stop's own vine no more than ``variance``.
    """

    mean: Floats
    variance: Floats
    structured_variance: Floats

    def __post_init__(self) -> None:
        freeze(self, mean=np.float64, variance=np.float64, structured_variance=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Trend:
    """What values vary about: ``known_mean``, or with None a level that the values themselves must tell.

    ``at_points`` (n, q), ``at_places`` (m, q): columns whose unknown effects add to it, any unit; None for none.
    """

    known_mean: float | None = None
    at_points: Floats | None = None
    at_places: Floats | None = None


LEVEL = Trend()


def linear_drift(points_m: Floats, at_m: Floats) -> Trend:
    """A level that rises steadily in some direction, for points (n, 2) and places (m, 2) [m]."""
    return Trend(None, np.asarray(points_m, float), np.asarray(at_m, float).reshape(-1, 2))


def check_places(points_m: Floats, *columns: Floats) -> None:
    """Raise TooFewData without points (n, 2) [m], InputError when they or columns (n,) differ in length or are not finite."""
    if len(points_m) == 0:
        raise TooFewData("There are no stops to map.", "Add at least one stop with examined clusters.")
    if points_m.ndim != 2 or points_m.shape[1] != 2 or any(len(column) != len(points_m) for column in columns):
        raise InputError("Stops and their counts do not match in number.", "Check that every stop has a place and counts.")
    if not np.isfinite(points_m).all() or not all(np.isfinite(column).all() for column in columns):
        raise InputError("A stop has no place or no count.", "Give every stop a place and counts, or leave it out.")


def nearest_points(tree: cKDTree, places: Floats, count: int, threads: int = 1) -> tuple[Floats, npt.NDArray[np.int64]]:
    """Distances and indices (m, count) of the nearest points of ``tree`` to places (m, 2)."""
    distance, index = tree.query(places, count, workers=threads)
    shape = (len(places), count)
    return np.asarray(distance, np.float64).reshape(shape), np.asarray(index, np.int64).reshape(shape)


def data_covariance(reach_points: Floats, noise_var: Floats, variogram: Variogram) -> Floats:
    """Covariance (n, n) of the noisy values at points scaled by ``in_ranges``."""
    reach = cdist(reach_points, reach_points)
    matrix = variogram.structured_sill * correlation(variogram.kind, reach)
    matrix[_together(reach_points, reach_points, variogram)] += variogram.nugget
    matrix[np.diag_indices_from(matrix)] += noise_var
    return matrix


def krige(
    points_m: Floats,
    values: Floats,
    noise_var: Floats,
    variogram: Variogram,
    at_m: Floats,
    tick: Tick = no_tick,
    *,
    trend: Trend = LEVEL,
    threads: int = 1,
) -> Kriged:
    """Kriging of ``values`` (n,) at ``points_m`` (n, 2) [m] to ``at_m`` (m, 2) [m].

    ``noise_var`` (n,): variance of the error of each value, 0 where it is exact. A place within a millimetre of a point
    stands at the same vine: it shares the nugget, so an exact value is given back with variance 0. ``trend``: a known mean
    (simple kriging), an unknown level (ordinary) or drift. Above 1,500 points overlapping patches are blended: the surface
    stays smooth, its variance is a bound from above, and the trend is told by 1,500 points spread over all.

    Raises TooFewData without points or with fewer than effects; InputError when figures are not finite, two exact values
    stand at one place, or drift columns tell the same. Source: Cressie 1993, Statistics for Spatial Data, sections 3.2 and
    3.4; noise on the diagonal, section 3.2.1.
    """
    points_m, at_m = np.asarray(points_m, float), np.asarray(at_m, float).reshape(-1, 2)
    values, noise_var = np.asarray(values, float), np.asarray(noise_var, float)
    check_places(points_m, values, noise_var)
    if not np.isfinite(at_m).all() or (noise_var < 0.0).any():
        raise InputError("A vine has no place, or an error is below 0.", "Give every vine a place and no error below 0.")
    refuse_exact_twins(points_m, noise_var)
    drift, at_drift = _columns(trend, len(points_m), len(at_m))
    data = _pooled(_Data(points_m, values - (trend.known_mean or 0.0), noise_var, drift))
    places = _Places(at_m, at_drift, _beside(points_m, at_m, variogram))
    if len(data.values) <= ALL_AT_ONCE:
        system = _factor(data, variogram)
        out = system.told_at(places, *_effects(system), threads, tick)
    else:
        out = _blended(data, variogram, places, threads, tick)
    mean, variance, shared = out
    variance = np.maximum(variance, 0.0)
    return Kriged(mean + (trend.known_mean or 0.0), variance, np.clip(shared, 0.0, variance))


def refuse_exact_twins(points_m: Floats, noise_var: Floats) -> None:
    """Raise InputError when two values without error stand at one place (n, 2) [m]."""
    exact = points_m[noise_var <= 0.0]
    if len(exact) > 1 and cKDTree(exact).query_pairs(SAME_PLACE_M):
        raise InputError("Two stops stand at the same vine.", "Add their counts together, or leave one out.")


def _columns(trend: Trend, points: int, places: int) -> tuple[Floats, Floats]:
    """Columns of the trend at points (n, p) and at places (m, p): ones for an unknown level, drift scaled by the points."""
    first, second = [np.empty((points, 0))], [np.empty((places, 0))]
    if trend.known_mean is None:
        first, second = [np.ones((points, 1))], [np.ones((places, 1))]
    if trend.at_points is not None and trend.at_places is not None:
        here, there = np.asarray(trend.at_points, float), np.asarray(trend.at_places, float)
        if here.shape[:1] != (points,) or there.shape != (places, *here.shape[1:]) or here.ndim != 2:
            raise InputError("Drift does not match stops and vines in number.", "Give a figure for every stop and vine.")
        if not np.isfinite(here).all() or not np.isfinite(there).all():
            raise InputError("A drift has no figure somewhere.", "Give a figure for every stop and vine.")
        middle = here.mean(axis=0) if trend.known_mean is None else np.zeros(here.shape[1])
        spread = np.sqrt(((here - middle) ** 2).mean(axis=0))
        spread[spread == 0.0] = 1.0
        first.append((here - middle) / spread)
        second.append((there - middle) / spread)
    return np.hstack(first), np.hstack(second)


def _together(first: Floats, second: Floats, variogram: Variogram) -> Bools:
    """Which of the places (m, 2) in ranges stand at the vine of which of the points (n, 2): (m, n)."""
    scale = np.array([variogram.range_m, variogram.range_across_m])
    return np.asarray(cdist(first * scale, second * scale) < SAME_PLACE_M)


def _beside(points_m: Floats, at_m: Floats, variogram: Variogram) -> Bools:
    """Places (m,) that stand at a point's vine; none without a nugget, where it makes no difference."""
    beside = np.zeros(len(at_m), bool)
    if variogram.nugget == 0.0:
        return beside
    # seen along a slant that no row follows, few places have a point at all
    slant = np.array([0.6, 0.8])
    line, along = np.sort(points_m @ slant), at_m @ slant
    maybe = np.flatnonzero(np.searchsorted(line, along - SAME_PLACE_M) < np.searchsorted(line, along + SAME_PLACE_M, "right"))
    distance, _ = cKDTree(points_m).query(at_m[maybe], distance_upper_bound=SAME_PLACE_M)
    beside[maybe] = np.isfinite(distance)
    return beside


@dataclass(frozen=True, slots=True, eq=False)
class _Data:
    """Points (n, 2) [m] with values (n,), the variance of their errors (n,) and columns of the trend (n, p)."""

    points_m: Floats
    values: Floats
    noise_var: Floats
    drift: Floats

    def take(self, chosen: npt.NDArray[np.int64]) -> _Data:
        return _Data(self.points_m[chosen], self.values[chosen], self.noise_var[chosen], self.drift[chosen])


def _pooled(data: _Data) -> _Data:
    """Values with an error that stand at one place as one of their joint precision: it tells the same, with fewer points."""
    noisy = data.noise_var > 0.0
    keys, which = np.unique(np.column_stack([data.points_m, data.drift])[noisy], axis=0, return_inverse=True)
    which = which.reshape(-1)
    if len(keys) == len(which):
        return data
    precision = np.bincount(which, 1.0 / data.noise_var[noisy])
    values = np.bincount(which, data.values[noisy] / data.noise_var[noisy]) / precision
    exact = data.take(np.flatnonzero(~noisy))
    return _Data(
        np.vstack([exact.points_m, keys[:, :2]]),
        np.concatenate([exact.values, values]),
        np.concatenate([exact.noise_var, 1.0 / precision]),
        np.vstack([exact.drift, keys[:, 2:]]),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    """Places (m, 2) [m], columns of the trend (m, p), and whether they stand at a point's vine (m,)."""

    at_m: Floats
    drift: Floats
    beside: Bools

    def take(self, chosen: npt.NDArray[np.int64]) -> _Places:
        return _Places(self.at_m[chosen], self.drift[chosen], self.beside[chosen])


@dataclass(frozen=True, slots=True, eq=False)
class _System:
    """Points in one system, factored once: ``inward`` (n, n) turns covariances into independent parts."""

    data: _Data
    variogram: Variogram
    inward: Floats

    def told_at(
        self, places: _Places, effects: Floats, effects_var: Floats, threads: int = 1, tick: Tick = no_tick
    ) -> Floats:
        """Mean, variance and shared variance (3, m), given the trend's effects (p,) and their covariance (p, p)."""
        data, variogram = self.data, self.variogram
        right = np.column_stack([data.values - data.drift @ effects, data.drift])
        pull = self.inward.T @ (self.inward @ right)
        tells, lost = told(variogram, data.points_m, places.at_m, pull, self.inward, threads=threads, tick=tick)

        def finish(drift: Floats, tells: Floats, left: Floats) -> tuple[Floats, Floats]:
            slack = drift - tells[:, 1:]
            return drift @ effects + tells[:, 0], left + np.einsum("ij,ij->i", slack @ effects_var, slack)

        mean, shared = finish(places.drift, tells, variogram.structured_sill - lost)
        variance = shared + variogram.nugget
        at_stop = np.flatnonzero(places.beside)
        if len(at_stop):
            own = self._covariance(places.at_m[at_stop])
            left = variogram.sill - ((own @ self.inward.T) ** 2).sum(axis=1)
            mean[at_stop], variance[at_stop] = finish(places.drift[at_stop], own @ pull, left)
        return np.stack([mean, variance, shared])

    def _covariance(self, at_m: Floats) -> Floats:
        """Covariance (m, n) of places (m, 2) [m] with the points, the nugget included at one vine."""
        places, points = in_ranges(self.variogram, at_m), in_ranges(self.variogram, self.data.points_m)
        shared = self.variogram.structured_sill * correlation(self.variogram.kind, cdist(places, points))
        return np.asarray(shared + self.variogram.nugget * _together(places, points, self.variogram))


def _factor(data: _Data, variogram: Variogram) -> _System:
    root = _root(data_covariance(in_ranges(variogram, data.points_m), data.noise_var, variogram))
    return _System(data, variogram, np.ascontiguousarray(dtrtri(root, lower=1)[0]))


def _effects(system: _System) -> tuple[Floats, Floats]:
    """Effects (p,) of the trend's columns by generalised least squares, and their covariance (p, p)."""
    drift = system.inward @ system.data.drift
    count = drift.shape[1]
    if count > len(drift):
        raise TooFewData("There are fewer stops than effects to learn.", "Add stops, or leave out a drift.")
    basis, upper = np.linalg.qr(drift)
    if count and np.abs(np.diag(upper)).min() <= 1e-9 * np.linalg.norm(drift, axis=0).max():
        raise InputError("Two drifts tell the same at all stops.", "Leave one of them out.")
    back = np.linalg.inv(upper)
    return back @ (basis.T @ (system.inward @ system.data.values)), back @ back.T


def _blended(data: _Data, variogram: Variogram, places: _Places, threads: int, tick: Tick) -> Floats:
    """Mean, variance and shared variance (3, m) from overlapping patches of the points."""
    points = in_ranges(variogram, data.points_m)
    effects, effects_var = _effects(_factor(data.take(_spread_out(points)), variogram))
    out = np.zeros((3, len(places.at_m)))

    def work(patch: Patch) -> Floats:
        system = _factor(data.take(patch.points), variogram)
        return system.told_at(places.take(patch.places), effects, effects_var) * patch.weight

    def added(answers: Iterator[Floats], cut: list[Patch]) -> None:
        done, all_places = 0, sum(len(patch.places) for patch in cut)
        for patch, answer in zip(cut, answers, strict=True):
            tick(done / all_places)
            # deviations of blended answers never add up to more than the blend of their variances
            out[:, patch.places] += answer
            done += len(patch.places)

    cut = list(patches(points, in_ranges(variogram, places.at_m)))
    with ThreadPoolExecutor(max(threads, 1)) as pool:
        try:
            added(pool.map(work, cut), cut)
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise
    tick(1.0)
    return out


def _spread_out(points: Floats) -> npt.NDArray[np.int64]:
    """Up to TREND_POINTS of the points (n, 2), the first of every cell of half a range, then the second of every cell, ..."""
    cell = np.floor(2.0 * points)
    off = np.abs(2.0 * points - cell - 0.5).max(axis=1)
    order = np.lexsort([points[:, 1], points[:, 0], off, cell[:, 1], cell[:, 0]])
    new = np.append(True, (np.diff(cell[order], axis=0) != 0.0).any(axis=1))
    starts = np.flatnonzero(new)
    turn = np.arange(len(points)) - starts[np.cumsum(new) - 1]
    return order[np.argsort(turn, kind="stable")[:TREND_POINTS]]


def _root(matrix: Floats) -> Floats:
    """Lower root (n, n) of a covariance, which is overwritten."""
    try:
        root: Floats = cholesky(matrix, lower=True, overwrite_a=True, check_finite=False)
    except LinAlgError as error:
        raise InputError(
            "The stops are too close together for this variogram.", "Give it a little more nugget or another kind."
        ) from error
    return root


def leave_one_out(points_m: Floats, values: Floats, noise_var: Floats, variogram: Variogram) -> tuple[Floats, Floats]:
    """Mean (n,) and variance (n,) of the true value at each point, kriged from all the others.

    Up to 1,500 points. Raises InputError when the points are too close together for the variogram.
    Source: Dubrule 1983, Mathematical Geology 15:687.
    """
    matrix = data_covariance(in_ranges(variogram, points_m), noise_var, variogram)
    root = _root(matrix)
    precision = cho_solve((root, True), np.eye(len(values)))
    total = precision.sum(axis=1)
    # taking out the unknown level turns the precision into that of ordinary kriging
    precision -= np.outer(total, total) / total.sum()
    diagonal = np.diag(precision)
    mean: Floats = values - (precision @ values) / diagonal
    variance: Floats = np.maximum(1.0 / diagonal - noise_var, 0.0)
    return mean, variance
