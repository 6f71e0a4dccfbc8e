"""Finding the pattern of a block: range along and across the rows, and what neighbours share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg.lapack import dpotrf, dtrtrs
from scipy.special import expit

from vinemap.columns import Bools, Floats
from vinemap.errors import Tick, no_tick
from vinemap.surface.gaps import Gaps, gaps_between, reach_between
from vinemap.surface.variogram import SAME_PLACE_M, Variogram, fade

GROUP_STOPS = 250
LEAST_STOPS = 8
LEAST_GAIN = 0.3
"""Log-likelihood that a pattern must gain over none at all. Low on purpose: on made-up blocks with 40 stops a higher bar
lost patterns that were there, while a pattern seen where there is none cost next to nothing."""
RANGE_M, RANGE_SD = 25.0, 0.8
RATIO, RATIO_SD = 0.6, 0.4
"""Weak priors on the logs: foci of ten to some tens of metres, longer along the row than across (from memory)."""
GRID = [
    np.array([np.log(range_m), np.log(ratio), share])
    for range_m in (6.0, 12.0, 24.0, 48.0, 96.0)
    for ratio in (0.45, 0.9)
    for share in (-1.5, 0.0, 1.5)
]


def neighbourly_groups(points_m: Floats, most: int = GROUP_STOPS) -> list[np.ndarray]:
    """Indices of points (n, 2) [m] in groups of at most ``most`` neighbours, halved across the long side again and again."""
    groups, waiting = [], [np.arange(len(points_m))]
    while waiting:
        group = waiting.pop()
        if len(group) <= most:
            groups.append(group)
            continue
        centred = points_m[group] - points_m[group].mean(axis=0)
        long_side = np.linalg.eigh(centred.T @ centred)[1][:, -1]
        order = group[np.argsort(centred @ long_side, kind="stable")]
        waiting += [order[len(order) // 2 :], order[: len(order) // 2]]
    return groups


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Neighbouring values with their error variances, and what every likelihood of them needs."""

    gaps: Gaps
    is_same: Bools
    noise_var: Floats
    sides: Floats


def _group(points_m: Floats, values: Floats, noise_var: Floats, bearing_deg: float) -> _Group:
    gaps = gaps_between(points_m, bearing_deg)
    sides = np.asfortranarray(np.column_stack([np.ones(len(values)), values]))
    return _Group(gaps, gaps.along_m2 + gaps.across_m2 < SAME_PLACE_M**2, noise_var, sides)


def log_likelihood_of(group: _Group, variogram: Variogram) -> float:
    """Restricted log-likelihood of noisy values, the level unknown; -inf when not solvable.

    Source: Kitanidis 1983, Water Resources Research 19:909.
    """
    matrix = reach_between(group.gaps, variogram)
    fade(variogram.kind, matrix, np.empty_like(matrix))
    matrix *= variogram.structured_sill
    matrix[group.is_same] += variogram.nugget
    matrix.flat[:: len(matrix) + 1] += group.noise_var
    root, fault = dpotrf(matrix, lower=1)
    if fault:
        return -np.inf
    ones, data = dtrtrs(root, group.sides, lower=1)[0].T
    weight = float(ones @ ones)
    rest = float(data @ data) - float(ones @ data) ** 2 / weight
    return float(-np.log(np.diag(root)).sum() - 0.5 * np.log(weight) - 0.5 * rest)


def fit_variogram(
    points_m: Floats, values: Floats, noise_var: Floats, sill: float, bearing_deg: float, tick: Tick = no_tick
) -> Variogram | None:
    """Exponential variogram with total ``sill`` for values (n,) with error variances at points (n, 2) [m], or None.

    None means that no pattern was found: too few stops, or less than LEAST_GAIN log-likelihood over a nugget alone.
    Range, ratio and nugget share at the highest posterior under weak priors. Above 250 stops the likelihoods of
    neighbourly groups are added (Vecchia 1988, J. R. Stat. Soc. B 50:297, with whole groups).
    """
    if len(points_m) < LEAST_STOPS:
        return None
    parts = neighbourly_groups(points_m)
    groups = [_group(points_m[part], values[part], noise_var[part], bearing_deg) for part in parts]

    def likelihood(variogram: Variogram) -> float:
        return sum(log_likelihood_of(group, variogram) for group in groups)

    def curve(place: Floats) -> Variogram:
        return Variogram(
            "exponential", sill * float(expit(place[2])), sill, float(np.exp(place[0])), float(np.exp(place[1])), bearing_deg
        )

    def posterior(place: Floats) -> float:
        share = float(expit(place[2]))
        prior = -0.5 * ((place[0] - np.log(RANGE_M)) / RANGE_SD) ** 2 - 0.5 * ((place[1] - np.log(RATIO)) / RATIO_SD) ** 2
        return likelihood(curve(place)) + float(prior) + float(np.log(share * (1.0 - share)))

    heights = []
    for done, place in enumerate(GRID):
        tick(done / (2 * len(GRID)))
        heights.append(posterior(place))
    best = GRID[int(np.argmax(heights))]
    height = max(heights)
    for done, stride in enumerate((0.4, 0.15)):
        tick(0.5 + done / 4)
        best, height = _climb(posterior, best, height, stride)
    found = curve(best)
    alone = likelihood(Variogram("exponential", sill, sill, RANGE_M, 1.0, bearing_deg))
    tick(1.0)
    return found if likelihood(found) - alone >= LEAST_GAIN else None


def _climb(posterior: Callable[[Floats], float], best: Floats, height: float, stride: float) -> tuple[Floats, float]:
    """Step along each axis while it helps (compass search, Kolda, Lewis & Torczon 2003, SIAM Review 45:385)."""
    steps = [sign * stride * axis * scale for axis, scale in zip(np.eye(3), (1.0, 1.0, 2.0), strict=True) for sign in (1, -1)]
    for _ in range(8):
        tries = [posterior(best + step) for step in steps]
        if max(tries) <= height:
            break
        height = max(tries)
        best = best + steps[int(np.argmax(tries))]
    return best, height
