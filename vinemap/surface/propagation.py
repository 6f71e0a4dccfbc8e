"""What all counts of a round together say of their vines' logits: expectation propagation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cholesky
from scipy.linalg.lapack import dtrtri
from scipy.special import expit, log_expit

from vinemap.columns import Floats
from vinemap.surface.counts import NODES, WEIGHTS, Counts

DAMPING = 0.9
"""Share of each new message that is taken over; less than 1 keeps parallel sweeps from swinging."""
MOST_SWEEPS = 60
CLOSE_ENOUGH = 1e-6
"""Largest change of a site's mean, in its own deviations, at which the sweeps have come to rest."""
LEAST_PRECISION, MOST_PRECISION = 1e-8, 1e8
PEAK_STEPS, PEAK_FOUND = 60, 1e-5
LOG_NODE_WEIGHTS = np.log(WEIGHTS) + 0.5 * NODES**2


@dataclass(frozen=True, slots=True, eq=False)
class Sites:
    """Normal messages of n counts about the prior mean: ``precision`` (n,) and precision times value, ``shift`` (n,)."""

    precision: Floats
    shift: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Propagated:
    """The joint normal of n logits, about the prior mean.

    ``mean``, ``variance`` (n,): each vine's own; ``pull`` (n,), ``inward`` (n, n): a place with covariances k to the n vines
    has the mean k @ pull and loses the variance |inward @ k|^2; ``log_evidence``: log chance of all counts; ``left_out``
    (n,): log chance of each count told from all the others; ``left_mean``, ``left_variance`` (n,): each logit told
    from all the other counts. Both chances are without the constant of the counts.
    """

    sites: Sites
    mean: Floats
    variance: Floats
    pull: Floats
    inward: Floats
    log_evidence: float
    left_out: Floats
    left_mean: Floats
    left_variance: Floats

    @property
    def hold(self) -> Floats:
        """Matrix (n, n) with which a place loses the variance k @ hold @ k."""
        square: Floats = self.inward.T @ self.inward
        return square


def tilted_moments(counts: Counts, mean: Floats, variance: Floats) -> tuple[Floats, Floats, Floats]:
    """Log chance of each count (n,), and mean and variance (n,) of its logit, under normals with ``mean``, ``variance`` (n,).

    Gauss-Hermite nodes are laid about the peak of normal times likelihood, so that 1 cluster and 1,000 are told alike.
    Source: Naylor & Smith 1982, Applied Statistics 31:214.
    """
    examined, infected = counts.examined, counts.infected
    told = (infected + 0.5) / (examined + 1.0)
    worth = examined * told * (1.0 - told)
    peak = (mean / variance + worth * np.log(told / (1.0 - told))) / (1.0 / variance + worth)
    for _ in range(PEAK_STEPS):
        share = expit(peak)
        curve = examined * share * (1.0 - share) + 1.0 / variance
        # within one logit unit the curve changes by less than a factor e, so that the steps close in
        step = np.clip((infected - examined * share - (peak - mean) / variance) / curve, -1.0, 1.0)
        peak += step
        if np.abs(step).max(initial=0.0) < PEAK_FOUND:
            break
    share = expit(peak)
    width = 1.0 / np.sqrt(examined * share * (1.0 - share) + 1.0 / variance)
    logit = peak[:, None] + width[:, None] * NODES
    log_chance = infected[:, None] * logit + examined[:, None] * log_expit(-logit)
    log_chance += LOG_NODE_WEIGHTS - 0.5 * (logit - mean[:, None]) ** 2 / variance[:, None]
    top = log_chance.max(axis=1)
    chance = np.exp(log_chance - top[:, None])
    total = chance.sum(axis=1)
    chance /= total[:, None]
    middle = np.einsum("ij,ij->i", chance, logit)
    spread = np.einsum("ij,ij->i", chance, (logit - middle[:, None]) ** 2)
    return top + np.log(total * width) - 0.5 * np.log(variance), middle, np.minimum(spread, variance * (1.0 - 1e-9))


def no_sites(stops: int) -> Sites:
    """Messages (n,) that say next to nothing yet."""
    return Sites(np.full(stops, 1e-3), np.zeros(stops))


def propagate(counts: Counts, prior_mean: float, prior: Floats, sites: Sites, sweeps: int = MOST_SWEEPS) -> Propagated:
    """The joint normal that stands for counts (n,) under logits with one ``prior_mean`` and covariance ``prior`` (n, n).

    All messages are renewed at once and damped, at most ``sweeps`` times or until they rest, from ``sites`` on. The
    likelihood is log-concave, so that no message has a negative precision. The evidence is flat about the resting point: a
    few sweeps from good sites tell it well.
    Source: Minka 2001; Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, section 3.6.
    """
    precision, shift = sites.precision, sites.shift
    for sweep in range(sweeps):
        width = np.sqrt(precision)
        root, inward = _root_and_inward(prior, width)
        # the diagonal of the inverse of the scaled covariance, which the full inverse is not needed for
        kept = np.einsum("ij,ij->j", inward, inward) / precision
        pull = shift - inward.T @ (inward @ (prior @ shift))
        mean = prior @ pull
        variance = (1.0 - kept) / precision
        cavity_variance = variance / kept
        cavity_mean = cavity_variance * (mean / variance - shift)
        log_chance, middle, narrowed = tilted_moments(counts, prior_mean + cavity_mean, cavity_variance)
        middle = middle - prior_mean
        if sweep == sweeps - 1 or np.abs((middle - mean) / np.sqrt(variance)).max() < CLOSE_ENOUGH:
            break
        wanted = np.clip(1.0 / narrowed - 1.0 / cavity_variance, LEAST_PRECISION, MOST_PRECISION)
        precision = precision + DAMPING * (wanted - precision)
        shift = shift + DAMPING * (middle * (wanted + 1.0 / cavity_variance) - cavity_mean / cavity_variance - shift)
    # each site is scaled so that, joined to its cavity, it has the exact chance of its count
    joined = (cavity_mean / cavity_variance + shift) ** 2 * variance - cavity_mean**2 / cavity_variance
    log_evidence = (log_chance + 0.5 * np.log1p(precision * cavity_variance) - 0.5 * joined).sum()
    log_evidence += 0.5 * float(shift @ mean) - float(np.log(np.diag(root)).sum())
    rested = Sites(precision, shift)
    return Propagated(rested, mean, variance, pull, inward, float(log_evidence), log_chance, cavity_mean, cavity_variance)


def _root_and_inward(prior: Floats, width: Floats) -> tuple[Floats, Floats]:
    """Lower root (n, n) of one plus the covariance scaled by ``width`` (n,), and its inverse times ``width``."""
    matrix = width[:, None] * prior * width
    matrix[np.diag_indices_from(matrix)] += 1.0
    # column order lets both steps work in place
    root = cholesky(np.asfortranarray(matrix), lower=True, overwrite_a=True, check_finite=False)
    inward: Floats = dtrtri(root, lower=1)[0] * width
    return root, inward


def inward_root(prior: Floats, precision: Floats) -> Floats:
    """``inward`` (n, n) of Propagated, lower triangular, for messages of any ``precision`` (n,)."""
    return _root_and_inward(prior, np.sqrt(precision))[1]
