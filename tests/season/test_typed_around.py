"""Slopes, sizes of vines and tall edges as they are written."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from vinemap.errors import InputError
from vinemap.ground.block import Block, no_rows
from vinemap.ground.frame import Frame
from vinemap.season.typed_edits import looks_like_edit, typed_edit
from vinemap.season.value import Estate, Season

FRAME = Frame("EPSG:32610", 540_000.0, 4_250_000.0, 38.4, -122.5, 0.0)
BLOCKS = tuple(
    Block(name, shapely.box(at, 0, at + 40, 40), no_rows(), 2.5, 1.5) for name, at in (("Dogleg", 0), ("Level Acre", 50))
)
SEASON = Season(Estate("Invented", FRAME, -8.0), BLOCKS)


def done(text, season=SEASON):
    assert looks_like_edit(season, text)
    return typed_edit(season, text, lambda lon, lat: (1000.0 * lon, 1000.0 * lat))


@pytest.mark.parametrize(
    ("text", "slope", "aspect"),
    [
        ("Dogleg slopes 12° to the south-west", 12, 225),
        ("slope of Dogleg 12 degrees south west", 12, 225),
        ("Dogleg falls by 7.5° to the north", 7.5, 0),
        ("Dogleg slope 8,5 deg to 110°", 8.5, 110),
    ],
)
def test_slopes(text, slope, aspect):
    made = done(text)
    block = made.season.block("Dogleg")
    assert (block.slope_deg, block.aspect_deg) == (slope, aspect)
    assert made.said[0].startswith(f"Dogleg falls {slope:g}° to the ")
    level = done("Dogleg is level", made.season).season.block("Dogleg")
    assert (level.slope_deg, level.aspect_deg) == (0, 0)


def test_sizes_of_vines():
    wall = done("vines of Dogleg 2 m high, 0.6 m wide, fruit at 0.9 m").season.block("Dogleg").wall
    assert (wall.top_m, wall.width_m, wall.fruit_m) == (2.0, 0.6, 0.9)
    low = done("Dogleg vines are 0.8 m high and 1 m wide").season.block("Dogleg").wall
    assert (low.top_m, low.width_m, low.fruit_m) == (0.8, 1.0, 0.8)
    with pytest.raises(InputError, match="sizes"):
        done("vines of Dogleg 9 m high, 0.6 m wide")


def test_tall_edges():
    made = done("hedge poplars along 0.01,0.02 to 0.01,0.05 0.02,0.06, 14 m high, 0.4 open")
    (edge,) = made.season.edges
    assert (edge.name, edge.height_m, edge.open_frac) == ("poplars", 14.0, 0.4)
    assert edge.line_m.tolist() == [[10, 20], [10, 50], [20, 60]]
    assert made.said == ("poplars: 44 m long, 14 m high, 0.4 open.",)
    second = done("wall along 0,0 0.1,0 2 m high", made.season).season
    assert [each.name for each in second.edges] == ["poplars", "tall edge 1"]
    taller = done("hedge Poplars along 0.01,0.02 0.01,0.05 15 m high", second).season
    assert [(each.name.lower(), each.height_m) for each in taller.edges] == [("tall edge 1", 2), ("poplars", 15)]
    assert np.array_equal([each.open_frac for each in taller.edges], [0, 0])
    assert [each.name for each in done("remove hedge poplars", second).season.edges] == ["tall edge 1"]


def test_what_can_not_be():
    with pytest.raises(InputError, match="which way it falls"):
        done("Dogleg slopes 12°")
    with pytest.raises(InputError, match="which block"):
        done("slopes 12° to the south")
    with pytest.raises(InputError, match="no slope for vines"):
        done("Dogleg slopes 75° to the south")
    with pytest.raises(InputError, match="no tall edge oaks"):
        done("remove hedge oaks")
    with pytest.raises(InputError, match="140 m high"):
        done("hedge along 0,0 0.1,0 140 m high")
    assert not looks_like_edit(SEASON, "Level Acre")
    assert not looks_like_edit(SEASON, "level")
