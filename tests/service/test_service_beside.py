"""Two rounds beside each other: words for the change, and the rows' own."""

import datetime as dt

import numpy as np
import pytest
import shapely

from vinemap.ground.block import Block
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.vines import place_vines
from vinemap.scouting.incidence import Change, Interval
from vinemap.scouting.rounds import Round, Stops
from vinemap.service.answers import read_block
from vinemap.service.beside_page import DRYING, GROWING, NO_CHANGE, beside_page, change_word, pace_words, points_words
from vinemap.surface.field import FieldOptions

OUTLINE = shapely.box(0, 0, 40, 60)
BLOCK = Block("Home", OUTLINE, make_rows(OUTLINE, 0.0, 2.5, 1.5), 2.5, 1.5)
VINES = place_vines(BLOCK)


def scouted(number, day, shares):
    """A round of every 9th vine with 20 clusters each, ``shares`` by the row's place in the block."""
    chosen = np.arange(0, len(VINES), 9)
    infected = np.round(20 * np.array([shares(int(row)) for row in VINES.row[chosen]])).astype(int)
    zeros = np.zeros(len(chosen), int)
    stops = Stops(
        ("Home",),
        zeros,
        tuple(BLOCK.rows.labels[row] for row in VINES.row[chosen]),
        VINES.ordinal[chosen],
        VINES.x_m[chosen],
        VINES.y_m[chosen],
        np.full(len(chosen), 20),
        infected,
        zeros,
        zeros,
        zeros.astype(bool),
    )
    made = Round(number, day, "Ada", "", stops)
    return made, read_block(BLOCK, VINES, made, FieldOptions())


def test_rows_that_grew_are_told_from_those_that_did_not():
    then = scouted(1, dt.date(2026, 6, 1), lambda row: 0.05)
    now = scouted(2, dt.date(2026, 6, 15), lambda row: 0.70 if row < 5 else 0.05)
    page = beside_page(now, then, 0.10)
    assert page.title == "Home, 1 beside 2"
    assert page.subtitle == "14 days apart"
    words = {line.row: line.cells[-1] for line in page.lines}
    assert words[2] == GROWING
    assert words[14] == NO_CHANGE
    assert page.lines[0].row < 5
    assert "doubling in about" in page.note


def test_the_same_counts_twice_are_noise():
    then = scouted(1, dt.date(2026, 6, 1), lambda row: 0.10)
    now = scouted(2, dt.date(2026, 6, 8), lambda row: 0.10)
    page = beside_page(then, now, 0.10)
    assert "within the noise" in page.note
    assert {line.cells[-1] for line in page.lines} == {NO_CHANGE}


def test_two_rounds_of_one_day_and_a_round_without_stops_are_said():
    one = scouted(1, dt.date(2026, 6, 1), lambda row: 0.10)
    other = scouted(2, dt.date(2026, 6, 1), lambda row: 0.10)
    assert "not in order of time" in beside_page(one, other, 0.10).note
    bare = Round(3, dt.date(2026, 6, 9), "Ada", "", one[0].stops.take(np.zeros(len(one[0].stops), bool)))
    empty = (bare, read_block(BLOCK, VINES, bare, FieldOptions()))
    assert "Round 3 has no stops here" in beside_page(one, empty, 0.10).note


@pytest.mark.parametrize(
    ("then", "now", "word"),
    [((0.0, 0.1), (0.11, 0.3), GROWING), ((0.2, 0.4), (0.05, 0.19), DRYING), ((0.0, 0.2), (0.2, 0.5), NO_CHANGE)],
)
def test_change_is_claimed_only_where_intervals_do_not_meet(then, now, word):
    assert change_word(then, now) == word


def test_points_and_pace_in_words():
    """5 of 100, then 12 of 100: +7, between -1 and +15 (Newcombe's method 10; worked by hand: -0.0095 to 0.1531)."""
    change = Change(0.07, Interval(-0.0095, 0.1531), 0.1, True)
    assert points_words(change) == "+7, between −1 and +15"
    assert "noise" in pace_words(change)
    fast = Change(0.2, Interval(0.1, 0.3), np.log(2) / 6, False)
    assert pace_words(fast).startswith("All rows together: doubling in about 6 days")
    assert "less than before" in pace_words(Change(-0.2, Interval(-0.3, -0.1), -0.1, False))
