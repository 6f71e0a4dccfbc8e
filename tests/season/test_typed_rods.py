"""Rods typed in, deleted, and following rows and blocks that are put right. The estate is invented."""

from __future__ import annotations

import datetime as dt

import pytest
from ground_to_edit import season_to_edit

from vinemap.canopy.rods import RodNote
from vinemap.errors import InputError
from vinemap.season import ground_edits
from vinemap.season.edits import without_block
from vinemap.season.typed_edits import looks_like_edit, typed_edit
from vinemap.season.typed_rods import note_rods
from vinemap.season.value import Season

DAY = dt.date(2031, 6, 10)


def nowhere(lon_deg, lat_deg):
    raise AssertionError("no place was written")


def after(season: Season, text: str) -> Season:
    return typed_edit(season, text, nowhere).season


@pytest.mark.parametrize(
    ("text", "row"),
    [
        ("rods in row 12 of Dogleg on 2031-06-10: LCL G LL", "12"),
        ("rods of Dogleg row 12, 2031-06-10: lcl · g · ll.", "12"),
        ("note rods in Dogleg on 2031-06-10: LCL, G, LL", ""),
    ],
)
def test_rods_are_typed_with_place_and_day(text, row):
    season = season_to_edit()
    done = typed_edit(season, text, nowhere)
    assert done.season.rods == (RodNote("Dogleg", row, DAY, ("LCL", "", "LL")),)
    assert done.said[0].endswith(
        "2031-06-10: 1.3 layers of leaves, 33 % gaps, 0 % of the leaves inside, 100 % of the clusters inside (3 rods; "
        "50 are usual)."
    )
    assert looks_like_edit(season, text)


def test_rods_of_the_same_place_and_day_are_put_right_by_typing_them_again():
    season = after(season_to_edit(), "rods in row 1 of Dogleg on 2031-06-10: L")
    again = after(season, "rods in row 1 of Dogleg on 2031-06-10: LL LL")
    assert again.rods == (RodNote("Dogleg", "1", DAY, ("LL", "LL")),)
    assert after(again, "delete rods in row 1 of Dogleg on 2031-06-10").rods == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("rods in row 1 of Dogleg: L", "on which day"),
        ("rods in row 1 of Dogleg on 2031-06-31: L", "not in the calendar"),
        ("rods in row 1 on 2031-06-10: L", "which block"),
        ("rods in row 999 of Dogleg on 2031-06-10: L", "no row 999"),
        ("rods in row 1 of Nowhere on 2031-06-10: L", "no block Nowhere"),
        ("rods in the middle of Dogleg on 2031-06-10: L", "is no row"),
        ("rods in row 1 of Dogleg on 2031-06-10: X", "not what a rod"),
        ("delete rods in row 1 of Dogleg on 2031-06-10", "no rods of Dogleg, row 1"),
    ],
)
def test_what_is_missing_is_said(text, words):
    with pytest.raises(InputError, match=words):
        typed_edit(season_to_edit(), text, nowhere)


def with_rods_noted() -> Season:
    season = note_rods(season_to_edit(), RodNote("Dogleg", "2", DAY, ("L",)))
    return note_rods(season, RodNote("Dogleg", "", DAY, ("LL",)))


def test_rods_follow_a_block_that_is_renamed_or_split_and_a_row_with_a_new_label():
    season = with_rods_noted()
    renamed = ground_edits.rename_block(season, "Dogleg", "Elbow")
    assert [(each.block, each.row) for each in renamed.rods] == [("Elbow", "2"), ("Elbow", "")]
    labelled = ground_edits.rename_row(season, "Dogleg", "2", "2x")
    assert [(each.block, each.row) for each in labelled.rods] == [("Dogleg", "2x"), ("Dogleg", "")]
    halves = ground_edits.split_after(season, "Dogleg", "5", "Rest")
    assert {(each.block, each.row) for each in halves.rods} == {("Dogleg", "2"), ("Dogleg", ""), ("Rest", "")}
    assert ground_edits.reverse_rows(season, "Dogleg", ("1",)).rods is season.rods


def test_a_row_or_block_with_rods_is_not_lost():
    season = with_rods_noted()
    bare = Season(season.estate, season.blocks, rods=season.rods)
    with pytest.raises(InputError, match="named by the rods of 2031-06-10"):
        ground_edits.delete_rows(bare, "Dogleg", ("2",))
    with pytest.raises(InputError, match="still named by the rods of 2031-06-10"):
        without_block(bare, "Dogleg")
