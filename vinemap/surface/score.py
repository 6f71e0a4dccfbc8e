"""How good a field is: against counts that it has not seen, and against a truth that is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln, logsumexp, xlogy

from vinemap.columns import Floats, freeze
from vinemap.errors import InputError, Tick, TooFewData, no_tick
from vinemap.surface.counts import Between, Counts, fit_between, log_likelihood, log_normal, logit_grid, pool_counts
from vinemap.surface.field import KRIGING, Field, FieldOptions
from vinemap.surface.kriging import ALL_AT_ONCE, leave_one_out
from vinemap.surface.latent import find_pattern, weighted_logits


@dataclass(frozen=True, slots=True, eq=False)
class LeftOut:
    """Log chance of each left-out stop's count (n,), by the method and by the block's own share alone."""

    log_chance: Floats
    plain_log_chance: Floats

    def __post_init__(self) -> None:
        freeze(self, log_chance=np.float64, plain_log_chance=np.float64)

    @property
    def gain(self) -> float:
        """Log chance per stop that the map gains over the block's own share; below 0 the map does not help."""
        return float((self.log_chance - self.plain_log_chance).mean())


@dataclass(frozen=True, slots=True)
class AgainstTruth:
    """A field against known incidence: ``coverage``: share of vines inside the 90 % interval; ``rmse``; ``bias``;
    ``log_score``: mean log chance given to above or not above the threshold.
    """

    coverage: float
    rmse: float
    bias: float
    log_score: float


def count_log_chance(counts: Counts, mean: Floats, sd: Floats) -> Floats:
    """Log chance (n,) of each count when its vine's logit is normal with ``mean`` and ``sd`` (n,)."""
    logit = logit_grid(counts.examined)
    chance = logsumexp(log_normal(logit, mean, sd) + log_likelihood(counts.examined, counts.infected, logit), axis=1)
    n, x = counts.examined, counts.infected
    ways = gammaln(n + 1.0) - gammaln(x + 1.0) - gammaln(n - x + 1.0)
    log_chance: Floats = chance + ways
    return log_chance


def leave_out_stops(
    stops_m: Floats, examined: Floats, infected: Floats, options: FieldOptions | None = None, tick: Tick = no_tick
) -> LeftOut:
    """Each stop's count told from all the other stops: stops (n, 2) [m], counts (n,).

    The pattern itself and the spread between vines stay those of all stops. Above 1,500 stops every second, third … only.
    Raises TooFewData with fewer than three stops. Source: Dubrule 1983; Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102:359.
    """
    options = options or FieldOptions()
    counts = pool_counts(stops_m, examined, infected)
    thin = slice(None, None, -(-len(counts) // ALL_AT_ONCE))
    counts = Counts(counts.stops_m[thin], counts.examined[thin], counts.infected[thin])
    if len(counts) < 3:
        raise TooFewData("Three stops are the least to try the map on.", "Scout a few more vines.")
    between = fit_between(counts)
    usual = np.full(len(counts), between.mean)
    usual_sd = np.full(len(counts), float(np.hypot(between.sd, between.mean_sd)))
    if options.method == KRIGING:
        curve, values, noise_var = find_pattern(counts, between, options.bearing_deg, tick)
        mean, sd = usual, usual_sd
        if curve:
            mean, variance = leave_one_out(counts.stops_m, values, noise_var, curve)
            sd = np.sqrt(np.maximum(variance, 1e-4))
    else:
        mean, sd = _weighted_without_self(counts, between, options, tick)
    return LeftOut(count_log_chance(counts, mean, sd), count_log_chance(counts, usual, usual_sd))


def _weighted_without_self(counts: Counts, between: Between, options: FieldOptions, tick: Tick) -> tuple[Floats, Floats]:
    """Logit mean and deviation (n,) at each stop by inverse distance from the others."""
    mean, variance = np.empty(len(counts)), np.empty(len(counts))
    for stop in range(len(counts)):
        tick(stop / len(counts))
        keep = np.arange(len(counts)) != stop
        rest = Counts(counts.stops_m[keep], counts.examined[keep], counts.infected[keep])
        place = counts.stops_m[stop : stop + 1]
        near_m = np.hypot(*(rest.stops_m - place).T).min(keepdims=True)
        logits = weighted_logits(rest, between, place, near_m, options.power, options.neighbours, no_tick)
        mean[stop], variance[stop] = logits.mean[0], logits.structured_var[0] + logits.nugget_var[0]
    return mean, np.sqrt(variance)


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
