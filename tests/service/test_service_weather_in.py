"""Weather put into a season: which station it is of, and which of two readings stays."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.ground.frame import Frame
from vinemap.season.value import Estate, Season
from vinemap.season.weather_edits import with_station
from vinemap.service.report import Report
from vinemap.service.weather_in import add_weather, join
from vinemap.vineclock.weather import CLIMATE, ESTIMATED, FORECAST, READ, Weather

FRAME = Frame("EPSG:32610", 540_000.0, 4_250_000.0, 38.4, -122.5, 0.3)


def weather(hours, temp=20.0, origin=READ, station="hill", step=3600):
    hours = np.asarray(hours)
    none = np.full(len(hours), np.nan)
    return Weather(
        station,
        -8.0,
        hours * step,
        np.full(len(hours), float(temp)),
        none,
        none,
        none,
        none,
        none,
        np.full(len(hours), origin),
    )


def season_with(*stations):
    season = Season(Estate("Invented", FRAME, -8.0, True))
    for each in stations:
        season = with_station(season, each)
    return season


def save(folder, name, hours=(0, 1, 2), temp=25.0):
    path = folder / name
    lines = [f"2026-06-12T{hour:02d}:00,{temp}" for hour in hours]
    path.write_text("\n".join(("time,temp_c", *lines)) + "\n", encoding="utf-8")
    return path


def test_new_readings_take_the_place_of_old_ones_and_gaps_are_filled():
    joined = join(weather(range(10), 20), weather([4, 5, 8, 9, 10, 11], 25))
    assert joined.weather.time_utc.tolist() == [3600 * hour for hour in range(12)]
    assert joined.weather.temp_degc.tolist() == [20] * 4 + [25] * 2 + [20] * 2 + [25] * 4
    assert (joined.old_replaced, joined.new_left) == (4, 0)


def test_finer_old_readings_do_not_stand_between_new_hours():
    joined = join(weather(range(16), 20, step=900), weather([1, 2, 3], 25))
    assert joined.weather.time_utc.tolist() == [0, 900, 3600, 7200, 10_800, 13_500]


@pytest.mark.parametrize("better", [READ, ESTIMATED, FORECAST])
@pytest.mark.parametrize("worse", [ESTIMATED, FORECAST, CLIMATE])
def test_the_better_origin_stays_whichever_came_last(better, worse):
    rank = {READ: 3, ESTIMATED: 2, FORECAST: 1, CLIMATE: 0}
    if rank[better] <= rank[worse]:
        return
    first, last = weather(range(6), 20, better), weather(range(3, 9), 25, worse)
    for joined in (join(first, last), join(last, first)):
        assert joined.weather.temp_degc.tolist() == [20] * 6 + [25] * 3
        assert joined.weather.origin.tolist() == [better] * 6 + [worse] * 3
        assert joined.old_replaced + joined.new_left == 3


@settings(derandomize=True, max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 60), st.sampled_from([READ, FORECAST, ESTIMATED, CLIMATE])), min_size=1, max_size=30),
    st.lists(st.tuples(st.integers(0, 60), st.sampled_from([READ, FORECAST, ESTIMATED, CLIMATE])), min_size=1, max_size=30),
)
def test_joining_loses_no_hour_and_doubles_none(one, other):
    def of(pairs, temp):
        pairs = sorted(dict(pairs).items())
        made = weather([hour for hour, _ in pairs], temp)
        return Weather(
            "hill",
            -8.0,
            *(
                getattr(made, name)
                for name in ("time_utc", "temp_degc", "rain_mm", "wet_frac", "rh_frac", "wind_ms", "wind_from_deg")
            ),
            np.array([code for _, code in pairs]),
        )

    old, new = of(one, 20), of(other, 25)
    # two hours far apart let the step of both be an hour
    joined = join(old, new)
    at = joined.weather.time_utc
    assert (np.diff(at) > 0).all()
    assert set(at.tolist()) == set(old.time_utc.tolist()) | set(new.time_utc.tolist())
    assert len(at) == len(old) + len(new) - joined.old_replaced - joined.new_left
    again = join(joined.weather, new)
    np.testing.assert_array_equal(again.weather.temp_degc, joined.weather.temp_degc)


@pytest.mark.parametrize(
    "name",
    ["hill.csv", "Hill 2026-06.csv", "hill_2026.csv", "hill (1).csv", "hill-2026-06-01_2026-06-30.csv", "hill - Copy.csv"],
)
def test_a_file_s_name_tells_its_station_without_its_dates(tmp_path, name):
    report = Report()
    made = add_weather(season_with(weather(range(3))), save(tmp_path, name), report)
    assert [each.station for each in made.all_stations] == ["hill"]
    assert "was joined to the weather that was there, station hill" in " ".join(report.notes)


def test_a_name_that_says_nothing_goes_to_the_only_station_and_else_is_asked(tmp_path):
    one = season_with(weather(range(3)))
    made = add_weather(one, save(tmp_path, "weather 2026-06.csv"), Report())
    assert [each.station for each in made.all_stations] == ["hill"]
    two = season_with(weather(range(3)), weather(range(3), station="valley"))
    with pytest.raises(Exception, match="does not say which station it is of; there are hill, valley") as caught:
        add_weather(two, save(tmp_path, "export.csv"), Report())
    assert caught.value.do == "Say --station NAME."


def test_another_name_stands_beside_and_is_told(tmp_path):
    report = Report()
    made = add_weather(season_with(weather(range(3))), save(tmp_path, "ridge.csv"), report)
    assert [each.station for each in made.all_stations] == ["hill", "ridge"]
    assert made.weather is not None
    assert made.weather.station == "hill"
    assert "stands beside as station ridge; blocks go by hill until you write" in " ".join(report.notes)


def test_the_same_file_again_changes_nothing(tmp_path):
    path = save(tmp_path, "hill.csv")
    once = add_weather(season_with(), path, Report())
    report = Report()
    assert add_weather(once, path, report) is once
    assert "all of it was in the season already" in " ".join(report.notes)


def test_a_typical_year_stands_aside_for_a_station(tmp_path):
    path = save(tmp_path, "hill.csv")
    report = Report()
    made = add_weather(season_with(weather(range(3), origin=CLIMATE, station="typical")), path, report)
    assert [each.station for each in made.all_stations] == ["hill", "typical"]
    assert "takes the place of the typical year" in " ".join(report.notes)
