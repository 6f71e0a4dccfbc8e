"""Logit incidence of every vine from the counts of a round, by kriging or by inverse distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from vinemap.columns import Floats
from vinemap.errors import Tick, no_tick
from vinemap.surface.counts import SAME_VINE_M, Between, Counts, logit_normal_mean, logit_normal_middle, messages
from vinemap.surface.fit import fit_variogram
from vinemap.surface.inverse_distance import inverse_distance
from vinemap.surface.kriging import ALL_AT_ONCE, krige, leave_one_out, nearest_points
from vinemap.surface.variogram import Variogram

UNSURE_FROM, NOT_KNOWN_FROM = 0.80, 0.92
"""Share of the pattern's deviation that the stops leave open; about the far side of a stop's reach (a choice)."""
FARTHEST_M, NEAREST_REACH_M = 25.0, 10.0
SD_MOST = 4.0
LEAST_VARIANCE = 0.04
SWEEPS = 2
"""Times that every message is made again against what all other stops say."""


@dataclass(frozen=True, slots=True, eq=False)
class Latent:
    """Logits of n vines, every column (n,).

    ``mean``; ``structured_var``: variance that neighbours share; ``nugget_var``: the vine's own; ``share``: incidence where
    the method gives it itself, else None; ``openness``: share of the pattern's deviation that the stops leave open;
    ``reach_m``: no "not known" vine has a stop within so many metres; ``note``: a plain sentence.
    """

    mean: Floats
    structured_var: Floats
    nugget_var: Floats
    share: Floats | None
    openness: Floats
    reach_m: float
    variogram: Variogram | None
    note: str


def kriged_logits(
    counts: Counts, between: Between, at_m: Floats, nearest_m: Floats, bearing_deg: float, tick: Tick
) -> Latent:
    """Logits at ``at_m`` (m, 2) [m] kriged from the counts' messages; ``nearest_m`` (m,) [m] to the nearest stop."""
    curve, values, noise_var = find_pattern(counts, between, bearing_deg, lambda done: tick(0.4 * done))
    if curve is None:
        return _patternless_logits(counts, values, noise_var, between, at_m, nearest_m)
    kriged = krige(counts.stops_m, values, noise_var, curve, at_m, lambda done: tick(0.4 + 0.4 * done))
    openness = _openness(counts.stops_m, curve, at_m, lambda done: tick(0.8 + 0.2 * done))
    lost_m = nearest_m[openness >= NOT_KNOWN_FROM]
    reach_m = float(lost_m.min() if len(lost_m) else nearest_m.max(initial=0.0))
    note = f"A stop tells of vines up to {curve.range_m:.0f} m along the row and {curve.range_across_m:.0f} m across."
    nugget_var = np.maximum(kriged.variance - kriged.structured_variance, 0.0)
    return Latent(kriged.mean, kriged.structured_variance, nugget_var, None, openness, reach_m, curve, note)


def find_pattern(
    counts: Counts, between: Between, bearing_deg: float, tick: Tick = no_tick
) -> tuple[Variogram | None, Floats, Floats]:
    """Variogram of the logits, or None, and the message (n,) of each count with its error variance (n,).

    Messages are first made against the block's spread, then against what all other stops say of the vine (Minka 2001).
    """
    level, spread = np.full(len(counts), between.mean), np.full(len(counts), between.sd)
    values, noise_var = messages(counts, level, spread)
    curve = fit_variogram(counts.stops_m, values, noise_var, between.sd**2, bearing_deg, tick)
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
    structured_var = np.full(len(at_m), between.mean_sd**2)
    nugget_var = np.full(len(at_m), between.sd**2)
    mean[is_stop] += trust[stop] * (values[stop] - between.mean)
    structured_var[is_stop] *= (1.0 - trust[stop]) ** 2
    nugget_var[is_stop] *= 1.0 - trust[stop]
    reach_m = stop_reach_m(counts.stops_m)
    note = "No pattern found: the block's own share is given everywhere but at the stops."
    return Latent(mean, structured_var, nugget_var, None, openness_by_distance(nearest_m, reach_m), reach_m, None, note)


def _openness(stops_m: Floats, curve: Variogram, at_m: Floats, tick: Tick) -> Floats:
    """Share (m,) of the pattern's deviation that would stay open if the pattern were known exactly at every stop."""
    pattern = Variogram(curve.kind, 0.0, 1.0, curve.range_m, curve.ratio, curve.bearing_deg)
    clean = np.full(len(stops_m), 1e-6)
    share: Floats = np.sqrt(krige(stops_m, np.zeros(len(stops_m)), clean, pattern, at_m, tick).variance)
    return share


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
    tick: Tick,
) -> Latent:
    """Logits around the inverse-distance share; beyond the stops' reach the block's own share.

    Inverse distance does not say how much of the variance between vines neighbours share; half is a choice between
    none and all. Clusters within a vine are alike by the variance between vines over that of one cluster.
    """
    usual = float(logit_normal_mean(np.array([between.mean]), np.array([between.sd]))[0])
    rho = min(between.sd**2 * usual * (1.0 - usual), 0.9)
    near = inverse_distance(counts.stops_m, counts.examined, counts.infected, at_m, power, neighbours, rho, tick)
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
    half_var = np.where(is_stop, 0.0, between.sd**2 / 2)
    structured_var = np.where(is_stop, 0.0, error_var + half_var)
    nugget_var = np.where(is_stop, error_var, half_var)
    mean = logit_normal_middle(inside, np.minimum(np.sqrt(structured_var + nugget_var), SD_MOST))
    note = f"Inverse distance, power {power:g}, {min(neighbours, len(counts))} nearest stops."
    return Latent(mean, structured_var, nugget_var, share, openness, reach_m, None, note)
