"""Whether a map means what it says: chances of left-out counts, groups of them, and how many fall inside their range."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import bdtr, betaincc, expit

from vinemap.surface.binomial import read_binomial
from vinemap.surface.calibration import LEAST_IN_GROUP, groups_of, inside_ranges
from vinemap.surface.counts import LOGIT_END, PRIOR_MEAN, Counts
from vinemap.surface.foretell import Foretold, foretold


def counts_of(examined, infected):
    """Counts at vines in one row, 3 m apart."""
    n = len(examined)
    return Counts(np.column_stack([np.zeros(n), 3.0 * np.arange(n)]), np.array(examined, float), np.array(infected, float))


def told_shares(shares):
    n = len(shares)
    return Foretold(np.array(shares), np.zeros(n), np.zeros(n), np.ones(n))


@pytest.fixture(scope="module")
def found():
    return read_binomial(counts_of([10, 10, 400, 1, 20, 10, 30], [0, 3, 60, 1, 2, 0, 30]), 0.0)


def test_the_chance_of_a_left_out_count_is_the_same_told_in_two_ways(found):
    # at_most - below sums the binomial over left-out normals; log_chance is the harmonic mean of Gelfand, Dey & Chang 1992
    told = foretold(found)
    assert told.at_most - told.below == pytest.approx(np.exp(told.log_chance), rel=2e-3)


def test_chances_agree_with_a_fine_sum_over_the_left_out_normals(found):
    told = foretold(found)
    z = np.linspace(-9.0, 9.0, 20_001)
    expected = np.zeros(len(found.counts))
    for weight, part in zip(found.left_weights(), found.parts, strict=True):
        for stop, (n, x) in enumerate(zip(found.counts.examined, found.counts.infected, strict=True)):
            logit = PRIOR_MEAN + part.said.left_mean[stop] + np.sqrt(part.said.left_variance[stop]) * z
            chance = betaincc(x + 1.0, n - x, expit(logit)) if x < n else np.ones_like(z)
            # the grid ends where hardly a cluster in half a million is clean or hit
            bell = np.exp(-0.5 * z**2) * (np.abs(logit) <= LOGIT_END)
            expected[stop] += weight[stop] * (chance @ bell) / bell.sum()
    assert told.at_most == pytest.approx(expected, abs=1e-4)


def test_nothing_lies_below_a_clean_stop_nor_above_one_that_is_all_hit(found):
    told = foretold(found)
    clean = found.counts.infected == 0
    whole = found.counts.infected == found.counts.examined
    assert clean.sum() == whole.sum() == 2
    assert told.below[clean] == pytest.approx(0.0, abs=1e-12)
    assert told.at_most[whole] == pytest.approx(1.0, abs=1e-12)
    assert (told.below < told.at_most).all()


@given(examined=st.integers(1, 40), share=st.floats(0.001, 0.999))
def test_nine_in_ten_fall_inside_on_average_when_the_chances_are_true(examined, share):
    at_most = bdtr(np.arange(examined + 1), examined, share)
    below = np.concatenate([[0.0], at_most[:-1]])
    inside = [
        inside_ranges(Foretold(np.array([share]), np.zeros(1), np.array([low]), np.array([high]))).found
        for low, high in zip(below, at_most, strict=True)
    ]
    assert (at_most - below) @ inside == pytest.approx(0.90, abs=1e-6)


def test_what_honest_maps_would_show():
    # binomial 20, 0.9: 0.0432 for 15 or fewer, 0.1330 for 16 or fewer; 0.9**20 = 0.1216 for all of them
    inside = inside_ranges(told_shares([0.1] * 20))
    assert (inside.stops, inside.low, inside.high) == (20, 16, 20)


def test_counts_far_out_are_outside_and_counts_in_the_middle_inside():
    far = Foretold(np.array([0.1, 0.1, 0.1]), np.zeros(3), np.array([0.999, 0.0, 0.4]), np.array([1.0, 0.001, 0.6]))
    assert inside_ranges(far).found == pytest.approx(1.0)
    # a count of no chance to speak of, as from many clusters, is in or out as a whole
    point = Foretold(np.array([0.1, 0.1]), np.zeros(2), np.array([0.5, 0.99]), np.array([0.5, 0.99]))
    assert inside_ranges(point).found == 1.0


def test_groups_are_equal_and_in_order_and_hold_every_stop():
    rng = np.random.default_rng(4)
    shares = expit(np.linspace(-4.0, 1.0, 53))
    rng.shuffle(shares)
    counts = counts_of(np.full(53, 10), rng.binomial(10, shares))
    groups = groups_of(counts, told_shares(shares))
    assert [len(group.examined) for group in groups] == [11, 11, 11, 10, 10]
    assert sum(group.infected.sum() for group in groups) == counts.infected.sum()
    assert (np.diff([group.said for group in groups]) > 0).all()
    assert groups[0].said == pytest.approx(np.sort(shares)[:11].mean())


def test_what_was_said_is_weighed_by_clusters():
    (group,) = groups_of(counts_of([10, 90], [0, 9]), told_shares([0.5, 0.1]))
    assert group.said == pytest.approx(0.14)


def test_stops_told_nearly_alike_are_one_group():
    """Without a pattern a bad stop leaves a slightly lower share behind: groups by that would lie across the line."""
    infected = np.tile([0, 0, 0, 4], 15)
    counts = counts_of(np.full(60, 10), infected)
    told = foretold(read_binomial(counts, 0.0).without_pattern())
    assert told.share[infected == 4].max() < told.share[infected == 0].min()
    assert len(groups_of(counts, told)) == 1


@pytest.mark.parametrize(("stops", "groups"), [(1, 1), (LEAST_IN_GROUP, 1), (2 * LEAST_IN_GROUP, 2), (200, 5)])
def test_few_stops_make_few_groups(stops, groups):
    shares = expit(np.linspace(-4.0, 2.0, stops))
    assert len(groups_of(counts_of(np.full(stops, 10), np.zeros(stops)), told_shares(shares))) == groups
