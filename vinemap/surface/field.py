"""The field: incidence at every vine of a block from the stops of a round, with its certainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from scipy.special import expit, logit, ndtr

from vinemap.columns import Bytes, Floats, freeze
from vinemap.errors import InputError, Tick, no_tick
from vinemap.surface.counts import SAME_VINE_M, Between, Counts, fit_between, logit_normal_mean, pool_counts
from vinemap.surface.kriging import ALL_AT_ONCE, nearest_points
from vinemap.surface.latent import NOT_KNOWN_FROM, SD_MOST, UNSURE_FROM, Latent, kriged_logits, weighted_logits
from vinemap.surface.variogram import Variogram

KRIGING, INVERSE_DISTANCE = "kriging", "inverse-distance"
METHODS = (KRIGING, INVERSE_DISTANCE)
KNOWN, UNSURE, NOT_KNOWN = 0, 1, 2
WIDE_FRAC, NEARLY_CLEAN_FRAC = 0.5, 0.10
"""A vine that may be nearly clean or badly hit is unsure, however near a stop is; one that is surely bad is known."""

Z90 = 1.6448536269514722
"""Normal deviate that leaves 5 % on either side."""


@dataclass(frozen=True, slots=True)
class FieldOptions:
    """How a field is made: method, threshold 0..1, power and neighbours (inverse distance), row bearing [degrees].

    Raises InputError for a method or figure that can't be.
    """

    method: str = KRIGING
    threshold: float = 0.10
    power: float = 2.0
    neighbours: int = 12
    bearing_deg: float = 0.0

    def __post_init__(self) -> None:
        if self.method not in METHODS:
            raise InputError(f"“{self.method}” is not a way to make a map.", f"Choose one of: {', '.join(METHODS)}.")
        if not 0.0 < self.threshold < 1.0:
            raise InputError("The threshold must lie between 0 and 100 %.", "Set it to 10 % if in doubt.")


@dataclass(frozen=True, slots=True)
class Recipe:
    """What a field was made from, enough to make it again and to say it in words.

    ``block_logit``, ``between_sd``: logit incidence between vines; ``range_along_m``, ``range_across_m``: [m], 0 without a
    pattern; ``reach_m``: "not known" vines have no stop within so many metres; ``notes``: plain sentences.
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


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Field:
    """Incidence at n vines, every column (n,).

    ``incidence`` 0..1; ``low``, ``high``: 90 % interval of the vine's own incidence; ``chance_above``: chance that it is
    above the recipe's threshold; ``certainty``: KNOWN, UNSURE or NOT_KNOWN; ``nearest_stop_m`` [m]. ``latent_mean``,
    ``latent_sd``: the vine's logit; ``structured_sd``: the part of that deviation that neighbours share; ``nugget_sd``: the
    vine's own part.
    """

    incidence: Floats
    low: Floats
    high: Floats
    chance_above: Floats
    certainty: Bytes
    nearest_stop_m: Floats
    latent_mean: Floats
    latent_sd: Floats
    structured_sd: Floats
    nugget_sd: Floats
    recipe: Recipe

    def __post_init__(self) -> None:
        floats = (
            "incidence",
            "low",
            "high",
            "chance_above",
            "nearest_stop_m",
            "latent_mean",
            "latent_sd",
            "structured_sd",
            "nugget_sd",
        )
        freeze(self, certainty=np.int8, **dict.fromkeys(floats, np.float64))

    def __len__(self) -> int:
        return len(self.incidence)


def chance_above(field: Field, threshold: float) -> Floats:
    """Chance (n,) that each vine's incidence is above ``threshold`` 0..1, without making the field again."""
    if not 0.0 < threshold < 1.0:
        raise InputError("The threshold must lie between 0 and 100 %.", "Set it to 10 % if in doubt.")
    chance: Floats = ndtr((field.latent_mean - float(logit(threshold))) / field.latent_sd)
    return chance


def field_at(
    stops_m: Floats,
    examined: Floats,
    infected: Floats,
    at_m: Floats,
    options: FieldOptions | None = None,
    tick: Tick = no_tick,
) -> Field:
    """Incidence at vines ``at_m`` (m, 2) [m] from counts (n,) of clusters at ``stops_m`` (n, 2) [m].

    Counts become normal messages on the logit scale (counts.py), and these are kriged, or the counts are weighted by
    inverse distance; either way a vine's logit is normal and every figure follows from that.

    Raises TooFewData without examined clusters, InputError for figures that can't be.
    Source: Diggle, Tawn & Moyeed 1998, Applied Statistics 47:299 (the model); Minka 2001 (the approximation).
    """
    options = options or FieldOptions()
    at_m = np.asarray(at_m, float).reshape(-1, 2)
    if not np.isfinite(at_m).all():
        raise InputError("A vine has no place.", "Check the rows of the block.")
    counts = pool_counts(stops_m, examined, infected)
    between = fit_between(counts)
    distance_m, nearest = nearest_points(cKDTree(counts.stops_m), at_m, 1)
    nearest_m = distance_m[:, 0]
    # a vine within a hand of a stop is that stop's vine
    at_m = np.where((nearest_m < SAME_VINE_M)[:, None], counts.stops_m[nearest[:, 0]], at_m)
    if options.method == KRIGING:
        latent = kriged_logits(counts, between, at_m, nearest_m, options.bearing_deg, tick)
    else:
        latent = weighted_logits(counts, between, at_m, nearest_m, options.power, options.neighbours, tick)
    sd = np.sqrt(np.clip(latent.structured_var + latent.nugget_var, 1e-6, SD_MOST**2))
    structured_sd = np.minimum(np.sqrt(latent.structured_var), sd)
    incidence = np.clip(logit_normal_mean(latent.mean, sd) if latent.share is None else latent.share, 0.0, 1.0)
    low = np.minimum(expit(latent.mean - Z90 * sd), incidence)
    high = np.maximum(expit(latent.mean + Z90 * sd), incidence)
    certainty = (latent.openness >= UNSURE_FROM).astype(np.int8) + (latent.openness >= NOT_KNOWN_FROM)
    certainty = np.where((high - low > WIDE_FRAC) & (low < NEARLY_CLEAN_FRAC), np.maximum(certainty, UNSURE), certainty)
    above = ndtr((latent.mean - float(logit(options.threshold))) / sd)
    return Field(
        incidence,
        low,
        high,
        above,
        certainty,
        nearest_m,
        latent.mean,
        sd,
        structured_sd,
        np.sqrt(sd**2 - structured_sd**2),
        _recipe(latent, options, between, counts),
    )


def _recipe(latent: Latent, options: FieldOptions, between: Between, counts: Counts) -> Recipe:
    curve = latent.variogram
    notes = [latent.note]
    if len(counts) > ALL_AT_ONCE and curve:
        notes.append("So many stops that each vine was mapped from its 64 nearest.")
    return Recipe(
        options.method,
        curve,
        curve.range_m if curve else 0.0,
        curve.range_across_m if curve else 0.0,
        options.bearing_deg,
        options.power,
        options.neighbours,
        options.threshold,
        len(counts),
        int(counts.examined.sum()),
        between.mean,
        between.sd,
        latent.reach_m,
        tuple(notes),
    )
