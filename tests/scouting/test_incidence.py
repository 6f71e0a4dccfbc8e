"""Intervals and likeness of counts, beside published figures and an independent program."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from vinemap.errors import InputError, TooFewData
from vinemap.scouting.incidence import (
    block_share,
    change_between,
    clustered_share,
    exceedance,
    logistic_rate_per_day,
    newcombe,
    rho_within_vines,
    variance_ratio,
    vine_share,
    wilson,
)

# twelve vines of ten clusters, worked by hand from Cochran 1977 and Donner 1986
TEN = np.full(12, 10)
SICK = np.array([0, 0, 1, 0, 5, 2, 0, 0, 7, 1, 0, 3])


@pytest.mark.parametrize(
    ("infected", "examined", "low", "high"),
    # worked by hand from Wilson 1927
    [
        (0, 100, 0.0, 0.0370),
        (5, 100, 0.0215, 0.1118),
        (12, 40, 0.1807, 0.4543),
        (18, 20, 0.6990, 0.9721),
        (200, 200, 0.9812, 1.0),
    ],
)
def test_wilson(infected, examined, low, high):
    interval = wilson(infected, examined)
    assert interval.low == pytest.approx(low, abs=5e-5)
    assert interval.high == pytest.approx(high, abs=5e-5)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(examined=st.integers(1, 5000), part=st.floats(0.0, 1.0), level=st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_wilson_agrees_with_statsmodels(examined, part, level):
    infected = round(part * examined)
    interval = wilson(infected, examined, level)
    low, high = proportion_confint(infected, examined, 1.0 - level, method="wilson")
    assert interval.low == pytest.approx(low, abs=1e-12)
    assert interval.high == pytest.approx(high, abs=1e-12)


@pytest.mark.parametrize(
    ("infected", "examined", "threshold", "chance"),
    # worked by hand from Brown, Cai & DasGupta 2001
    [
        (5, 100, 0.03, 0.8764),
        (5, 100, 0.05, 0.5281),
        (0, 100, 0.03, 0.0135),
        (12, 100, 0.10, 0.7554),
        (4.7274, 29.857, 0.10, 0.8562),
    ],
)
def test_exceedance(infected, examined, threshold, chance):
    assert exceedance(infected, examined, threshold) == pytest.approx(chance, abs=1e-4)


def test_newcombe_by_hand_and_beside_statsmodels():
    interval = newcombe(12, 100, 5, 100)
    # Newcombe 1998, method 10
    assert interval.low == pytest.approx(-0.0095, abs=5e-5)
    assert interval.high == pytest.approx(0.1531, abs=5e-5)
    low, high = confint_proportions_2indep(12, 100, 5, 100, method="newcomb", compare="diff")
    assert (interval.low, interval.high) == pytest.approx((low, high), abs=1e-10)


def test_newcombe_of_clustered_counts():
    # the same counts worth 40 clusters each, at a design effect of 2.5
    interval = newcombe(4.8, 40, 2.0, 40)
    assert interval.low == pytest.approx(-0.064, abs=5e-4)
    assert interval.high == pytest.approx(0.210, abs=5e-4)


def test_likeness_within_vines():
    assert variance_ratio(TEN, SICK) == pytest.approx(4.0191, abs=1e-4)
    assert rho_within_vines(TEN, SICK) == pytest.approx(0.3210, abs=1e-4)


def test_share_of_clustered_counts():
    share = clustered_share(TEN, SICK)
    assert share.share == pytest.approx(19 / 120)
    assert share.effective == pytest.approx(29.857, abs=1e-3)
    assert share.interval.low == pytest.approx(0.0680, abs=5e-5)
    assert share.interval.high == pytest.approx(0.3265, abs=5e-5)
    assert not share.is_rho_assumed
    assert (share.stops, share.examined, share.infected) == (12, 120, 19)


def test_counts_more_even_than_chance_are_not_counted_twice():
    share = clustered_share(TEN, np.full(12, 2))
    assert share.design_effect == 1.0
    assert share.rho == 0.0
    assert share.effective == 120.0


@pytest.mark.parametrize("sick", [np.zeros(12, int), TEN])
def test_all_alike_takes_the_usual_likeness(sick):
    share = clustered_share(TEN, sick)
    assert share.is_rho_assumed
    # 1 + 9 x 0.2
    assert share.design_effect == pytest.approx(2.8)
    assert share.interval == wilson(share.share * 120 / 2.8, 120 / 2.8)


def test_stops_without_clusters_do_not_count():
    with_empty = clustered_share(np.append(TEN, 0), np.append(SICK, 0))
    assert with_empty == clustered_share(TEN, SICK)


def test_design_effect_of_unequal_counts_in_long_simulation():
    # the variance of the share over many made-up rounds is what the design effect says on average
    rng = np.random.default_rng(3)
    examined = np.tile([5, 10, 20], 20)
    shares, effects = [], []
    for _ in range(800):
        infected = rng.binomial(examined, rng.beta(0.8, 3.2, 60))
        shares.append(infected.sum() / examined.sum())
        effects.append(variance_ratio(examined, infected))
    # likeness 1 / (0.8 + 3.2 + 1) = 0.2; clusters see 15 per vine on average: 1 + 14 x 0.2 = 3.8
    assert np.var(shares) / (0.2 * 0.8 / examined.sum()) == pytest.approx(3.8, rel=0.15)
    assert np.mean(effects) == pytest.approx(3.8, rel=0.05)


def test_block_share_leaves_targeted_stops_out():
    is_targeted = SICK > 2
    share = block_share(TEN, SICK, is_targeted)
    assert share.infected == 4
    assert share.stops == 9
    assert not share.is_from_all_stops


def test_block_share_of_targeted_stops_only_says_so():
    share = block_share(TEN, SICK, np.ones(12, bool))
    assert share.is_from_all_stops
    assert share.infected == 19


def test_change_between_rounds():
    now, then = clustered_share(TEN, SICK), clustered_share(TEN, np.minimum(SICK, 1))
    change = change_between(now, then, 10.0)
    assert change.difference == pytest.approx(13 / 120)
    assert change.rate_per_day == pytest.approx(logistic_rate_per_day(19 / 120, 6 / 120, 10.0, 1e-3))
    assert change.is_noise == (change.interval.low <= 0.0)


def test_no_change_is_noise_and_great_change_is_not():
    same = clustered_share(TEN, SICK)
    assert change_between(same, same, 7.0).is_noise
    assert change_between(same, same, 7.0).rate_per_day == 0.0
    clean, full = clustered_share(TEN, np.zeros(12)), clustered_share(TEN, TEN)
    change = change_between(full, clean, 7.0)
    assert not change.is_noise
    assert np.isfinite(change.rate_per_day)


@pytest.mark.parametrize(
    ("then", "now", "days", "rate"), [(0.02, 0.10, 10, 0.16946), (0.10, 0.30, 7, 0.19285), (0.05, 0.20, 14, 0.1113)]
)
def test_logistic_rate(then, now, days, rate):
    # worked by hand from van der Plank 1963
    assert logistic_rate_per_day(now, then, days) == pytest.approx(rate, abs=5e-5)


def test_vines_with_any_infected_cluster():
    # beta-binomial of the twelve vines, p .1548 and rho .3007 by maximum likelihood: half of them (6 of 12 seen)
    assert vine_share(0.1548, 0.3007, 10) == pytest.approx(0.503, abs=1e-3)
    assert vine_share(0.1, 0.0, 3) == pytest.approx(1 - 0.9**3)
    assert vine_share(0.0, 0.2, 10) == 0.0
    assert vine_share(1.0, 0.2, 10) == 1.0
    # clusters of a vine all alike: as many vines as clusters
    assert vine_share(0.3, 1.0, 10) == 0.3


def test_one_cluster_a_vine_cannot_tell_the_likeness():
    share = clustered_share(np.ones(10), np.arange(10) % 5 == 0)
    assert share.is_rho_assumed
    assert share.rho == 0.2


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: wilson(0, 0), TooFewData, "No clusters were examined"),
        (lambda: wilson(5, 4), InputError, "more infected"),
        (lambda: clustered_share([], []), TooFewData, "No clusters were examined"),
        (lambda: clustered_share([10, 5], [0, 6]), InputError, "Correct its counts"),
        (lambda: block_share([0, 0], [0, 0], np.zeros(2, bool)), TooFewData, "No clusters were examined"),
        (lambda: logistic_rate_per_day(0.1, 0.1, 0.0), InputError, "order of time"),
    ],
)
def test_bad_input_is_refused(call, error, words):
    with pytest.raises(error, match=words):
        call()


@settings(derandomize=True, max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 30), st.floats(0.0, 1.0)), min_size=1, max_size=30).filter(
        lambda rows: any(n for n, _ in rows)
    )
)
def test_share_is_always_a_share(rows):
    examined = np.array([n for n, _ in rows])
    infected = np.array([round(n * part) for n, part in rows])
    share = clustered_share(examined, infected)
    assert 0.0 <= share.interval.low <= share.share <= share.interval.high <= 1.0
    assert share.design_effect >= 1.0
    assert 0.0 <= share.rho <= 1.0
