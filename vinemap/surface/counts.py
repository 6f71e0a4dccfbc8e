"""Counts on the logit scale: how much vines differ, and what one count says about its vine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.polynomial.hermite_e import hermegauss
from scipy.special import expit, gammaln, log_expit

from vinemap.columns import Floats, freeze
from vinemap.errors import InputError, TooFewData
from vinemap.surface.kriging import check_places

LOGIT_END = 13.0
GRID_STEPS = 17
SD_LEAST, SD_MOST = 0.2, 4.0
PRIOR_MEAN, PRIOR_MEAN_SD = -2.0, 2.0
"""Before a round is read: a block's middle vine has 12 % of clusters infected, 95 % sure of 0.3 % to 87 % (from memory)."""
PRIOR_LOG_SD, PRIOR_LOG_SD_SD = np.log(1.4), 0.4
"""Spread between vines, logit units, on the log scale: the likeness 0.05 to 0.35 of clusters within a vine (from memory)
at 10 % incidence is a spread of 0.75 to 2.0."""
NODES, _WEIGHTS = hermegauss(21)
WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
"""Standard normal quadrature nodes and weights (21,)."""


SAME_VINE_M = 0.1
"""Stops, and vines and stops, closer than this are one vine."""


@dataclass(frozen=True, slots=True, eq=False)
class Counts:
    """Clusters counted at n vines: ``stops_m`` (n, 2) [m], ``examined`` and ``infected`` (n,), examined above 0."""

    stops_m: Floats
    examined: Floats
    infected: Floats

    def __post_init__(self) -> None:
        freeze(self, stops_m=np.float64, examined=np.float64, infected=np.float64)

    def __len__(self) -> int:
        return len(self.examined)


def pool_counts(stops_m: Floats, examined: Floats, infected: Floats) -> Counts:
    """Counts (n,) at stops (n, 2) [m], visits to one vine added together, stops without examined clusters left out.

    Raises TooFewData when nothing is left, InputError for counts that can't be.
    """
    stops_m = np.asarray(stops_m, float).reshape(-1, 2)
    examined, infected = np.asarray(examined, float), np.asarray(infected, float)
    check_places(stops_m, examined, infected)
    if (infected < 0).any() or (infected > examined).any():
        raise InputError("A stop has more infected clusters than examined ones.", "Correct its counts.")
    looked = examined > 0
    if not looked.any():
        raise TooFewData("No stop has examined clusters.", "Write down how many clusters were looked at.")
    stops_m, examined, infected = stops_m[looked], examined[looked], infected[looked]
    first, group = _same_vines(stops_m)
    sums = [np.bincount(group, column).astype(np.float64) for column in (examined, infected)]
    return Counts(stops_m[first], *sums)


def first_of_each(stops_m: Floats, examined: Floats) -> npt.NDArray[np.int64]:
    """Index of the first stop with examined clusters at each vine, in the order of ``pool_counts``."""
    looked = np.flatnonzero(np.asarray(examined, float) > 0)
    return looked[_same_vines(np.asarray(stops_m, float).reshape(-1, 2)[looked])[0]]


def _same_vines(stops_m: Floats) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """First stop at each vine, and each stop's vine."""
    _, first, group = np.unique(np.rint(stops_m / SAME_VINE_M), axis=0, return_index=True, return_inverse=True)
    return first, group.ravel()


@dataclass(frozen=True, slots=True)
class Between:
    """Logit incidence between the vines of a block: normal with ``mean`` and ``sd``; ``mean_sd``: how sure the mean is."""

    mean: float
    sd: float
    mean_sd: float


def logit_grid(examined: Floats) -> Floats:
    """Logits (g,) fine enough for the sharpest likelihood among counts of ``examined`` (n,) clusters."""
    step = min(0.1, 2.0 / np.sqrt(max(float(examined.max(initial=1.0)), 1.0)))
    return np.linspace(-LOGIT_END, LOGIT_END, 2 * int(np.ceil(LOGIT_END / step)) + 1)


def log_likelihood(examined: Floats, infected: Floats, logit: Floats) -> Floats:
    """Binomial log-likelihood (n, g) of counts (n,) at logits (g,), without the constant of the counts."""
    return infected[:, None] * log_expit(logit) + (examined - infected)[:, None] * log_expit(-logit)


def log_normal(logit: Floats, mean: Floats, sd: Floats) -> Floats:
    """Log weights (k, g) of normals on the grid, each summing to 1."""
    weight = -0.5 * ((logit - mean[:, None]) / sd[:, None]) ** 2
    normed: Floats = weight - log_sum(weight)[:, None]
    return normed


def log_sum(rows: Floats) -> Floats:
    """Log (k,) of the sums of exp over rows (k, g); many times quicker on small tables than the library's general one."""
    top = rows.max(axis=1)
    summed: Floats = top + np.log(np.exp(rows - top[:, None]).sum(axis=1))
    return summed


def log_ways(counts: Counts) -> Floats:
    """Log number of ways (n,) in which each count can come about: the constant of its chance."""
    n, x = counts.examined, counts.infected
    ways: Floats = gammaln(n + 1.0) - gammaln(x + 1.0) - gammaln(n - x + 1.0)
    return ways


def count_log_chance(counts: Counts, mean: Floats, sd: Floats) -> Floats:
    """Log chance (n,) of each count when its vine's logit is normal with ``mean`` and ``sd`` (n,)."""
    logit = logit_grid(counts.examined)
    log_chance = log_normal(logit, mean, sd) + log_likelihood(counts.examined, counts.infected, logit)
    return log_sum(log_chance) + log_ways(counts)


def fit_between(counts: Counts) -> Between:
    """Mean and spread of logit incidence between vines, from the counts of a round.

    Posterior means of the logit-normal-binomial model under weak priors, so that all-clean and all-infected rounds and
    a single stop stay finite. Summed on a grid that closes in on the posterior.
    Source: Gelman et al. 2013, Bayesian Data Analysis, sections 3.7 and 5.4.
    """
    pairs, copies = np.unique(np.column_stack([counts.examined, counts.infected]), axis=0, return_counts=True)
    logit = logit_grid(pairs[:, 0])
    log_like = log_likelihood(pairs[:, 0], pairs[:, 1], logit)
    peak = log_like.max(axis=1)
    like = np.exp(log_like - peak[:, None])
    low, high = np.array([-9.0, np.log(SD_LEAST)]), np.array([9.0, np.log(SD_MOST)])
    least, most = low, high
    for _ in range(6):
        axes = [np.linspace(start, end, GRID_STEPS) for start, end in zip(low, high, strict=True)]
        mean, log_sd = (axis.ravel() for axis in np.meshgrid(*axes, indexing="ij"))
        sd = np.exp(log_sd)
        bell = np.exp(-0.5 * ((logit - mean[:, None]) / sd[:, None]) ** 2)
        chance = (bell @ like.T) / bell.sum(axis=1)[:, None]
        weight = np.log(np.maximum(chance, 1e-300)) @ copies
        weight -= 0.5 * ((log_sd - PRIOR_LOG_SD) / PRIOR_LOG_SD_SD) ** 2 + 0.5 * ((mean - PRIOR_MEAN) / PRIOR_MEAN_SD) ** 2
        weight = np.exp(weight - weight.max())
        weight /= weight.sum()
        place = np.column_stack([mean, log_sd])
        middle = weight @ place
        spread = np.maximum(np.sqrt(weight @ (place - middle) ** 2), (high - low) / (GRID_STEPS - 1))
        low, high = np.maximum(middle - 4.5 * spread, least), np.minimum(middle + 4.5 * spread, most)
    level = float(weight @ mean)
    return Between(level, float(np.sqrt(weight @ sd**2)), float(np.sqrt(weight @ (mean - level) ** 2)))


def messages(counts: Counts, mean: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """What each count (n,) says of its vine's logit, as a value (n,) with an error variance (n,).

    The normal that, joined to the prior normal (``mean``, ``sd``, each (n,)), has the exact posterior's mean and variance.
    Source: Minka 2001, Expectation propagation for approximate Bayesian inference.
    """
    logit = logit_grid(counts.examined)
    log_post = log_normal(logit, mean, sd) + log_likelihood(counts.examined, counts.infected, logit)
    post = np.exp(log_post - log_post.max(axis=1, keepdims=True))
    post /= post.sum(axis=1, keepdims=True)
    middle = post @ logit
    variance = np.maximum(post @ (logit * logit) - middle**2, 1e-9)
    # a count always narrows a normal prior on the logit; the floor is for rounding only
    precision = np.maximum(1.0 / variance - 1.0 / sd**2, 1e-6)
    value: Floats = (middle / variance - mean / sd**2) / precision
    return value, 1.0 / precision


def logit_normal_mean(mean: Floats, sd: Floats) -> Floats:
    """Mean (n,) of the share whose logit is normal with ``mean`` and ``sd`` (n,)."""
    total = np.zeros_like(mean)
    # plain numbers keep single precision where the logits come in it
    for node, weight in zip(NODES.tolist(), WEIGHTS.tolist(), strict=True):
        total += weight * expit(mean + sd * node)
    return total


def logit_normal_middle(share: Floats, sd: Floats) -> Floats:
    """Logit mean (n,) at which a logit-normal of ``sd`` (n,) has the mean ``share`` (n,), 0 < share < 1."""
    low, high = np.full_like(share, -60.0), np.full_like(share, 60.0)
    for _ in range(32):
        middle = 0.5 * (low + high)
        is_low = logit_normal_mean(middle, sd) < share
        low, high = np.where(is_low, middle, low), np.where(is_low, high, middle)
    return 0.5 * (low + high)
