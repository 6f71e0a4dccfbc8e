"""Invented blocks for the proof of the map: many kinds of truth, also such as no method assumes, and counts of a round.

Everything is drawn from a seed, so a world is the same on every computer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

LEVELS = {"0.5 %": 0.005, "2 %": 0.02, "5 %": 0.05, "15 %": 0.15, "40 %": 0.40}
KINDS = (*LEVELS, "foci", "two varieties", "no pattern", "one share")
"""Levels: a smooth pattern on the logit scale and each vine's own part. ``foci``: bumps, most at the edges, on a background.
``two varieties``: a step in the middle. ``no pattern``: vines differ, neighbours no less. ``one share``: all are alike."""
FRESH, FRESH_CLUSTERS = 250, 10
"""So many vines without a stop, and clusters at each, are counted to judge by."""


@dataclass(frozen=True)
class World:
    """Vines (n, 2) [m] with their true incidence (n,), the counts at the vines ``stop``, and fresh counts at other vines."""

    kind: str
    seed: int
    vines_m: np.ndarray
    bearing_deg: float
    truth: np.ndarray
    stop: np.ndarray
    examined: np.ndarray
    infected: np.ndarray
    is_targeted: np.ndarray
    fresh: np.ndarray
    fresh_infected: np.ndarray

    @property
    def stops_m(self) -> np.ndarray:
        return self.vines_m[self.stop]


def world(seed: int, kind: str, stops: int | None = None, clusters: int | None = None) -> World:
    """One block of a kind, with ``stops`` stops (15 to 150 by the seed) of ``clusters`` clusters each (5 to 40 by the seed).

    Every third seed sends a quarter of the stops to vines that the scout suspects.
    """
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    rows, places = rng.integers(14, 27), rng.integers(28, 42)
    row_m, vine_m, bearing_deg = rng.uniform(2.0, 3.0), rng.uniform(1.0, 2.0), rng.uniform(0.0, 180.0)
    row, place = (axis.ravel() for axis in np.meshgrid(np.arange(rows), np.arange(places), indexing="ij"))
    across_m, along_m = row * row_m, place * vine_m
    truth = _truth(rng, kind, across_m, along_m)
    stops = stops or int(np.exp(rng.uniform(np.log(15), np.log(150))))
    clusters = clusters or int(np.exp(rng.uniform(np.log(5), np.log(40))))
    stop, is_targeted = _walk(rng, truth, row, place, stops, seed % 3 == 2)
    examined = np.maximum(rng.poisson(clusters, len(stop)), 3)
    others = np.setdiff1d(np.arange(len(truth)), stop)
    fresh = np.sort(rng.choice(others, min(FRESH, len(others)), replace=False))
    sin, cos = np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))
    vines_m = np.column_stack([along_m * sin + across_m * cos, along_m * cos - across_m * sin])
    infected = rng.binomial(examined, truth[stop])
    fresh_infected = rng.binomial(FRESH_CLUSTERS, truth[fresh])
    return World(kind, seed, vines_m, bearing_deg, truth, stop, examined, infected, is_targeted, fresh, fresh_infected)


def _truth(rng: np.random.Generator, kind: str, across_m: np.ndarray, along_m: np.ndarray) -> np.ndarray:
    own = rng.standard_normal(len(across_m))
    if kind in LEVELS:
        smooth = _smooth(rng, across_m, along_m)
        return _with_mean(rng.uniform(0.8, 1.7) * smooth + rng.uniform(0.3, 0.9) * own, LEVELS[kind])
    if kind == "foci":
        return _foci(rng, across_m, along_m, own)
    level = np.exp(rng.uniform(np.log(0.02), np.log(0.3)))
    if kind == "two varieties":
        side = across_m > rng.uniform(0.35, 0.65) * across_m.max()
        return _with_mean(rng.uniform(1.5, 3.0) * side + 0.5 * own, level)
    if kind == "no pattern":
        return _with_mean(rng.uniform(0.7, 1.5) * own, level)
    return np.full(len(across_m), level)


def _smooth(rng: np.random.Generator, across_m: np.ndarray, along_m: np.ndarray) -> np.ndarray:
    """A smooth normal pattern of variance 1, exponential or Matern 3/2, drawn out along the rows."""
    range_m, ratio = np.exp(rng.uniform(np.log(12.0), np.log(60.0))), rng.uniform(0.4, 1.0)
    place = np.column_stack([along_m / range_m, across_m / (range_m * ratio)])
    apart = np.sqrt(((place[:, None] - place) ** 2).sum(axis=-1))
    # 5 % of either is left at the range
    alike = np.exp(-3.0 * apart) if rng.random() < 0.5 else (1.0 + 4.74 * apart) * np.exp(-4.74 * apart)
    alike[np.diag_indices_from(alike)] += 1e-6
    return np.linalg.cholesky(alike) @ rng.standard_normal(len(place))


def _foci(rng: np.random.Generator, across_m: np.ndarray, along_m: np.ndarray, own: np.ndarray) -> np.ndarray:
    share = np.full(len(across_m), rng.uniform(0.003, 0.02))
    for _ in range(rng.integers(2, 6)):
        middle = rng.uniform(0.0, 1.0, 2)
        if rng.random() < 0.7:
            middle[rng.integers(2)] = rng.integers(2)
        far = np.hypot((across_m - middle[0] * across_m.max()) / 0.7, along_m - middle[1] * along_m.max())
        share += rng.uniform(0.2, 0.7) * np.exp(-0.5 * (far / rng.uniform(4.0, 12.0)) ** 2)
    return np.clip(share * np.exp(0.3 * own), 0.0005, 0.98)


def _with_mean(logit: np.ndarray, mean: float) -> np.ndarray:
    """Shares with these differences on the logit scale and this mean."""
    low, high = -30.0, 30.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        share = 1.0 / (1.0 + np.exp(-(logit + middle)))
        low, high = (middle, high) if share.mean() < mean else (low, middle)
    return share


def _walk(
    rng: np.random.Generator, truth: np.ndarray, row: np.ndarray, place: np.ndarray, stops: int, suspects: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Vines where the scout stops: every so many vines up one row and down the next; a quarter where he suspects mildew."""
    walk = np.lexsort([np.where(row % 2, -place, place), row])
    by_rule = stops - stops // 4 if suspects else stops
    step = len(walk) / by_rule
    ruled = walk[((rng.uniform() + np.arange(by_rule)) * step).astype(int)]
    left = np.setdiff1d(walk, ruled)
    # he sees the mildew, but not well
    seen = np.log(truth[left]) + rng.standard_normal(len(left))
    targeted = left[np.argsort(seen)[::-1][: 4 * (stops - by_rule)]]
    targeted = rng.choice(targeted, stops - by_rule, replace=False)
    return np.concatenate([ruled, targeted]), np.arange(stops) >= by_rule
