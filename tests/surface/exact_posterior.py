"""Posteriors of logits under binomial counts, found the long way: grids, drawing from the prior, and Laplace's bell.

Written from the formulas of the model (Diggle, Tawn & Moyeed 1998) with nothing of the code that it judges.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import expit, gammaln, log_expit, logsumexp

LEVEL, LEVEL_SD = -2.0, 2.0


def covariance_of(places_m, curve, level_sd=LEVEL_SD, drift=None):
    """Covariance (n, n) of logits: a level, drift columns, an exponential pattern along and across rows, each vine's own."""
    places_m = np.asarray(places_m, float)
    step = places_m[:, None] - places_m
    way = np.radians(curve.bearing_deg)
    along, across = step @ [np.sin(way), np.cos(way)], step @ [np.cos(way), -np.sin(way)]
    reach = np.hypot(along / curve.range_m, across / (curve.range_m * curve.ratio))
    matrix = level_sd**2 + (curve.sill - curve.nugget) * np.exp(-3.0 * reach) + curve.nugget * np.eye(len(places_m))
    return matrix if drift is None else matrix + drift @ drift.T


def log_chance_of(counts, logit):
    """Log chance (..., n) of counts (n,) at logits (..., n), without the number of ways."""
    return counts.infected * log_expit(logit) + (counts.examined - counts.infected) * log_expit(-logit)


def ways_of(counts):
    """Log number of ways (n,) of counts."""
    n, x = counts.examined, counts.infected
    return gammaln(n + 1) - gammaln(x + 1) - gammaln(n - x + 1)


@dataclass(frozen=True)
class Posterior:
    """``log_evidence``; ``mean``, ``variance`` (n,) of each logit."""

    log_evidence: float
    mean: np.ndarray
    variance: np.ndarray


def on_a_grid(counts, covariance, points=601):
    """Posterior of one or two logits, summed on a plain grid out to nine deviations."""
    sd = np.sqrt(np.diag(covariance))
    axes = [LEVEL + each * np.linspace(-9.0, 9.0, points) for each in sd]
    places = np.stack([axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")], axis=1)
    off = places - LEVEL
    log_prior = -0.5 * np.einsum("ij,ij->i", off @ np.linalg.inv(covariance), off)
    log_prior -= 0.5 * np.linalg.slogdet(2.0 * np.pi * covariance)[1]
    cell = float(np.prod([axis[1] - axis[0] for axis in axes]))
    height = log_prior + log_chance_of(counts, places).sum(axis=1)
    log_evidence = float(logsumexp(height)) + np.log(cell)
    weight = np.exp(height - logsumexp(height))
    mean = weight @ places
    return Posterior(log_evidence, mean, weight @ (places - mean) ** 2)


@dataclass(frozen=True)
class Drawn:
    """Prior draws (d, n) of logits with the posterior's weights (d,), and how many even draws they are worth."""

    logits: np.ndarray
    weight: np.ndarray
    log_evidence: float

    @property
    def worth(self):
        return 1.0 / float((self.weight**2).sum())

    @property
    def mean(self):
        return self.weight @ self.logits

    @property
    def variance(self):
        return self.weight @ (self.logits - self.mean) ** 2

    def quantile(self, chance, column):
        order = np.argsort(self.logits[:, column])
        cumulated = np.cumsum(self.weight[order])
        return float(np.interp(chance, cumulated, self.logits[order, column]))


def drawn_from_prior(counts, covariance, draws, rng, known=None):
    """Posterior by drawing from the prior and weighing by the chance of the counts at columns ``known`` (n,)."""
    known = np.arange(len(counts)) if known is None else known
    logits = LEVEL + rng.standard_normal((draws, len(covariance))) @ np.linalg.cholesky(covariance).T
    height = log_chance_of(counts, logits[:, known]).sum(axis=1)
    total = float(logsumexp(height))
    return Drawn(logits, np.exp(height - total), total - np.log(draws))


def laplace(counts, covariance):
    """Laplace's bell about the likeliest logits (n,): their place, and precision (n,) of each likelihood there.

    Source: Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, section 3.4.
    """
    logit = np.full(len(counts), LEVEL)
    inverse = np.linalg.inv(covariance)
    for _ in range(200):
        share = expit(logit)
        curve = counts.examined * share * (1.0 - share)
        slope = counts.infected - counts.examined * share - inverse @ (logit - LEVEL)
        step = np.linalg.solve(inverse + np.diag(curve), slope)
        logit = logit + step / max(1.0, np.abs(step).max())
        if np.abs(step).max() < 1e-10:
            break
    share = expit(logit)
    return logit, counts.examined * share * (1.0 - share)
