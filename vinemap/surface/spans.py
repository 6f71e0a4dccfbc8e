"""Incidence of spans, rows and blocks, by draws from all vines' figures together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import expit

from vinemap.columns import Floats, Ints, freeze
from vinemap.errors import InputError
from vinemap.surface.doubt import share_out, shared_deviations
from vinemap.surface.field import NOT_KNOWN, UNSURE, Field
from vinemap.surface.mixture import Singles

DRAWS = 256
SEED = 20
PLACES_A_GROUP = 2
"""What neighbours share is drawn at so many places of a group of vines as short as a span, and kept for those between."""
CHUNK_GROUPS = 5_000


@dataclass(frozen=True, slots=True, eq=False)
class GroupDraws:
    """Incidence of g groups of vines in d draws of the whole field: ``share`` (g, d) 0..1, NaN in a group where no vine
    counts; ``weight`` (g,) of its vines. Exact figures beside them: ``mean`` (g,), ``unsure_frac``, ``not_known_frac``."""

    share: Singles
    weight: Floats
    mean: Floats
    unsure_frac: Floats
    not_known_frac: Floats

    def __post_init__(self) -> None:
        freeze(self, share=np.float32, **dict.fromkeys(("weight", "mean", "unsure_frac", "not_known_frac"), np.float64))

    def __len__(self) -> int:
        return len(self.weight)


@dataclass(frozen=True, slots=True, eq=False)
class GroupIncidence:
    """Incidence of g groups of vines, every column (g,), NaN where a group has no vine that counts.

    ``mean`` 0..1 with its 90 % interval ``low``, ``high``; ``chance_above`` the threshold asked for; ``vines``: weight in the
    group; ``unsure_frac``, ``not_known_frac``: share of its vines.
    """

    mean: Floats
    low: Floats
    high: Floats
    chance_above: Floats
    vines: Floats
    unsure_frac: Floats
    not_known_frac: Floats

    def __post_init__(self) -> None:
        names = ("mean", "low", "high", "chance_above", "vines", "unsure_frac", "not_known_frac")
        freeze(self, **dict.fromkeys(names, np.float64))


def draw_groups(field: Field, at_m: Floats, group: Ints, weight: Floats | None = None, draws: int = DRAWS) -> GroupDraws:
    """Draw the incidence of groups 0, 1, 2 … of vines together: short runs of vines, as spans are.

    ``at_m`` (n, 2) [m]: the field's vines; ``group`` (n,): each vine's group; ``weight`` (n,): 1 for a vine that counts, 0
    for one that does not, or its clusters. What neighbours share is drawn jointly for the whole block, each vine's own part
    for itself; each vine keeps exactly its own mean and deviation. The same field gives the same draws.

    Raises InputError when columns do not match.
    Source: Journel & Huijbregts 1978, Mining Geostatistics, sections V.A (averages over a support) and VII.A (drawing).
    """
    index = np.asarray(group, np.int64)
    weights = np.ones(len(field)) if weight is None else np.asarray(weight, float)
    at_m = np.asarray(at_m, float).reshape(-1, 2)
    if not len(index) == len(field) == len(weights) == len(at_m) or (weights < 0).any() or (index < 0).any():
        raise InputError("Vines and their groups do not match.", "Make the map again after changing the rows.")
    count = int(index.max(initial=-1)) + 1
    counting = np.flatnonzero(weights > 0.0)
    # vines of one group one after another
    order = counting[np.argsort(index[counting], kind="stable")]
    groups, starts = np.unique(index[order], return_index=True)
    share = np.full((count, draws), np.nan, np.float32)
    if len(order):
        share[groups] = _drawn(field, at_m, order, weights[order], starts, draws)
    total, average = _averages(index, weights, count)
    is_unsure, is_lost = (average((field.certainty == code).astype(float)) for code in (UNSURE, NOT_KNOWN))
    return GroupDraws(share, total, average(field.incidence), is_unsure, is_lost)


def _averages(index: npt.NDArray[np.int64], weights: Floats, count: int) -> tuple[Floats, Callable[[Floats], Floats]]:
    """Weights (count,) of groups, and what averages a column over each; NaN in a group where nothing counts."""
    total = np.bincount(index, weights, count).astype(np.float64)[:count]
    weights_in = np.where(total > 0.0, total, np.nan)

    def average(column: Floats) -> Floats:
        figures: Floats = np.bincount(index, weights * np.where(weights > 0.0, column, 0.0), count)[:count] / weights_in
        return figures

    return total, average


def _places(starts: npt.NDArray[np.int64], vines: int) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Places among ordered vines at a quarter and three quarters of each group, and the place (vines,) that each is near."""
    ends = np.append(starts[1:], vines)
    size = ends - starts
    within = (2 * np.arange(PLACES_A_GROUP) + 1) / (2 * PLACES_A_GROUP)
    places = np.minimum(starts[:, None] + np.floor(size[:, None] * within).astype(np.int64), ends[:, None] - 1)
    along = (np.arange(vines) - np.repeat(starts, size)) / np.repeat(size, size)
    half = np.minimum((along * PLACES_A_GROUP).astype(np.int64), PLACES_A_GROUP - 1)
    place_of = np.repeat(np.arange(len(starts)) * PLACES_A_GROUP, size) + half
    return places.ravel(), place_of


def _drawn(
    field: Field,
    at_m: Floats,
    vines: npt.NDArray[np.int64],
    weights: Floats,
    starts: npt.NDArray[np.int64],
    draws: int,
) -> Singles:
    """Average incidence (groups, draws) of ordered vines, each group from one of ``starts`` to the next."""
    near, place_of = _places(starts, len(vines))
    ends = np.append(starts[1:], len(vines))
    places = vines[near]
    rng = np.random.default_rng(SEED)
    mixture, doubt = field.mixture, field.doubt
    shared = mixture.shared_sd()
    own = np.sqrt(np.maximum(mixture.sd**2 - shared**2, 0.0))
    weights_in = np.add.reduceat(weights, starts).astype(np.float32)
    columns = []
    for index, (part, size) in enumerate(zip(doubt.parts, share_out(mixture.weight, draws), strict=True)):
        if not size:
            continue
        common = shared_deviations(doubt, part, at_m[places], field.drift[places], size, rng)
        column = np.empty((len(starts), size), np.float32)
        for first in range(0, len(starts), CHUNK_GROUPS):
            some = slice(first, first + CHUNK_GROUPS)
            begin, end = starts[some][0], ends[some][-1]
            chunk = vines[begin:end]
            logit = rng.standard_normal((len(chunk), size), np.float32)
            logit *= own[index, chunk][:, None]
            logit += mixture.mean[index, chunk][:, None]
            logit += shared[index, chunk][:, None] * common[place_of[begin:end]]
            share = expit(logit, out=logit)
            share *= weights[begin:end, None].astype(np.float32)
            column[some] = np.add.reduceat(share, starts[some] - begin)
        columns.append(column / weights_in[:, None])
    return np.concatenate(columns, axis=1)


def merged(draws: GroupDraws, into: Ints, share: Floats | None = None) -> GroupDraws:
    """Draws of larger groups 0, 1, 2 …: rows from spans, a block from rows. ``into`` (g,): the larger group of each, below 0
    for none; ``share`` (g,): how much of each counts, all of it if None."""
    into = np.asarray(into, np.int64)
    weight = draws.weight * (1.0 if share is None else share) * (into >= 0)
    count = int(into.max(initial=-1)) + 1
    index = np.maximum(into, 0)
    total, average = _averages(index, weight, count)
    counting = np.flatnonzero(weight > 0.0)
    summed = np.zeros((count, draws.share.shape[1]), np.float32)
    np.add.at(summed, index[counting], weight[counting, None].astype(np.float32) * draws.share[counting])
    with np.errstate(invalid="ignore"):
        shares: Singles = summed / np.where(total > 0.0, total, np.nan).astype(np.float32)[:, None]
    return GroupDraws(shares, total, average(draws.mean), average(draws.unsure_frac), average(draws.not_known_frac))


def incidence_of(draws: GroupDraws, threshold: float) -> GroupIncidence:
    """Mean, 90 % interval and chance to be above ``threshold`` 0..1 of each group, from its draws."""
    known = draws.weight > 0.0
    low, high, above = np.full((3, len(draws)), np.nan)
    if known.any():
        low[known], high[known] = np.quantile(draws.share[known], (0.05, 0.95), axis=1)
        above[known] = (draws.share[known] > threshold).mean(axis=1)
    return GroupIncidence(
        draws.mean,
        np.minimum(low, draws.mean),
        np.maximum(high, draws.mean),
        above,
        draws.weight,
        draws.unsure_frac,
        draws.not_known_frac,
    )


def chance_among_worst(draws: GroupDraws, worst: int) -> Floats:
    """Chance (g,) that each group is among the ``worst`` groups of highest incidence; NaN where no vine counts."""
    known = np.flatnonzero(draws.weight > 0.0)
    chance = np.full(len(draws), np.nan)
    if len(known) and worst > 0:
        place = np.argsort(-draws.share[known], axis=0, kind="stable")[:worst]
        chance[known] = np.bincount(place.ravel(), minlength=len(known)) / draws.share.shape[1]
    return chance
