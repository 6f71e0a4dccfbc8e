"""How good a field is: against counts that it has not seen, and against a truth that is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import xlogy

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.surface.counts import Counts
from vinemap.surface.field import Field
from vinemap.surface.mixture import mixture_log_chance


@dataclass(frozen=True, slots=True)
class AgainstTruth:
    """A field against known incidence: ``coverage``: share of vines inside the 90 % interval; ``rmse``; ``bias``;
    ``log_score``: mean log chance given to above or not above the threshold.
    """

    coverage: float
    rmse: float
    bias: float
    log_score: float


def score_counts(field: Field, examined: Floats, infected: Floats) -> Floats:
    """Log chance (n,) of fresh counts, one at each of the field's vines. Raises InputError when they do not match.

    Source: Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102:359.
    """
    if len(examined) != len(field) or len(infected) != len(field):
        raise InputError("The counts and the map differ in the number of vines.", "Use the same vines for both.")
    # the chance of a count asks only for its vine's own logit, not for its place
    return mixture_log_chance(Counts(np.zeros((len(field), 2)), examined, infected), field.mixture)


def score_field(field: Field, truth: Floats) -> AgainstTruth:
    """Score a field against known incidence ``truth`` (n,) 0..1 at its vines.

    Raises InputError when they do not match. Source: Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102:359.
    """
    truth = np.asarray(truth, float)
    if len(truth) != len(field) or not len(truth):
        raise InputError("The truth and the map differ in the number of vines.", "Use the same vines for both.")
    is_above = truth > field.recipe.threshold
    chance = np.clip(field.chance_above, 1e-9, 1.0 - 1e-9)
    miss = field.incidence - truth
    return AgainstTruth(
        float(((truth >= field.low) & (truth <= field.high)).mean()),
        float(np.sqrt((miss**2).mean())),
        float(miss.mean()),
        float((xlogy(is_above, chance) + xlogy(~is_above, 1.0 - chance)).mean()),
    )
