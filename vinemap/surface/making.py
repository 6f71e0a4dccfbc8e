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

FIRST_WORDS = "First look, with a usual pattern; the map itself is being worked out."
LEAST_TO_TRY = 3


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
    if options.method == FIRST_LOOK and len(counts) <= ALL_AT_ONCE:
        return _binomial(asked, FIRST_LOOK, first_look(counts, options.bearing_deg, options.habit), tick)
    found = read_binomial(counts, options.bearing_deg, options.habit, tick=lambda done: tick(0.4 * done))
    method, choice = BINOMIAL, None
    if options.method == AUTO:
        ways = (options.bearing_deg, options.power, options.neighbours)
        choice = choose(counts, found, *ways, lambda done: tick(0.4 + 0.3 * done))
        method = choice.method

    def rest(done: float) -> None:
        tick(0.7 + 0.3 * done)

    simple = method in (KRIGING, INVERSE_DISTANCE)
    made = _simple(asked, method, rest) if simple else _binomial(asked, method, found, rest)
    return replace(made, found=made.found or found, choice=choice, no_pattern_chance=found.no_pattern_chance)


def _simple(asked: Asked, method: str, tick: Tick) -> Made:
    """The logits by kriging or inverse distance."""
    counts, options, between = asked.counts, asked.options, fit_between(asked.counts)
    if method == KRIGING:
        given, bearing_deg = options.variogram, options.bearing_deg
        latent = kriged_logits(counts, between, asked.at_m, asked.nearest_m, bearing_deg, options.threads, tick, given)
    else:
        ways = (options.power, options.neighbours)
        latent = weighted_logits(counts, between, asked.at_m, asked.nearest_m, *ways, tick)
    return Made(latent, method, between, np.zeros((len(asked.at_m), 0)))


def _binomial(asked: Asked, method: str, found: Binomial, tick: Tick) -> Made:
    """The logits by the binomial field, with the columns that help; by the block's own share where that was chosen."""
    counts, options, between = asked.counts, asked.options, fit_between(asked.counts)
    drift_at = np.zeros((len(asked.at_m), found.drift.shape[1]))
    if len(counts) > ALL_AT_ONCE:
        latent = large_logits(found, asked.at_m, asked.nearest_m, options.threads, tick)
        return Made(latent, method, between, drift_at, found)
    used: tuple[Drift, ...] = ()
    tried: tuple[Tried, ...] = ()
    if method != FIRST_LOOK and len(counts) >= LEAST_TO_TRY:
        used, tried = choose_drifts(found, asked.drifts)
    if used:
        scaled = [drift.scaled() for drift in used]
        columns = np.column_stack([each[0] for each in scaled])
        drift_at = np.column_stack([each[1] for each in scaled])
        found = read_binomial(counts, options.bearing_deg, options.habit, columns)
    found = found.without_pattern() if method == BLOCK else found
    is_quick = method == FIRST_LOOK
    latent = binomial_logits(found, asked.at_m, drift_at, asked.nearest_m, options.threads, tick, is_quick)
    notes = (FIRST_WORDS,) if is_quick else latent.notes
    return Made(replace(latent, notes=notes), method, between, drift_at, found, None, tried)
