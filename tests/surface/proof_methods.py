"""The ways to make a map that the proof compares: the program's own, and those in common use, written plainly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.distance import pdist
from scipy.special import betainc, betaincinv, betaln, expit, gammaln, logit, ndtr

from vinemap.surface.counts import Counts, count_log_chance
from vinemap.surface.field import FieldOptions, field_at
from vinemap.surface.kriging import krige
from vinemap.surface.mixture import mixture_log_chance
from vinemap.surface.variogram import Variogram

Z90 = 1.6448536269514722
IDW, SHARES, LOGITS, MEAN = "inverse distance", "kriging of shares", "kriging of logits", "block's own share"
PEERS = (IDW, SHARES, LOGITS, MEAN)
"""Common practice: the nearest stops by distance; x / n kriged as if it were exact and normal; log((x + 1/2) / (n - x + 1/2))
kriged with its plug-in variance; one beta-binomial for the whole block."""


@dataclass(frozen=True)
class Told:
    """What a method says of m vines: ``share``, the 90 % interval ``low``..``high``, the chance to be above 10 % and 5 %, and
    the log chance of the counts ``infected`` of ``examined`` clusters that were found there."""

    share: np.ndarray
    low: np.ndarray
    high: np.ndarray
    above_10: np.ndarray
    above_5: np.ndarray
    log_chance: np.ndarray


@dataclass(frozen=True)
class Case:
    """Counts at stops (n, 2) [m], and the places (m, 2) [m] to tell, with the counts found there to judge by."""

    stops_m: np.ndarray
    examined: np.ndarray
    infected: np.ndarray
    at_m: np.ndarray
    at_examined: np.ndarray
    at_infected: np.ndarray
    bearing_deg: float = 0.0


def told(method: str, case: Case) -> Told:
    """What a method, one of PEERS or of the program's own, says of a case."""
    if method == SHARES:
        return _by_shares(case)
    if method == LOGITS:
        return _by_plug_in_logits(case)
    if method == MEAN:
        return _by_mean(case)
    options = FieldOptions(method="inverse-distance" if method == IDW else method, bearing_deg=case.bearing_deg)
    field = field_at(case.stops_m, case.examined, case.infected, case.at_m, options)
    log_chance = mixture_log_chance(Counts(case.at_m, case.at_examined, case.at_infected), field.mixture)
    above = [field.mixture.above(threshold) for threshold in (0.10, 0.05)]
    return Told(field.incidence, field.low, field.high, *above, log_chance)


def _by_shares(case: Case) -> Told:
    share = case.infected / case.examined
    curve = usual_variogram(case.stops_m, share)
    if curve is None:
        mean, sd = np.full(len(case.at_m), share.mean()), np.full(len(case.at_m), share.std())
    else:
        # a hair of noise: two stops of a round may stand at one place
        kriged = krige(case.stops_m, share, np.full(len(share), 1e-6), curve, case.at_m)
        mean, sd = kriged.mean, np.sqrt(kriged.variance)
    sd = np.maximum(sd, 1e-3)
    above = [ndtr((mean - threshold) / sd) for threshold in (0.10, 0.05)]
    low, high = (np.clip(mean + sign * Z90 * sd, 0.0, 1.0) for sign in (-1, 1))
    # a normal share can't tell a count: the beta with its mean and variance does
    mean = np.clip(mean, 0.002, 0.998)
    spread = np.minimum(sd**2 / (mean * (1.0 - mean)), 0.95)
    log_chance = beta_binomial(case.at_examined, case.at_infected, mean, spread)
    return Told(np.clip(mean, 0.0, 1.0), low, high, *above, log_chance)


def _by_plug_in_logits(case: Case) -> Told:
    value = np.log((case.infected + 0.5) / (case.examined - case.infected + 0.5))
    noise_var = 1.0 / (case.infected + 0.5) + 1.0 / (case.examined - case.infected + 0.5)
    curve = usual_variogram(case.stops_m, value, float(noise_var.mean()))
    if curve is None:
        between = max(value.var() - noise_var.mean(), 1e-3)
        weight = 1.0 / (between + noise_var)
        mean = np.full(len(case.at_m), (weight * value).sum() / weight.sum())
        sd = np.full(len(case.at_m), np.sqrt(between + 1.0 / weight.sum()))
    else:
        kriged = krige(case.stops_m, value, noise_var, curve, case.at_m)
        mean, sd = kriged.mean, np.sqrt(np.maximum(kriged.variance, 1e-4))
    above = [ndtr((mean - float(logit(threshold))) / sd) for threshold in (0.10, 0.05)]
    log_chance = count_log_chance(Counts(case.at_m, case.at_examined, case.at_infected), mean, sd)
    return Told(expit(mean), expit(mean - Z90 * sd), expit(mean + Z90 * sd), *above, log_chance)


def _by_mean(case: Case) -> Told:
    mean, spread = fit_beta_binomial(case.examined, case.infected)
    a, b = mean * (1.0 / spread - 1.0), (1.0 - mean) * (1.0 / spread - 1.0)
    low, high = betaincinv(a, b, 0.05), betaincinv(a, b, 0.95)
    columns = [mean, low, high, *(1.0 - betainc(a, b, threshold) for threshold in (0.10, 0.05))]
    same = (np.full(len(case.at_m), figure) for figure in columns)
    return Told(*same, beta_binomial(case.at_examined, case.at_infected, mean, spread))


def beta_binomial(examined: np.ndarray, infected: np.ndarray, mean: np.ndarray, spread: np.ndarray) -> np.ndarray:
    """Log chance of counts when a vine's share is beta with ``mean`` and variance ``spread`` * mean * (1 - mean)."""
    a, b = mean * (1.0 / spread - 1.0), (1.0 - mean) * (1.0 / spread - 1.0)
    ways = gammaln(examined + 1.0) - gammaln(infected + 1.0) - gammaln(examined - infected + 1.0)
    return ways + betaln(infected + a, examined - infected + b) - betaln(a, b)


def fit_beta_binomial(examined: np.ndarray, infected: np.ndarray) -> tuple[float, float]:
    """Mean and spread of the beta-binomial by maximum likelihood, on a grid that closes in (Skellam 1948)."""
    usual = logit((infected.sum() + 0.5) / (examined.sum() + 1.0))
    middle, reach = np.array([usual, -2.0]), np.array([2.0, 6.0])
    for _ in range(6):
        axes = (np.linspace(at - far, at + far, 13) for at, far in zip(middle, reach, strict=True))
        mean, spread = (expit(axis.ravel()) for axis in np.meshgrid(*axes))
        mean, spread = np.clip(mean, 1e-5, 1.0 - 1e-5), np.clip(spread, 1e-4, 0.99)
        likelihood = beta_binomial(examined, infected, mean[:, None], spread[:, None]).sum(axis=1)
        best = int(likelihood.argmax())
        middle, reach = np.array([logit(mean[best]), logit(spread[best])]), reach / 3.0
    return float(mean[best]), float(spread[best])


def usual_variogram(stops_m: np.ndarray, value: np.ndarray, noise_var: float = 0.0) -> Variogram | None:
    """Exponential variogram, alike in all directions, fitted to half squared differences in 12 classes of distance by
    weighted least squares (Cressie 1985, Mathematical Geology 17:563, with weights by number of pairs), or None if flat."""
    apart_m = pdist(stops_m)
    half_square = 0.5 * pdist(value[:, None], "sqeuclidean") - noise_var
    farthest_m = 0.5 * apart_m.max()
    classes = np.minimum((apart_m / farthest_m * 12).astype(int), 12)
    pairs = np.bincount(classes, minlength=13)[:12]
    full = pairs > 0
    sums = [np.bincount(classes, column, minlength=13)[:12][full] for column in (apart_m, half_square)]
    distance_m, rise = (column / pairs[full] for column in sums)
    best: tuple[float, Variogram | None] = (np.inf, None)
    root = np.sqrt(pairs[full])
    for range_m in farthest_m * np.geomspace(0.05, 2.0, 25):
        shape = 1.0 - np.exp(-3.0 * distance_m / range_m)
        for columns in (np.column_stack([np.ones_like(shape), shape]), shape[:, None]):
            figures = np.linalg.lstsq(columns * root[:, None], rise * root, rcond=None)[0]
            nugget, pattern = (figures[0], figures[1]) if len(figures) == 2 else (0.0, figures[0])
            miss = float((((columns @ figures - rise) * root) ** 2).sum())
            if nugget >= 0.0 and pattern > 1e-6 and miss < best[0]:
                best = (miss, Variogram("exponential", float(nugget), float(nugget + pattern), float(range_m)))
    return best[1]
