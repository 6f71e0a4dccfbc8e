"""Times as stations write them: zones, summer time, the hour that comes twice, day and month, the end of the hour."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import FileError, InputError
from vinemap.files.weather_reader import read_stations
from vinemap.files.weather_times import WeatherAsk, is_clock, is_moment

HOME = ZoneInfo("America/Los_Angeles")


def read(tmp_path, head, *lines, **asked):
    path = tmp_path / "hill.csv"
    path.write_text("\n".join((head, *lines)) + "\n", encoding="utf-8")
    return read_stations(path, WeatherAsk(**{"offset_hours": -8.0, **asked}))


def utc(*when):
    return int(dt.datetime(*when, tzinfo=dt.UTC).timestamp())


def times(found):
    return found.value[0].time_utc.tolist()


FIRST = utc(2026, 6, 12, 14)


@pytest.mark.parametrize(
    ("head", "line"),
    [
        ("time,temp_c", "2026-06-12T14:00Z,20"),
        ("time,temp_c", "2026-06-12 07:00:00-07:00,20"),
        ("time,temp_c", "2026-06-12 06:00,20"),
        ("time,temp_c", "2026/6/12 6:00,20"),
        ("time,temp_c", "2026-06-12 6:00 AM,20"),
        ("time,temp_c", "12 June 2026 06:00,20"),
        ("time,temp_c", f"{FIRST},20"),
        ("time,temp_c", f"{FIRST}000,20"),
        ("date,clock,temp_c", "2026-06-12,6:00,20"),
        ("date,clock,temp_c", "20260612,0600,20"),
        ("date,clock,temp_c", "12-jun-26,6,20"),
        ("date,time,temp_c", "2026-06-12,06:00,20"),
        ("date,time,temp_c", "13.6.2026,06:00,20"),
        ("time,temp_c", "06/13/2026 06:00,20"),
        ("time,temp_c", "13/06/2026 06:00:00.000,20"),
    ],
)
def test_one_instant_in_many_spellings(tmp_path, head, line):
    found = read(tmp_path, head, line)
    assert not found.problems
    # 6 o'clock standard time at eight hours behind is 14:00 UTC
    assert times(found) == [FIRST + 86_400 * ("13" in line.split(",")[0])]


def test_the_order_of_day_and_month_is_read_from_days_that_follow_or_asked_for(tmp_path):
    lines = [f"0{day}/06/2026 {hour:02d}:00,20" for day in (4, 5, 6) for hour in (0, 12)]
    found = read(tmp_path, "time,temp_c", *lines)
    assert times(found)[0] == utc(2026, 6, 4, 8)
    assert "dates were read day first: 04/06/2026 is 2026-06-04" in " ".join(found.notes)
    turned = read(tmp_path, "time,temp_c", *[f"06/0{line[1]}{line[5:]}" for line in lines])
    assert times(turned) == times(found)
    with pytest.raises(FileError, match="can be either: 04/06/2026 may be 2026-06-04 or 2026-04-06") as caught:
        read(tmp_path, "time,temp_c", *lines[:2])
    assert "--dates day-first" in caught.value.do
    assert times(read(tmp_path, "time,temp_c", *lines[:2], order="month-first"))[0] == utc(2026, 4, 6, 8)
    with pytest.raises(FileError, match="are not all in one order"):
        read(tmp_path, "time,temp_c", "13/06/2026 00:00,20", "06/14/2026 00:00,20")


@pytest.mark.parametrize("minutes", [60, 30, 15])
def test_a_year_on_the_clock_of_a_place_comes_back_whole_but_for_nothing(tmp_path, minutes):
    # the clock of the place by the zone tables of the standard library: one hour comes twice, one is skipped
    first = utc(2026, 3, 1, 8)
    instants = list(range(first, utc(2026, 3, 15), minutes * 60)) + list(
        range(utc(2026, 10, 25), utc(2026, 11, 8), minutes * 60)
    )
    lines = [f"{dt.datetime.fromtimestamp(each, HOME):%Y-%m-%d %H:%M},20" for each in instants]
    found = read(tmp_path, "time,temp_c", *lines, clock="America/Los_Angeles")
    assert not found.problems
    assert times(found) == instants
    # taken as standard time the second hour is lost, and said
    lost = read(tmp_path, "time,temp_c", *lines)
    assert len(lost.problems) >= 3600 / minutes / 60
    assert "Is it daylight saving time?" in str(lost.problems[0])


def test_an_hour_that_no_clock_showed_is_refused_alone(tmp_path):
    found = read(tmp_path, "time,temp_c", "2026-03-08 01:00,20", "2026-03-08 02:30,20", "2026-03-08 03:00,20", clock=HOME.key)
    assert times(found) == [utc(2026, 3, 8, 9), utc(2026, 3, 8, 10)]
    assert "was skipped when clocks in America/Los_Angeles went forward" in str(found.problems[0])


def test_a_southern_summer_time_too(tmp_path):
    # Adelaide: half an hour zones, clocks back on 5 April 2026 (the zone tables)
    lines = [
        "2026-04-05 02:00,20",
        "2026-04-05 02:30,20",
        "2026-04-05 02:00,20",
        "2026-04-05 02:30,20",
        "2026-04-05 03:00,20",
    ]
    found = read(tmp_path, "time,temp_c", *lines, offset_hours=9.5, clock="Australia/Adelaide")
    assert times(found) == [utc(2026, 4, 4, 15, 30) + 1800 * step for step in range(5)]


def test_utc_and_a_zone_that_is_none(tmp_path):
    assert times(read(tmp_path, "time,temp_c", "2026-06-12 14:00,20", clock="utc")) == [FIRST]
    with pytest.raises(InputError, match="There is no time zone “Mars/Crater”"):
        read(tmp_path, "time,temp_c", "2026-06-12 14:00,20", clock="Mars/Crater")


def test_only_the_manager_knows_a_summer_s_clock_and_a_whole_year_tells(tmp_path):
    def noted(*days):
        found = read(tmp_path, "time,temp_c", *[f"{day} {hour:02d}:00,20" for day in days for hour in range(24)])
        return any("--clock" in note for note in found.notes)

    assert noted("2026-06-12", "2026-06-13")
    # from January to July a clock is only put forward, and no hour comes twice
    assert noted("2026-01-12", "2026-07-13")
    assert not noted("2026-09-12", "2026-10-12", "2026-11-12", "2026-12-12")
    assert not any("--clock" in note for note in read(tmp_path, "time,temp_c", "2026-06-12T14:00Z,20").notes)


def test_hours_from_1_to_24_end_and_an_option_decides(tmp_path):
    lines = [f"2026-06-12 {hour:02d}:00,{hour}" for hour in range(1, 25)]
    found = read(tmp_path, "time,temp_c", *lines)
    start = utc(2026, 6, 12, 8)
    assert times(found) == [start + 3600 * hour for hour in range(24)]
    assert "end of each interval of 60 minutes" in " ".join(found.notes)
    assert times(read(tmp_path, "time,temp_c", *lines, stamps="start"))[0] == start + 3600
    plain = [f"2026-06-12 {hour:02d}:00,20" for hour in range(24)]
    assert times(read(tmp_path, "time,temp_c", *plain))[0] == start
    assert times(read(tmp_path, "time,temp_c", *plain, stamps="end"))[0] == start - 3600


def test_the_newest_first_is_turned_round(tmp_path):
    lines = [f"2026-06-12 {hour:02d}:00,{hour}" for hour in range(24)]
    found = read(tmp_path, "time,temp_c", *lines[::-1])
    assert found.value[0].temp_degc.tolist() == list(range(24))
    assert "newest readings first" in " ".join(found.notes)


@pytest.mark.parametrize("value", ["13:00", "1:00 PM", "1300", "13", "24:00", "0", "12 am"])
def test_times_of_day(value):
    assert is_clock(value)
    assert not is_moment(value)


@pytest.mark.parametrize("value", ["25:00", "13:60", "13 PM", "1.5", "", "noon", "24:01", "2026-06-12"])
def test_what_is_no_time_of_day(value):
    assert not is_clock(value)


@settings(derandomize=True, max_examples=80, deadline=None)
@given(
    st.text(alphabet="0123456789-/.: TZapm+", max_size=24),
    st.sampled_from(["", "day-first", "month-first"]),
    st.sampled_from(["standard", "utc", "Europe/Madrid"]),
)
def test_any_text_gives_a_time_or_a_reason(tmp_path_factory, text, order, clock):
    path = tmp_path_factory.mktemp("t") / "w.csv"
    path.write_text(f"time,temp_c\n{text},20\n2026-06-12 14:00,21\n", encoding="utf-8")
    found = read_stations(path, WeatherAsk(-8.0, clock=clock, order=order))
    assert len(found.value[0]) + len(found.problems) == 2
    assert all(str(problem) for problem in found.problems)
