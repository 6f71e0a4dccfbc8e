"""Sun on faces as tables: the worked table of the guide, one row with all that shades it, every row of a season."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from test_service_row_faces import block_of, season_of

from vinemap.canopy.shade import Lie, Neighbour
from vinemap.errors import InputError
from vinemap.ground.edges import Edge
from vinemap.service.faces_table import RowAsked, row_table, season_table

GUIDE = Path(__file__).parents[2] / "resources" / "guide" / "7-faces.md"
NEXT_ROW = Neighbour(1.8, 1.0, 2.5, 0.8)
RUN = {0: "north to south", 45: "north-east to south-west", 90: "east to west", 135: "south-east to north-west"}
HALVES = {
    "north": (38.5, dt.date(2026, 6, 1), dt.date(2026, 9, 15)),
    "south": (-38.5, dt.date(2026, 12, 1), dt.date(2027, 3, 15)),
}


def worked_lines():
    """The table of the guide, worked out again."""
    lines = []
    for half, (lat, first, last) in HALVES.items():
        for bearing, run in RUN.items():
            head, *faces = row_table(RowAsked(lat, 0.0, bearing, neighbour=NEXT_ROW), first, last)
            for face in faces:
                told = dict(zip(head, face, strict=True))
                figures = (told["sun_hours"], told["morning_kwh_m2"], told["late_kwh_m2"], told["hot_sun_kwh_m2"])
                shown = " | ".join(f"{float(figure):.1f}" for figure in figures)
                lines.append(f"| {half} | {run} | {told['face']} | {shown} | {told['order']} |")
    return lines


def test_the_worked_table_of_the_guide():
    page = GUIDE.read_text(encoding="utf-8")
    missing = [line for line in worked_lines() if line not in page]
    assert missing == []


def test_the_table_says_what_practice_says():
    """Morning face of rows from north to south; the face to the pole of rows from east to west (common practice)."""
    first = {tuple(line.split(" | ")[:2]): line.split(" | ")[2] for line in worked_lines() if line.endswith("first |")}
    assert first["| north", "north to south"] == first["| south", "north to south"] == "east"
    assert first["| north", "east to west"] == "north"
    assert first["| south", "east to west"] == "south"


def test_one_row_with_what_shades_it():
    asked = RowAsked(38.5, 0.0, 90.0)
    day, harvest = HALVES["north"][1:]
    free, shaded, sloped = (
        row_table(each, day, harvest)
        for each in (asked, replace(asked, neighbour=NEXT_ROW), replace(asked, lie=Lie(20.0, 0.0)))
    )
    for line in (shaded, sloped):
        assert float(line[1][2]) <= float(free[1][2])
    assert "days as in a typical year" in free[1][-1]
    assert "hot sun until harvest" in free[2][-1]
    with pytest.raises(InputError, match="no place on the globe"):
        row_table(replace(asked, lat_deg=99.0), day, harvest)


def test_every_row_of_a_season():
    block = block_of(bearings=(0.0, 90.0))
    hedge = Edge("hedge", block.rows.line_m(0) + np.array([6.0, 0.0]), 9.0)
    head, *lines = season_table(season_of(block), dt.date(2026, 6, 1))
    assert [line[:4] for line in lines] == [
        ("Home", "1", "east", "first"),
        ("Home", "1", "west", "in part"),
        ("Home", "2", "north", "first"),
        ("Home", "2", "south", "in part"),
    ]
    assert "Sun from 2026-06-01 to 2026-09-15." in lines[0][-1]
    shaded = season_table(season_of(block, edges=(hedge,)), dt.date(2026, 6, 1))[1:]
    at = head.index("morning_kwh_m2")
    assert float(shaded[0][at]) < float(lines[0][at])
    with pytest.raises(InputError, match="no rows"):
        season_table(replace(season_of(block), blocks=()), dt.date(2026, 6, 1))
