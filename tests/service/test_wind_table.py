"""The drying wind at each row of a season, and what a windbreak does to growth there. The estate is invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
import shapely

from vinemap.errors import InputError
from vinemap.ground.block import Block
from vinemap.ground.edges import Edge
from vinemap.ground.frame import Frame
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.vines import place_vines
from vinemap.season.value import Estate, Season
from vinemap.service.row_faces import Stand, estate_faces
from vinemap.service.weather_facts import weather_facts
from vinemap.service.wind_table import ROW_COLUMNS, rows_table
from vinemap.vineclock.weather import Weather
from vinemap.work.spans import spans_of

FRAME = Frame("EPSG:32610", 500000.0, 4200000.0, 38.0, -123.0, 0.0)
OUTLINE = shapely.box(0, 0, 60, 80)
BLOCK = Block("Home", OUTLINE, make_rows(OUTLINE, 0.0, 3.0, 2.0), 3.0, 2.0)
NOON = int(dt.datetime(2026, 6, 10, 20, tzinfo=dt.UTC).timestamp())
POPLARS = Edge("poplars", np.array([(-10.0, -500.0), (-10.0, 500.0)]), 12.0, 0.5)


def blowing(name: str, from_deg: float) -> Weather:
    one = np.ones(48)
    columns = (20 * one, 0 * one, 0 * one, 0.4 * one, 3 * one, from_deg * one)
    return Weather(name, -8.0, NOON + 3600 * np.arange(48), *columns)


SEASON = Season(Estate("Invented", FRAME, -8.0, True), (BLOCK,), weather=blowing("home", 270.0))


def told(season: Season) -> list[dict[str, str]]:
    head, *lines = rows_table(season)
    assert tuple(head) == ROW_COLUMNS
    return [dict(zip(head, line, strict=True)) for line in lines]


def test_each_row_is_told_with_its_windward_face_and_what_is_left():
    rows = told(SEASON)
    assert [each["row"] for each in rows] == list(BLOCK.rows.labels)
    assert {(each["across"], each["along"], each["windward_face"], each["onto_it"]) for each in rows} == {
        ("1.0000", "0.0000", "west", "1.0000")
    }
    # the wind comes in over the row that stands farthest west
    places = [float(BLOCK.rows.line_m(row)[0, 0]) for row in range(len(rows))]
    by_place = [float(rows[row]["wind_left"]) for row in np.argsort(places)]
    assert by_place == sorted(by_place, reverse=True)
    assert by_place[-1] < 0.5 < 0.9 < by_place[0]
    assert rows[0]["behind_edges"] == "1.0000"
    assert rows[0]["why"].startswith(
        "The drying wind blows mostly across this row; 100 % of it blows onto the west face, 0 % onto the east face. Among"
    )


def test_poplars_to_windward_shelter_and_mildew_grows_faster_behind_them():
    sheltered = replace(SEASON, edges=(POPLARS,))
    assert all(float(each["behind_edges"]) < 0.4 for each in told(sheltered))
    assert "Behind tall edges 30 % of it is left, among the rows" in told(sheltered)[0]["why"]
    vines = place_vines(BLOCK)
    stand = Stand(BLOCK, vines, spans_of(vines, BLOCK.rows.vine_spacing_m), dt.date(2026, 9, 15))
    # wind along the rows, and the poplars across its way far enough north to cast no shade
    north = Edge("poplars", np.array([(-500.0, 110.0), (500.0, 110.0)]), 12.0, 0.5)
    along = replace(SEASON, weather=blowing("home", 0.0))
    day = dt.date(2026, 6, 12)
    bare, behind = (
        estate_faces(season, [replace(stand, rose=weather_facts(season).rose)], day)["Home"].growth
        for season in (along, replace(along, edges=(north,)))
    )
    assert np.all(behind > bare)


def test_each_block_goes_by_its_own_station():
    other = replace(BLOCK, name="Hill")
    rules = replace(SEASON.goes_by, station_of=(("Hill", "hill"),))
    season = replace(SEASON, blocks=(BLOCK, other), stations=(blowing("hill", 90.0),), rules=rules)
    assert {(each["block"], each["windward_face"]) for each in told(season)} == {("Home", "west"), ("Hill", "east")}


def test_without_wind_the_rows_say_so():
    silent = told(replace(SEASON, weather=None))
    assert {each["why"] for each in silent} == {"No drying wind was read: bring in wind speed and direction."}
    assert {each["wind_left"] for each in silent} == {""}


def test_without_rows_there_is_nothing_to_tell():
    with pytest.raises(InputError, match="no rows yet"):
        rows_table(replace(SEASON, blocks=()))
