"""Priors, covariance and slopes of a pattern."""

from __future__ import annotations

import numpy as np
import pytest
from exact_posterior import covariance_of
from scipy.special import expit

from vinemap.surface.binomial import _Learner
from vinemap.surface.counts import PRIOR_MEAN_SD, Counts
from vinemap.surface.gaps import gaps_between
from vinemap.surface.pattern import (
    FARTHEST,
    NAMES,
    WEAK,
    Habit,
    level_variance,
    pooled_habit,
    prior_covariance,
    slopes,
)

SIZES = (1, 4)
BEARING_DEG = 33.0


def places(stops, seed=0, side_m=60.0):
    return np.random.default_rng(seed).uniform(0.0, side_m, (stops, 2))


def test_the_middle_of_the_prior_and_what_each_figure_moves():
    middle = WEAK.curve(np.zeros(4), BEARING_DEG)
    assert middle.sill == pytest.approx(1.4**2)
    assert middle.nugget == pytest.approx(middle.sill / 2)
    assert middle.range_m == pytest.approx(25.0)
    assert middle.ratio == pytest.approx(0.6)
    one = np.eye(4)
    spread, share, reach, ratio = (WEAK.curve(one[k], BEARING_DEG) for k in range(4))
    assert spread.sill == pytest.approx((1.4 * np.exp(0.4)) ** 2)
    assert spread.nugget / spread.sill == pytest.approx(0.5)
    assert share.structured_sill / share.sill == pytest.approx(expit(1.5))
    assert share.sill == pytest.approx(middle.sill)
    assert (reach.range_m, reach.ratio) == (pytest.approx(25.0 * np.exp(0.8)), pytest.approx(0.6))
    assert (ratio.range_m, ratio.ratio) == (pytest.approx(25.0), pytest.approx(0.6 * np.exp(0.4)))


def test_a_block_without_a_pattern_shares_nothing():
    curve = WEAK.curve(np.array([0.5]), BEARING_DEG)
    assert curve.structured_sill == 0.0
    assert curve.sill == pytest.approx((1.4 * np.exp(0.2)) ** 2)


def test_no_figure_strays_too_far():
    far, end = (WEAK.curve(np.full(4, place), BEARING_DEG) for place in (50.0, FARTHEST))
    assert far == end


def test_another_habit_is_heeded():
    habit = Habit((0.0, 1.0, np.log(40.0), 0.0), (0.1, 0.2, 0.3, 0.4), "last year")
    curve = habit.curve(np.array([0.0, 0.0, 1.0, 0.0]), 0.0)
    assert curve.sill == pytest.approx(1.0)
    assert curve.range_m == pytest.approx(40.0 * np.exp(0.3))


@pytest.mark.parametrize("bearing_deg", [0.0, 33.0, 90.0, 200.0])
def test_covariance_beside_the_formula(bearing_deg):
    stops_m = places(12)
    drift = np.random.default_rng(1).normal(size=(12, 2))
    curve = WEAK.curve(np.array([0.3, -0.4, 0.2, -0.7]), bearing_deg)
    found = prior_covariance(gaps_between(stops_m, bearing_deg), level_variance(drift), curve)
    np.testing.assert_allclose(found, covariance_of(stops_m, curve, PRIOR_MEAN_SD, drift), rtol=1e-9)


def test_neighbours_along_the_row_are_more_alike():
    # a row that runs east: 10 m along, 10 m across
    stops_m = np.array([[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]])
    curve = WEAK.curve(np.zeros(4), 90.0)
    found = prior_covariance(gaps_between(stops_m, 90.0), level_variance(np.zeros((3, 0))), curve)
    # by hand: exp(-3 * 10 / 25) and exp(-3 * 10 / 15)
    np.testing.assert_allclose(found[0, 1:] - 4.0, 0.98 * np.exp([-1.2, -2.0]), rtol=1e-9)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("apart", [True, False])
def test_slopes_of_the_covariance_beside_differences(size, apart):
    stops_m = places(9)
    if not apart:
        stops_m[1] = stops_m[0]
    rng = np.random.default_rng(2)
    lean = rng.normal(size=(9, 9))
    lean += lean.T
    place = rng.normal(size=size)
    gaps, level = gaps_between(stops_m, BEARING_DEG), level_variance(np.zeros((9, 0)))

    def height(at):
        return float((lean * prior_covariance(gaps, level, WEAK.curve(at, BEARING_DEG))).sum())

    found = slopes(WEAK, gaps, WEAK.curve(place, BEARING_DEG), lean, size)
    for axis in range(size):
        step = 1e-5 * np.eye(size)[axis]
        assert found[axis] == pytest.approx((height(place + step) - height(place - step)) / 2e-5, rel=1e-6), NAMES[axis]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("share", [0.0, 0.15, 1.0])
def test_slopes_of_the_evidence_beside_differences(size, share):
    rng = np.random.default_rng(4)
    examined = rng.integers(1, 15, 14)
    counts = Counts(places(14), examined, rng.binomial(examined, share))
    drift = rng.normal(size=(14, 1))
    place = 0.5 * rng.normal(size=size)
    learner = _Learner(counts, level_variance(drift), BEARING_DEG, WEAK, size)

    def height(at):
        return learner.height(at, 200)[0]

    slope = learner.height(place, 200)[1]
    for axis in range(size):
        step = 1e-2 * np.eye(size)[axis]
        # the messages rest to a millionth of a deviation, the difference is good to its square
        difference = (height(place + step) - height(place - step)) / 2e-2
        assert slope[axis] == pytest.approx(difference, abs=2e-3), NAMES[axis]


def test_few_sweeps_from_good_messages_tell_the_height():
    rng = np.random.default_rng(5)
    counts = Counts(places(40), np.full(40, 10), rng.binomial(10, 0.1, 40))
    learner = _Learner(counts, level_variance(np.zeros((40, 0))), BEARING_DEG, WEAK, 4)
    place = np.array([0.2, 0.4, -0.3, 0.1])
    exact = learner.height(place, 200)[0]
    learner.height(np.zeros(4), 6)
    assert learner.height(place)[0] == pytest.approx(exact, abs=0.02)


def test_what_other_blocks_learned_is_pooled_by_how_sure_they_are():
    middle = np.array(WEAK.middle)
    sd = np.array(WEAK.sd)
    # by hand: equally sure blocks meet half-way, half a weak deviation between blocks and the pool's own doubt beside it
    pooled = pooled_habit([(middle - 0.4 * sd, 0.3 * sd), (middle + 0.8 * sd, 0.3 * sd)], "two blocks")
    np.testing.assert_allclose(pooled.middle, middle + 0.2 * sd)
    np.testing.assert_allclose(pooled.sd, sd * np.sqrt(0.25 + (0.09 + 0.25) / 2.0))
    assert pooled.source == "two blocks"
    # a block that learned next to nothing hardly pulls
    leaning = pooled_habit([(middle, 0.1 * sd), (middle + sd, 10.0 * sd)], "")
    assert np.abs((np.array(leaning.middle) - middle) / sd).max() < 0.01
    # nobody is ever less sure than before any round was read
    vague = pooled_habit([(middle, 3.0 * sd)], "")
    np.testing.assert_allclose(vague.sd, sd)
