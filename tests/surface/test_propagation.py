"""What all counts say together, beside sums on grids and draws from the prior."""

from __future__ import annotations

import numpy as np
import pytest
from exact_posterior import LEVEL, covariance_of, drawn_from_prior, on_a_grid
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.surface.counts import Counts
from vinemap.surface.propagation import inward_root, no_sites, propagate, tilted_moments
from vinemap.surface.variogram import Variogram

CURVE = Variogram("exponential", 0.5, 2.0, 25.0, 0.6, 20.0)


def counts_of(places_m, examined, infected):
    return Counts(np.asarray(places_m, float), np.asarray(examined, float), np.asarray(infected, float))


def alone(counts, which):
    return Counts(counts.stops_m[which], counts.examined[which], counts.infected[which])


def said_by(counts, covariance):
    return propagate(counts, LEVEL, covariance, no_sites(len(counts)))


@pytest.mark.parametrize(
    ("examined", "infected"), [(1, 0), (1, 1), (10, 0), (10, 3), (10, 10), (1000, 0), (1000, 137), (1000, 1000)]
)
def test_one_stop_is_exact(examined, infected):
    counts = counts_of([[3.0, 4.0]], [examined], [infected])
    covariance = covariance_of(counts.stops_m, CURVE)
    said, exact = said_by(counts, covariance), on_a_grid(counts, covariance, 8001)
    # one message has nothing to be near to: the quadrature of 21 nodes is left, and that sweeps end when the mean rests,
    # with a thousandth of the variance still to come
    assert said.log_evidence == pytest.approx(exact.log_evidence, abs=2e-5)
    assert LEVEL + said.mean == pytest.approx(exact.mean, abs=5e-4)
    assert said.variance == pytest.approx(exact.variance, rel=2e-3)
    # told from no other count, its chance is the evidence
    assert said.left_out == pytest.approx(exact.log_evidence, abs=2e-5)
    assert said.left_mean == pytest.approx(0.0, abs=1e-9)
    assert said.left_variance == pytest.approx(covariance[0, 0])


PAIRS = [
    # how near the log chance of a count told from the other is: the other's message was made beside both counts, which
    # flatters where they quarrel and is nothing where they agree (Rasmussen & Williams 2006, section 5.4.2)
    ([10, 10], [0, 3], 0.10),
    ([10, 10], [0, 0], 0.04),
    ([10, 10], [10, 10], 0.06),
    ([10, 10], [5, 4], 0.02),
    ([1, 1000], [0, 20], 0.10),
    ([1000, 1000], [0, 500], 0.30),
]


@pytest.mark.parametrize(("examined", "infected", "near"), PAIRS)
@pytest.mark.parametrize("apart_m", [5.0, 100.0])
def test_two_stops_beside_a_grid(examined, infected, near, apart_m):
    counts = counts_of([[0.0, 0.0], [apart_m, 0.0]], examined, infected)
    covariance = covariance_of(counts.stops_m, CURVE)
    said, exact = said_by(counts, covariance), on_a_grid(counts, covariance)
    # moments are matched, so that only the shape of each message's tail is left: about 1 % of a deviation
    assert said.log_evidence == pytest.approx(exact.log_evidence, abs=0.01)
    np.testing.assert_allclose((LEVEL + said.mean - exact.mean) / np.sqrt(exact.variance), 0.0, atol=0.01)
    np.testing.assert_allclose(said.variance, exact.variance, rtol=0.04)
    alone_log = [on_a_grid(alone(counts, [k]), covariance[[k]][:, [k]], 8001).log_evidence for k in (1, 0)]
    np.testing.assert_allclose(said.left_out, exact.log_evidence - np.array(alone_log), atol=near)


@pytest.mark.parametrize("infected", [[0, 1, 0, 3, 0, 2], [0] * 6, [1, 2, 4, 7, 3, 0]])
def test_six_stops_beside_draws_from_the_prior(infected):
    rng = np.random.default_rng(6)
    counts = counts_of(rng.uniform(0.0, 40.0, (6, 2)), [10, 10, 8, 12, 10, 5], np.minimum(infected, 5))
    covariance = covariance_of(counts.stops_m, CURVE)
    said, drawn = said_by(counts, covariance), drawn_from_prior(counts, covariance, 400_000, rng)
    assert drawn.worth > 3000.0
    noise = 4.0 / np.sqrt(drawn.worth)
    sd = np.sqrt(drawn.variance)
    # four standard errors of the draws, and a hundredth of a deviation (4 % of a variance) for the shape
    np.testing.assert_allclose((LEVEL + said.mean - drawn.mean) / sd, 0.0, atol=noise + 0.01)
    np.testing.assert_allclose(said.variance, drawn.variance, rtol=np.sqrt(2.0) * noise + 0.04)
    assert said.log_evidence == pytest.approx(drawn.log_evidence, abs=noise + 0.015)


def test_two_counts_of_one_logit_are_one_count():
    same = Variogram("exponential", 1e-7, 2.0, 25.0)
    places_m = [[0.0, 0.0], [1e-6, 0.0]]
    said = said_by(counts_of(places_m, [4, 16], [1, 2]), covariance_of(places_m, same))
    both = on_a_grid(counts_of([[0, 0]], [20], [3]), covariance_of([[0.0, 0.0]], same), 8001)
    np.testing.assert_allclose(LEVEL + said.mean, both.mean[0], atol=0.01)
    np.testing.assert_allclose(said.variance, both.variance[0], rtol=0.04)
    assert said.log_evidence == pytest.approx(both.log_evidence, abs=0.01)


@pytest.mark.parametrize(("examined", "infected"), [([10, 10], [0, 10]), ([1000, 1], [1000, 0]), ([1000, 1000], [0, 1000])])
def test_two_stops_that_quarrel_at_one_place_come_to_rest(examined, infected):
    counts = counts_of([[0.0, 0.0], [0.2, 0.0]], examined, infected)
    covariance = covariance_of(counts.stops_m, CURVE)
    said, exact = said_by(counts, covariance), on_a_grid(counts, covariance)
    np.testing.assert_allclose((LEVEL + said.mean - exact.mean) / np.sqrt(exact.variance), 0.0, atol=0.02)
    np.testing.assert_allclose(said.variance, exact.variance, rtol=0.05)
    longer = propagate(counts, LEVEL, covariance, said.sites, 200)
    np.testing.assert_allclose(longer.mean, said.mean, atol=1e-4)
    assert longer.log_evidence == pytest.approx(said.log_evidence, abs=1e-4)


ROUND = st.integers(0, 10_000).map(np.random.default_rng)


@settings(max_examples=25)
@given(rng=ROUND, stops=st.integers(1, 25), share=st.sampled_from([0.0, 0.01, 0.2, 0.9, 1.0]))
def test_messages_are_never_negative_and_order_does_not_matter(rng, stops, share):
    examined = rng.choice([1, 2, 10, 50, 1000], stops)
    counts = counts_of(rng.uniform(0, 80, (stops, 2)), examined, rng.binomial(examined, share))
    covariance = covariance_of(counts.stops_m, CURVE)
    said = said_by(counts, covariance)
    assert (said.sites.precision > 0.0).all()
    assert (said.variance > 0.0).all()
    # a count never widens what the others and the block's level leave open
    assert (said.variance <= said.left_variance * (1.0 + 1e-9)).all()
    assert (said.variance <= np.diag(covariance)).all()
    assert (said.left_out <= 1e-9).all()
    assert np.isfinite(said.log_evidence)
    order = rng.permutation(stops)
    turned = said_by(alone(counts, order), covariance[np.ix_(order, order)])
    np.testing.assert_allclose(turned.mean, said.mean[order], atol=1e-4)
    np.testing.assert_allclose(turned.left_out, said.left_out[order], atol=1e-4)
    assert turned.log_evidence == pytest.approx(said.log_evidence, abs=1e-5)


def test_pull_and_hold_tell_other_places():
    rng = np.random.default_rng(3)
    counts = counts_of(rng.uniform(0, 50, (7, 2)), np.full(7, 10), [0, 1, 5, 2, 0, 0, 9])
    places_m = np.vstack([counts.stops_m, rng.uniform(0, 50, (4, 2))])
    covariance = covariance_of(places_m, CURVE)
    prior, across = covariance[:7, :7], covariance[7:, :7]
    said = said_by(counts, prior)
    # the plain formulas of a normal with normal errors: value shift / precision, error variance 1 / precision
    inverse = np.linalg.inv(prior + np.diag(1.0 / said.sites.precision))
    np.testing.assert_allclose(across @ said.pull, across @ inverse @ (said.sites.shift / said.sites.precision), rtol=1e-6)
    lost = np.einsum("ij,jk,ik->i", across, inverse, across)
    np.testing.assert_allclose(np.einsum("ij,jk,ik->i", across, said.hold, across), lost, rtol=1e-6)
    root = inward_root(prior, said.sites.precision)
    np.testing.assert_allclose(((root @ across.T) ** 2).sum(axis=0), lost, rtol=1e-6)
    assert np.abs(np.triu(root, 1)).max() == 0.0
    np.testing.assert_allclose(said.mean, prior @ said.pull, rtol=1e-9)


@settings(max_examples=20)
@given(examined=st.integers(1, 1000), share=st.floats(0, 1), mean=st.floats(-8, 4), sd=st.sampled_from([0.1, 0.7, 1.5, 2.5]))
def test_one_count_under_a_normal_beside_a_fine_sum(examined, share, mean, sd):
    counts = counts_of([[0, 0]], [examined], [round(share * examined)])
    log_chance, middle, spread = tilted_moments(counts, np.array([mean]), np.array([sd**2]))
    logit = np.linspace(-60.0, 60.0, 60_001)
    log_like = -counts.infected * np.logaddexp(0, -logit) - (counts.examined - counts.infected) * np.logaddexp(0, logit)
    height = log_like - 0.5 * ((logit - mean) / sd) ** 2
    weight = np.exp(height - height.max())
    total = float(weight.sum() * (logit[1] - logit[0]))
    weight /= weight.sum()
    exact = float(weight @ logit)
    exact_var = float(weight @ (logit - exact) ** 2)
    assert log_chance[0] == pytest.approx(height.max() + np.log(total) - np.log(sd * np.sqrt(2 * np.pi)), abs=5e-4)
    assert middle[0] == pytest.approx(exact, abs=0.01 * np.sqrt(exact_var))
    assert spread[0] == pytest.approx(exact_var, rel=0.01)
