"""Incidence of spans, rows and blocks from the field at their vines."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.polynomial.hermite_e import hermegauss
from scipy.special import betaincc, betaincinv, expit

from vinemap.columns import Bools, Floats, Ints, freeze
from vinemap.errors import InputError
from vinemap.surface.field import INVERSE_DISTANCE, NOT_KNOWN, UNSURE, Field
from vinemap.surface.variogram import in_ranges

SHARED_NODES, OWN_NODES = (hermegauss(count) for count in (9, 7))
ALIKE_RANGES = 2.0 / 3.0
"""Ranges over which vines count as one: the exponential curve's correlation added up on both sides."""


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


def group_incidence(
    field: Field,
    group: Ints,
    weight: Floats | None = None,
    at_m: Floats | None = None,
    threshold: float | None = None,
) -> GroupIncidence:
    """Incidence of groups 0, 1, 2 … of vines: spans, rows or a block.

    ``group`` (n,): each vine's group; ``weight`` (n,): 1 for a vine that counts, 0 for one that does not, or its clusters;
    ``threshold``: the recipe's if None. The vines' own parts are independent. The shared part is taken as one and the same
    within a group; with ``at_m`` (n, 2) [m] a group that is longer than the pattern counts as so many independent pieces
    (at most as many as there are stops), which suits rows and blocks. The sum is told as a beta with its mean and variance.

    Raises InputError when columns do not match. Limits: within one span the interval errs on the wide side.
    Source: Journel & Huijbregts 1978, Mining Geostatistics, section V.A (averages over a support), simplified.
    """
    index = np.asarray(group, np.int64)
    weights = np.ones(len(field)) if weight is None else np.asarray(weight, float)
    if len(index) != len(field) or len(weights) != len(field) or (weights < 0).any() or (index < 0).any():
        raise InputError("Vines and their groups do not match.", "Make the map again after changing the rows.")
    threshold = field.recipe.threshold if threshold is None else threshold
    count = int(index.max(initial=-1)) + 1
    total = np.bincount(index, weights, count).astype(np.float64)
    # a group with nothing that counts has no figure
    weights_in = np.where(total > 0.0, total, np.nan)

    def average(column: Floats) -> Floats:
        return np.bincount(index, weights * column, count) / weights_in

    own_share = np.bincount(index, weights**2, count) / weights_in**2
    logit_mean, shared_var, own_var = _spread(field, average)
    pieces = np.ones(count) if at_m is None else _pieces(field, index, weights > 0.0, np.asarray(at_m, float))
    variance = shared_var / pieces + own_var * own_share
    mean = average(field.incidence)
    low, high, above = _beta_figures(logit_mean, variance, threshold)
    return GroupIncidence(
        mean,
        np.minimum(low, mean),
        np.maximum(high, mean),
        above,
        total,
        average((field.certainty == UNSURE).astype(float)),
        average((field.certainty == NOT_KNOWN).astype(float)),
    )


def _spread(field: Field, average: Callable[[Floats], Floats]) -> tuple[Floats, Floats, Floats]:
    """Mean of the groups' incidence, its variance over the shared part, and the vines' mean own variance, each (g,)."""
    mean: Floats | float = 0.0
    square: Floats | float = 0.0
    own: Floats | float = 0.0
    shared_total, own_total = SHARED_NODES[1].sum(), OWN_NODES[1].sum()
    for shared, chance in zip(*SHARED_NODES, strict=True):
        middle = field.latent_mean + field.structured_sd * shared
        vine, vine_square = np.zeros(len(field)), np.zeros(len(field))
        for node, part in zip(*OWN_NODES, strict=True):
            share = expit(middle + field.nugget_sd * node)
            vine += part / own_total * share
            vine_square += part / own_total * share * share
        chance = chance / shared_total
        group = average(vine)
        mean = mean + chance * group
        square = square + chance * group * group
        own = own + chance * average(vine_square - vine * vine)
    return np.asarray(mean), np.maximum(np.asarray(square) - np.asarray(mean) ** 2, 0.0), np.asarray(own)


def _pieces(field: Field, group: npt.NDArray[np.int64], counts: Bools, at_m: Floats) -> Floats:
    """Independent pieces (g,) that each group's shared part is worth, over the vines that count; 1 without a pattern."""
    recipe, count = field.recipe, int(group.max(initial=-1)) + 1
    if recipe.variogram:
        lengths = in_ranges(recipe.variogram, at_m) / ALIKE_RANGES
    elif recipe.method == INVERSE_DISTANCE:
        lengths = at_m / recipe.reach_m
    else:
        return np.ones(count)
    pieces = np.ones(count)
    for axis in lengths.T:
        least, most = np.full(count, np.inf), np.full(count, -np.inf)
        np.minimum.at(least, group[counts], axis[counts])
        np.maximum.at(most, group[counts], axis[counts])
        pieces *= np.maximum(most - least, 1.0)
    return np.minimum(pieces, recipe.stops)


def _beta_figures(mean: Floats, variance: Floats, threshold: float) -> tuple[Floats, Floats, Floats]:
    """5 % and 95 % points and chance above ``threshold`` of betas with mean and variance (g,)."""
    inside = np.clip(mean, 1e-6, 1.0 - 1e-6)
    size = np.clip(inside * (1.0 - inside) / np.maximum(variance, 1e-12) - 1.0, 1e-3, 1e9)
    alpha, beta = inside * size, (1.0 - inside) * size
    low, high = betaincinv(alpha, beta, 0.05), betaincinv(alpha, beta, 0.95)
    return np.asarray(low), np.asarray(high), np.asarray(betaincc(alpha, beta, threshold))
