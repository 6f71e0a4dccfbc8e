"""Counts on the logit scale."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import expit

from vinemap.errors import InputError, TooFewData
from vinemap.surface.counts import Counts, fit_between, logit_normal_mean, logit_normal_middle, messages, pool_counts


def normal(logit, mean=0.0, sd=1.0):
    return np.exp(-0.5 * ((logit - mean) / sd) ** 2) / (sd * np.sqrt(2 * np.pi))


def counts_of(examined, infected):
    examined = np.asarray(examined, float)
    return Counts(np.column_stack([np.arange(len(examined)), np.zeros(len(examined))]), examined, np.asarray(infected, float))


@pytest.mark.parametrize(
    ("examined", "infected", "mean", "sd"), [(10, 0, -2.0, 1.4), (10, 3, -1.0, 0.5), (400, 399, 2.0, 2.0), (1, 0, 0.0, 1.0)]
)
def test_message_joined_to_the_prior_is_the_posterior(examined, infected, mean, sd):
    def post(logit, power):
        return (
            logit**power * normal(logit, mean, sd) * expit(logit) ** infected * expit(-logit) ** (examined - infected) * 1e3
        )

    # an independent adaptive integral of the posterior
    whole, first, second = (quad(post, -12, 12, (power,), limit=400, points=[mean, 6.0])[0] for power in range(3))
    middle, variance = first / whole, second / whole - (first / whole) ** 2
    value, noise = messages(counts_of([examined], [infected]), np.array([mean]), np.array([sd]))
    precision = 1.0 / sd**2 + 1.0 / noise[0]
    assert 1.0 / precision == pytest.approx(variance, rel=1e-4)
    assert (mean / sd**2 + value[0] / noise[0]) / precision == pytest.approx(middle, rel=1e-4)


def test_more_clusters_say_more():
    _, noise = messages(counts_of([5, 10, 40, 5000], [1, 2, 8, 1000]), np.full(4, -1.5), np.full(4, 1.4))
    assert (np.diff(noise) < 0).all()
    # many clusters: 1 / (n p q), the usual variance of a logit
    assert noise[3] == pytest.approx(1 / (5000 * 0.2 * 0.8), rel=0.01)


def test_logit_normal_mean_beside_an_integral():
    mean, sd = np.array([-3.0, 0.0, 1.0, -5.0]), np.array([1.4, 0.5, 2.0, 3.0])
    exact = [quad(lambda u, m=m, s=s: expit(m + s * u) * normal(u), -9, 9)[0] for m, s in zip(mean, sd, strict=True)]
    np.testing.assert_allclose(logit_normal_mean(mean, sd), exact, atol=2e-4)


def test_logit_normal_middle_is_the_way_back():
    share, sd = np.array([0.001, 0.1, 0.5, 0.98]), np.array([0.2, 1.4, 2.0, 3.9])
    np.testing.assert_allclose(logit_normal_mean(logit_normal_middle(share, sd), sd), share, rtol=1e-6)


def test_between_finds_the_mean_and_spread_of_many_vines():
    rng = np.random.default_rng(11)
    examined = np.full(1000, 20)
    between = fit_between(counts_of(examined, rng.binomial(examined, expit(rng.normal(-2.0, 1.2, 1000)))))
    # within three standard errors of what was put in
    assert between.mean == pytest.approx(-2.0, abs=3 * 0.05)
    assert between.sd == pytest.approx(1.2, abs=3 * 0.05)
    assert between.mean_sd == pytest.approx(0.045, abs=0.015)


@pytest.mark.parametrize("stops", [1, 40])
def test_all_clean_and_all_infected_stay_finite_and_narrow_with_stops(stops):
    clean = fit_between(counts_of(np.full(stops, 10), np.zeros(stops)))
    full = fit_between(counts_of(np.full(stops, 10), np.full(stops, 10)))
    assert -9.0 < clean.mean < -2.0 < full.mean < 9.0
    assert 0.2 < clean.sd < 2.5
    if stops == 40:
        # 400 clean clusters: the one-sided 95 % limit of a share is 1 - 0.05^(1/400) = 0.75 %
        assert logit_normal_mean(np.array([clean.mean]), np.array([clean.sd]))[0] < 0.0075


def test_two_visits_to_a_vine_are_one():
    pooled = pool_counts([[0.0, 0.0], [5.0, 0.0], [0.001, 0.0]], [10, 10, 5], [1, 0, 2])
    assert len(pooled) == 2
    np.testing.assert_array_equal(np.sort(pooled.examined), [10, 15])
    np.testing.assert_array_equal(np.sort(pooled.infected), [0, 3])


@pytest.mark.parametrize(
    ("stops", "examined", "infected", "error", "words"),
    [
        (np.empty((0, 2)), [], [], TooFewData, "no stops"),
        ([[0, 0]], [0], [0], TooFewData, "No stop has examined clusters"),
        ([[0, 0]], [5], [6], InputError, "more infected"),
        ([[0, 0]], [5], [-1], InputError, "more infected"),
        ([[0, np.nan]], [5], [1], InputError, "no place"),
    ],
)
def test_counts_that_cannot_be_are_refused(stops, examined, infected, error, words):
    with pytest.raises(error, match=words):
        pool_counts(stops, examined, infected)
