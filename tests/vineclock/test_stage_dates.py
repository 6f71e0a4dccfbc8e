"""Fruit window, what opening still does, and bloom estimated from warmth."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError, TooFewData
from vinemap.vineclock.days import split_days
from vinemap.vineclock.stage import bloom_by_degree_days, fruit_window, opening_helps, stage_words
from vinemap.vineclock.weather import Weather

BLOOM = dt.date(2025, 5, 28)


def hourly(first, daily_mean, swing_degc=0.0, hours=24) -> Weather:
    """Weather whose days have given means, warm and cool hours in turn."""
    start = (first.toordinal() - dt.date(1970, 1, 1).toordinal()) * 86_400
    time_utc = (
        start + 86_400 * np.repeat(np.arange(len(daily_mean)), hours) + np.tile(np.arange(hours) * 3600, len(daily_mean))
    )
    temp = np.repeat(np.asarray(daily_mean, float), hours) + swing_degc * np.tile([1.0, -1.0], len(time_utc) // 2)
    return Weather("invented", 0.0, time_utc, temp, *[np.full(len(temp), np.nan)] * 5)


@pytest.mark.parametrize(
    ("days", "weight"),
    # Values of the planning curve; near-immune about four weeks after bloom: Ficke et al. 2003.
    [
        *[(-90, 0.0), (-60, 0.3), (-40, 0.3), (-10, 0.6), (0, 1.0), (7, 1.0), (14, 1.0)],
        *[(17.5, 0.7), (24.5, 0.35), (28, 0.1), (35, 0.1), (63, 0.0), (100, 0.0)],
    ],
)
def test_fruit_window_values(days, weight):
    assert fruit_window([days])[0] == pytest.approx(weight, abs=1e-12)


def test_fruit_window_rises_then_falls_without_a_jump():
    weights = fruit_window(np.arange(-80, 70, 0.1))
    peak = int(np.argmax(weights))
    assert (np.diff(weights[: peak + 1]) >= 0).all()
    assert (np.diff(weights[peak:]) <= 0).all()
    assert np.abs(np.diff(weights)).max() < 0.02


@given(st.floats(5, 60), st.floats(-200, 300))
@settings(derandomize=True, max_examples=80, deadline=None)
def test_fruit_window_stays_within_bounds_and_ends_at_the_resistance_asked_for(resists, days):
    assert 0 <= fruit_window([days], resists)[0] <= 1
    assert fruit_window([resists], resists)[0] == pytest.approx(0.1)


def test_fruit_window_keeps_what_is_not_known():
    assert np.isnan(fruit_window([np.nan])[0])
    with pytest.raises(InputError, match="after bloom and before veraison"):
        fruit_window([0.0], resists_days=70)


def test_opening_stops_helping():
    # Austin & Wilcox 2011: lower severity when leafed at two weeks, no effect at five.
    assert opening_helps([-10, 14, 24.5, 35, 60]).tolist() == [1, 1, 0.5, 0, 0]


def test_words_of_a_stage():
    said = stage_words(BLOOM, dt.date(2025, 6, 5))
    assert said[0] == "Bloom was 28 May, 8 days ago."
    assert said[1].startswith("Berries resist from about 25 June.")
    assert said[2] == "Opening the canopy does most until 11 June."
    assert "nothing against mildew from 2 July" in stage_words(BLOOM, dt.date(2025, 6, 20))[2]
    assert "have resisted" in stage_words(BLOOM, dt.date(2025, 7, 10))[1]
    assert "Opening now does nothing against mildew" in stage_words(BLOOM, dt.date(2025, 7, 10))[2]
    assert "estimated from warmth" in stage_words(BLOOM, dt.date(2025, 5, 20), is_estimate=True)[0]
    assert "not known yet" in stage_words(None, BLOOM)[0]


def spring(day_of_year):
    """Invented daily means [degC]: a sine with its mean crossed upwards on day 105."""
    return 12 + 9 * np.sin(2 * np.pi * (day_of_year - 105) / 365)


@pytest.mark.parametrize(
    # Worked apart from the program for the sine above, summed from 1 March (day 60), base 0 degC.
    ("critical", "day_of_year", "total"),
    [(1217, 157, 1223.03), (1299, 161, 1300.06), (2547, 222, 2554.79), (2689, 229, 2693.67)],
)
def test_bloom_by_warmth(critical, day_of_year, total):
    weather = hourly(dt.date(2025, 1, 1), spring(np.arange(1, 366)), swing_degc=6)
    estimate = bloom_by_degree_days(split_days(weather), is_southern=False, critical_sum=critical)
    assert estimate.date == dt.date(2025, 1, 1) + dt.timedelta(days=day_of_year - 1)
    assert estimate.sum_degc_days == pytest.approx(total, abs=0.005)
    assert "estimated from warmth" in estimate.words


def test_bloom_south_of_the_equator_counts_from_the_end_of_august():
    weather = hourly(dt.date(2024, 8, 1), np.full(300, 10.0))
    estimate = bloom_by_degree_days(split_days(weather), is_southern=True, critical_sum=100)
    assert estimate.date == dt.date(2024, 8, 30) + dt.timedelta(days=9)


def test_bloom_not_reached_or_not_known():
    start = dt.date(2025, 3, 1)
    early = bloom_by_degree_days(split_days(hourly(start, np.full(10, 12.0))), is_southern=False)
    assert (early.date, early.sum_degc_days) == (None, 120.0)
    with pytest.raises(TooFewData, match="begins after 1 March"):
        bloom_by_degree_days(split_days(hourly(start + dt.timedelta(days=1), np.full(10, 12.0))), is_southern=False)


def test_gaps_are_bridged_counted_and_in_the_end_refused():
    means = np.full(40, 10.0)
    means[5:8] = np.nan
    estimate = bloom_by_degree_days(split_days(hourly(dt.date(2025, 3, 1), means)), is_southern=False, critical_sum=200)
    assert (estimate.date, estimate.filled_days) == (dt.date(2025, 3, 20), 3)
    means[8:15] = np.nan
    with pytest.raises(TooFewData, match="10 days since 1 March lack readings"):
        bloom_by_degree_days(split_days(hourly(dt.date(2025, 3, 1), means)), is_southern=False, critical_sum=200)
