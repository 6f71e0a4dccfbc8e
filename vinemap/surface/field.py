"""The field: incidence at every vine of a block from the stops of a round, with its certainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree
from scipy.special import expit

from vinemap.columns import Bytes, Floats, freeze
from vinemap.errors import InputError, Tick, no_tick
from vinemap.surface.choose import Score
from vinemap.surface.counts import SAME_VINE_M, Counts, first_of_each, pool_counts
from vinemap.surface.doubt import Doubt
from vinemap.surface.drifts import Drift, Tried
from vinemap.surface.foretell import Foretold, foretold
from vinemap.surface.kriging import nearest_points
from vinemap.surface.latent import NOT_KNOWN_FROM, UNSURE_FROM
from vinemap.surface.making import Asked, Made, make
from vinemap.surface.mixture import Mixture
from vinemap.surface.options import AUTO as AUTO
from vinemap.surface.options import BINOMIAL as BINOMIAL
from vinemap.surface.options import FIRST_LOOK as FIRST_LOOK
from vinemap.surface.options import INVERSE_DISTANCE as INVERSE_DISTANCE
from vinemap.surface.options import KRIGING as KRIGING
from vinemap.surface.options import METHODS as METHODS
from vinemap.surface.options import FieldOptions as FieldOptions
from vinemap.surface.pattern import WEAK, Habit
from vinemap.surface.variogram import Variogram

KNOWN, UNSURE, NOT_KNOWN = 0, 1, 2
WIDE_FRAC, NEARLY_CLEAN_FRAC = 0.5, 0.10
"""A vine that may be nearly clean or badly hit is unsure, however near a stop is; one that is surely bad is known."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """What a field was made from, enough to make it again and to say it in words.

    ``method``: the one that was used, "block" where no pattern was found; ``block_logit``, ``between_sd``: logit incidence
    between vines; ``range_along_m``, ``range_across_m``: [m], 0 without a pattern; ``reach_m``: "not known" vines have no
    stop within so many metres; ``no_pattern_chance``: NaN where the method does not tell it; ``learned``: middle and
    deviation of the pattern's figures on the scales of Habit; ``scores``, ``tried``: of left-out stops; ``notes``: plain
    sentences.
    """

    method: str
    variogram: Variogram | None
    range_along_m: float
    range_across_m: float
    bearing_deg: float
    power: float
    neighbours: int
    threshold: float
    stops: int
    examined: int
    block_logit: float
    between_sd: float
    reach_m: float
    notes: tuple[str, ...]
    no_pattern_chance: float = float("nan")
    learned: tuple[tuple[float, ...], tuple[float, ...]] = ((), ())
    habit: Habit = WEAK
    scores: tuple[Score, ...] = ()
    tried: tuple[Tried, ...] = ()


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Field:
    """Incidence at n vines, every column (n,).

    ``incidence`` 0..1; ``low``, ``high``: 90 % interval of the vine's own incidence; ``chance_above``: chance that it is
    above the recipe's threshold; ``certainty``: KNOWN, UNSURE or NOT_KNOWN; ``nearest_stop_m`` [m]. ``latent_mean``,
    ``latent_sd``: the vine's logit, its own part included. ``mixture``, ``doubt``, ``drift`` (n, q): what these were summed
    from, and how the vines' errors hang together. ``counts``, ``foretold``: each stop, and what the others say of it.
    """

    incidence: Floats
    low: Floats
    high: Floats
    chance_above: Floats
    certainty: Bytes
    nearest_stop_m: Floats
    latent_mean: Floats
    latent_sd: Floats
    mixture: Mixture
    doubt: Doubt
    drift: Floats
    counts: Counts
    foretold: Foretold | None
    recipe: Recipe

    def __post_init__(self) -> None:
        floats = ("incidence", "low", "high", "chance_above", "nearest_stop_m", "latent_mean", "latent_sd")
        freeze(self, certainty=np.int8, **dict.fromkeys(floats, np.float64))

    def __len__(self) -> int:
        return len(self.incidence)


def chance_above(field: Field, threshold: float) -> Floats:
    """Chance (n,) that each vine's incidence is above ``threshold`` 0..1, without making the field again."""
    if not 0.0 < threshold < 1.0:
        raise InputError("The threshold must lie between 0 and 100 %.", "Set it to 10 % if in doubt.")
    return field.mixture.above(threshold)


def field_at(
    stops_m: Floats,
    examined: Floats,
    infected: Floats,
    at_m: Floats,
    options: FieldOptions | None = None,
    drifts: Sequence[Drift] = (),
    tick: Tick = no_tick,
) -> Field:
    """Incidence at vines ``at_m`` (m, 2) [m] from counts (n,) of clusters at ``stops_m`` (n, 2) [m].

    The vines' logits are a mixture of normals, by whichever method, and every figure follows from that. ``drifts``: columns
    at the stops and the vines, which the binomial field uses when they help.

    Raises TooFewData without examined clusters, InputError for figures that can't be.
    Source: Diggle, Tawn & Moyeed 1998, Applied Statistics 47:299 (the model); Minka 2001 (the approximation).
    """
    options = options or FieldOptions()
    at_m = np.asarray(at_m, float).reshape(-1, 2)
    if not np.isfinite(at_m).all():
        raise InputError("A vine has no place.", "Check the rows of the block.")
    counts = pool_counts(stops_m, examined, infected)
    first = first_of_each(stops_m, examined)
    drifts = [Drift(drift.name, drift.at_stops[first], drift.at_vines) for drift in drifts]
    distance_m, nearest = nearest_points(cKDTree(counts.stops_m), at_m, 1)
    nearest_m = distance_m[:, 0]
    # a vine within a hand of a stop is that stop's vine
    at_m = np.where((nearest_m < SAME_VINE_M)[:, None], counts.stops_m[nearest[:, 0]], at_m)
    made = make(Asked(counts, at_m, nearest_m, options, drifts), tick)
    return _field(made, counts, nearest_m, options)


def _field(made: Made, counts: Counts, nearest_m: Floats, options: FieldOptions) -> Field:
    latent, mixture = made.latent, made.latent.mixture
    mean, sd = mixture.moments()
    incidence = np.clip(mixture.share() if latent.share is None else latent.share, 0.0, 1.0)
    low = np.minimum(expit(mixture.quantile(0.05)), incidence)
    high = np.maximum(expit(mixture.quantile(0.95)), incidence)
    certainty = (latent.openness >= UNSURE_FROM).astype(np.int8) + (latent.openness >= NOT_KNOWN_FROM)
    certainty = np.where((high - low > WIDE_FRAC) & (low < NEARLY_CLEAN_FRAC), np.maximum(certainty, UNSURE), certainty)
    return Field(
        incidence,
        low,
        high,
        mixture.above(options.threshold),
        certainty,
        nearest_m,
        mean,
        sd,
        mixture,
        latent.doubt,
        made.drift_at,
        counts,
        _foretold(made),
        _recipe(made, options, counts),
    )


def _foretold(made: Made) -> Foretold | None:
    if made.method in (KRIGING, INVERSE_DISTANCE):
        return made.choice.foretold if made.choice else None
    return foretold(made.found) if made.found else None


def _recipe(made: Made, options: FieldOptions, counts: Counts) -> Recipe:
    curve, found, choice = made.latent.variogram, made.found, made.choice
    recipe = Recipe(
        made.method,
        curve,
        curve.range_m if curve else 0.0,
        curve.range_across_m if curve else 0.0,
        options.bearing_deg,
        options.power,
        options.neighbours,
        options.threshold,
        len(counts),
        int(counts.examined.sum()),
        made.between.mean,
        made.between.sd,
        made.latent.reach_m,
        notes=(*((choice.note,) if choice else ()), *made.latent.notes),
        scores=choice.scores if choice else (),
        tried=made.tried,
    )
    if found is None:
        return recipe
    learned = tuple(tuple(float(figure) for figure in row) for row in found.learned)
    if found.habit.source:
        leaning = f"Few stops: how far mildew reaches is told in part from {found.habit.source}."
        recipe = replace(recipe, notes=(*recipe.notes, leaning))
    return replace(recipe, no_pattern_chance=made.no_pattern_chance, learned=(learned[0], learned[1]), habit=found.habit)
