"""Files of weather on the command line: stations, forecasts, clocks, spikes, typical years. The estate is invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from cli_running import Run
from estate_makers import outline, write_map, write_stops, write_weather

from vinemap.files.season_file import read_season
from vinemap.vineclock.weather import FORECAST, READ


def season_of(run: Run, folder: Path, *files: Path) -> Path:
    folder.mkdir(exist_ok=True)
    said = run("add", *files, "--season", folder / "season.vinemap")
    assert said.code == 0, said.err
    return folder / "season.vinemap"


@pytest.fixture
def season(run: Run, tmp_path: Path) -> Path:
    """A season with a block, a walk and the weather of one station."""
    return season_of(
        run,
        tmp_path,
        write_map(tmp_path / "o.geojson", outline("Long Acre")),
        write_stops(tmp_path / "stops.csv"),
        write_weather(tmp_path / "hill.csv", 1, 10, 20.0),
    )


def hours(path: Path, *lines: str, head: str = "time,temp_c") -> Path:
    path.write_text("\n".join((head, *lines)) + "\n", encoding="utf-8")
    return path


def test_a_forecast_stands_until_the_hours_are_read(run: Run, season: Path, tmp_path: Path) -> None:
    said = run(
        "add", write_weather(tmp_path / "next.csv", 10, 4, 30.0), "--season", season, "--station", "hill", "--forecast"
    )
    assert said.code == 0
    assert "24 readings of it were left aside, for better ones are there already" in said.out
    weather = read_season(season).weather
    assert weather is not None
    assert weather.origin.tolist() == [READ] * 240 + [FORECAST] * 72
    said = run("add", write_weather(tmp_path / "hill (2).csv", 11, 2, 25.0), "--season", season)
    assert "48 readings gave way to new ones" in said.out
    weather = read_season(season).weather
    assert weather is not None
    assert weather.origin.tolist() == [READ] * 288 + [FORECAST] * 24
    assert weather.temp_degc[[0, 250, 300]].tolist() == [20.0, 25.0, 30.0]


def test_two_stations_a_choice_by_word_and_all_of_it_given_out_and_read_again(run: Run, season: Path, tmp_path: Path) -> None:
    said = run("add", write_weather(tmp_path / "x.csv", 1, 2, 15.0), "--season", season, "--station", "valley")
    assert "“Long Acre goes by station valley”" in said.out
    run("add", write_weather(tmp_path / "next.csv", 11, 1, 30.0), "--season", season, "--station", "valley", "--forecast")
    assert run("edit", "--season", season, "Long Acre goes by station valley").code == 0
    before = read_season(season)
    chosen = before.weather_of("Long Acre")
    assert chosen is not None
    assert chosen.station == "valley"
    assert run("give", "--season", season, "--what", "weather", "--out", tmp_path / "all.csv").code == 0
    other = season_of(run, tmp_path / "again", write_map(tmp_path / "o2.geojson", outline("Long Acre")))
    assert run("add", tmp_path / "all.csv", "--season", other).code == 0
    for one, back in zip(before.all_stations, read_season(other).all_stations, strict=True):
        assert one.station == back.station
        np.testing.assert_array_equal(one.time_utc, back.time_utc)
        np.testing.assert_array_equal(one.temp_degc, back.temp_degc)
        np.testing.assert_array_equal(one.origin, back.origin)


def test_a_spike_is_listed_and_kept_only_when_asked(run: Run, season: Path, tmp_path: Path) -> None:
    lines = [f"2031-06-20T{hour:02d}:00,{14 if hour != 3 else -10.5}" for hour in range(8)]
    path = hours(tmp_path / "hill 2031.csv", *lines)
    said = run("check", path)
    assert said.code == 1
    assert "temp_c = -10.5: stands 24 °C below the readings before and after it" in said.out
    assert run("check", path, "--keep-spikes").code == 0
    assert run("add", path, "--season", season, "--keep-spikes").code == 0
    weather = read_season(season).weather
    assert weather is not None
    assert weather.temp_degc.min() == -10.5


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (("--clock", "Nowhere/Land"), "There is no time zone “Nowhere/Land”."),
        (("--stamps", "middle"), "--stamps"),
        (("--dates", "maybe"), "--dates"),
    ],
)
def test_an_option_that_is_none_is_refused(run: Run, season: Path, tmp_path: Path, given, words) -> None:
    said = run("add", hours(tmp_path / "hill.csv", "2031-06-20T01:00,20"), "--season", season, *given)
    assert said.code == 2
    assert words in said.err


def test_the_clock_and_the_end_of_the_hour_move_the_readings(run: Run, season: Path, tmp_path: Path) -> None:
    path = hours(tmp_path / "hill b.csv", "2031-07-20 01:00,20", "2031-07-20 02:00,21")
    said = run("add", path, "--season", season, "--station", "hill", "--clock", "America/Los_Angeles", "--stamps", "end")
    assert said.code == 0
    assert "--clock" not in said.out
    weather = read_season(season).weather
    assert weather is not None
    # 1 o'clock summer time is 8:00 UTC, and its hour began at 7
    assert np.datetime64(int(weather.time_utc[-2]), "s") == np.datetime64("2031-07-20T07:00")


def test_a_typical_year_stands_beside_on_the_dates_of_the_season(run: Run, season: Path, tmp_path: Path) -> None:
    import pvlib

    path = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    said = run("add", path, "--season", season)
    assert said.code == 0
    assert "8,760 hours of a typical year" in said.out
    assert "no block goes by it until you choose it" in said.out
    found = read_season(season)
    assert found.weather is not None
    assert found.weather.station == "hill"
    assert np.datetime64(int(found.stations[0].time_utc[0]), "s") == np.datetime64("2031-01-01T05:00")
