"""Invented seasons for the tests of the season file, and a comparison by content."""

from __future__ import annotations

import datetime as dt
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
import shapely

from vinemap.canopy.rods import RodNote
from vinemap.ground.block import FREE, Block, RowTable, VineExceptions
from vinemap.ground.covariates import Covariate
from vinemap.ground.edges import Edge
from vinemap.ground.frame import Frame
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.rules import Rules
from vinemap.season.value import BrixSeen, Estate, Season, StageDates, StageSeen
from vinemap.vineclock.weather import Weather
from vinemap.work.assumptions import Assumptions
from vinemap.work.diary import Pass, Spray

FRAME = Frame("EPSG:32610", 540_000.0, 4_250_000.0, 38.4, -122.5, 0.3)


def same(one: Any, other: Any) -> bool:
    """True when two records hold the same, to the last bit of every column."""
    if type(one) is not type(other):
        return False
    if isinstance(one, np.ndarray):
        return one.dtype == other.dtype and np.array_equal(one, other, equal_nan=one.dtype.kind == "f")
    if isinstance(one, shapely.Geometry):
        return bool(shapely.to_wkb(one) == shapely.to_wkb(other))
    if is_dataclass(one):
        return all(same(getattr(one, field.name), getattr(other, field.name)) for field in fields(one))
    if isinstance(one, tuple):
        return len(one) == len(other) and all(same(a, b) for a, b in zip(one, other, strict=True))
    return bool(one == other)


def make_block(name: str, rows: int = 4, vines: int = 30, east_m: float = 0.0) -> Block:
    """A block with a hole, straight rows and one bent row."""
    lines = [np.array([[east_m + 2.5 * row, 0.0], [east_m + 2.5 * row, 1.5 * vines]]) for row in range(rows - 1)]
    bent = east_m + 2.5 * (rows - 1)
    lines.append(np.array([[bent, 0.0], [bent + 1.0, 10.0], [bent, 1.5 * vines]]))
    start = np.concatenate([[0], np.cumsum([len(line) for line in lines])])
    table = RowTable(
        tuple(f"{row + 1}" for row in range(rows)), np.concatenate(lines), start, np.full(rows, 1.5), np.full(rows, vines)
    )
    outline = shapely.box(east_m - 2, -2, bent + 3, 1.5 * vines + 2).difference(shapely.box(bent - 1.5, 5, bent - 1, 8))
    differs = VineExceptions(np.array([3, 7]), np.array([1, 0]), np.array([-1, 1]))
    return Block(name, outline, table, 2.5, 1.5, ("invented red", "invented white"), FREE, 0.7, differs)


def make_round(number: int, block: str = "Long Acre", stops: int = 5) -> Round:
    """A round of a few stops along row 2."""
    index = np.arange(stops)
    vine = index * 5 + 1
    columns = Stops(
        ("Nowhere", block),
        np.ones(stops),
        ("2",) * stops,
        vine,
        np.full(stops, 2.5),
        (vine - 1) * 1.5,
        np.full(stops, 20),
        (index * number) % 20,
        np.full(stops, 10),
        index % 3,
        index % 2 == 1,
    )
    return Round(number, dt.date(2031, 5, 1) + dt.timedelta(days=7 * number), "A. Scout", "20 clusters", columns)


def make_weather(hours: int = 48) -> Weather:
    """Hours with a gap in every column."""
    time = 1_935_000_000 + 3600 * np.arange(hours)
    gappy = np.where(np.arange(hours) % 11 == 3, np.nan, np.linspace(0.0, 1.0, hours))
    return Weather("invented", -8.0, time, 12 + 15 * gappy, 0.2 * gappy, gappy, gappy, 3 * gappy, 359 * gappy)


def make_covariate(name: str, count: int = 7) -> Covariate:
    """An invented figure along row 2."""
    index = np.arange(count, dtype=float)
    return Covariate(name, "invented.csv", np.column_stack([np.full(count, 2.5), 1.5 * index]), 0.4 + 0.05 * index)


def make_season() -> Season:
    """A small season with something in every part."""
    return Season(
        estate=Estate("Invented “Estate”", FRAME, -8.0, is_invented=True),
        blocks=(make_block("Long Acre"), make_block("Peña / alta", rows=3, vines=20, east_m=60.0)),
        rounds=(make_round(1), make_round(2)),
        passes=(Pass(dt.date(2031, 5, 20), "Long Acre", ("1", "2"), "L", "east", 3, 4.5),),
        sprays=(
            Spray(dt.datetime(2031, 5, 22, 6), dt.datetime(2031, 5, 22, 9, 30), "Long Acre", (), ("sulfur",), 5.6, 600.0),
        ),
        stages=(
            StageDates("", dt.date(2031, 3, 28), dt.date(2031, 5, 25)),
            StageDates(
                "Long Acre",
                dt.date(2031, 4, 1),
                seen=(StageSeen(dt.date(2031, 5, 26), "modified E-L", 23),),
                brix=(BrixSeen(dt.date(2031, 8, 3), 8.5),),
            ),
        ),
        weather=make_weather(),
        assumptions=Assumptions(threshold=0.08),
        covariates=(make_covariate("vigour"), make_covariate("Höhe über dem Tal", 3)),
        stations=(
            replace(
                make_weather(30),
                station="hill",
                at_m=(40.0, -12.5),
                origin=np.arange(30) % 4,
                temp_max_degc=1.0 * np.arange(30),
            ),
        ),
        edges=(Edge("poplars", np.array([(0.0, 80.0), (40.0, 82.0)]), 14.0, 0.4),),
        rods=(RodNote("Long Acre", "1", dt.date(2031, 6, 1), ("LCL", "", "LL")),),
        rules=Rules("2013", "ucce", "practice", (("Long Acre", "hill"),)),
    )
