"""Whether a map means what it says: stops left out one at a time, what was said of them and what was found."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import bdtr, logit

from vinemap.columns import Floats
from vinemap.surface.counts import Counts
from vinemap.surface.foretell import Foretold

MOST_GROUPS, LEAST_IN_GROUP = 5, 6
LEAST_STEP = 0.25
"""Neighbouring groups lie at least so far apart, on the logit scale: without a pattern every stop is told nearly the same,
the worse ones a little less since they were left out, and groups of that would only show the leaving out (a choice)."""
LOW_TAIL, HIGH_TAIL = 0.05, 0.95


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Left-out stops that were told alike: mean ``said`` share 0..1 by clusters; ``examined``, ``infected`` (k,) of each."""

    said: float
    examined: Floats
    infected: Floats


@dataclass(frozen=True, slots=True)
class Inside:
    """How many of ``stops`` fell inside their 90 % range: ``found``, a count on the very edge in part; ``low`` to ``high``:
    what nine in ten honest maps would show."""

    stops: int
    found: float
    low: int
    high: int


def groups_of(counts: Counts, told: Foretold) -> tuple[Group, ...]:
    """Up to five groups of equal numbers of stops by what all others said of them; fewer where that is nearly the same.

    Source: reliability diagrams, Murphy & Winkler 1977, Applied Statistics 26:41; equal numbers: Broecker & Smith 2007,
    Weather and Forecasting 22:651.
    """
    order = np.argsort(told.share, kind="stable")
    for number in range(min(MOST_GROUPS, max(len(counts) // LEAST_IN_GROUP, 1)), 0, -1):
        groups = tuple(_group(counts, told, members) for members in np.array_split(order, number))
        places = logit(np.clip([group.said for group in groups], 1e-6, 1.0 - 1e-6))
        if number == 1 or np.diff(places).min() >= LEAST_STEP:
            break
    return groups


def _group(counts: Counts, told: Foretold, members: np.ndarray) -> Group:
    examined = counts.examined[members]
    return Group(float(told.share[members] @ examined / examined.sum()), examined, counts.infected[members])


def inside_ranges(told: Foretold) -> Inside:
    """How many left-out counts fell into the middle 90 % of what was said of them.

    Counts are whole: the chance of just this count is spread evenly, so that an honest map has 9 in 10 inside on average.
    Source: Czado, Gneiting & Held 2009, Biometrics 65:1254 (nonrandomised probability integral transform).
    """
    width = told.at_most - told.below
    overlap = np.minimum(told.at_most, HIGH_TAIL) - np.maximum(told.below, LOW_TAIL)
    middle = 0.5 * (told.at_most + told.below)
    # a count of next to no chance is a point: inside or not
    point = ((middle >= LOW_TAIL) & (middle <= HIGH_TAIL)).astype(np.float64)
    share = np.where(width > 1e-9, np.clip(overlap / np.maximum(width, 1e-9), 0.0, 1.0), point)
    stops = len(share)
    fewer = bdtr(np.arange(stops + 1), stops, HIGH_TAIL - LOW_TAIL)
    return Inside(
        stops, float(share.sum()), int(np.searchsorted(fewer, LOW_TAIL)), int(np.searchsorted(fewer, HIGH_TAIL - 1e-12))
    )
