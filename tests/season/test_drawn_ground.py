"""A block from drawn corners, and openings put right; every figure is worked out by hand from the shapes."""

import numpy as np
import pytest
import shapely
from ground_to_edit import season_to_edit

from vinemap.errors import InputError
from vinemap.ground.block import Block
from vinemap.ground.planting import RowPlan
from vinemap.ground.rowmaker import make_rows
from vinemap.season.drawn_ground import add_drawn_block, put_opening
from vinemap.season.edits import with_block

SQUARE = np.array([(100.0, 0.0), (100.0, 40.0), (140.0, 40.0), (140.0, 0.0)])


def test_a_drawn_block_is_filled_with_rows():
    season = season_to_edit()
    made = add_drawn_block(season, " Cedar ", SQUARE, RowPlan(0.0, 2.5, 1.5))
    cedar = made.blocks[-1]
    assert cedar.name == "Cedar"
    assert cedar.outline.exterior.is_ccw, "as outlines that are read (RFC 7946)"
    assert cedar.outline.area == 1600.0
    assert len(cedar.rows) == 16, "40 m at 2.5 m, the first 1.25 m inside"
    assert made.blocks[:-1] == season.blocks
    assert made.rounds is season.rounds


@pytest.mark.parametrize(
    ("name", "corners", "bearing_deg", "spacing_m", "words"),
    [
        ("Dogleg", SQUARE, 0.0, 2.5, "There is a block Dogleg already"),
        ("", SQUARE, 0.0, 2.5, "can't be the name of a block"),
        ("Cedar", SQUARE[:2], 0.0, 2.5, "needs three corners"),
        ("Cedar", np.repeat(SQUARE[:1], 4, axis=0), 0.0, 2.5, "needs three corners"),
        ("Cedar", SQUARE[[0, 2, 1, 3]], 0.0, 2.5, "crosses itself"),
        ("Cedar", SQUARE - (80.0, 0.0), 0.0, 2.5, "lies over block Dogleg"),
        ("Cedar", SQUARE, float("nan"), 2.5, "which way the rows run"),
        ("Cedar", SQUARE, 0.0, 0.0, "row spacing of 0 m"),
        ("Cedar", SQUARE * np.nan, 0.0, 2.5, "needs three corners"),
    ],
)
def test_what_is_no_block_is_refused(name, corners, bearing_deg, spacing_m, words):
    with pytest.raises(InputError, match=words):
        add_drawn_block(season_to_edit(), name, corners, RowPlan(bearing_deg, spacing_m, 1.5))


EAST_M = np.array([500.0, 0.0])
HOLE = np.array([(18.0, 28.0), (24.0, 28.0), (24.0, 34.0), (18.0, 34.0)])


def with_shed():
    outline = shapely.Polygon(shapely.box(500, 0, 540, 60).exterior, [HOLE + EAST_M])
    return with_block(season_to_edit(), Block("Shed", outline, make_rows(outline, 0.0, 2.5, 1.5), 2.5, 1.5))


def test_an_opening_is_put_right():
    season = with_shed()
    smaller = HOLE + EAST_M
    smaller[2] -= 1.0
    made = put_opening(season, "Shed", 1, smaller)
    assert made.block("Shed").outline.area == pytest.approx(2400.0 - 30.0), "a corner in by 1 m both ways takes 6 of 36 m²"
    assert made.block("Shed").rows is season.block("Shed").rows
    assert made.block("Dogleg") is season.block("Dogleg")


@pytest.mark.parametrize(
    ("opening", "corners", "words"),
    [
        (2, HOLE, "no opening 2"),
        (1, HOLE[:2], "needs three corners"),
        (1, HOLE[[0, 2, 1, 3]], "cross itself"),
        (1, HOLE * (3.0, 1.0), "cross itself, or the outline"),
        (1, HOLE + EAST_M[::-1] * 0.03, "would lie outside"),
    ],
)
def test_an_opening_that_can_not_be_is_refused(opening, corners, words):
    with pytest.raises(InputError, match=words):
        put_opening(with_shed(), "Shed", opening, corners + EAST_M)
