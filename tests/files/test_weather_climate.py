"""Typical years as pvlib reads them: its own TMY3 files, and an EPW file made here."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from vinemap.errors import FileError
from vinemap.files.climate_reader import is_climate, read_climate
from vinemap.files.kinds import kind_of
from vinemap.files.matching import read_heads
from vinemap.vineclock.weather import CLIMATE

EPW_FIELDS = 35
EPW_HEAD = (
    "LOCATION,Invented Valley,XX,INVENTED,made by hand,000000,38.50,-122.70,-8.0,60.0",
    "DESIGN CONDITIONS,0",
    "TYPICAL/EXTREME PERIODS,0",
    "GROUND TEMPERATURES,0",
    "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
    "COMMENTS 1,invented",
    "COMMENTS 2,invented",
    "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31",
)


def pvlib_data(name):
    import pvlib

    return Path(pvlib.__file__).parent / "data" / name


def write_epw(path, hours=8760, change=lambda index, cells: cells):
    rng = np.random.default_rng(5)
    lines = list(EPW_HEAD)
    for index in range(hours):
        at = dt.datetime(2003, 1, 1) + dt.timedelta(hours=index)
        cells = ["9999"] * EPW_FIELDS
        cells[:5] = [str(at.year), str(at.month), str(at.day), str(at.hour + 1), "60"]
        cells[5] = "?9"
        cells[6] = f"{15 + 10 * np.sin(index / 24):.1f}"
        cells[8] = f"{rng.integers(20, 100)}"
        cells[20], cells[21], cells[33] = f"{rng.integers(0, 360)}", f"{rng.uniform(0, 9):.1f}", "0.0"
        lines.append(",".join(change(index, cells)))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("name", ["723170TYA.CSV", "703165TY.csv"])
def test_tmy3_as_pvlib_reads_it(name):
    from pvlib.iotools import read_tmy3

    path = pvlib_data(name)
    theirs, told = read_tmy3(path, coerce_year=2025, map_variables=True)
    found = read_climate(path, 2025)
    weather = found.value
    assert not found.problems
    assert (weather.station, weather.offset_hours) == (told["Name"].strip('"'), told["TZ"])
    # theirs is told at the end of each hour, ours at its beginning
    assert weather.time_utc[0] + 3600 == int(theirs.index[0].timestamp())
    assert len(weather) == len(theirs) == 8760
    np.testing.assert_allclose(weather.temp_degc, theirs["temp_air"])
    np.testing.assert_allclose(weather.rh_frac, theirs["relative_humidity"] / 100)
    np.testing.assert_allclose(weather.wind_ms, theirs["wind_speed"])
    np.testing.assert_allclose(weather.wind_from_deg, theirs["wind_direction"] % 360)
    assert (weather.origin == CLIMATE).all()


def test_epw_as_pvlib_reads_it(tmp_path):
    from pvlib.iotools import read_epw

    path = write_epw(tmp_path / "invented.epw")
    theirs, told = read_epw(path, coerce_year=2025)
    weather = read_climate(path, 2025).value
    assert (weather.station, weather.offset_hours) == ("Invented Valley", told["TZ"])
    # their stamp of an EPW hour is its beginning
    assert weather.time_utc[0] == int(theirs.index[0].timestamp())
    np.testing.assert_allclose(weather.temp_degc, theirs["temp_air"])
    np.testing.assert_allclose(weather.rh_frac, theirs["relative_humidity"] / 100)
    np.testing.assert_allclose(weather.wind_ms, theirs["wind_speed"])
    np.testing.assert_allclose(weather.wind_from_deg, theirs["wind_direction"] % 360)
    np.testing.assert_allclose(weather.rain_mm, theirs["liquid_precipitation_depth"])


def test_a_leap_year_and_a_southern_season(tmp_path):
    path = write_epw(tmp_path / "invented.epw")
    leap = read_climate(path, 2028).value
    assert len(leap) == 8784
    day = 24 * (31 + 27)
    np.testing.assert_array_equal(leap.temp_degc[day + 24 : day + 48], leap.temp_degc[day : day + 24])
    north, south = read_climate(path, 2026).value, read_climate(path, 2026, is_southern=True).value
    first = dt.datetime.fromtimestamp(int(south.time_utc[0]) - 8 * 3600, dt.UTC)
    assert (first.year, first.month, first.day, first.hour) == (2025, 7, 1, 0)
    july = 24 * (31 + 28 + 31 + 30 + 31 + 30)
    np.testing.assert_array_equal(south.temp_degc[: 8760 - july], north.temp_degc[july:])
    np.testing.assert_array_equal(south.temp_degc[8760 - july :], north.temp_degc[:july])


def test_what_is_missing_there_is_missing_here_and_odd_lines_are_listed(tmp_path):
    def change(index, cells):
        if index == 2:
            cells[6], cells[8], cells[21] = "99.9", "999", "999"
        if index == 3:
            cells[3] = "25"
        if index == 4:
            cells[6] = "warm"
        return cells[:10] if index == 5 else cells

    found = read_climate(write_epw(tmp_path / "x.epw", 30, change), 2025)
    weather = found.value
    assert np.isnan(weather.temp_degc[[2, 3, 4]]).all()
    assert np.isfinite(weather.temp_degc[[0, 1, 5, 6]]).all()
    assert np.isnan(weather.wind_ms[[2, 3, 5]]).all()
    assert np.isnan(weather.temp_degc[30:]).all()
    assert ["line 12" in str(found.problems[0]), "line 13" in str(found.problems[1])] == [True, True]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("LOCATION,Nowhere\n", "does not say where it is and in which time"),
        ("LOCATION,Nowhere,,,,,1,2,99,0\n", "says a time of 99 hours"),
        ("\n".join(EPW_HEAD), "holds no hours"),
        ("x,y,z\nDate (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C)\n", "does not say where it is"),
        ('1,"A",XX,-8,1,2,3\nDate (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C)\nnever\n', "holds no hours"),
    ],
)
def test_broken_ones_are_refused_in_words(tmp_path, text, words):
    path = tmp_path / "broken.epw"
    path.write_text(text, encoding="utf-8")
    assert is_climate(path)
    with pytest.raises(FileError, match=words) as caught:
        read_climate(path, 2025)
    assert caught.value.do


def test_they_are_weather_and_never_asked_about(tmp_path):
    for path in (pvlib_data("723170TYA.CSV"), write_epw(tmp_path / "x.epw", 30)):
        assert kind_of(path) == "weather"
        assert read_heads(path) is None
    other = tmp_path / "w.csv"
    other.write_text("time,temp_c\n2026-06-12T14:00,20\n", encoding="utf-8")
    assert not is_climate(other)
    assert not is_climate(tmp_path / "none.csv")
