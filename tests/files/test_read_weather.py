"""Weather readings: local standard time, zones, gaps, order and units."""

from __future__ import annotations

import datetime as dt
import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import FileError, InputError
from vinemap.files.weather_reader import read_weather

HEADER = "time,temp_c,rain_mm,wet_frac,rh_frac,wind_ms,wind_from_deg"


def save(tmp_path, *lines, header=HEADER):
    path = tmp_path / "weather.csv"
    path.write_text("\n".join((header, *lines)) + "\n", encoding="utf-8")
    return path


def said(read):
    return " | ".join(str(problem) for problem in read.problems)


def test_naive_times_are_local_standard_and_zones_are_honoured(tmp_path):
    path = save(
        tmp_path,
        "2026-07-01T13:00,31.5,0,0,0.4,2.5,290",
        "2026-07-01 14:00,32,0.2,,,,",
        "2026-07-01T16:00-07:00,33,,0.5,,,360",
        "2026-07-02T00:00Z,24,,,,,",
    )
    read = read_weather(path, -8.0, "Ridge")
    assert said(read) == ""
    weather = read.value
    first = int(dt.datetime(2026, 7, 1, 21, tzinfo=dt.UTC).timestamp())
    # 13:00 at UTC-8 is 21:00 UTC; 16:00 at UTC-7 is 23:00 UTC
    assert (weather.time_utc - first).tolist() == [0, 3600, 7200, 10800]
    assert (weather.station, weather.offset_hours) == ("Ridge", -8.0)
    assert weather.temp_degc.tolist() == [31.5, 32.0, 33.0, 24.0]
    assert weather.rain_mm.tolist() == pytest.approx([0, 0.2, np.nan, np.nan], nan_ok=True)
    assert weather.wet_frac.tolist() == pytest.approx([0, np.nan, 0.5, np.nan], nan_ok=True)
    assert weather.wind_from_deg.tolist() == pytest.approx([290, np.nan, 0, np.nan], nan_ok=True)


def test_only_time_and_temperature_are_needed(tmp_path):
    weather = read_weather(save(tmp_path, "2026-07-01T13:00,", "2026-07-01T14:00,20", header="TIME, Temp_C"), 10.0).value
    assert np.isnan(weather.temp_degc[0])
    assert np.isnan(weather.rain_mm).all()
    assert weather.station == "weather"


GOOD = [f"2026-07-01T{hour:02d}:00,{15 + hour},0,0,0.5,1,270" for hour in range(24)]


@pytest.mark.parametrize(
    ("line", "words", "kept"),
    [
        ("2026-07-01T05:30,20,,,,,", "line 26: time = 2026-07-01T05:30: is out of order", 24),
        ("2026-07-01T23:00,20,,,,,", "time = 2026-07-01T23:00: is the time of line 26 too. Is it daylight saving time?", 24),
        ("2026-07-02T25:00,20,,,,,", "is not in the calendar", 24),
        ("2026-07-02,20,,,,,", "is not a date and time. Write it as 2026-06-12T14:00", 24),
        ("07/02/2026 01:00,20,,,,,", "may be read as two different dates", 24),
        (",20,,,,,", "time: there is nothing here", 24),
        ("1876-07-02T01:00,20,,,,,", "is too far away to be meant", 24),
        ("2026-07-02T01:00,81,,,,,", "temp_c = 81: must be from -60 to 60. Is it in Fahrenheit?", 25),
        ("2026-07-02T01:00,warm,,,,,", "temp_c = warm: is not a number", 25),
        ("2026-07-02T01:00,1.2.3,,,,,", "temp_c = 1.2.3: is not a number", 25),
        ("2026-07-02T01:00,20,-1,,,,", "rain_mm = -1: must be from 0 to 500", 25),
        ("2026-07-02T01:00,20,,,55,,", "rh_frac = 55: must be from 0 to 1. Is it in percent?", 25),
        ("2026-07-02T01:00,20,,60,,,", "wet_frac = 60: must be from 0 to 1. Is it in percent or minutes?", 25),
        ("2026-07-02T01:00,20,,,,120,", "wind_ms = 120: must be from 0 to 75. Is it in km/h", 25),
        ("2026-07-02T01:00,20,,,,,400", "wind_from_deg = 400: must be from 0 to 360", 25),
    ],
)
def test_a_bad_value_costs_itself_and_a_bad_time_its_line(tmp_path, line, words, kept):
    read = read_weather(save(tmp_path, *GOOD, line), -8.0)
    assert len(read.problems) == 1
    assert words in said(read)
    assert len(read.value) == kept
    assert np.isfinite(read.value.temp_degc).sum() >= 24


def test_one_wild_time_does_not_cost_the_rest(tmp_path):
    read = read_weather(save(tmp_path, "2062-07-01T00:00,20,,,,,", *GOOD), -8.0)
    assert len(read.value) == 24
    assert "line 2: time = 2062-07-01T00:00: is out of order" in said(read)


def test_a_clock_put_back_is_seen_twice_and_said(tmp_path):
    read = read_weather(save(tmp_path, *GOOD[:3], *GOOD[2:]), -8.0)
    assert len(read.value) == 24
    assert "daylight saving time" in said(read)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([line.replace(f",{15 + hour},", f",{62 + hour},") for hour, line in enumerate(GOOD)], "are not from -60 to 60"),
        ([line.replace(",0.5,", ",55,") for line in GOOD], "24 of 24 values of rh_frac in weather.csv are not from 0 to 1"),
        ([GOOD[3 * hour % 24 + hour // 8] for hour in range(24)][::-1], "The times in weather.csv are not in order"),
    ],
)
def test_a_whole_column_in_other_units_or_order_is_refused(tmp_path, lines, words):
    with pytest.raises(FileError, match=words) as caught:
        read_weather(save(tmp_path, *lines), -8.0)
    assert caught.value.do


def test_no_usable_line_gives_an_empty_series_and_the_reasons(tmp_path):
    read = read_weather(save(tmp_path, "never,20,,,,,"), -8.0)
    assert len(read.value) == 0
    assert len(read.problems) == 1


@pytest.mark.parametrize("offset_hours", [-13.0, 15.0, float("nan")])
def test_an_offset_that_is_none(tmp_path, offset_hours):
    with pytest.raises(InputError, match="Standard time can’t be"):
        read_weather(save(tmp_path, *GOOD), offset_hours)


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 40), max_size=25))
def test_the_fewest_times_are_left_out(hours):
    from itertools import combinations

    from vinemap.files.weather_reader import _ascending

    kept = [hours[index] for index in _ascending(hours)]
    assert all(earlier < later for earlier, later in itertools.pairwise(kept))
    if len(hours) <= 12:
        longest = max(
            size
            for size in range(len(hours) + 1)
            if any(all(a < b for a, b in itertools.pairwise(c)) for c in combinations(hours, size))
        )
        assert len(kept) == longest
