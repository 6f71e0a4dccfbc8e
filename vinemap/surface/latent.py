"""Logit incidence of every vine from the counts of a round: binomial field, kriging, inverse distance, the block alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from vinemap.columns import Floats
from vinemap.errors import Tick, no_tick
from vinemap.surface.binomial import Binomial
from vinemap.surface.counts import (
    PRIOR_MEAN,
    PRIOR_MEAN_SD,
    SAME_VINE_M,
    Between,
    Counts,
    logit_normal_mean,
    logit_normal_middle,
    messages,
)
from vinemap.surface.doubt import Doubt, DoubtPart, doubt_of
from vinemap.surface.fit import fit_variogram
from vinemap.surface.foretell import Known, told_at, told_by
from vinemap.surface.gaps import gaps_between
from vinemap.surface.inverse_distance import inverse_distance
from vinemap.surface.kriging import ALL_AT_ONCE, krige, leave_one_out, nearest_points
from vinemap.surface.mixture import Mixture
from vinemap.surface.pattern import level_variance, prior_covariance
from vinemap.surface.propagation import inward_root
from vinemap.surface.variogram import Variogram

UNSURE_FROM, NOT_KNOWN_FROM = 0.80, 0.92
"""Share of the pattern's deviation that the stops leave open; about the far side of a stop's reach (a choice)."""
FARTHEST_M, NEAREST_REACH_M = 25.0, 10.0
SD_LEAST, SD_MOST = 1e-3, 4.0
LEAST_VARIANCE = 0.04
FLAT_SD = 30.0
"""Deviation of a level of which nothing is known beforehand, as in ordinary kriging."""
SWEEPS = 2
"""Times that every message is made again against what all other stops say."""


@dataclass(frozen=True, slots=True, eq=False)
class Latent:
    """Logits of n vines.

    ``mixture``: the logits; ``share`` (n,): incidence where the method gives it itself, else None; ``openness`` (n,): share
    of the pattern's deviation that the stops leave open; ``reach_m``: no "not known" vine has a stop within so many metres;
    ``variogram``: None without a pattern; ``doubt``: how the vines' errors hang together; ``notes``: plain sentences.
    """

    mixture: Mixture
    share: Floats | None
    openness: Floats
    reach_m: float
    variogram: Variogram | None
    doubt: Doubt
    notes: tuple[str, ...]


def binomial_logits(
    found: Binomial,
    at_m: Floats,
    drift_at: Floats,
    nearest_m: Floats,
    threads: int,
    tick: Tick,
    is_quick: bool = False,
) -> Latent:
    """Logits at ``at_m`` (m, 2) [m], with columns ``drift_at`` (m, q) there, under all parameters of ``found``.

    ``is_quick``: how far stops tell is judged by distance alone.
    """
    counts, found = found.counts, found.likely()
    mixture = told_at(found, at_m, drift_at, threads, lambda done: tick(0.8 * done))
    curve = next((part.curve for part in found.parts if part.has_pattern), None)
    if curve and not is_quick:
        openness = _openness(counts.stops_m, curve, at_m, threads, lambda done: tick(0.8 + 0.2 * done))
        reach_m, note = _known_reach_m(nearest_m, openness), range_words(curve)
    else:
        reach_m = stop_reach_m(counts.stops_m)
        openness = openness_by_distance(nearest_m, reach_m)
        note = BLOCK_WORDS
    return Latent(mixture, None, openness, reach_m, curve, doubt_of(found), (note,))


NEIGHBOURHOODS = "So many stops that each vine was mapped from those around it."
BLOCK_WORDS = "The block's own share is given everywhere but at the stops."


def large_logits(found: Binomial, at_m: Floats, nearest_m: Floats, threads: int, tick: Tick) -> Latent:
    """Logits at ``at_m`` (m, 2) [m] from so many stops that neighbourhoods are kriged from their messages and blended."""
    counts, part = found.counts, max(found.parts, key=lambda part: part.weight)
    precision = part.said.sites.precision
    values, noise_var = PRIOR_MEAN + part.said.sites.shift / precision, 1.0 / precision
    kriged = krige(counts.stops_m, values, noise_var, part.curve, at_m, threads=threads, tick=lambda done: tick(0.6 * done))
    mixture = single(kriged.mean, kriged.variance, part.curve.nugget)
    doubt = Doubt(counts.stops_m, (DoubtPart(1.0, part.curve, precision, PRIOR_MEAN_SD),), found.drift)
    if not part.has_pattern:
        reach_m = stop_reach_m(counts.stops_m)
        openness = openness_by_distance(nearest_m, reach_m)
        return Latent(mixture, None, openness, reach_m, None, doubt, (BLOCK_WORDS,))
    openness = _openness(counts.stops_m, part.curve, at_m, threads, lambda done: tick(0.6 + 0.4 * done))
    notes = (range_words(part.curve), NEIGHBOURHOODS)
    return Latent(mixture, None, openness, _known_reach_m(nearest_m, openness), part.curve, doubt, notes)


def range_words(curve: Variogram) -> str:
    """How far a stop tells, in words."""
    return f"A stop tells of vines up to {curve.range_m:.0f} m along the row and {curve.range_across_m:.0f} m across."


def kriged_logits(
    counts: Counts,
    between: Between,
    at_m: Floats,
    nearest_m: Floats,
    bearing_deg: float,
    threads: int,
    tick: Tick,
    variogram: Variogram | None = None,
) -> Latent:
    """Logits at ``at_m`` (m, 2) [m] kriged from the counts' messages; ``nearest_m`` (m,) [m] to the nearest stop.

    ``variogram``: of the logits where it is given, else it is fitted.
    """
    curve, values, noise_var = find_pattern(counts, between, bearing_deg, lambda done: tick(0.4 * done), variogram)
    if curve is None:
        return _patternless_logits(counts, values, noise_var, between, at_m, nearest_m)
    kriged = krige(counts.stops_m, values, noise_var, curve, at_m, threads=threads, tick=lambda done: tick(0.4 + 0.4 * done))
    openness = _openness(counts.stops_m, curve, at_m, threads, lambda done: tick(0.8 + 0.2 * done))
    mixture = single(kriged.mean, kriged.variance, curve.nugget)
    doubt = Doubt(counts.stops_m, (DoubtPart(1.0, curve, 1.0 / noise_var, FLAT_SD),), np.zeros((len(counts), 0)))
    notes = (range_words(curve), *((NEIGHBOURHOODS,) if len(counts) > ALL_AT_ONCE else ()))
    return Latent(mixture, None, openness, _known_reach_m(nearest_m, openness), curve, doubt, notes)


def single(mean: Floats, variance: Floats, own_var: float) -> Mixture:
    """One normal for every vine (m,); ``own_var``: the part of its variance that a vine shares with none."""
    sd = np.sqrt(np.clip(variance, SD_LEAST**2, SD_MOST**2))
    return Mixture(np.ones(1), mean[None].astype(np.float32), sd[None].astype(np.float32), np.array([np.sqrt(own_var)]))


def find_pattern(
    counts: Counts, between: Between, bearing_deg: float, tick: Tick = no_tick, variogram: Variogram | None = None
) -> tuple[Variogram | None, Floats, Floats]:
    """Variogram of the logits, or None, and the message (n,) of each count with its error variance (n,).

    A given ``variogram`` is taken as it is. Messages are first made against the block's spread, then against what all other
    stops say of the vine (Minka 2001).
    """
    level, spread = np.full(len(counts), between.mean), np.full(len(counts), between.sd)
    values, noise_var = messages(counts, level, spread)
    curve = variogram or fit_variogram(counts.stops_m, values, noise_var, between.sd**2, bearing_deg, tick)
    if curve and len(counts) <= ALL_AT_ONCE:
        for _ in range(SWEEPS):
            mean, variance = leave_one_out(counts.stops_m, values, noise_var, curve)
            values, noise_var = messages(counts, mean, np.sqrt(np.maximum(variance, LEAST_VARIANCE)))
    return curve, values, noise_var


def _patternless_logits(
    counts: Counts, values: Floats, noise_var: Floats, between: Between, at_m: Floats, nearest_m: Floats
) -> Latent:
    """The block's own logit everywhere, joined at each stop to the stop's own message."""
    trust = between.sd**2 / (between.sd**2 + noise_var)
    is_stop = nearest_m < SAME_VINE_M
    stop = nearest_points(cKDTree(counts.stops_m), at_m[is_stop], 1)[1][:, 0]
    mean = np.full(len(at_m), between.mean)
    variance = np.full(len(at_m), between.sd**2 + between.mean_sd**2)
    mean[is_stop] += trust[stop] * (values[stop] - between.mean)
    variance[is_stop] = (1.0 - trust[stop]) * between.sd**2 + (between.mean_sd * (1.0 - trust[stop])) ** 2
    reach_m = stop_reach_m(counts.stops_m)
    curve = Variogram("exponential", between.sd**2, between.sd**2, 1.0)
    doubt = Doubt(counts.stops_m, (DoubtPart(1.0, curve, 1.0 / noise_var, FLAT_SD),), np.zeros((len(counts), 0)))
    openness = openness_by_distance(nearest_m, reach_m)
    note = f"No pattern found. {BLOCK_WORDS}"
    return Latent(single(mean, variance, between.sd**2), None, openness, reach_m, None, doubt, (note,))


def _openness(stops_m: Floats, curve: Variogram, at_m: Floats, threads: int, tick: Tick) -> Floats:
    """Share (m,) of the pattern's deviation that would stay open if the pattern were known exactly at every stop."""
    pattern = Variogram(curve.kind, 0.0, 1.0, curve.range_m, curve.ratio, curve.bearing_deg)
    if len(stops_m) > ALL_AT_ONCE:
        clean, nothing = np.full(len(stops_m), 1e-6), np.zeros(len(stops_m))
        blended: Floats = np.sqrt(krige(stops_m, nothing, clean, pattern, at_m, threads=threads, tick=tick).variance)
        return blended
    level_sd, drift, drift_at = 1.0, np.zeros((len(stops_m), 0)), np.zeros((len(at_m), 0))
    prior = prior_covariance(gaps_between(stops_m, curve.bearing_deg), level_variance(drift, level_sd), pattern)
    inward = inward_root(prior, np.full(len(stops_m), 1e4))
    known = Known(pattern, stops_m, level_sd, drift, np.zeros((len(stops_m), 1)), inward)
    share: Floats = np.sqrt(told_by(known, at_m, drift_at, threads, tick)[1])
    return share


def _known_reach_m(nearest_m: Floats, openness: Floats) -> float:
    """Distance [m] to the nearest stop within which no vine is "not known"."""
    lost_m = nearest_m[openness >= NOT_KNOWN_FROM]
    return float(lost_m.min() if len(lost_m) else nearest_m.max(initial=0.0))


def stop_reach_m(stops_m: Floats) -> float:
    """How far [m] stops (n, 2) [m] speak for their surroundings when no pattern is known.

    1.5 times the usual distance between neighbouring stops, within 10 to 25 m (a choice).
    """
    if len(stops_m) < 2:
        return FARTHEST_M
    spacing_m = float(np.median(nearest_points(cKDTree(stops_m), stops_m, 2)[0][:, 1]))
    return float(np.clip(1.5 * spacing_m, NEAREST_REACH_M, FARTHEST_M))


def openness_by_distance(nearest_m: Floats, reach_m: float) -> Floats:
    """Openness (m,) by distance alone: unsure from half the reach, not known beyond it."""
    # a hair of slack: on a regular grid many vines stand exactly at the reach
    return np.where(nearest_m > reach_m + 1e-6, 1.0, np.where(nearest_m > reach_m / 2 + 1e-6, UNSURE_FROM, 0.0))


def weighted_logits(
    counts: Counts,
    between: Between,
    at_m: Floats,
    nearest_m: Floats,
    power: float,
    neighbours: int,
    threads: int,
    tick: Tick,
) -> Latent:
    """Logits around the inverse-distance share; beyond the stops' reach the block's own share.

    Inverse distance does not say how much of the variance between vines neighbours share; half is a choice between
    none and all. Clusters within a vine are alike by the variance between vines over that of one cluster.
    """
    usual = float(logit_normal_mean(np.array([between.mean]), np.array([between.sd]))[0])
    rho = min(between.sd**2 * usual * (1.0 - usual), 0.9)
    near = inverse_distance(counts, at_m, power, neighbours, rho, threads, tick)
    reach_m = stop_reach_m(counts.stops_m)
    openness = openness_by_distance(nearest_m, reach_m)
    is_far, is_stop = openness >= NOT_KNOWN_FROM, nearest_m < SAME_VINE_M
    block_worth = counts.examined.sum() / (1.0 + (counts.examined.mean() - 1.0) * rho)
    own = counts.examined[nearest_points(cKDTree(counts.stops_m), at_m, 1)[1][:, 0]]
    share = np.where(is_far, usual, near.share)
    # what a stop says of its own vine is not blurred by the likeness of its clusters
    worth = np.where(is_far, block_worth, np.where(is_stop, own, near.examined))
    inside = (share * worth + 0.5) / (worth + 1.0)
    error_var = 1.0 / ((worth + 1.0) * inside * (1.0 - inside))
    half_var = between.sd**2 / 2
    variance = np.where(is_stop, error_var, error_var + between.sd**2)
    mean = logit_normal_middle(inside, np.minimum(np.sqrt(variance), SD_MOST))
    note = f"Inverse distance, power {power:g}, {min(neighbours, len(counts))} nearest stops."
    # errors of vines within reach of the same stops hang together
    curve = Variogram("exponential", half_var, between.sd**2, 3.0 * reach_m)
    doubt = Doubt(counts.stops_m[:0], (DoubtPart(1.0, curve, np.zeros(0), 0.0),), np.zeros((0, 0)))
    return Latent(single(mean, variance, half_var), share, openness, reach_m, None, doubt, (note,))
