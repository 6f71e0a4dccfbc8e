"""A clean round leans to one side: the 90 % interval of a vine that was not visited, beside draws from the prior."""

from __future__ import annotations

import numpy as np
import pytest
from exact_posterior import LEVEL, covariance_of, drawn_from_prior, laplace

from vinemap.surface.counts import Counts
from vinemap.surface.propagation import no_sites, propagate
from vinemap.surface.variogram import Variogram

CURVE = Variogram("exponential", 0.5, 2.0, 25.0, 0.6, 20.0)
END = 1.6449
ROUNDS = {
    "six clean": np.zeros(6),
    "ten clean": np.zeros(10),
    "nearly clean": np.array([0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 2.0, 0.0, 0.0]),
}


def ends_of(covariance, stops, pull, hold):
    """Lower and upper ends (2, m) of the 90 % intervals of the places after the stops."""
    across = covariance[stops:, :stops]
    mean = LEVEL + across @ pull
    sd = np.sqrt(np.diag(covariance)[stops:] - np.einsum("ij,jk,ik->i", across, hold, across))
    return np.array([mean - END * sd, mean + END * sd])


@pytest.fixture(scope="module", params=ROUNDS)
def told(request):
    """Chance (2, m) outside each end for propagation and for Laplace's bell, and how far their ends (2, m) are off."""
    infected = ROUNDS[request.param]
    stops = len(infected)
    rng = np.random.default_rng(8)
    places_m = np.vstack([rng.uniform(0.0, 60.0, (stops, 2)), [[30.0, 30.0], [5.0, 5.0], [300.0, 0.0]]])
    counts = Counts(places_m[:stops], np.full(stops, 10.0), infected)
    covariance = covariance_of(places_m, CURVE)
    prior = covariance[:stops, :stops]
    drawn = drawn_from_prior(counts, covariance, 300_000, rng, np.arange(stops))
    said = propagate(counts, LEVEL, prior, no_sites(stops))
    likeliest, worth = laplace(counts, prior)
    held = np.linalg.inv(prior + np.diag(1.0 / worth))
    exact = np.array([[drawn.quantile(chance, stops + k) for k in range(3)] for chance in (0.05, 0.95)])
    outside, off = {}, {}
    for name, pull, hold in (
        ("propagation", said.pull, said.hold),
        ("laplace", np.linalg.solve(prior, likeliest - LEVEL), held),
    ):
        low, high = ends_of(covariance, stops, pull, hold)
        outside[name] = np.array(
            [drawn.weight @ (drawn.logits[:, stops:] < low), drawn.weight @ (drawn.logits[:, stops:] > high)]
        )
        off[name] = np.array([low, high]) - exact
    return outside, off, 3.0 * np.sqrt(0.05 * 0.95 / drawn.worth)


def test_five_per_cent_lie_beyond_each_end(told):
    outside, off, noise = told
    # a lean to the low side: up to 6 % below, not quite 5 % above; three standard errors of the draws beside it
    assert np.abs(outside["propagation"] - 0.05).max() < 0.012 + noise, outside["propagation"]
    # the ends are a sixth of a logit from where they should be at most, the upper one a few hundredths
    assert np.abs(off["propagation"][0]).max() < 0.2, off["propagation"]
    assert np.abs(off["propagation"][1]).max() < 0.1, off["propagation"]


def test_laplace_would_not_do(told):
    outside, off, _ = told
    # the likeliest logits lie above their means: the bell sits half a logit too high, and twice as much lies below it
    assert (outside["laplace"][0] > 0.085).all(), outside["laplace"]
    assert (outside["laplace"][1] < 0.035).all(), outside["laplace"]
    assert (off["laplace"] > 0.4).all(), off["laplace"]
    assert np.abs(off["propagation"]).max() < 0.4 * off["laplace"].min()
