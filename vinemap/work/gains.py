"""What opening and a targeted spray save in each span of a block, by the time the fruit resists or is picked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.special import expit, logit

from vinemap.columns import Bools, Floats
from vinemap.errors import Tick, no_tick
from vinemap.work.assumptions import Assumptions
from vinemap.work.epidemic import Growth, Saved, left_alone, neighbour_weights, saved_by_work
from vinemap.work.spans import Spans
from vinemap.work.sunburn import burned_clusters

LIGHTLY, FIRMLY, BOTH = 0, 1, 2
OPENING_LETTERS = ("L", "F", "D")
STRENGTH = np.array([0.7, 1.0, 1.2])
"""Effect of opening lightly, firmly and on both faces, relative to firmly; stated assumption."""


FIFTHS = (-1.2816, -0.5244, 0.0, 0.5244, 1.2816)
"""Normal deviates of the middles of five equally likely parts (10, 30, 50, 70 and 90 %)."""

ENDS = (-1.6449, 1.6449)
"""Normal deviates of the ends of a 90 % interval."""


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """Share of clusters infected in each span (n,) now: mean, and the ends of its 90 % interval."""

    mean: Floats
    low: Floats
    high: Floats

    def at(self, deviate: float) -> Floats:
        """The share (n,) at a normal deviate: its logit is taken as normal between the ends of the interval."""
        low, high = (logit(np.clip(end, 1e-6, 1.0 - 1e-6)) for end in (self.low, self.high))
        share: Floats = expit((low + high) / 2.0 + (high - low) / 2.0 / ENDS[1] * deviate)
        return share


@dataclass(frozen=True, slots=True, eq=False)
class Drivers:
    """What the season brings to a block from today to the horizon.

    ``growth``: the model's drivers for d days and n spans; ``opened`` (d, n): what is left of the last opening, 0..1, and
    ``new_open`` (d,): what an opening made today would leave, full effect at this stage and closing again; ``cover`` (d, n):
    what is left of the last spray; ``new_cover`` (d,): what a spray made today would leave; ``burn``: share (n,) of clusters
    laid bare that burn on the face opened first and on the other one; ``closed`` (n,): how closed the leaves are, 0..1;
    ``is_too_hot``: heat is forecast that keeps a hot face closed; ``spray_stop``: why no spray may be made, or "".
    """

    growth: Growth
    opened: Floats
    new_open: Floats
    cover: Floats
    new_cover: Floats
    burn: tuple[Floats, Floats]
    closed: Floats
    is_too_hot: bool
    spray_stop: str


@dataclass(frozen=True, slots=True, eq=False)
class Gain:
    """Gain of one kind of work in each span (n,).

    ``clusters``: clusters saved, here and around, less those burned by the sun, expected over what the incidence may be;
    ``low``, ``high``: least and most within its 90 % interval (a patch that is lost saves little, as does a clean one);
    ``here``, ``around``, ``burned``: the three parts of ``clusters``; ``left``, ``worked``: share infected at the horizon;
    ``hours``: hours of one person, or of the sprayer; ``strength``: index into ``OPENING_LETTERS``, for openings.
    """

    clusters: Floats
    low: Floats
    high: Floats
    here: Floats
    around: Floats
    burned: Floats
    left: Floats
    worked: Floats
    hours: Floats
    strength: np.ndarray


def opening_strength(shares: Shares, threshold: float) -> np.ndarray:
    """How hard each span (n,) is opened: firmly from the threshold on, both faces from twice the threshold.

    Common practice: the face with the late sun is opened too only when infection is bad.
    """
    return np.where(shares.mean >= 2.0 * threshold, BOTH, np.where(shares.mean >= threshold, FIRMLY, LIGHTLY))


def opening_factor(strength: np.ndarray, drivers: Drivers, opening_effect: float) -> Floats:
    """What opening today multiplies growth by, (d, n), beyond what the last opening still does."""
    better = np.maximum(drivers.new_open[:, None] * STRENGTH[strength], drivers.opened)
    factor: Floats = (1.0 - np.minimum(opening_effect * better, 0.95)) / (1.0 - opening_effect * drivers.opened)
    return factor


def spray_factor(drivers: Drivers, spray_effect: float) -> Floats:
    """What a spray made today multiplies growth by, (d, n), beyond the cover that is still there."""
    better = np.maximum(drivers.new_cover[:, None], drivers.cover)
    factor: Floats = (1.0 - spray_effect * better) / (1.0 - spray_effect * drivers.cover)
    return factor


def opening_hours(spans: Spans, strength: np.ndarray, assumptions: Assumptions) -> Floats:
    """Hours of one person (n,) to open each span: minutes a vine over the productive share of the hour."""
    minutes = np.where(strength == BOTH, assumptions.minutes_open_both, assumptions.minutes_open)
    hours: Floats = spans.living * minutes / 60.0 / assumptions.productive_share
    return hours


def spray_hours(spans: Spans, assumptions: Assumptions) -> Floats:
    """Hours of the sprayer (n,) along each span: length over speed and field efficiency."""
    hours: Floats = spans.length_m / 1000.0 / assumptions.sprayer_kmh / assumptions.sprayer_efficiency
    return hours


def gains(
    spans: Spans, shares: Shares, drivers: Drivers, assumptions: Assumptions, tick: Tick = no_tick
) -> tuple[Gain, Gain]:
    """Gain of opening and of a targeted spray for each span of a block, each worked alone."""
    weights = neighbour_weights(spans, assumptions.spread_along_m, assumptions.spread_across_m)
    clusters: Floats = np.multiply(spans.living, assumptions.clusters_per_vine, dtype=np.float64)
    strength = _spared(opening_strength(shares, assumptions.threshold), shares, drivers, assumptions, weights, clusters)
    burned = burned_clusters(clusters, drivers.closed, strength, drivers.burn, assumptions.burn_loss)
    factors = (
        opening_factor(strength, drivers, assumptions.opening_effect),
        spray_factor(drivers, assumptions.spray_effect),
    )
    saved: list[tuple[Saved, Saved]] = []
    deviates = FIFTHS + ENDS
    for step, deviate in enumerate(deviates):
        path = left_alone(shares.at(deviate), drivers.growth, weights)
        opened, sprayed = (saved_by_work(path, drivers.growth, weights, factor, clusters) for factor in factors)
        saved.append((opened, sprayed))
        tick((step + 1) / len(deviates))
    opening = _gain([pair[0] for pair in saved], opening_hours(spans, strength, assumptions), strength, burned)
    # nobody lays bare what would lose more to the sun than to mildew
    opening = only_where(opening, opening.clusters > 0.0)
    spraying = _gain([pair[1] for pair in saved], spray_hours(spans, assumptions), strength, np.zeros(len(spans)))
    return opening, (only_where(spraying, np.zeros(len(spans), bool)) if drivers.spray_stop else spraying)


def _spared(
    strength: np.ndarray, shares: Shares, drivers: Drivers, assumptions: Assumptions, weights: csr_array, clusters: Floats
) -> np.ndarray:
    """How hard spans (n,) are opened once the sun is counted: the hot face too only where that saves more than it burns.

    None of it while heat is forecast that keeps a hot face closed.
    """
    both = strength == BOTH
    if not both.any():
        return strength
    one = np.where(both, FIRMLY, strength)
    if drivers.is_too_hot:
        return one
    path = left_alone(shares.mean, drivers.growth, weights)

    def net(of: np.ndarray) -> Floats:
        factor = opening_factor(of, drivers, assumptions.opening_effect)
        saved = saved_by_work(path, drivers.growth, weights, factor, clusters)
        burned = burned_clusters(clusters, drivers.closed, of, drivers.burn, assumptions.burn_loss)
        total: Floats = saved.here + saved.around - burned
        return total

    return np.where(both & (net(strength) <= net(one)), FIRMLY, strength)


def _gain(saved: list[Saved], hours: Floats, strength: np.ndarray, burned: Floats) -> Gain:
    totals = np.maximum([each.here + each.around for each in saved], 0.0)
    likely = saved[: len(FIFTHS)]
    return Gain(
        clusters=totals[: len(FIFTHS)].mean(axis=0) - burned,
        low=np.maximum(totals.min(axis=0) - burned, 0.0),
        high=totals.max(axis=0) - burned,
        here=np.mean([each.here for each in likely], axis=0),
        around=np.mean([each.around for each in likely], axis=0),
        burned=burned,
        left=np.mean([each.left for each in likely], axis=0),
        worked=np.mean([each.worked for each in likely], axis=0),
        hours=hours,
        strength=strength,
    )


def only_where(gain: Gain, keep: Bools) -> Gain:
    """The gain with nothing saved in the spans (n,) that are not to be worked."""
    return Gain(
        clusters=np.where(keep, gain.clusters, 0.0),
        low=np.where(keep, gain.low, 0.0),
        high=np.where(keep, gain.high, 0.0),
        here=np.where(keep, gain.here, 0.0),
        around=np.where(keep, gain.around, 0.0),
        burned=np.where(keep, gain.burned, 0.0),
        left=gain.left,
        worked=np.where(keep, gain.worked, gain.left),
        hours=gain.hours,
        strength=gain.strength,
    )
