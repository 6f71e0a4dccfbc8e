"""Where one more stop would tell most of a block."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.distance import cdist
from scipy.special import expit

from vinemap.columns import Bools, Floats, Ints
from vinemap.surface.counts import NODES, SAME_VINE_M, WEIGHTS
from vinemap.surface.doubt import DoubtPart
from vinemap.surface.field import Field
from vinemap.surface.foretell import LEAST_VARIANCE
from vinemap.surface.kriging import ALL_AT_ONCE
from vinemap.surface.propagation import inward_root
from vinemap.surface.variogram import correlation, in_ranges

MOST_CANDIDATES, MOST_TARGETS = 400, 1500
BEST = 3
APART = (1.0, 0.5)
"""Next stops lie at least a range apart; where the block has no room for that, half a range, at which vines have a fifth
in common (a choice)."""


@dataclass(frozen=True, slots=True)
class NextStop:
    """A vine, by its index, and the share 0..1 of the block's doubt that one more stop there is expected to take away."""

    vine: int
    gain_frac: float


def next_stops(field: Field, at_m: Floats, candidates: Ints, is_living: Bools, examined: float) -> tuple[NextStop, ...]:
    """The best places for one more stop of ``examined`` clusters, best first, well apart.

    ``at_m`` (m, 2) [m], ``is_living`` (m,): the field's vines; ``candidates`` (c,): vines to think of. The doubt is the
    summed variance of the living vines' incidence as far as neighbours share it: no stop tells of a vine's own part
    elsewhere. Under the likeliest pattern, by the best line from the new count's logit to each incidence. Nothing comes back
    where no pattern is likelier than one (any place is as good), or from more than 1,500 stops (one more tells little).
    Source: Wikle & Royle 2005, Environmetrics 16:507 (the aim); Stein 1981, Annals of Statistics 9:1135 (slope of a share).
    """
    patterns = [part for part in field.doubt.parts if part.curve.structured_sill > 0.0]
    if sum(part.weight for part in patterns) < 0.5 or not 0 < len(field.doubt.stops_m) <= ALL_AT_ONCE:
        return ()
    part = max(patterns, key=lambda each: each.weight)
    candidates = _thinned(candidates[_is_new(at_m[candidates], field.doubt.stops_m)], MOST_CANDIDATES)
    targets = _thinned(np.flatnonzero(is_living).astype(np.int32), MOST_TARGETS)
    if not len(candidates) or not len(targets):
        return ()
    gain = _gains(field, part, at_m, candidates, targets, examined)
    chosen = _apart(in_ranges(part.curve, at_m[candidates]), np.argsort(-gain, kind="stable"))
    return tuple(NextStop(int(candidates[index]), float(gain[index])) for index in chosen)


def _apart(places: Floats, order: np.ndarray) -> list[int]:
    """The first of ``order`` that lie well apart, by ``places`` (c, 2) in ranges."""
    chosen: list[int] = []
    for least in APART:
        for index in order:
            if len(chosen) < BEST and all(np.hypot(*(places[index] - places[other])) >= least for other in chosen):
                chosen.append(int(index))
    return sorted(chosen, key=list(order).index)


def _gains(field: Field, part: DoubtPart, at_m: Floats, candidates: Ints, targets: Ints, examined: float) -> Floats:
    """Share (c,) of the doubt over ``targets`` that a stop at each of ``candidates`` is expected to take away."""
    stops = (field.doubt.stops_m, field.doubt.drift)
    prior_at_stops = _shared(part, stops, stops) + part.curve.nugget * np.eye(len(stops[0]))
    inward = inward_root(prior_at_stops, part.precision)
    sides = [(at_m[each], field.drift[each]) for each in (candidates, targets)]
    told_c, told_t = (_shared(part, each, stops) @ inward.T for each in sides)
    between = _shared(part, sides[0], sides[1]) - told_c @ told_t.T
    prior = part.curve.structured_sill + part.level_sd**2
    left = [
        np.maximum(prior + (side[1] ** 2).sum(axis=1) - (told**2).sum(axis=1), LEAST_VARIANCE)
        for side, told in zip(sides, (told_c, told_t), strict=True)
    ]
    slope = _slopes(field, targets)
    # a count of so many clusters tells its vine's logit with the variance of one over its information
    noise = 1.0 / (examined * _slopes(field, candidates))
    drop = (between**2 @ slope**2) / (left[0] + part.curve.nugget + noise)
    gains: Floats = drop / float(slope**2 @ left[1])
    return gains


def _shared(part: DoubtPart, one: tuple[Floats, Floats], other: tuple[Floats, Floats]) -> Floats:
    """Covariance (a, b) of level, drift and pattern between two sets of places [m] with their drift columns."""
    reach = cdist(in_ranges(part.curve, one[0]), in_ranges(part.curve, other[0]))
    matrix: Floats = part.curve.structured_sill * correlation(part.curve.kind, reach)
    return matrix + part.level_sd**2 + one[1] @ other[1].T


def _slopes(field: Field, vines: Ints) -> Floats:
    """How much the incidence of vines (k,) is expected to rise with their logit."""
    share = expit(field.latent_mean[vines, None] + field.latent_sd[vines, None] * NODES)
    slopes: Floats = (share * (1.0 - share)) @ WEIGHTS
    return slopes


def _is_new(places_m: Floats, stops_m: Floats) -> Bools:
    """Whether no stop stands at each place yet."""
    is_new: Bools = cdist(places_m, stops_m).min(axis=1) > SAME_VINE_M
    return is_new


def _thinned(vines: Ints, most: int) -> Ints:
    """Every so many of them, evenly."""
    if len(vines) <= most:
        return vines
    kept: Ints = vines[np.linspace(0, len(vines) - 1, most).round().astype(np.int32)]
    return kept
