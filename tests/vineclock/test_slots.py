"""Readings that are not stamped on the dot say the same as those that are (rules of Gubler et al. 1999)."""

import dataclasses
import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from weather_hours import DAY_A, DAY_B, DAY_C, DAY_D, degc, station

from vinemap.vineclock.days import split_days
from vinemap.vineclock.pressure import pressure
from vinemap.vineclock.slots import NOT_READ, slots_by_day
from vinemap.vineclock.weather import ESTIMATED, FORECAST

SIX_DAYS = [*DAY_A, *DAY_A, *DAY_A, *DAY_B, *DAY_C, *DAY_D]
INDEX = [20, 40, 60, 50, 70, 60]  # by hand: three good days, a hot one too short, a good one, a short one


def shifted(weather, seconds):
    return dataclasses.replace(weather, time_utc=weather.time_utc + np.asarray(seconds, np.int64))


@given(st.lists(st.integers(-20, 20), min_size=144, max_size=144))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_a_clock_that_is_twenty_seconds_off_changes_nothing(off):
    off[0] = abs(off[0])
    result = pressure(shifted(station(degc(SIX_DAYS)), off), None)
    assert result.index.tolist()[:6] == INDEX
    assert result.low.tolist()[:6] == result.high.tolist()[:6] == INDEX


@pytest.mark.parametrize("late_minutes", [-2, 0, 1, 5, 15, 29, 30, 31, 45, 53])
@pytest.mark.parametrize("jitter_seconds", [0, 120])
def test_stamps_after_the_full_hour(late_minutes, jitter_seconds):
    rng = np.random.default_rng(late_minutes + 100)
    off = 60 * late_minutes + rng.integers(-jitter_seconds, jitter_seconds + 1, 144)
    result = pressure(shifted(station(degc(SIX_DAYS)), off), None)
    by_date = dict(zip(result.date.tolist(), result.index.tolist(), strict=True))
    first = dt.date(2025, 4, 1).toordinal()
    assert [by_date[first + day] for day in range(6)] == INDEX
    days = result.days
    inside = (days.date > first) & (days.date < first + 5)
    assert days.missing_hours[inside].tolist() == [0] * 4


def test_quarter_hours_that_are_not_exact():
    rng = np.random.default_rng(4)
    just = [60] * 30 + [75] * 24 + [60] * 42
    short = [60] * 30 + [75] * 23 + [60] * 43
    weather = shifted(station(degc(just + short + just), step=900), rng.integers(0, 41, 288))
    days = split_days(weather)
    assert days.run_hours.tolist() == [6, 5.75, 6]
    assert days.missing_hours.tolist() == [0, 0, 0]


def test_a_clock_that_loses_a_second_an_hour():
    weather = station(degc(SIX_DAYS * 10))
    slow = shifted(weather, np.arange(len(weather.temp_degc)))
    assert pressure(slow, None).index.tolist() == pressure(weather, None).index.tolist()


def test_an_odd_step_fills_the_hour():
    # A reading every 50 minutes: the hour that gets two of them keeps both.
    weather = station(np.full(58, 24.0), step=3000)
    days = split_days(weather)
    assert days.missing_hours.tolist()[0] == 0
    assert days.run_hours.tolist()[0] == 24


def test_two_readings_on_one_step_are_both_kept():
    weather = station(degc([60] * 8 + [75] * 6 + [60] * 10))
    names = ("rain_mm", "wet_frac", "rh_frac", "wind_ms", "wind_from_deg")

    def with_reading(degf, late_seconds=600):
        extra_at = weather.time_utc[10] + late_seconds
        order = np.argsort(np.r_[weather.time_utc, extra_at])
        temp = np.r_[weather.temp_degc, degc([degf])][order]
        columns = {name: np.r_[getattr(weather, name), np.nan][order] for name in names}
        return dataclasses.replace(
            weather, time_utc=np.r_[weather.time_utc, extra_at][order], temp_degc=temp, origin=(), temp_max_degc=(), **columns
        )

    assert split_days(with_reading(76)).run_hours[0] == 6
    assert split_days(with_reading(90)).run_hours[0] == 3  # the band was left at 10:10
    assert split_days(with_reading(96)).is_hot[0]
    assert split_days(with_reading(90, -600)).run_hours[0] == 3  # and before the hour's own reading
    assert split_days(with_reading(60, -600)).run_hours[0] == 3
    (day,) = slots_by_day(with_reading(90))
    assert (day.low_degc[10], day.high_degc[10]) == pytest.approx(degc([75, 90]))


def test_the_highest_that_a_station_keeps_decides_heat_and_not_the_band():
    weather = station(degc(DAY_A))
    kept = np.array(degc(DAY_A))
    kept[15] = degc([95.5])[0]
    (favourable,), (hot,) = (
        getattr(split_days(dataclasses.replace(weather, temp_max_degc=kept)), name) for name in ("is_favourable", "is_hot")
    )
    assert (favourable, hot) == (True, True)
    assert not split_days(weather).is_hot[0]


def test_slots_hold_the_water_and_where_readings_come_from():
    rain = np.zeros(48)
    rain[[3, 4, 30]] = 1.0, 2.0, np.nan
    weather = dataclasses.replace(
        station(np.full(48, 15.0), rain_mm=rain), origin=[0] * 20 + [ESTIMATED] * 4 + [FORECAST] * 24
    )
    first, second = slots_by_day(weather)
    assert first.rain_mm.sum() == 3.0
    assert np.flatnonzero(np.isnan(second.rain_mm)).tolist() == [6]
    assert first.origin.tolist() == [0] * 20 + [ESTIMATED] * 4
    assert set(second.origin.tolist()) == {FORECAST}
    assert np.isnan(first.wet_frac).all()
    assert second.number - first.number == 1


def test_days_without_readings_are_empty_slots():
    weather = station(np.full(72, 15.0))
    keep = np.r_[0:24, 48:72]
    names = ("time_utc", "temp_degc", "rain_mm", "wet_frac", "rh_frac", "wind_ms", "wind_from_deg", "origin", "temp_max_degc")
    holed = dataclasses.replace(weather, **{name: getattr(weather, name)[keep] for name in names})
    days = slots_by_day(holed)
    assert len(days) == 3
    assert set(days[1].origin.tolist()) == {NOT_READ}
    assert slots_by_day(station([])) == ()
