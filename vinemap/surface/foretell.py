"""What a round's counts, read under many parameters, tell of every vine of the block and of each stop left out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.spatial import cKDTree
from scipy.special import betaincc, expit

from vinemap.columns import Floats, freeze
from vinemap.errors import Tick, no_tick
from vinemap.surface.binomial import Binomial, Part
from vinemap.surface.counts import (
    NODES,
    PRIOR_MEAN,
    PRIOR_MEAN_SD,
    WEIGHTS,
    Counts,
    log_likelihood,
    log_normal,
    log_ways,
    logit_grid,
)
from vinemap.surface.crossing import told
from vinemap.surface.mixture import Mixture
from vinemap.surface.variogram import SAME_PLACE_M, Variogram

LEAST_VARIANCE = 1e-6


def told_at(found: Binomial, at_m: Floats, drift_at: Floats, threads: int = 1, tick: Tick = no_tick) -> Mixture:
    """Logits at ``at_m`` (m, 2) [m] with columns ``drift_at`` (m, q) there, under every part.

    A place at a stop is that stop's vine. Worked in float32: 1e-5 of a logit is far below what any count can tell.
    """
    counts, parts = found.counts, found.parts
    distance, nearest = cKDTree(counts.stops_m).query(at_m, [1], distance_upper_bound=SAME_PLACE_M)
    at_stop = np.flatnonzero(np.isfinite(np.asarray(distance)[:, 0]))
    stop = np.asarray(nearest)[at_stop, 0]
    mean, variance = np.empty((2, len(parts), len(at_m)), np.float32)
    for index, part in enumerate(parts):
        ticked = partial(_tick_part, tick, index, len(parts))
        pattern, shared = told_of_pattern(found, part, at_m, drift_at, threads, ticked)
        mean[index], variance[index] = pattern, shared + part.curve.nugget
        mean[index, at_stop] = PRIOR_MEAN + part.said.mean[stop]
        variance[index, at_stop] = part.said.variance[stop]
    tick(1.0)
    weight, own = [part.weight for part in parts], [part.curve.nugget for part in parts]
    return Mixture(np.array(weight), mean, np.sqrt(np.maximum(variance, LEAST_VARIANCE)), np.sqrt(own))


def _tick_part(tick: Tick, index: int, parts: int, done: float) -> None:
    tick((index + done) / parts)


def told_of_pattern(
    found: Binomial, part: Part, at_m: Floats, drift_at: Floats, threads: int = 1, tick: Tick = no_tick
) -> tuple[Floats, Floats]:
    """Mean and variance (m,) of level, drift and pattern at places (m, 2) [m] under one part."""
    said = part.said
    known = Known(part.curve, found.counts.stops_m, PRIOR_MEAN_SD, found.drift, said.pull[:, None], said.inward)
    mean, variance = told_by(known, at_m, drift_at, threads, tick)
    return PRIOR_MEAN + mean[:, 0], variance


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What n stops say under one curve: ``stops_m`` (n, 2) [m]; ``level_sd``: deviation of the level before any count;
    ``drift`` (n, q): columns scaled by the prior deviation of their effects; ``pull`` (n, c) and ``inward`` (n, n) as in
    Propagated."""

    curve: Variogram
    stops_m: Floats
    level_sd: float
    drift: Floats
    pull: Floats
    inward: Floats


def told_by(known: Known, at_m: Floats, drift_at: Floats, threads: int = 1, tick: Tick = no_tick) -> tuple[Floats, Floats]:
    """Means (m, c) and variance (m,) of level, drift and pattern at places (m, 2) [m] with columns ``drift_at`` (m, q)."""
    common, common_at = (np.column_stack([np.full(len(each), known.level_sd), each]) for each in (known.drift, drift_at))
    reach = known.inward @ common
    holds = known.inward.T @ reach
    mean = common_at @ (common.T @ known.pull)
    lost = np.einsum("ij,ij->i", common_at @ (reach.T @ reach), common_at)
    if known.curve.structured_sill > 0.0:
        columns = np.column_stack([known.pull, holds]).astype(np.float32)
        inward = known.inward.astype(np.float32)
        both, told_lost = told(known.curve, known.stops_m, at_m, columns, inward, threads=threads, tick=tick)
        size = known.pull.shape[1]
        mean = mean + both[:, :size]
        lost = lost + told_lost + 2.0 * np.einsum("ij,ij->i", both[:, size:], common_at)
    variance = np.einsum("ij,ij->i", common_at, common_at) + known.curve.structured_sill - lost
    return mean, np.maximum(variance, LEAST_VARIANCE)


@dataclass(frozen=True, slots=True, eq=False)
class Foretold:
    """What all other stops say of each stop's vine, (n,): mean ``share`` 0..1; ``log_chance`` of its count; ``below`` and
    ``at_most``: chance of fewer infected clusters than were found, and of no more than were found."""

    share: Floats
    log_chance: Floats
    below: Floats
    at_most: Floats

    def __post_init__(self) -> None:
        freeze(self, share=np.float64, log_chance=np.float64, below=np.float64, at_most=np.float64)


def foretold(found: Binomial) -> Foretold:
    """Each stop told from all the others, parameters and all."""
    mean = PRIOR_MEAN + np.array([part.said.left_mean for part in found.parts])
    sd = np.sqrt(np.array([part.said.left_variance for part in found.parts]))
    return foretold_by(found.counts, found.left_weights(), mean, sd, found.left_out())


def foretold_by(counts: Counts, weight: Floats, mean: Floats, sd: Floats, log_chance: Floats) -> Foretold:
    """Each stop told by normals of its own: ``weight``, ``mean``, ``sd`` (p, n); ``log_chance`` (n,) of its count."""
    share, at_most, just = np.zeros((3, len(counts)))
    logit, at_most_at, just_at = _count_chances(counts)
    for part_weight, part_mean, part_sd in zip(weight, mean, sd, strict=True):
        share += part_weight * (expit(part_mean[:, None] + part_sd[:, None] * NODES) @ WEIGHTS)
        chance = np.exp(log_normal(logit, part_mean, part_sd))
        at_most += part_weight * np.einsum("ij,ij->i", chance, at_most_at)
        just += part_weight * np.einsum("ij,ij->i", chance, just_at)
    at_most = np.clip(at_most, 0.0, 1.0)
    return Foretold(share, log_chance, np.clip(at_most - just, 0.0, 1.0), at_most)


def _count_chances(counts: Counts) -> tuple[Floats, Floats, Floats]:
    """Logits (g,), and there the chance (n, g) of no more infected clusters than were found, and of just as many.

    A grid, not few nodes: the steep side of a count of many clusters falls between those.
    """
    logit = logit_grid(counts.examined)
    pairs, of_stop = np.unique(np.column_stack([counts.examined, counts.infected]), axis=0, return_inverse=True)
    examined, infected = pairs[:, :1], pairs[:, 1:]
    at_most = np.where(infected < examined, betaincc(infected + 1.0, np.maximum(examined - infected, 0.5), expit(logit)), 1.0)
    just = np.exp(log_likelihood(counts.examined, counts.infected, logit) + log_ways(counts)[:, None])
    return logit, at_most[of_stop.reshape(-1)], just
