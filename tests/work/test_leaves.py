"""How closed each row is on a date: seen, reckoned, or taken so. The block is invented; arithmetic by hand."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.canopy.rods import RodNote
from vinemap.ground.block import Block
from vinemap.ground.rowmaker import make_rows
from vinemap.scouting.rounds import DAYLIGHT, NO_LIGHT, NOT_NOTED, SOME_LIGHT, Round, Stops
from vinemap.work.conditions import days_since_pass
from vinemap.work.diary import Pass
from vinemap.work.leaves import (
    NO_WARMTH,
    NOBODY_LOOKED,
    RECKONED,
    SEEN_ALIKE,
    SEEN_HERE,
    Look,
    Warmth,
    looks_of,
    row_leaves,
)

OUTLINE = shapely.box(0, 0, 12, 60)
BLOCK = Block("Home", OUTLINE, make_rows(OUTLINE, 0.0, 3.0, 2.0), 3.0, 2.0)
LABELS = BLOCK.rows.labels
DAY = dt.date(2026, 6, 20)
# ten degree days each day from 1 May on: an opening closes in 30 days
EVEN = Warmth(dt.date(2026, 5, 1).toordinal(), np.full(60, 10.0))


def before(days: int) -> dt.date:
    return DAY - dt.timedelta(days=days)


def opened(days: int, *rows: str) -> Pass:
    return Pass(before(days), "Home", rows, "F", "east", 2, 1.0)


def leaves(passes=(), looks=(), block=BLOCK, date=DAY, warmth=EVEN):
    return row_leaves(block, days_since_pass(block, tuple(passes), date), looks, date, warmth)


def test_a_row_that_nobody_opened_or_looked_at_is_taken_as_closed():
    found = leaves()
    assert found.closed.tolist() == [1.0] * len(LABELS)
    assert set(found.source) == {NOBODY_LOOKED}
    assert found.words(0) == "never looked at"


def test_what_was_opened_closes_in_step_with_warmth():
    found = leaves([opened(6, LABELS[0])])
    assert found.closed[:2].tolist() == pytest.approx([0.2, 1.0])
    assert found.source[:2].tolist() == [RECKONED, NOBODY_LOOKED]
    assert found.words(0) == "reckoned"


def test_the_newest_look_counts_and_grows_on():
    looks = (Look(before(9), LABELS[0], 0.0), Look(before(3), LABELS[0], 0.5), Look(before(4), LABELS[0], 1.0))
    found = leaves([opened(10)], looks)
    assert found.closed[0] == pytest.approx(0.6)
    assert found.words(0) == "seen 3 days ago"


def test_a_vigorous_vine_opened_twice_can_be_closed_again():
    """150 degree days close a rank vine: 15 days of ten."""
    rank = replace(BLOCK, vigour=1.0)
    assert leaves([opened(30), opened(15)], block=rank).closed.tolist() == [1.0] * len(LABELS)
    assert leaves([opened(30), opened(15)]).closed == pytest.approx(np.full(len(LABELS), 0.5))
    seen = leaves([opened(30), opened(5)], (Look(before(1), LABELS[0], 1.0),), block=rank)
    assert seen.closed[0] == 1.0


def test_a_look_on_the_day_of_the_opening_came_before_it():
    assert leaves([opened(3)], (Look(before(3), LABELS[0], 1.0),)).closed[0] == pytest.approx(0.1)


def test_rows_that_nobody_looked_at_lean_on_those_opened_alike():
    """What is reckoned, a third, counts as four rows beside the two that were seen; one row says little."""
    alike = (0.5 + 1.0 + 4 / 3) / 6
    looks = (Look(before(0), LABELS[0], 0.5), Look(before(0), LABELS[1], 1.0), Look(before(0), LABELS[3], 0.0))
    found = leaves([opened(10, *LABELS[:3])], looks)
    assert found.closed.tolist() == pytest.approx([0.5, 1.0, alike, 0.0] + [0.8] * (len(LABELS) - 4))
    assert found.source[:4].tolist() == [SEEN_HERE, SEEN_HERE, SEEN_ALIKE, SEEN_HERE]
    assert found.words(2) == "as in rows seen"


def test_days_without_readings_count_as_usual_days():
    assert NO_WARMTH.between(before(3), DAY) == 33.0
    assert NO_WARMTH.a_day(DAY) == 11.0
    partly = Warmth(before(1).toordinal(), np.array([4.0, np.nan]))
    assert partly.between(before(3), DAY) == 4.0 + 2 * 11.0
    assert partly.between(DAY, before(3)) == 0.0


def scouted(*stops: tuple[str, int], days: int = 2) -> Round:
    n = len(stops)
    zeros = np.zeros(n)
    rows = tuple(row for row, _ in stops)
    light = np.array([code for _, code in stops])
    columns = Stops(("Home",), zeros, rows, zeros + 1, zeros, zeros, zeros + 10, zeros, zeros, zeros, zeros, light)
    return Round(1, before(days), "", "random", columns)


def test_looks_come_from_stops_and_from_rods():
    walked = scouted(("1", DAYLIGHT), ("1", SOME_LIGHT), ("2", NO_LIGHT), ("3", NOT_NOTED))
    rods = (
        RodNote("Home", "", before(1), ("LLL", "LLL", "", "LLL")),
        RodNote("Elsewhere", "1", before(1), ("L",)),
        RodNote("Home", "1", DAY + dt.timedelta(days=1), ("L",)),
    )
    looks = looks_of(BLOCK, (walked, scouted(("4", NO_LIGHT), days=-1)), rods, DAY)
    assert looks == (Look(before(2), "1", 0.25), Look(before(2), "2", 1.0), Look(before(1), "", 0.5))


@given(
    st.lists(st.integers(0, 49), max_size=4),
    st.integers(0, 49),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
    st.lists(st.floats(0.0, 25.0), min_size=60, max_size=60),
)
@settings(derandomize=True, max_examples=100)
def test_two_passes_never_close_sooner_than_one_and_vigour_never_keeps_open(passes, more, weak, strong, daily):
    warmth = Warmth(before(55).toordinal(), np.array(daily))
    once = [opened(each) for each in passes]
    calm, rank = (replace(BLOCK, vigour=each) for each in sorted((weak, strong)))
    twice = [*once, opened(more)]
    assert np.all(leaves(twice, block=calm, warmth=warmth).closed <= leaves(once, block=calm, warmth=warmth).closed + 1e-12)
    assert np.all(leaves(once, block=calm, warmth=warmth).closed <= leaves(once, block=rank, warmth=warmth).closed + 1e-12)
