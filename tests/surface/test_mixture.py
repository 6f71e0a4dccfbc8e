"""Mixtures of normals, beside the normals of a statistics library and plain bisection."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq  # noqa: TID253 - a test may take its time
from scipy.special import expit, logit
from scipy.stats import binom, norm  # noqa: TID253

from vinemap.surface.counts import Counts
from vinemap.surface.mixture import Mixture, mixture_log_chance


def a_mixture(rng, parts, vines, wide=1.0):
    weight = rng.dirichlet(np.ones(parts))
    sd = rng.uniform(0.2, 2.5, (parts, vines))
    return Mixture(weight, rng.normal(-2.0, wide, (parts, vines)), sd, np.full(parts, 0.15))


@settings(max_examples=30)
@given(
    rng=st.integers(0, 999).map(np.random.default_rng),
    parts=st.integers(1, 13),
    wide=st.sampled_from([0.0, 0.3, 1.0, 4.0]),
    chance=st.sampled_from([0.05, 0.5, 0.95]),
)
def test_quantiles_beside_bisection(rng, parts, wide, chance):
    mixture = a_mixture(rng, parts, 6, wide)
    found = mixture.quantile(chance)
    for vine in range(6):
        mean, sd = mixture.mean[:, vine].astype(float), mixture.sd[:, vine].astype(float)
        exact = brentq(lambda at, m=mean, s=sd: mixture.weight @ norm.cdf(at, m, s) - chance, -60, 60)
        # parts may lie so far apart that next to nothing is between them: then the chance is what must be right
        missed = abs(float(mixture.weight @ norm.cdf(found[vine], mean, sd)) - chance)
        assert found[vine] == pytest.approx(exact, abs=5e-3) or missed < 1e-3, (found[vine], exact, missed)


def test_one_part_is_a_normal():
    mixture = Mixture(np.ones(1), [[-2.0, 1.0]], [[1.5, 0.3]], [0.2])
    np.testing.assert_allclose(mixture.quantile(0.95), norm.ppf(0.95, [-2.0, 1.0], [1.5, 0.3]), rtol=1e-6)
    mean, sd = mixture.moments()
    np.testing.assert_allclose(mean, [-2.0, 1.0])
    np.testing.assert_allclose(sd, [1.5, 0.3], rtol=1e-6)
    np.testing.assert_allclose(mixture.shared_sd()[0], np.sqrt(np.array([1.5, 0.3]) ** 2 - 0.04), rtol=1e-6)


def test_share_moments_and_chance_beside_the_normals():
    mixture = a_mixture(np.random.default_rng(1), 9, 40)
    weight, mean, sd = mixture.weight[:, None], mixture.mean.astype(float), mixture.sd.astype(float)
    middle = (weight * mean).sum(axis=0)
    found_mean, found_sd = mixture.moments()
    np.testing.assert_allclose(found_mean, middle, rtol=1e-5)
    np.testing.assert_allclose(found_sd, np.sqrt((weight * (sd**2 + (mean - middle) ** 2)).sum(axis=0)), rtol=1e-5)
    for threshold in (0.02, 0.1, 0.9):
        exact = (weight * norm.sf(logit(threshold), mean, sd)).sum(axis=0)
        np.testing.assert_allclose(mixture.above(threshold), exact, atol=1e-6)
    for vine in range(5):
        exact = sum(
            w * quad(lambda u, m=m, s=s: expit(m + s * u) * norm.pdf(u), -9, 9)[0]
            for w, m, s in zip(mixture.weight, mean[:, vine], sd[:, vine], strict=True)
        )
        assert mixture.share()[vine] == pytest.approx(exact, abs=1e-4)


def test_quantiles_and_chances_belong_together():
    mixture = a_mixture(np.random.default_rng(2), 11, 300)
    for chance in (0.05, 0.5, 0.95):
        at = expit(mixture.quantile(chance))
        below = np.array([1.0 - mixture.above(float(each))[vine] for vine, each in enumerate(at[:40])])
        np.testing.assert_allclose(below, chance, atol=1e-3)
    assert (mixture.quantile(0.05) < mixture.quantile(0.5)).all()
    assert (mixture.quantile(0.5) < mixture.quantile(0.95)).all()


def test_an_own_part_larger_than_the_whole_leaves_nothing_to_share():
    mixture = Mixture(np.ones(1), [[0.0]], [[0.5]], [0.9])
    assert mixture.shared_sd()[0, 0] == 0.0


def test_chance_of_a_count_beside_integrals():
    mixture = a_mixture(np.random.default_rng(3), 4, 3)
    counts = Counts(np.zeros((3, 2)), [10, 1, 200], [0, 1, 37])
    found = mixture_log_chance(counts, mixture)
    for vine in range(3):
        n, x = int(counts.examined[vine]), int(counts.infected[vine])
        exact = 0.0
        for weight, mean, sd in zip(mixture.weight, mixture.mean[:, vine], mixture.sd[:, vine], strict=True):
            logits = np.linspace(float(mean) - 10 * float(sd), float(mean) + 10 * float(sd), 20_001)
            density = norm.pdf(logits, float(mean), float(sd)) * binom.pmf(x, n, expit(logits))
            exact += weight * float(density.sum() * (logits[1] - logits[0]))
        assert found[vine] == pytest.approx(np.log(exact), abs=2e-3)
    # whatever the vine, all possible counts together are certain
    every = Counts(np.zeros((11, 2)), np.full(11, 10), np.arange(11))
    one = Mixture(mixture.weight, np.repeat(mixture.mean[:, :1], 11, 1), np.repeat(mixture.sd[:, :1], 11, 1), mixture.own_sd)
    assert np.exp(mixture_log_chance(every, one)).sum() == pytest.approx(1.0, abs=1e-6)


def test_columns_can_not_be_written_to():
    mixture = a_mixture(np.random.default_rng(4), 2, 3)
    with pytest.raises(ValueError, match="read-only"):
        mixture.mean[0, 0] = 1.0
