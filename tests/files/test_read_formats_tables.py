"""Stops, vines and weather out of workbooks and odd text, and places as people write them."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from format_makers import STOP, workbook, zipped
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import FileError, InputError
from vinemap.files.covariate_reader import read_readings
from vinemap.files.kinds import kind_of
from vinemap.files.place_text import degrees_of
from vinemap.files.stop_reader import read_stops
from vinemap.files.vine_reader import read_vines
from vinemap.files.weather_reader import read_weather

HEADS = ("date", "block", "row", "vine", "examined", "infected")
DAY = dt.date(2026, 6, 12)


def test_stops_of_a_workbook(tmp_path):
    rows = [HEADS, (DAY, "Läng Acre", 12, 34, 20, 3), (dt.datetime(2026, 6, 12), "Läng Acre", "12a", 35.0, 20, 0)]
    path = workbook(tmp_path / "round.xlsx", {"Stops": rows})
    assert kind_of(path) == "stops"
    read = read_stops(path)
    assert read.problems == ()
    assert [(each.date, each.block, each.row, each.vine, each.examined, each.infected) for each in read.value] == [
        (DAY, "Läng Acre", "12", 34, 20, 3),
        (DAY, "Läng Acre", "12a", 35, 20, 0),
    ]


def test_the_first_sheet_with_known_columns_is_read_and_the_others_are_named(tmp_path):
    stops = [(), HEADS, (DAY, "A", 1, 1, 20, 3)]
    sheets = {"Notes": [("who", "what")], "Empty": [], "Hidden": stops, "Round 1": stops, "Round 2": stops}
    read = read_stops(workbook(tmp_path / "many.xlsx", sheets, hidden=["Hidden"]))
    assert read.value[0].entry.place == "line 3"
    assert read.notes == ("many.xlsx: sheet Round 1 was read; left aside: Notes, Round 2.",)


def test_vines_and_readings_of_a_workbook(tmp_path):
    vines = workbook(
        tmp_path / "vines.xlsx", {"a": [("block", "row", "vine", "status", "variety"), ("A", 1, 2, "missing", None)]}
    )
    assert kind_of(vines) == "vines"
    assert [(each.vine, each.variety) for each in read_vines(vines).value] == [(2, "")]
    figures = workbook(tmp_path / "vigour.xlsx", {"a": [("lon", "lat", "Vigour"), (*STOP, 0.62)]})
    assert kind_of(figures) == "readings"
    (reading,) = read_readings(figures, "vigour").value
    assert (reading.lonlat_deg, reading.value) == (STOP, 0.62)


def test_hours_of_a_workbook_keep_their_midnight(tmp_path):
    # a workbook keeps a time as a fraction of a day: 1 h is 0.041666..., written here off by a microsecond
    times = [dt.datetime(2026, 6, 12) + dt.timedelta(hours=hour, microseconds=-1) for hour in range(1, 30)]
    rows = [("time", "temp_c"), *((time, 15.5) for time in times)]
    read = read_weather(workbook(tmp_path / "hours.xlsx", {"a": rows}), 0.0)
    assert read.problems == ()
    expected = np.arange("2026-06-12T01", "2026-06-13T06", dtype="datetime64[h]")
    np.testing.assert_array_equal(
        np.asarray(read.value.time_utc, "float64"), expected.astype("datetime64[s]").astype("float64")
    )


def test_what_a_formula_says_is_text_and_nothing_runs(tmp_path):
    rows = [HEADS, ("=TODAY()", "A", 1, 1, 20, 3), (DAY, "A", 1, 2, 20, 3)]
    read = read_stops(workbook(tmp_path / "a.xlsx", {"a": rows}))
    assert [each.vine for each in read.value] == [2]
    assert [(each.place, each.field) for each in read.problems] == [("line 2", "date")]


@pytest.mark.parametrize(
    ("rows", "words"),
    [([], "no sheet"), ([HEADS], "nothing under it"), ([("date", "date")], "twice"), ([["x"] * 201], "200 columns")],
)
def test_workbooks_that_are_refused(tmp_path, rows, words):
    with pytest.raises(FileError, match=words):
        read_stops(workbook(tmp_path / "a.xlsx", {"a": rows}))


def test_an_old_workbook_is_told_from_a_damaged_one(tmp_path):
    path = tmp_path / "old.xls"
    path.write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(1000))
    with pytest.raises(FileError, match=r"old kind.*Save it as \.xlsx"):
        kind_of(path)
    whole = workbook(tmp_path / "a.xlsx", {"a": [HEADS, (DAY, "A", 1, 1, 20, 3)]})
    with pytest.raises(FileError, match="damaged"):
        read_stops(zipped(tmp_path / "b.xlsx", {"xl/workbook.xml": "<workbook/>"}))
    assert len(read_stops(whole).value) == 1


LINES = "date;block;row;vine;examined;infected;lon;lat\n2026-06-12;Läng Acre;;;20;3;-122,6998;38,281\n"


@pytest.mark.parametrize(
    ("text", "encoding"),
    [
        (LINES, "utf-8"),
        (LINES, "utf-8-sig"),
        (LINES, "utf-16"),
        (LINES, "cp1252"),
        (LINES.replace(";", "\t"), "utf-8"),
        (LINES.replace("\n", "\r\n"), "utf-16"),
        (LINES.replace("\n", "\r"), "cp1252"),
        (LINES.replace(",", ".").replace(";", ","), "utf-8-sig"),
    ],
)
def test_text_tables_in_any_dress_are_the_same(tmp_path, text, encoding):
    path = tmp_path / "stops.tsv"
    path.write_bytes(text.encode(encoding))
    assert kind_of(path) == "stops"
    (stop,) = read_stops(path).value
    assert (stop.block, stop.lonlat_deg, stop.infected) == ("Läng Acre", STOP, 3)


@pytest.mark.parametrize(
    ("name", "text", "degrees"),
    [
        # 38 + 17/60 + 12.3/3600, by hand
        ("lat", "38°17'12.3\"N", 38.28675),
        ("lat", "38° 17′ 12,3″ N", 38.28675),
        ("lat", "N 38°17'12.3''", 38.28675),
        ("lat", "38°17.205'S", -38.28675),
        ("lon", "-122°42'", -122.7),
        ("lon", "122°42'0\"W", -122.7),
        ("lon", "122°42'0\"o", -122.7),
        ("lon", "122.7° W", -122.7),
        ("lon", "0°0'36\"E", 0.01),
    ],
)
def test_degrees_minutes_and_seconds(name, text, degrees):
    assert degrees_of(name, text) == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize("text", ["38.28675", "-122.7", "", "north", "38 17 12.3", "1e400"])
def test_what_is_not_written_so_is_left_alone(text):
    assert degrees_of("lat", text) is None


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("lat", "122°42'0\"W"),
        ("lon", "38°17'12.3\"N"),
        ("lat", "38°60'0\"N"),
        ("lat", "38°17'60\"N"),
        ("lat", "38.5°17'N"),
        ("lat", "38°17.5'3\"N"),
        ("lat", "-38°17'S"),
        ("lat", "N38°17'N"),
    ],
)
def test_degrees_that_contradict_themselves_are_refused(name, text):
    with pytest.raises(InputError):
        degrees_of(name, text)


@settings(max_examples=60)
@given(st.integers(0, 179), st.integers(0, 59), st.integers(0, 59_999), st.sampled_from("EW"))
def test_written_degrees_come_back(whole, minutes, thousandths, letter):
    seconds = thousandths / 1000
    expected = (whole + minutes / 60 + seconds / 3600) * (1 if letter == "E" else -1)
    assert degrees_of("lon", f"{whole}°{minutes:02d}'{seconds:06.3f}\"{letter}") == pytest.approx(expected, abs=1e-12)


def test_degrees_minutes_seconds_in_a_table_are_turned_and_said(tmp_path):
    path = tmp_path / "stops.csv"
    path.write_text(
        'date,examined,infected,lon,lat\n2026-06-12,20,3,"122°41\'59.28""W","38°16\'51.6""N"\n'
        '2026-06-12,20,4,"122°41\'W","122°41\'W"\n2026-06-12,20,5,-122.6998,38.281\n',
        encoding="utf-8",
    )
    read = read_stops(path)
    assert [each.infected for each in read.value] == [3, 5]
    np.testing.assert_allclose([each.lonlat_deg for each in read.value], [STOP, STOP], atol=1e-9)
    assert [(each.place, each.field) for each in read.problems] == [("line 3", "lat")]
    assert "line 2, lat 38°16'51.6\"N is 38.2810000" in read.notes[-1]


@pytest.mark.parametrize("crs", ["EPSG:32610", "EPSG:26910"])
def test_metres_of_a_table_in_a_named_system(tmp_path, crs):
    from pyproj import Transformer

    x, y = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(*STOP)
    path = tmp_path / "stops.csv"
    path.write_text(
        f"date,examined,infected,x_m,y_m\n2026-06-12,20,3,{x!r},{y!r}\n2026-06-12,20,3,east,{y!r}\n", encoding="utf-8"
    )
    read = read_stops(path, crs)
    assert read.value[0].lonlat_deg == pytest.approx(STOP, abs=1e-8)
    assert [each.field for each in read.problems] == ["x_m"]
    assert "turned to longitude and latitude" in read.notes[-1]
    assert read_stops(path).value[0].easting_m == (x, y)
    figures = read_readings(path, "infected", crs)
    assert figures.value[0].lonlat_deg == pytest.approx(STOP, abs=1e-8)


def test_a_system_in_degrees_does_not_place_metres(tmp_path):
    path = tmp_path / "stops.csv"
    path.write_text("date,examined,infected,x_m,y_m\n2026-06-12,20,3,526000,4270000\n", encoding="utf-8")
    with pytest.raises(FileError, match="not measured in metres"):
        read_stops(path, "EPSG:4326")
