"""Counts weighted by distance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError, TooFewData
from vinemap.surface.counts import Counts
from vinemap.surface.inverse_distance import inverse_distance

STOPS = np.array([[0.0, 0.0], [30.0, 0.0], [0.0, 40.0]])
EXAMINED, INFECTED = np.array([10.0, 20.0, 10.0]), np.array([1.0, 10.0, 0.0])
COUNTS = Counts(STOPS, EXAMINED, INFECTED)


def test_worked_by_hand():
    # at (10, 0): distances 10, 20, sqrt(1700); weights 1/100, 1/400, 1/1700
    found = inverse_distance(COUNTS, [[10.0, 0.0]])
    weight = np.array([1 / 100, 1 / 400, 1 / 1700])
    assert found.share[0] == pytest.approx((0.01 * 1 + 0.0025 * 10) / (0.1 + 0.05 + 10 / 1700))
    assert found.share[0] == pytest.approx(0.224528, abs=1e-6)
    assert found.examined[0] == pytest.approx((weight @ EXAMINED) ** 2 / (weight**2 @ EXAMINED))


def test_likeness_lowers_the_worth():
    alone = inverse_distance(COUNTS, STOPS[:1], rho=0.2)
    # ten clusters of one vine: 10 / (1 + 9 x 0.2)
    assert alone.examined[0] == pytest.approx(10 / 2.8)


def test_a_stop_keeps_its_own_count():
    np.testing.assert_allclose(inverse_distance(COUNTS, STOPS).share, [0.1, 0.5, 0.0])


def test_only_the_nearest_count():
    found = inverse_distance(COUNTS, [[1.0, 0.0], [29.0, 0.0]], neighbours=1)
    np.testing.assert_allclose(found.share, [0.1, 0.5])


def test_equally_far_stops_all_count():
    around = np.array([[3.0, 0.0], [-3.0, 0.0], [0.0, 3.0], [0.0, -3.0]])
    found = inverse_distance(Counts(around, np.full(4, 10.0), np.array([4.0, 0.0, 0.0, 0.0])), [[0.0, 0.0]], neighbours=2)
    assert found.share[0] == pytest.approx(0.1)


@pytest.mark.parametrize("rho", [0.0, 0.15])
def test_is_the_plain_sum_on_a_lattice_full_of_ties(rho):
    """Stops on a lattice, vines in the middle of its cells and off it: the sum written out over all that count."""
    rng = np.random.default_rng(41)
    stops = np.stack(np.meshgrid(np.arange(12.0), np.arange(12.0)), axis=-1).reshape(-1, 2) * 10.0
    examined = rng.integers(5, 15, 144).astype(float)
    infected = rng.binomial(examined.astype(int), 0.3).astype(float)
    at = np.vstack([stops[30:60] + 5.0, stops[30:60] + np.array([5.0, 0.0]), rng.uniform(0, 110, (60, 2))])
    found = inverse_distance(Counts(stops, examined, infected), at, 2.0, 6, rho)
    for place, share, worth in zip(at, found.share, found.examined, strict=True):
        distance = np.hypot(*(stops - place).T)
        # the sixth nearest and all as far as it
        counts = distance <= np.sort(distance)[5] + 1e-3
        weight = counts / distance**2
        assert share == pytest.approx((weight @ infected) / (weight @ examined), rel=1e-9)
        noise = examined * (1.0 + (examined - 1.0) * rho)
        assert worth == pytest.approx((weight @ examined) ** 2 / (weight**2 @ noise), rel=1e-9)


@settings(derandomize=True, max_examples=50, deadline=None)
@given(x=st.floats(-1e5, 1e5), y=st.floats(-1e5, 1e5), power=st.floats(0.1, 40.0), neighbours=st.integers(1, 50))
def test_always_between_the_least_and_the_most(x, y, power, neighbours):
    found = inverse_distance(COUNTS, [[x, y]], power, neighbours, 0.1)
    assert -1e-12 <= found.share[0] <= 0.5 + 1e-12
    assert 0.0 < found.examined[0] <= 40.0


def test_nonsense_is_refused():
    with pytest.raises(TooFewData, match="no stops"):
        inverse_distance(Counts(np.empty((0, 2)), np.empty(0), np.empty(0)), STOPS)
    with pytest.raises(InputError, match="above 0"):
        inverse_distance(COUNTS, STOPS, power=0.0)
    with pytest.raises(InputError, match="above 0"):
        inverse_distance(COUNTS, STOPS, neighbours=0)


@pytest.mark.parametrize(("examined", "infected"), [([5.0], [9.0]), ([5.0], [-1.0]), ([0.0], [0.0])])
def test_counts_that_cannot_be_are_refused(examined, infected):
    with pytest.raises(InputError, match="Correct its counts"):
        inverse_distance(Counts([[0.0, 0.0]], examined, infected), [[1.0, 1.0]])


def test_threads_change_nothing():
    at = np.random.default_rng(2).uniform(0, 40, (500, 2))
    one, two = (inverse_distance(COUNTS, at, threads=threads) for threads in (1, 2))
    np.testing.assert_array_equal(one.share, two.share)
    np.testing.assert_array_equal(one.examined, two.examined)
