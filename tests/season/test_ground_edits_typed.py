"""Edits as a manager writes them: what is understood, in which order and case, and what is said when it is not."""

from __future__ import annotations

from contextlib import suppress

import numpy as np
import pytest
from ground_to_edit import ground, season_to_edit
from hypothesis import example, given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.ground.block import DEAD, LIVING, MISSING, REPLANT
from vinemap.ground.vines import place_vines
from vinemap.season import ground_edits as ge
from vinemap.season.edits import mark_vines
from vinemap.season.typed_edits import looks_like_edit, typed_edit
from vinemap.season.variety_list import with_variety_list

SEASON = season_to_edit()


def metres(lon, lat):
    """An invented frame: a degree is a metre from (0, 0)."""
    return lon, lat


def write(text, season=SEASON):
    return typed_edit(season, text, metres)


def status_of(season, block, row):
    found = season.block(block)
    vines = place_vines(found)
    at = found.rows.labels.index(row)
    return vines.status[vines.row_start[at] : vines.row_start[at + 1]]


@pytest.mark.parametrize(
    "text",
    [
        "Dogleg row 12, vines 3 to 14 dead",
        "dogleg ROW 12 vines 3-14 Dead.",
        "row 12 of Dogleg, vines 3 – 14 are dead",
        "mark vines 3 to 14 of row 12 in block dogleg as dead",
        "vines 3 to 14 in row 12 of DOGLEG dead",
        "Dogleg / 12 / 3-14 dead",
        "dead: row 12 of Dogleg, vines 3 through 14",
        "Dogleg: row 12, vines 3, 4, 5 and 6 to 14 dead",
        "Dögleg row 12 vine 3 to 14 dead",
    ],
)
def test_vines_are_marked_whatever_the_order_and_case(text):
    done = write(text)
    assert status_of(done.season, "Dogleg", "12")[2:14].tolist() == [DEAD] * 12
    was = status_of(SEASON, "Dogleg", "12")
    assert status_of(done.season, "Dogleg", "12")[14:].tolist() == was[14:].tolist()
    assert "Dogleg / 12" in done.said[0]
    assert "dead now" in done.said[0]


@pytest.mark.parametrize(
    ("word", "status"),
    [("missing", MISSING), ("replanted", REPLANT), ("living", LIVING), ("alive", LIVING), ("gone", MISSING)],
)
def test_every_word_for_a_vine(word, status):
    assert status_of(write(f"Dogleg row 2 vine 5 {word}").season, "Dogleg", "2")[4] == status
    assert set(status_of(write(f"Dogleg whole row 2 {word}").season, "Dogleg", "2")) == {status}


def test_a_variety_is_matched_without_case_and_accents_and_must_be_listed():
    made = write("Pena Alta row 3 vines 1 to 4 petite sirah").season
    block = made.block("Peña Alta")
    vines = place_vines(block)
    start = vines.row_start[block.rows.labels.index("3")]
    assert [block.varieties[code] for code in vines.variety[start : start + 4]] == ["Petite Sirah"] * 4
    with pytest.raises(InputError, match="does not list Barbera") as caught:
        write("Dogleg row 3 vines 1 to 4 Barbera")
    assert "add variety Barbera to Dogleg" in caught.value.do
    more = write("add variety Barbera to Dogleg")
    assert write("Dogleg row 3 vines 1 to 4 Barbera", more.season).season.block("Dogleg").varieties[-1] == "Barbera"


NAMED = {label for each in SEASON.rounds for label in each.stops.of_block("Dogleg").rows}
FREE = next(label for label in SEASON.block("Dogleg").rows.labels if label not in NAMED)
SAME = [
    ("reverse row 12 of Dogleg", lambda s: ge.reverse_rows(s, "Dogleg", ("12",))),
    ("Dogleg: turn rows 1 to 3 and 7 round", lambda s: ge.reverse_rows(s, "Dogleg", ("1", "2", "3", "7"))),
    ("reverse all rows of Dogleg", lambda s: ge.reverse_rows(s, "Dogleg", s.block("Dogleg").rows.labels)),
    ("renumber rows of Dogleg from 1 west to east", None),
    ("renumber rows of Dogleg from 101 east to west", lambda s: ge.renumber_rows(s, "Dogleg", 101, 1, "east")),
    ("renumber Dogleg from the east from 5 every 2nd", lambda s: ge.renumber_rows(s, "Dogleg", 5, 2, "east")),
    ("Dogleg renumber rows by 2", lambda s: ge.renumber_rows(s, "Dogleg", 1, 2, "west")),
    ("merge Dogleg and Wrenfield as Both", lambda s: ge.merge_blocks(s, "Dogleg", "Wrenfield", "Both")[0]),
    ("join blocks wrenfield with dogleg", lambda s: ge.merge_blocks(s, "Wrenfield", "Dogleg", "Wrenfield")[0]),
    ("split Dogleg after row 7 as East of the Gate", lambda s: ge.split_after(s, "Dogleg", "7", "East of the Gate")),
    ("split block Dogleg along -5,15 to 45,15", lambda s: ge.split_along(s, "Dogleg", _LINE, "Dogleg 2")),
    ("rename Peña Alta as High Block", lambda s: ge.rename_block(s, "Peña Alta", "High Block")),
    ("rename row 12 of Dogleg as 12b", lambda s: ge.rename_row(s, "Dogleg", "12", "12b")),
    ("move Peña Alta 2 m east and 1.5 m south", lambda s: ge.move_block(s, "Peña Alta", 2.0, -1.5)),
    ("move start of row 3 of Dogleg 0.4 m east", lambda s: ge.move_row(s, "Dogleg", "3", np.array([0.4, 0]), np.zeros(2))),
    ("move end of row 3 of Dogleg to 6.5,29", None),
    ("Dogleg move row 3 0.4m north", lambda s: ge.move_row(s, "Dogleg", "3", np.array([0, 0.4]), np.array([0, 0.4]))),
    ("move corner 2 of Wrenfield 0.5 m west", lambda s: ge.shift_corner(s, "Wrenfield", 2, np.array([-0.5, 0.0]))),
    ("move corner 1 of Dogleg to -1,-0.5", lambda s: ge.place_corner(s, "Dogleg", 1, np.array([-1.0, -0.5]))),
    ("add corner after 1 of Dogleg at 20,-1", None),
    ("spread vines of row 3 of Dogleg", lambda s: ge.spread_vines(s, "Dogleg", ("3",))),
    (f"row {FREE} of Dogleg has 3 vines", None),
    ("add variety Barbera to Dogleg", lambda s: ge.add_variety(s, "Dogleg", "Barbera")),
]
_LINE = np.array([[-5.0, 15.0], [45.0, 15.0]])


@pytest.mark.parametrize(("text", "edit"), SAME)
def test_what_is_written_does_what_the_edit_of_that_name_does(text, edit):
    done = write(text)
    assert done.said
    assert done.label == text
    assert looks_like_edit(SEASON, text)
    if edit is not None:
        asked = edit(SEASON)
        assert [block.name for block in done.season.blocks] == [block.name for block in asked.blocks]
        assert [block.rows.labels for block in done.season.blocks] == [block.rows.labels for block in asked.blocks]
        assert ground(done.season) == ground(asked)
        assert done.season.passes == asked.passes


def test_an_edit_says_what_follows_and_when_nothing_changes():
    assert write("renumber rows of Dogleg from 101").said[1] == "What named it follows: stops, passes."
    assert write("renumber rows of Dogleg from 1 west to east").said == ("Nothing changes: it is so already.",)
    merged = write("merge Dogleg and Wrenfield")
    assert "1 is 1a" in merged.said[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("row 12, vines 30 to 44 dead", "not said which block. There are: Dogleg, Wrenfield, Peña Alta"),
        ("row 12 of Nowhere vines 3 dead", "There is no block Nowhere"),
        ("merge Dogleg and Nowhere", "There is no block Nowhere"),
        ("Dogleg row 99 vine 3 dead", "Block Dogleg has no row 99"),
        ("Dogleg row 12 vines 3 to 400 dead", "has no vines 3 to 400"),
        ("Dogleg row 12 vines 14 to 3 dead", "has no vines 14 to 3"),
        ("Dogleg row 12 vines 3 to dead", "is not understood|does not list"),
        ("Dogleg row 12", "is not understood"),
        ("reverse", "is not understood|not said which"),
        ("reverse rows of Dogleg", "not said which rows"),
        ("renumber rows of Dogleg backwards", "is not understood"),
        ("split Dogleg", "is not understood"),
        ("split Dogleg along 500,15 to 45,15", "is not a place"),
        ("make coffee", "is not understood"),
        ("", "is not understood"),
        ("/", "is not understood"),
    ],
)
def test_what_is_not_understood_is_refused_with_an_example(text, words):
    with pytest.raises(InputError, match=words) as caught:
        write(text)
    assert caught.value.do
    assert "row 12, vines 30 to 44 dead" in str(caught.value) or "is not understood" not in str(caught.value)


def test_names_of_blocks_and_plain_words_are_no_edits():
    for text in ("Dogleg", "dog", "Dogleg / 12", "undo", "remove a column", "begin a season", "row", "print", "Peña Alta"):
        assert not looks_like_edit(SEASON, text), text
    assert looks_like_edit(SEASON, "Dogleg / 12 / 3 to 4 dead")
    # a name that begins like an edit is still a name
    rock = ge.rename_block(SEASON, "Dogleg", "Split Rock")
    for text in ("Split Rock", "split rock / 12", "split r"):
        assert not looks_like_edit(rock, text), text
    assert looks_like_edit(rock, "split Split Rock after row 7")
    assert looks_like_edit(rock, "Split Rock row 12 vine 3 dead")


WORDS = ("row", "rows", "12", "of", "Dogleg", "vines", "3", "to", "-", "9", ",", "dead", "merge", "split", "7", "m", "east")


@settings(derandomize=True, max_examples=120, deadline=None)
@given(st.text(max_size=60) | st.lists(st.sampled_from(WORDS)).map(" ".join))
@example("row")
@example("Dogleg /")
@example("varieties of Dogleg:")
@example("İ row 1 vine 1 dead")
def test_nothing_that_can_be_written_is_a_defect(text):
    looks_like_edit(SEASON, text)
    with suppress(InputError):
        assert write(text).said


# ---- the list of a field blend


def varieties_of(season, row):
    block = season.block("Peña Alta")
    vines = place_vines(block)
    at = block.rows.labels.index(row)
    return [block.varieties[code] for code in vines.variety[vines.row_start[at] : vines.row_start[at + 1]]]


@pytest.mark.parametrize(
    "text",
    [
        "2: Carignane 1-4, Zinfandel 5-9; 3: Carignane",
        "2: 1-4 carignane, 5 to 9 ZINFANDEL\n3:Carignane",
        "row\tvarieties\n2\tCarignane 1-4, Zinfandel vines 5-9\n3\tCarignane",
        "row 2: Carignane 1-2, 3-4, Zinfandel 5-9\nrow 3: Carignane\n",
        "2 1-4\tCarignane\n2 5-9\tZinfandel\n3\tCarignane",
        "2, Carignane 1-4, Zinfandel 5-9\n3, Carignane",
    ],
)
def test_a_list_of_varieties_as_it_stands_in_a_notebook(text):
    made, said, problems = with_variety_list(SEASON, "Peña Alta", text)
    assert problems == ()
    assert [name.capitalize() for name in varieties_of(made, "2")[:9]] == ["Carignane"] * 4 + ["Zinfandel"] * 5
    assert varieties_of(made, "2")[9:] == varieties_of(SEASON, "2")[9:]
    assert {name.capitalize() for name in varieties_of(made, "3")} == {"Carignane"}
    assert said[1].casefold() == "varieties added: carignane."
    # how a vine stands is another thing
    old, new = (place_vines(season.block("Peña Alta")).status for season in (SEASON, made))
    assert old.tolist() == new.tolist()


def test_what_can_not_be_used_in_a_list_is_told_by_line_and_the_rest_is_kept():
    text = "2: Zinfandel 1-4\n99: Zinfandel\n3: Zinfandel 1-900, Petite Sirah 1-2\n4: 1-3\n2: Petite Sirah 4-5\n5:\n6: 12"
    made, said, problems = with_variety_list(SEASON, "Peña Alta", text)
    assert said[0] == "Peña Alta: 6 vines got their variety from the list."
    assert [each.place for each in problems] == ["line 2", "line 3", "line 4", "line 5", "line 6", "line 7"]
    assert all(each.why and each.do for each in problems)
    assert "vine 4 of row 2 has its variety from line 1 already" in problems[3].why
    assert varieties_of(made, "3")[:2] == ["Petite Sirah"] * 2


def test_a_list_without_any_good_line_is_refused_and_the_same_list_again_is_no_edit():
    with pytest.raises(InputError, match=r"No vine got a variety\. line 1"):
        with_variety_list(SEASON, "Peña Alta", "99: Zinfandel")
    once, _, _ = with_variety_list(SEASON, "Peña Alta", "2: Carignane 1-4")
    assert with_variety_list(once, "Peña Alta", "2: carignane 1-4")[0] is once
    typed = write("varieties of Peña Alta: 2: Carignane 1-4; 99: x")
    assert varieties_of(typed.season, "2")[:4] == ["Carignane"] * 4
    assert len(typed.problems) == 1


def test_one_block_needs_no_name():
    alone = ge.rename_block(SEASON, "Dogleg", "Only")
    alone = type(SEASON)(SEASON.estate, (alone.block("Only"),))
    assert write("row 12, vines 3 to 4 dead", alone).season is not alone
    marked = mark_vines(alone, "Only", "12", 3, 4, DEAD)
    assert ground(write("row 12, vines 3 to 4 dead", alone).season) == ground(marked)
