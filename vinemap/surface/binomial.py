"""The binomial field: counts seen as binomial, logits as a pattern plus each vine's own part, every parameter in doubt."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt
from scipy.linalg import helmert
from scipy.special import logsumexp

from vinemap.columns import Floats
from vinemap.errors import Tick, no_tick
from vinemap.surface.counts import PRIOR_MEAN, Counts, log_ways
from vinemap.surface.fit import neighbourly_groups
from vinemap.surface.gaps import Gaps, gaps_between
from vinemap.surface.kriging import ALL_AT_ONCE
from vinemap.surface.pattern import FARTHEST, WEAK, Habit, level_variance, prior_covariance, slopes
from vinemap.surface.propagation import Propagated, Sites, no_sites, propagate
from vinemap.surface.variogram import Variogram

NO_PATTERN_CHANCE = 0.1
"""Mildew spreads from where it began: before a round is read, nine blocks in ten have a pattern (a choice; on made-up blocks
an even chance lost patterns that were there)."""
SURE_STOPS = 400
"""Above so many stops the parameters stand at their best values, found from groups of neighbouring stops."""
GROUP_STOPS = 65
STARTS = (np.array([0.0, 0.0, -1.2, 0.0]), np.array([0.0, 0.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.2, 0.0]))
FIRST_SWEEPS, DESIGN_SWEEPS, FEW_SWEEPS = 6, 4, 3
CLIMB_STEPS, CLOSE = 20, 1e10
BEND_STEP, LEAST_BEND = 0.4, 0.6
"""The prior alone bends by 1 in every direction of the scaled parameters."""
RADIUS = 1.1
"""Radius of the design in deviations per root of the dimension (Rue et al. 2009, section 6.5)."""
LEAST_WEIGHT = 0.005


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One set of parameters: its weight, its curve (nugget alone without a pattern), what the counts then say."""

    weight: float
    curve: Variogram
    said: Propagated

    @property
    def has_pattern(self) -> bool:
        """Whether neighbours share anything."""
        return self.curve.structured_sill > 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Binomial:
    """A round's counts read under many parameters: ``parts`` with weights that add up to 1, best pattern first.

    ``drift``: (n, q) columns at the stops, scaled by the prior deviation of their effect. ``learned``: middle and sd (2, 4)
    of the pattern's parameters on the scales of Habit, given that there is a pattern.
    """

    counts: Counts
    drift: Floats
    parts: tuple[Part, ...]
    learned: Floats
    habit: Habit

    @property
    def no_pattern_chance(self) -> float:
        """Chance that neighbours share nothing."""
        return sum(part.weight for part in self.parts if not part.has_pattern)

    def without_pattern(self) -> Binomial:
        """The same counts read by the block's own share alone."""
        return self._only([part for part in self.parts if not part.has_pattern])

    def with_pattern(self) -> Binomial:
        """The same counts read by a pattern for sure."""
        return self._only([part for part in self.parts if part.has_pattern])

    def likely(self) -> Binomial:
        """Without the parts that hardly weigh: what vines are told from."""
        return self._only([part for part in self.parts if part.weight >= LEAST_WEIGHT])

    def _only(self, parts: Sequence[Part]) -> Binomial:
        total = sum(part.weight for part in parts)
        return replace(self, parts=tuple(replace(part, weight=part.weight / total) for part in parts))

    def left_weights(self) -> Floats:
        """Weights (p, n) of the parts when each count in turn is not known, each column adding up to 1.

        Source: Gelfand, Dey & Chang 1992, Bayesian Statistics 4:147.
        """
        weights = np.log([part.weight for part in self.parts])[:, None] - self._told()
        return np.exp(weights - logsumexp(weights, axis=0))

    def left_out(self) -> Floats:
        """Log chance (n,) of each count told from all the others, parameters and all.

        Weights without a count are those with it over its chance, which makes the chance a harmonic mean.
        """
        weights = np.log([part.weight for part in self.parts])
        log_chance: Floats = logsumexp(weights) - logsumexp(weights[:, None] - self._told(), axis=0)
        return log_chance + log_ways(self.counts)

    def _told(self) -> Floats:
        return np.array([part.said.left_out for part in self.parts])


def read_binomial(
    counts: Counts,
    bearing_deg: float,
    habit: Habit | None = None,
    drift: Floats | None = None,
    tick: Tick = no_tick,
) -> Binomial:
    """Read counts with rows along ``bearing_deg`` [degrees] under all likely parameters, with and without a pattern.

    The level (with the effects of ``drift`` (n, q)) is summed out; the spread between vines, the share of it that neighbours
    share, the range and its ratio across are summed over a small design about the best ones; the two models weigh by their
    evidence. Source: Rue, Martino & Chopin 2009, J. R. Stat. Soc. B 71:319, sections 3.1 and 6.5.
    """
    habit = habit or WEAK
    drift = np.zeros((len(counts), 0)) if drift is None else drift
    is_sure = len(counts) > SURE_STOPS
    some = learning_stops(counts)
    learned_from = (some_counts(counts, some), level_variance(drift[some]), bearing_deg, habit)
    plain, pattern = _Learner(*learned_from, 1), _Learner(*learned_from, 4)
    bare, _ = _weighed(plain, [np.zeros(1)], is_sure, lambda done: tick(0.2 * done))
    full, learned = _weighed(pattern, STARTS, is_sure, lambda done: tick(0.2 + 0.6 * done))
    weighed = [(height + np.log(1.0 - NO_PATTERN_CHANCE), pattern, place, sites) for height, place, sites in full]
    weighed += [(height + np.log(NO_PATTERN_CHANCE), plain, place, sites) for height, place, sites in bare]
    heights = np.array([height for height, *_ in weighed])
    weights = np.exp(heights - logsumexp(heights))
    if len(counts) <= ALL_AT_ONCE:
        gaps, level = gaps_between(counts.stops_m, bearing_deg), level_variance(drift)
    parts = []
    for done, (weight, (_, learner, place, sites)) in enumerate(zip(weights, weighed, strict=True)):
        tick(0.8 + 0.2 * done / len(weights))
        curve = learner.curve(place)
        if len(counts) > ALL_AT_ONCE:
            said = _propagate_in_groups(counts, bearing_deg, drift, curve)
        else:
            said = propagate(counts, PRIOR_MEAN, prior_covariance(gaps, level, curve), sites or no_sites(len(counts)))
        parts.append(Part(float(max(weight, 1e-300)), curve, said))
    return Binomial(counts, drift, tuple(parts), learned, habit)


def first_look(counts: Counts, bearing_deg: float, habit: Habit) -> Binomial:
    """Counts read with the pattern that the habit holds likeliest, quickly: a picture until the parameters are known."""
    drift = np.zeros((len(counts), 0))
    curve = habit.curve(np.zeros(4), bearing_deg)
    prior = prior_covariance(gaps_between(counts.stops_m, bearing_deg), level_variance(drift), curve)
    said = propagate(counts, PRIOR_MEAN, prior, no_sites(len(counts)), FIRST_SWEEPS)
    return Binomial(counts, drift, (Part(1.0, curve, said),), np.array([habit.middle, habit.sd]), habit)


def _propagate_in_groups(counts: Counts, bearing_deg: float, drift: Floats, curve: Variogram) -> Propagated:
    """Messages of a very large round, each group of neighbouring stops for itself; no joint normal is kept of it."""
    said, order = [], []
    for group in neighbourly_groups(counts.stops_m, SURE_STOPS):
        some = some_counts(counts, group)
        prior = prior_covariance(gaps_between(some.stops_m, bearing_deg), level_variance(drift[group]), curve)
        said.append(propagate(some, PRIOR_MEAN, prior, no_sites(len(some))))
        order.append(group)
    back = np.argsort(np.concatenate(order))

    def joined(columns: Iterable[Floats]) -> Floats:
        column: Floats = np.concatenate(list(columns))[back]
        return column

    return Propagated(
        Sites(joined(each.sites.precision for each in said), joined(each.sites.shift for each in said)),
        joined(each.mean for each in said),
        joined(each.variance for each in said),
        np.zeros(0),
        np.zeros((0, 0)),
        sum(each.log_evidence for each in said),
        joined(each.left_out for each in said),
        joined(each.left_mean for each in said),
        joined(each.left_variance for each in said),
    )


def learning_stops(counts: Counts) -> npt.NDArray[np.int64]:
    """The stops that parameters are learned from: all of them, or in a large round some groups of neighbours spread over it.

    Neighbours tell how likeness fades; groups far apart, read under one level, tell how much the block differs.
    """
    if len(counts) <= SURE_STOPS:
        return np.arange(len(counts))
    groups = neighbourly_groups(counts.stops_m, GROUP_STOPS)
    chosen = np.unique(np.linspace(0, len(groups) - 1, SURE_STOPS // GROUP_STOPS).round().astype(int))
    return np.concatenate([groups[index] for index in chosen])


def some_counts(counts: Counts, keep: np.ndarray) -> Counts:
    """The counts at the indices, or where the mask is true."""
    return Counts(counts.stops_m[keep], counts.examined[keep], counts.infected[keep])


@dataclass(slots=True, eq=False)
class _Learner:
    """Posterior height of parameters scaled by their priors; keeps the last messages to start the next sweeps from."""

    counts: Counts
    level: Floats
    bearing_deg: float
    habit: Habit
    size: int
    gaps: Gaps = field(init=False)
    sites: Sites = field(init=False)

    def __post_init__(self) -> None:
        self.gaps = gaps_between(self.counts.stops_m, self.bearing_deg)
        self.sites = no_sites(len(self.counts))

    def curve(self, place: Floats) -> Variogram:
        return self.habit.curve(place, self.bearing_deg)

    def height(self, place: Floats, sweeps: int = FEW_SWEEPS) -> tuple[float, Floats]:
        """Log evidence plus log prior at ``place`` (size,), and how it changes (size,).

        Source of the slope: Rasmussen & Williams 2006, section 5.5.2.
        """
        curve = self.curve(place)
        said = propagate(self.counts, PRIOR_MEAN, prior_covariance(self.gaps, self.level, curve), self.sites, sweeps)
        self.sites = said.sites
        lean = 0.5 * (np.outer(said.pull, said.pull) - said.hold)
        slope = slopes(self.habit, self.gaps, curve, lean, self.size)
        return said.log_evidence - 0.5 * float(place @ place), slope - place


def _weighed(
    learner: _Learner, starts: Sequence[Floats], only_best: bool, tick: Tick
) -> tuple[list[tuple[float, Floats, Sites | None]], Floats]:
    """Log weight, place and messages of each point of a design about the best place; the weights add up to the evidence.

    Second: middle and deviation (2, size) of the parameters on the scales of Habit.
    """
    best = _best(learner, starts, lambda done: tick(0.5 * done))
    learner.height(best, FIRST_SWEEPS)
    rested = learner.sites
    curves, axes = np.linalg.eigh(_bends(learner, best))
    curves = np.maximum(curves, LEAST_BEND)
    to_place = axes / np.sqrt(curves)
    tick(0.8)
    # the prior's own constant takes the constant of the bell away
    whole = -0.5 * float(np.log(curves).sum())
    weighed: list[tuple[float, Floats, Sites | None]] = []
    for share, step in _design(len(best)):
        place = np.clip(best + to_place @ step, -FARTHEST, FARTHEST)
        learner.sites = rested
        height = learner.height(place, DESIGN_SWEEPS)[0]
        mass = np.log(share) + 0.5 * float(step @ step) + whole
        weighed.append((height + mass, place, None if only_best else learner.sites))
    if only_best:
        # the whole evidence at the best place
        weighed = [(float(logsumexp([each[0] for each in weighed])), best, None)]
    tick(1.0)
    size, scale = len(best), np.array(learner.habit.sd)
    learned = np.array([np.array(learner.habit.middle), scale])
    learned[0, :size] += scale[:size] * best
    learned[1, :size] *= np.sqrt(np.einsum("ij,ij->i", to_place, to_place))
    return weighed, learned


def _best(learner: _Learner, starts: Sequence[Floats], tick: Tick) -> Floats:
    """The place of the highest posterior, climbed to from the best of some starts."""
    from scipy.optimize import fmin_l_bfgs_b

    heights = [learner.height(place, FIRST_SWEEPS)[0] for place in starts]
    tick(0.3)

    def depth(place: Floats) -> tuple[float, Floats]:
        height, slope = learner.height(place)
        return -height, -slope

    start = starts[int(np.argmax(heights))]
    bounds = [(-FARTHEST, FARTHEST)] * len(start)
    best, _, _ = fmin_l_bfgs_b(depth, start, bounds=bounds, maxiter=CLIMB_STEPS, factr=CLOSE, pgtol=1e-2)
    tick(1.0)
    return np.asarray(best, np.float64)


def _bends(learner: _Learner, best: Floats) -> Floats:
    """How sharply (d, d) the height bends down about the best place, by differences of its slope."""
    rows = []
    for step in BEND_STEP * np.eye(len(best)):
        up, down = (learner.height(best + sign * step)[1] for sign in (1.0, -1.0))
        rows.append((down - up) / (2.0 * BEND_STEP))
    bends = np.array(rows)
    return 0.5 * (bends + bends.T)


def _design(size: int) -> list[tuple[float, Floats]]:
    """Shares and places of a simplex that gives a standard normal its mean and variance, the middle first.

    Source: Julier & Uhlmann 2004, Proceedings of the IEEE 92:401 (the fewest points that do); on made-up blocks a star
    of twice as many points told left-out counts no better.
    """
    corners = RADIUS * np.sqrt(size + 1.0) * helmert(size + 1).T
    share = 1.0 / (RADIUS**2 * len(corners))
    return [(1.0 - 1.0 / RADIUS**2, np.zeros(size)), *((share, corner) for corner in corners)]
