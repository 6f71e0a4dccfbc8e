"""Which way to make the map tells counts best that it has not seen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from vinemap.columns import Floats
from vinemap.errors import Tick, no_tick
from vinemap.surface.binomial import NO_PATTERN_CHANCE, Binomial, learning_stops, read_binomial, some_counts
from vinemap.surface.counts import Between, Counts, fit_between
from vinemap.surface.foretell import Foretold, foretold_by
from vinemap.surface.kriging import nearest_points
from vinemap.surface.latent import Latent, kriged_logits, weighted_logits
from vinemap.surface.mixture import mixture_log_chance
from vinemap.surface.options import BINOMIAL, BLOCK, INVERSE_DISTANCE, KRIGING

LEAST_STOPS = 6
FOLDS = 8
LEAST_GAIN = 0.005
"""Log chance per left-out stop that a map must gain over the block's own share: half a hundredth of the chance (a choice),
and more than the standard error of that gain (the rule of one standard error, Hastie et al. 2009, section 7.10)."""
LEAD_ERRORS = 2.0
"""Standard errors by which another way must lead the binomial field (a choice)."""
WORDS = {
    BINOMIAL: "the binomial field",
    KRIGING: "kriging",
    INVERSE_DISTANCE: "inverse distance",
    BLOCK: "the block's own share",
}

NOTHING_FOUND = "No pattern found: neighbouring stops tell a left-out stop no better than the block's own share does."


@dataclass(frozen=True, slots=True)
class Score:
    """How well a method tells left-out stops: mean log chance of a count, what it gains over the block's own share, and the
    standard error of that gain."""

    method: str
    log_chance: float
    gain: float
    gain_se: float


@dataclass(frozen=True, slots=True)
class Choice:
    """``method``: the best one, or BLOCK; ``scores`` of all; ``note``: a sentence that says what was chosen and why.

    ``foretold``: what kriging or inverse distance, where chosen, said of each stop left out; None where not all were tried.
    """

    method: str
    scores: tuple[Score, ...]
    note: str
    foretold: Foretold | None = None


def choose(
    counts: Counts, found: Binomial, bearing_deg: float, power: float, neighbours: int, tick: Tick = no_tick
) -> Choice:
    """Choose between the ways to make a map, and none at all, by how well each tells stops that were left out.

    The binomial field and the block's own share leave out each stop exactly, parameters and all. The others are made again
    without an eighth of the stops at a time, so that no stop helps to find the pattern that tells it. A large round is
    tried on some groups of neighbouring stops.
    Source: Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102:359; Stone 1974, J. R. Stat. Soc. B 36:111.
    """
    if len(counts) < LEAST_STOPS:
        few = "one stop is" if len(counts) == 1 else f"{len(counts)} stops are"
        return Choice(BLOCK, (), f"No pattern found: {few} too few to see one. The block's own share is given.")
    some = learning_stops(counts)
    is_whole = len(some) == len(counts)
    if not is_whole:
        counts = some_counts(counts, some)
        found = read_binomial(counts, bearing_deg, found.habit, found.drift[some], lambda done: tick(0.4 * done))

    def kriged(rest: Counts, between: Between, at_m: Floats, near_m: Floats) -> Latent:
        return kriged_logits(rest, between, at_m, near_m, bearing_deg, 1, no_tick)

    def weighted(rest: Counts, between: Between, at_m: Floats, near_m: Floats) -> Latent:
        return weighted_logits(rest, between, at_m, near_m, power, neighbours, 1, no_tick)

    simple = told_by_rest(counts, (kriged, weighted), lambda done: tick(0.4 + 0.6 * done))
    log_chances = {
        BINOMIAL: found.left_out(),
        KRIGING: simple[0].log_chance,
        INVERSE_DISTANCE: simple[1].log_chance,
        BLOCK: found.without_pattern().left_out(),
    }
    tick(1.0)
    choice = chosen(log_chances, found.no_pattern_chance <= NO_PATTERN_CHANCE)
    if is_whole and choice.method in (KRIGING, INVERSE_DISTANCE):
        return replace(choice, foretold=simple[0] if choice.method == KRIGING else simple[1])
    return choice


def chosen(log_chances: dict[str, Floats], is_likelier: bool = True) -> Choice:
    """Choose by the log chances (n,) of the same left-out counts under each method.

    ``is_likelier``: whether the counts made a pattern likelier than it was beforehand; without that, and without a gain on
    left-out stops, the binomial field is no more than the block's own share. It stays unless another is better by
    more than two standard errors of the difference: it holds both a pattern and none, its intervals are the most honest, and
    a map that is made another way each week is hard to compare.
    """
    block = log_chances[BLOCK]
    scores = tuple(_score(method, log_chance, log_chance - block) for method, log_chance in log_chances.items())
    best = max((score for score in scores if score.method != BLOCK), key=lambda score: score.log_chance).method
    lead = log_chances[best] - log_chances[BINOMIAL]
    if best != BINOMIAL and lead.mean() <= LEAD_ERRORS * _standard_error(lead):
        best = BINOMIAL
    gains = {score.method: score.gain for score in scores}
    doubt = next(score.gain_se for score in scores if score.method == best)
    if gains[best] < max(LEAST_GAIN, doubt) or (best == BINOMIAL and not is_likelier):
        return Choice(BLOCK, scores, NOTHING_FOUND)
    others = [f"{WORDS[name]} {np.exp(gain):.2f}" for name, gain in gains.items() if name not in (best, BLOCK)]
    why = (
        f"it gives stops that were left out {np.exp(gains[best]):.2f} times the chance that the block's own share gives them"
    )
    return Choice(best, scores, f"Chosen: {WORDS[best]}; {why} ({', '.join(others)}).")


def _score(method: str, log_chance: Floats, gain: Floats) -> Score:
    return Score(method, float(log_chance.mean()), float(gain.mean()), _standard_error(gain))


def _standard_error(column: Floats) -> float:
    return float(column.std(ddof=1) / np.sqrt(len(column)))


Made = Callable[[Counts, Between, Floats, Floats], Latent]


def told_by_rest(counts: Counts, ways: Sequence[Made], tick: Tick = no_tick) -> list[Foretold]:
    """What every way to make a map says of each count when it is made without the count's fold."""
    folds = min(FOLDS, len(counts))
    mean, sd, log_chance = np.empty((3, len(ways), len(counts)))
    # stops in the order of the rows fall into different folds
    order = np.lexsort(counts.stops_m.T)
    for fold in range(folds):
        tick(fold / folds)
        out = np.zeros(len(counts), bool)
        out[order[fold::folds]] = True
        rest, left = some_counts(counts, ~out), some_counts(counts, out)
        near_m = nearest_points(cKDTree(rest.stops_m), left.stops_m, 1)[0][:, 0]
        between = fit_between(rest)
        for way, made in enumerate(ways):
            mixture = made(rest, between, left.stops_m, near_m).mixture
            mean[way, out], sd[way, out] = mixture.moments()
            log_chance[way, out] = mixture_log_chance(left, mixture)
    whole = np.ones((1, len(counts)))
    return [foretold_by(counts, whole, mean[[way]], sd[[way]], log_chance[way]) for way in range(len(ways))]
