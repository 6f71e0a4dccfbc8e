"""Bloom and colour by degree days, Winkler's sum, and the seasons of both hemispheres."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import TooFewData
from vinemap.vineclock.days import split_days
from vinemap.vineclock.warmth_sums import (
    season_bounds,
    stage_by_warmth,
    sum_start,
    warmth_sum,
    winkler,
    winkler_of_season,
    winkler_region,
)
from vinemap.vineclock.weather import Weather


def hourly(first, daily_mean, swing_degc=0.0, hours=24) -> Weather:
    """Weather whose days have given means, warm and cool hours in turn."""
    start = (first.toordinal() - dt.date(1970, 1, 1).toordinal()) * 86_400
    time_utc = (
        start + 86_400 * np.repeat(np.arange(len(daily_mean)), hours) + np.tile(np.arange(hours) * 3600, len(daily_mean))
    )
    temp = np.repeat(np.asarray(daily_mean, float), hours) + swing_degc * np.tile([1.0, -1.0], len(time_utc) // 2)
    return Weather("invented", 0.0, time_utc, temp, *[np.full(len(temp), np.nan)] * 5)


def spring(day_of_year):
    """Invented daily means [degC]: a sine with its mean crossed upwards on day 105."""
    return 12 + 9 * np.sin(2 * np.pi * (day_of_year - 105) / 365)


NEW_YEAR = dt.date(2025, 1, 1)


@pytest.mark.parametrize(
    # Worked apart from the program for the sine above, summed from 1 March (day 60), base 0 degC.
    ("critical", "day_of_year", "total"),
    [(1217, 157, 1223.03), (1299, 161, 1300.06), (2547, 222, 2554.79), (2689, 229, 2693.67)],
)
def test_bloom_and_colour_by_warmth(critical, day_of_year, total):
    days = split_days(hourly(NEW_YEAR, spring(np.arange(1, 366)), swing_degc=6))
    found = stage_by_warmth(days, dt.date(2025, 7, 1), False, critical)
    assert found.date == NEW_YEAR + dt.timedelta(days=day_of_year - 1)
    assert found.sum_degc_days == pytest.approx(total, abs=0.005)
    assert found.is_reached
    assert "estimated from warmth" in found.words


def test_a_day_counts_by_the_mean_of_its_hours_and_not_by_its_extremes():
    # 20 hours at 10 and 4 at 30 degC: mean 13.33, middle of the extremes 20.
    weather = hourly(dt.date(2025, 3, 1), np.zeros(20))
    temp = np.tile(np.repeat([10.0, 30.0], [20, 4]), 20)
    days = split_days(Weather("invented", 0.0, weather.time_utc, temp, *[np.full(480, np.nan)] * 5))
    assert warmth_sum(days, dt.date(2025, 3, 1), dt.date(2025, 3, 3)).sum_degc_days[-1] == pytest.approx(40.0)


def test_both_halves_of_the_globe_have_their_season_by_date():
    assert season_bounds(dt.date(2025, 6, 30), True) == (dt.date(2024, 7, 1), dt.date(2025, 6, 30))
    assert season_bounds(dt.date(2025, 7, 1), True) == (dt.date(2025, 7, 1), dt.date(2026, 6, 30))
    assert season_bounds(dt.date(2025, 7, 1), False) == (dt.date(2025, 1, 1), dt.date(2025, 12, 31))
    assert sum_start(dt.date(2025, 2, 1), True) == dt.date(2024, 8, 30)
    assert sum_start(dt.date(2025, 2, 1), False) == dt.date(2025, 3, 1)


@given(st.dates(dt.date(1990, 1, 1), dt.date(2060, 12, 31)), st.booleans())
@settings(derandomize=True, max_examples=60, deadline=None)
def test_every_day_lies_in_its_own_season(date, is_southern):
    first, last = season_bounds(date, is_southern)
    assert first <= date <= last
    assert (last - first).days in (364, 365)
    assert season_bounds(first, is_southern) == season_bounds(last, is_southern) == (first, last)
    assert first <= sum_start(date, is_southern) <= last


def test_south_of_the_equator_the_same_weather_half_a_year_later_gives_the_same_sum():
    # The sine from 30 August on is what the north has from 1 March on.
    days = split_days(hourly(dt.date(2024, 8, 30), spring(np.arange(60, 330)), swing_degc=6))
    found = stage_by_warmth(days, dt.date(2025, 1, 15), True, 1217)
    assert found.date == dt.date(2024, 8, 30) + dt.timedelta(days=157 - 60)
    assert found.sum_degc_days == pytest.approx(1223.03, abs=0.005)


def test_two_years_in_one_file_are_two_seasons():
    days = split_days(hourly(NEW_YEAR, np.concatenate([np.full(365, 10.0), np.full(365, 20.0)])))
    assert stage_by_warmth(days, dt.date(2025, 6, 1), False, 600).date == dt.date(2025, 4, 29)
    assert stage_by_warmth(days, dt.date(2026, 6, 1), False, 600).date == dt.date(2026, 3, 30)


def test_bloom_that_is_near_is_expected_and_one_far_off_is_not():
    start = dt.date(2025, 3, 1)
    early = stage_by_warmth(split_days(hourly(start, np.full(10, 12.0))), start, False, 1240)
    assert (early.date, early.sum_degc_days, early.is_reached) == (None, 120.0, False)
    assert early.words == "Bloom is not near: 120 of 1240 degree days since 1 March."
    # 80 days at 12 are 960; the 280 that lack take 24 days at 12.
    near = stage_by_warmth(split_days(hourly(start, np.full(80, 12.0))), start, False, 1240)
    assert (near.date, near.is_reached) == (start + dt.timedelta(days=79 + 24), False)
    assert "if it stays as warm" in near.words


def test_weather_that_begins_late_tells_nothing():
    start = dt.date(2025, 3, 1)
    with pytest.raises(TooFewData, match="begins after 1 March"):
        stage_by_warmth(split_days(hourly(start + dt.timedelta(days=1), np.full(10, 12.0))), start, False, 1240)


def test_gaps_are_bridged_counted_and_in_the_end_refused():
    means = np.full(40, 10.0)
    means[5:8] = np.nan
    start = dt.date(2025, 3, 1)
    found = stage_by_warmth(split_days(hourly(start, means)), start, False, 200)
    assert (found.date, found.filled_days) == (dt.date(2025, 3, 20), 3)
    means[8:15] = np.nan
    with pytest.raises(TooFewData, match="10 days since 1 March lack readings"):
        stage_by_warmth(split_days(hourly(start, means)), start, False, 200)


def test_winkler_sum():
    # Worked by hand from Amerine & Winkler 1944: 19, 24, 12.5, 3.5 and 29 degF days.
    high_degf, low_degf = np.array([86, 90, 75, 62, 98.0]), np.array([52, 58, 50, 45, 60.0])
    assert winkler((high_degf - 32) / 1.8, (low_degf - 32) / 1.8) == pytest.approx(88.0)
    assert winkler(np.array([12.0]), np.array([-5.0])) == 0


@pytest.mark.parametrize(
    ("total", "region"),
    [
        (900, "below I"),
        (1500, "Ia"),
        (2000, "Ia"),
        (2001, "Ib"),
        (2500, "Ib"),
        (2501, "II"),
        (3001, "III"),
        (3501, "IV"),
        (4001, "V"),
    ],
)
def test_winkler_regions(total, region):
    assert winkler_region(total) == region


@pytest.mark.parametrize(
    ("is_southern", "first", "count"), [(False, dt.date(2025, 4, 1), 214), (True, dt.date(2025, 10, 1), 212)]
)
def test_winkler_of_a_season_counts_its_months(is_southern, first, count):
    days = split_days(hourly(first - dt.timedelta(days=20), np.full(260, 15.0), swing_degc=5))
    found = winkler_of_season(days, first + dt.timedelta(days=100), is_southern)
    # 5 degC above 10 degC are 9 degF days a day.
    assert found.sum_degf_days == pytest.approx(9.0 * count)
    assert (found.last, found.is_whole, found.missing_days) == (first + dt.timedelta(days=count - 1), True, 0)
    with pytest.raises(TooFewData, match="does not hold"):
        winkler_of_season(days, first + dt.timedelta(days=500), is_southern)


def real_year():
    """A typical year of hours [degC] at Greensboro, from a package: time is invented, readings are not."""
    pandas = pytest.importorskip("pandas")
    pvlib = pytest.importorskip("pvlib")
    from pathlib import Path

    file = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    return pandas.read_csv(file, skiprows=1)["Dry-bulb (C)"].to_numpy(float)


def test_sums_of_a_real_year_agree_with_a_plain_loop():
    temp = real_year()
    start = (NEW_YEAR.toordinal() - dt.date(1970, 1, 1).toordinal()) * 86_400
    weather = Weather("real", 0.0, start + 3600 * np.arange(8760), temp, *[np.full(8760, np.nan)] * 5)
    days = split_days(weather)
    # the same rule, as one would do it on paper
    total, bloom, sums = 0.0, None, []
    for number in range(365):
        hours = [float(temp[24 * number + hour]) for hour in range(24)]
        if number >= 59:
            total += max(sum(hours) / 24, 0.0)
            sums.append(total)
            if bloom is None and total >= 1240:
                bloom = NEW_YEAR + dt.timedelta(days=number)
    warmth = warmth_sum(days, dt.date(2025, 3, 1), dt.date(2025, 12, 31))
    assert warmth.sum_degc_days.tolist() == pytest.approx(sums, abs=1e-6)
    assert stage_by_warmth(days, NEW_YEAR, False, 1240).date == bloom
    assert bloom is not None
    degf = 0.0
    for number in range(90, 304):
        hours = [float(temp[24 * number + hour]) for hour in range(24)]
        degf += max(0.0, (max(hours) + min(hours)) / 2 * 1.8 + 32 - 50)
    assert winkler_of_season(days, NEW_YEAR, False).sum_degf_days == pytest.approx(degf, abs=1e-6)
