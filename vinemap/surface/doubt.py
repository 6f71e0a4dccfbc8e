"""How the errors of a field hang together from vine to vine: draws of what neighbours share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from vinemap.columns import Floats, Ints
from vinemap.surface.binomial import Binomial
from vinemap.surface.counts import PRIOR_MEAN_SD
from vinemap.surface.fit import neighbourly_groups
from vinemap.surface.foretell import Known, told_by
from vinemap.surface.gaps import gaps_between
from vinemap.surface.kriging import ALL_AT_ONCE, nearest_points
from vinemap.surface.mixture import Singles
from vinemap.surface.pattern import level_variance, prior_covariance
from vinemap.surface.propagation import inward_root
from vinemap.surface.variogram import Variogram, in_ranges

WAVES = 192
"""Waves that a drawn pattern is summed from; their lengths and ways are spread evenly, not at random."""
GOLDEN = 0.6180339887498949
GROUP_PLACES, NEAR_STOPS = 4000, 600


@dataclass(frozen=True, slots=True, eq=False)
class DoubtPart:
    """One set of parameters: ``weight``; ``curve``; ``precision`` (n,) of what each stop says of its vine's logit;
    ``level_sd``: deviation of the block's level before any count."""

    weight: float
    curve: Variogram
    precision: Floats
    level_sd: float


@dataclass(frozen=True, slots=True, eq=False)
class Doubt:
    """What the errors of a field come from: stops (n, 2) [m], ``parts``, and columns ``drift`` (n, q) at the stops."""

    stops_m: Floats
    parts: tuple[DoubtPart, ...]
    drift: Floats


def doubt_of(found: Binomial) -> Doubt:
    """The doubt that a binomial reading leaves."""
    parts = tuple(DoubtPart(part.weight, part.curve, part.said.sites.precision, PRIOR_MEAN_SD) for part in found.parts)
    return Doubt(found.counts.stops_m, parts, found.drift)


def share_out(weights: Floats, draws: int) -> list[int]:
    """How many of so many draws each part gets, by its weight."""
    ends = np.rint(np.cumsum(weights) / np.sum(weights) * draws).astype(int)
    return [int(size) for size in np.diff(ends, prepend=0)]


def shared_deviations(
    doubt: Doubt, part: DoubtPart, at_m: Floats, drift_at: Floats, draws: int, rng: np.random.Generator
) -> Singles:
    """Draws (m, draws) of the shared error of the logits at ``at_m`` (m, 2) [m], each place scaled to deviation 1.

    A pattern is drawn without regard to the stops and then corrected by what the stops say of it, which keeps the joint
    spread of all places. Source: Matheron's rule, Journel & Huijbregts 1978, Mining Geostatistics, section VII.A; waves:
    Rahimi & Recht 2007, Advances in Neural Information Processing Systems 20.
    """
    stops = len(doubt.stops_m)
    everywhere = _drawn(part, np.concatenate([doubt.stops_m, at_m]), np.concatenate([doubt.drift, drift_at]), draws, rng)
    at_stops, deviations = everywhere[:stops], everywhere[stops:]
    if stops == 0:
        spread = part.curve.structured_sill + part.level_sd**2
        return deviations / np.float32(np.sqrt(max(spread, 1e-12)))
    width = np.sqrt(part.precision)
    own = np.sqrt(part.curve.nugget) * rng.standard_normal((stops, draws), np.float32)
    told_errors = width[:, None] * (at_stops + own) + rng.standard_normal((stops, draws), np.float32)
    for places, near in _together(doubt.stops_m, at_m):
        local = Doubt(doubt.stops_m[near], (), doubt.drift[near])
        near_part = replace(part, precision=part.precision[near])
        lost, left_sd = _corrected(local, near_part, told_errors[near], at_m[places], drift_at[places])
        deviations[places] = (deviations[places] - lost) / left_sd[:, None].astype(np.float32)
    return deviations


def _drawn(part: DoubtPart, places_m: Floats, drift: Floats, draws: int, rng: np.random.Generator) -> Singles:
    """Level, drift and pattern (m, draws) drawn before any count."""
    columns = np.column_stack([np.full(len(places_m), part.level_sd), drift])
    drawn = columns.astype(np.float32) @ rng.standard_normal((columns.shape[1], draws), np.float32)
    if part.curve.structured_sill > 0.0:
        phase = (in_ranges(part.curve, places_m) @ _waves(rng)).astype(np.float32)
        scale = np.float32(np.sqrt(part.curve.structured_sill / WAVES))
        for shape in (np.cos, np.sin):
            drawn += scale * (shape(phase) @ rng.standard_normal((WAVES, draws), np.float32))
    return drawn


def _waves(rng: np.random.Generator) -> Floats:
    """Wave vectors (2, WAVES) per range whose sum fades as the exponential curve does.

    Source: Rasmussen & Williams 2006, section 4.2.1: the fade exp(-3 h) in the plane has waves longer than w with the chance
    3 / sqrt(9 + w^2).
    """
    chance = (np.arange(WAVES) + rng.random()) / WAVES
    length = 3.0 * np.sqrt(1.0 / np.maximum(chance, 1e-6) ** 2 - 1.0)
    way = np.pi * ((np.arange(WAVES) * GOLDEN + rng.random()) % 1.0)
    vectors: Floats = length * np.array([np.cos(way), np.sin(way)])
    return vectors


def _together(stops_m: Floats, at_m: Floats) -> Iterator[tuple[Ints, Ints]]:
    """Places and stops that are worked together: all, or in a large round groups of places with their nearest stops."""
    if len(stops_m) <= ALL_AT_ONCE:
        yield np.arange(len(at_m), dtype=np.int32), np.arange(len(stops_m), dtype=np.int32)
        return
    tree = cKDTree(stops_m)
    for group in neighbourly_groups(at_m, GROUP_PLACES):
        near = nearest_points(tree, at_m[group].mean(axis=0)[None], NEAR_STOPS)[1][0]
        yield group.astype(np.int32), near.astype(np.int32)


def _corrected(doubt: Doubt, part: DoubtPart, errors: Singles, at_m: Floats, drift_at: Floats) -> tuple[Singles, Floats]:
    """What the stops say (m, draws) of drawn errors (n, draws) there, and the deviation (m,) that they leave."""
    gaps = gaps_between(doubt.stops_m, part.curve.bearing_deg)
    inward = inward_root(prior_covariance(gaps, level_variance(doubt.drift, part.level_sd), part.curve), part.precision)
    pull = inward.T @ (inward @ (errors / np.sqrt(part.precision)[:, None]))
    known = Known(part.curve, doubt.stops_m, part.level_sd, doubt.drift, pull, inward)
    told, variance = told_by(known, at_m, drift_at)
    return told.astype(np.float32), np.sqrt(variance)
