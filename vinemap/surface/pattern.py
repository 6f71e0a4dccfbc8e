"""What a pattern may look like before a round is read: spread, share, range and ratio, with weak priors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from vinemap.columns import Floats
from vinemap.surface.counts import PRIOR_LOG_SD, PRIOR_LOG_SD_SD, PRIOR_MEAN_SD
from vinemap.surface.fit import RANGE_M, RANGE_SD, RATIO, RATIO_SD
from vinemap.surface.gaps import Gaps, reach_between
from vinemap.surface.variogram import Variogram, correlation

KIND = "exponential"
SHARE_SD = 1.5
"""Weak prior on the logit of the share of the variance that neighbours share: 95 % of 0.05 to 0.95 (a choice)."""
NAMES = ("spread", "share", "range", "ratio")
FARTHEST = 5.0
"""No parameter strays farther than this from its prior's middle, in its deviations."""


@dataclass(frozen=True, slots=True)
class Habit:
    """A prior for the four figures of a pattern, each on its own scale: ``middle`` and ``sd`` (4,) of the log of the spread
    between vines, the logit of the share that neighbours share, the log range [m] along the row, the log ratio across.

    ``source``: whom it was learned from, in words; empty for the weak prior that stands before any round is read.
    """

    middle: tuple[float, float, float, float] = (float(PRIOR_LOG_SD), 0.0, float(np.log(RANGE_M)), float(np.log(RATIO)))
    sd: tuple[float, float, float, float] = (PRIOR_LOG_SD_SD, SHARE_SD, RANGE_SD, RATIO_SD)
    source: str = ""

    def curve(self, place: Floats, bearing_deg: float) -> Variogram:
        """The variogram at ``place``: (4,) in prior deviations, or (1,) the spread of a block without a pattern."""
        figures = np.array(self.middle)
        figures[: len(place)] += np.array(self.sd)[: len(place)] * np.clip(place, -FARTHEST, FARTHEST)
        sill = float(np.exp(2.0 * figures[0]))
        if len(place) == 1:
            return Variogram(KIND, sill, sill, RANGE_M, 1.0, bearing_deg)
        own = sill * float(expit(-figures[1]))
        return Variogram(KIND, own, sill, float(np.exp(figures[2])), float(np.exp(figures[3])), bearing_deg)


WEAK = Habit()
"""What stands before any round is read."""


BETWEEN_BLOCKS = 0.5
"""Patterns of two blocks, or of two rounds, differ by half as much as the weak prior allows (a choice)."""


def pooled_habit(learned: Sequence[tuple[Sequence[float], Sequence[float]]], source: str) -> Habit:
    """A prior for a block with few stops from what others have ``learned``: middle and deviation (4,) each.

    Source: Gelman et al. 2013, Bayesian Data Analysis, section 5.5, with the spread between blocks chosen.
    """
    middle, sd = np.array([pair[0] for pair in learned]), np.array([pair[1] for pair in learned])
    between = BETWEEN_BLOCKS * np.array(WEAK.sd)
    weight = 1.0 / (sd**2 + between**2)
    pooled = (weight * middle).sum(axis=0) / weight.sum(axis=0)
    spread = np.minimum(np.sqrt(between**2 + 1.0 / weight.sum(axis=0)), WEAK.sd)
    return Habit(_four(pooled), _four(spread), source)


def _four(column: Floats) -> tuple[float, float, float, float]:
    spread, share, range_m, ratio = (float(figure) for figure in column)
    return spread, share, range_m, ratio


def level_variance(drift: Floats, level_sd: float = PRIOR_MEAN_SD) -> Floats:
    """Covariance (n, n) that logits have without a pattern: a level of unknown ``level_sd``, columns ``drift`` (n, q)."""
    matrix: Floats = level_sd**2 + drift @ drift.T
    return matrix


def prior_covariance(gaps: Gaps, level: Floats, curve: Variogram) -> Floats:
    """Covariance (n, n) of the logits at stops: ``level`` (n, n), the shared pattern and each vine's own part."""
    matrix = level.copy()
    if curve.structured_sill > 0.0:
        matrix += curve.structured_sill * correlation(KIND, reach_between(gaps, curve))
    matrix[np.diag_indices_from(matrix)] += curve.nugget
    return matrix


def slopes(habit: Habit, gaps: Gaps, curve: Variogram, lean: Floats, size: int) -> Floats:
    """Change (size,) of a height with each parameter, when ``lean`` (n, n) is its change with the prior covariance."""
    spread_sd, share_sd, range_sd, ratio_sd = habit.sd
    diagonal = float(np.trace(lean))
    if size == 1:
        return np.array([2.0 * spread_sd * curve.nugget * diagonal])
    reach = reach_between(gaps, curve)
    alike = correlation(KIND, reach)
    shared = curve.structured_sill / curve.sill
    leaning = alike * lean
    whole = float(leaning.sum())
    # the diagonal has no distance: nothing there changes with range or ratio
    steep = 3.0 * curve.structured_sill * leaning
    by_range = float((steep * reach).sum())
    across = np.divide(gaps.across_m2, reach, out=np.zeros_like(reach), where=reach > 0.0)
    by_ratio = float((steep * across).sum()) / curve.range_across_m**2
    return np.array(
        [
            2.0 * spread_sd * (curve.structured_sill * whole + curve.nugget * diagonal),
            share_sd * curve.sill * shared * (1.0 - shared) * (whole - diagonal),
            range_sd * by_range,
            ratio_sd * by_ratio,
        ]
    )
