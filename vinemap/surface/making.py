"""The logits of a block's vines by the method asked for, or by the one that tells left-out stops best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vinemap.columns import Floats
from vinemap.errors import Tick
from vinemap.surface.binomial import Binomial, first_look, read_binomial
from vinemap.surface.choose import Choice, choose
from vinemap.surface.counts import Between, Counts, fit_between
from vinemap.surface.drifts import Drift, Tried, choose_drifts
from vinemap.surface.kriging import ALL_AT_ONCE
from vinemap.surface.latent import Latent, binomial_logits, kriged_logits, large_logits, weighted_logits
from vinemap.surface.options import AUTO, BINOMIAL, BLOCK, FIRST_LOOK, INVERSE_DISTANCE, KRIGING, FieldOptions

LEAST_TO_TRY = 3
FIRST_WORDS = "First look, with a usual pattern; the map itself is being worked out."


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """Counts at n vines; m vines ``at_m`` (m, 2) [m], ``nearest_m`` (m,) [m] from a stop; how; columns that may help."""

    counts: Counts
    at_m: Floats
    nearest_m: Floats
    options: FieldOptions
    drifts: Sequence[Drift]


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """What the chosen method gave; ``drift_at`` (m, q): the columns used, at the vines."""

    latent: Latent
    method: str
    between: Between
    drift_at: Floats
    found: Binomial | None = None
    choice: Choice | None = None
    tried: tuple[Tried, ...] = ()
    no_pattern_chance: float = float("nan")


def make(asked: Asked, tick: Tick) -> Made:
    """The logits at places by the method asked for, or by the best one."""
    counts, options = asked.counts, asked.options
    if options.method in (KRIGING, INVERSE_DISTANCE):
        return _simple(asked, options.method, tick)
    nothing = np.zeros((len(asked.at_m), 0))
    if options.method == FIRST_LOOK and len(counts) <= ALL_AT_ONCE:
        return _binomial(asked, FIRST_LOOK, first_look(counts, options.bearing_deg, options.habit), nothing, tick)
    found = read_binomial(counts, options.bearing_deg, options.habit, tick=lambda done: tick(0.4 * done))
    found, drift_at, tried = _helped(asked, found) if len(counts) <= ALL_AT_ONCE else (found, nothing, ())
    method, choice = BINOMIAL, None
    if options.method == AUTO:
        ways = (options.bearing_deg, options.power, options.neighbours)
        choice = choose(counts, found, *ways, lambda done: tick(0.4 + 0.3 * done))
        method = choice.method

    def rest(done: float) -> None:
        tick(0.7 + 0.3 * done)

    if method in (KRIGING, INVERSE_DISTANCE):
        made = replace(_simple(asked, method, rest), found=found)
        tried = tuple(replace(each, is_used=False) for each in tried)
    else:
        made = _binomial(asked, method, found, drift_at, rest)
    return replace(made, choice=choice, tried=tried, no_pattern_chance=found.no_pattern_chance)


def _helped(asked: Asked, found: Binomial) -> tuple[Binomial, Floats, tuple[Tried, ...]]:
    """The counts read again with the columns that help, these columns (m, q) at the vines, and all that were tried."""
    nothing = np.zeros((len(asked.at_m), 0))
    if len(found.counts) < LEAST_TO_TRY or not asked.drifts:
        return found, nothing, ()
    used, tried = choose_drifts(found, asked.drifts)
    if not used:
        return found, nothing, tried
    at_stops, at_vines = (np.column_stack(each) for each in zip(*(drift.scaled() for drift in used), strict=True))
    return read_binomial(found.counts, asked.options.bearing_deg, found.habit, at_stops), at_vines, tried


def _simple(asked: Asked, method: str, tick: Tick) -> Made:
    """The logits by kriging or inverse distance."""
    counts, options, between = asked.counts, asked.options, fit_between(asked.counts)
    if method == KRIGING:
        given, bearing_deg = options.variogram, options.bearing_deg
        latent = kriged_logits(counts, between, asked.at_m, asked.nearest_m, bearing_deg, options.threads, tick, given)
    else:
        ways = (options.power, options.neighbours)
        latent = weighted_logits(counts, between, asked.at_m, asked.nearest_m, *ways, options.threads, tick)
    return Made(latent, method, between, np.zeros((len(asked.at_m), 0)))


def _binomial(asked: Asked, method: str, found: Binomial, drift_at: Floats, tick: Tick) -> Made:
    """The logits by the binomial field with columns ``drift_at`` (m, q), or by the block's own share."""
    counts, options, between = asked.counts, asked.options, fit_between(asked.counts)
    if len(counts) > ALL_AT_ONCE:
        return Made(large_logits(found, asked.at_m, asked.nearest_m, options.threads, tick), method, between, drift_at, found)
    found = found.without_pattern() if method == BLOCK else found
    is_quick = method == FIRST_LOOK
    latent = binomial_logits(found, asked.at_m, drift_at, asked.nearest_m, options.threads, tick, is_quick)
    return Made(replace(latent, notes=(FIRST_WORDS,)) if is_quick else latent, method, between, drift_at, found)
