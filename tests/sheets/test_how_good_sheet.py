"""The page of how good a map is: dots where they belong, nothing out of the box, words whole."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
import shapely

from vinemap.ground.block import Block
from vinemap.ground.rowmaker import make_rows
from vinemap.scouting.rounds import Stops
from vinemap.sheets.fit import Box
from vinemap.sheets.how_good_sheet import (
    DOT_MM,
    PLACE_MM,
    HowGoodPlan,
    Place,
    SaidFound,
    how_good_marks,
    how_good_sheet,
    plot_top,
)
from vinemap.sheets.ink import DARK, LIGHT
from vinemap.sheets.marks import Dots, Path, Strokes, Words

OUTLINE = shapely.box(0, 0, 60, 75)
BLOCK = Block("Home", OUTLINE, make_rows(OUTLINE, 0.0, 2.5, 1.5), 2.5, 1.5)
STOPS = Stops(
    ("Home",),
    np.zeros(2, int),
    ("1", "2"),
    np.array([1, 5]),
    np.array([5.0, 40.0]),
    np.array([5.0, 60.0]),
    np.array([20, 20]),
    np.array([0, 5]),
    np.zeros(2, int),
    np.zeros(2, int),
    np.zeros(2, bool),
)
PLAN = HowGoodPlan(
    block=BLOCK,
    stops=STOPS,
    said_found=(SaidFound(0.04, 0.04, 0.01, 0.08, 20), SaidFound(0.16, 0.12, 0.07, 0.19, 19)),
    below_plot=("Of 39 stops left out, 36 fell inside their 90 % range; 32 to 38 is as it should be.",),
    why_no_plot="",
    places=(Place(30.0, 37.5), Place(10.0, 70.0)),
    below_map=("1: row 13, vine 25 would take 4 % off the doubt", "2: row 5, vine 45 would take 3 % off the doubt"),
    estate="Invented",
    round_words="round 3 of 1 June",
    code="I-0000",
    printed=dt.datetime(2026, 6, 2, 18, 0),
)
BOXES = (Box(0.0, 0.0, 200.0, 111.0), Box(10.0, 20.0, 278.0, 160.0))


def measure(text, size_pt, weight=400, is_italic=False):
    """Half an em for each letter: about the width of the face."""
    return 0.5 * len(text) * size_pt * 25.4 / 72


def dots_of(marks, radius_mm, fill):
    (found,) = (each for each in marks if isinstance(each, Dots) and each.fill == fill and each.radius_mm[0] == radius_mm)
    return found.points


@pytest.mark.parametrize("box", BOXES)
def test_a_dot_on_the_line_was_found_as_said(box):
    marks = how_good_marks(PLAN, box, LIGHT, measure)
    line, key = (each.rings[0] for each in marks if isinstance(each, Path) and each.dash)
    assert np.ptp(key[:, 1]) == 0.0
    (x0, y0), (x1, y1) = line
    side = x1 - x0
    assert y0 - y1 == pytest.approx(side)
    dots = dots_of(marks, DOT_MM, LIGHT.ink)
    # the axes end at 20 %
    expected = [[x0 + side * 0.2, y0 - side * 0.2], [x0 + side * 0.8, y0 - side * 0.6]]
    assert dots == pytest.approx(np.array(expected))
    (bars,) = (each.ends for each in marks if isinstance(each, Strokes))
    assert bars[1] == pytest.approx([dots[1, 0], y0 - side * 0.35, dots[1, 0], y0 - side * 0.95])


@pytest.mark.parametrize("box", BOXES)
def test_nothing_sticks_out_of_the_box_and_the_halves_stay_apart(box):
    marks = how_good_marks(PLAN, box, LIGHT, measure)
    room = box.polygon(0.5)
    halves = []
    for mark in marks:
        if isinstance(mark, Words):
            assert room.contains(shapely.Point(mark.x_mm, mark.y_mm)), mark.text
            if mark.angle_deg == 0.0 and mark.anchor == "start":
                end = mark.x_mm + measure(mark.text, mark.size_pt)
                assert end <= box.right_mm + 0.5, mark.text
                halves.append((mark.x_mm, end))
        elif isinstance(mark, Dots):
            assert room.contains(shapely.MultiPoint(mark.points))
        elif isinstance(mark, Path):
            assert room.contains(shapely.MultiPoint(np.vstack(mark.rings)))
    middle = box.x_mm + box.width_mm / 2
    assert all(end < middle or start > middle for start, end in halves)


def test_places_are_numbered_where_they_lie():
    marks = how_good_marks(PLAN, BOXES[0], LIGHT, measure)
    (places,) = (each for each in marks if isinstance(each, Words) and each.text == "1")
    rings = [each.points[0] for each in marks if isinstance(each, Dots) and each.stroke and each.radius_mm[0] == PLACE_MM]
    assert len(rings) == 2
    assert places.x_mm == pytest.approx(rings[0][0])
    # the first lies in the middle of the block, the second to the north-west
    assert rings[1][0] < rings[0][0]
    assert rings[1][1] < rings[0][1]


def test_without_a_plot_the_reason_stands_there():
    bare = replace(PLAN, said_found=(), below_plot=(), why_no_plot="1 stop in this block: too few.", places=(), below_map=())
    marks = how_good_marks(bare, BOXES[0], LIGHT, measure)
    words = [each.text for each in marks if isinstance(each, Words)]
    assert "1 stop in this block: too few." in words
    assert not any("said," in text for text in words)
    assert not [each for each in marks if isinstance(each, Strokes)]


def test_the_dark_theme_uses_its_own_inks():
    light, dark = (how_good_marks(PLAN, BOXES[0], ink, measure) for ink in (LIGHT, DARK))
    colours = {getattr(each, name, "") for each in dark for name in ("fill", "stroke", "halo")}
    assert len(light) == len(dark)
    assert not colours & {LIGHT.ink, LIGHT.ink_soft, LIGHT.sheet, LIGHT.rule}


@pytest.mark.parametrize(("high", "top"), [(0.011, 0.02), (0.05, 0.05), (0.21, 0.30), (0.97, 1.0)])
def test_the_axes_hold_every_range(high, top):
    assert plot_top([SaidFound(0.01, 0.01, 0.0, high, 10)]) == top


def test_on_paper_facts_and_note_stand_below_and_the_foot_is_clear():
    page = how_good_sheet(PLAN, (("no pattern at all", "unlikely"), ("kriging", "times 1.05")), "Chosen: kriging.", measure)
    assert (page.width_mm, page.height_mm) == (297.0, 210.0)
    words = {each.text: each for each in page.marks if isinstance(each, Words)}
    listed = words["No pattern at all: unlikely; kriging: times 1.05."]
    note = words["Chosen: kriging."]
    foot = min(each.y_mm for text, each in words.items() if "I-0000" in text)
    lowest = max(words[text].y_mm for text in PLAN.below_map)
    assert lowest < listed.y_mm < note.y_mm < foot - 2.0
