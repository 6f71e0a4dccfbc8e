"""Ground put right by hand: what names it follows, nothing is lost, and what can't follow is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from ground_to_edit import counts, ground, season_to_edit, stops_stand_at_their_vines
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.ground.block import DEAD
from vinemap.ground.outline_by_hand import corners_of, nearest_corner
from vinemap.ground.vines import distance_along_m, place_vines
from vinemap.season import ground_edits as ge
from vinemap.season.history import begun, done, redone, undone
from vinemap.season.value import StageDates

SEASON = season_to_edit()
FEW = settings(derandomize=True, max_examples=15, deadline=None)
EAST = np.array([1.0, 0.0])

EDITS = {
    "move corner": lambda s: ge.place_corner(s, "Dogleg", 1, np.array([-1.0, -0.5])),
    "shift corner": lambda s: ge.shift_corner(s, "Wrenfield", 2, np.array([0.5, 0.25])),
    "add corner": lambda s: ge.add_corner(s, "Dogleg", 1, np.array([20.0, -1.0])),
    "delete corner": lambda s: ge.delete_corner(ge.add_corner(s, "Dogleg", 1, np.array([20.0, -1.0])), "Dogleg", 2),
    "split along": lambda s: ge.split_along(s, "Dogleg", np.array([[-5.0, 17.3], [45.0, 17.9]]), "North"),
    "split after": lambda s: ge.split_after(s, "Dogleg", "7", "East"),
    "merge": lambda s: ge.merge_blocks(s, "Dogleg", "Wrenfield", "Both")[0],
    "rename block": lambda s: ge.rename_block(s, "Peña Alta", "High"),
    "move block": lambda s: ge.move_block(s, "Peña Alta", 3.0, -2.0),
    "move row": lambda s: ge.move_row(s, "Dogleg", "3", 0.4 * EAST, 0.0 * EAST),
    "spread": lambda s: ge.spread_vines(s, "Dogleg", ("3", "4")),
    "add row": lambda s: ge.add_row(ge.place_corner(s, "Wrenfield", 1, np.array([86.0, 0.0])), "Wrenfield", "14", 90.0, "15"),
    "delete row": lambda s: ge.delete_rows(without_work(s), "Dogleg", (free_row(s),)),
    "reverse": lambda s: ge.reverse_rows(s, "Dogleg", ("1", "5", "12")),
    "renumber": lambda s: ge.renumber_rows(s, "Dogleg", 101, 2, "east"),
    "rename row": lambda s: ge.rename_row(s, "Dogleg", "12", "12b"),
    "add variety": lambda s: ge.add_variety(s, "Dogleg", "Barbera"),
    "count": lambda s: ge.count_row(s, "Dogleg", free_row(s), 21),
}
KEEPS_GROUND = ("split along", "split after", "merge", "rename block", "reverse", "renumber", "rename row", "add variety")


def free_row(season):
    """A row of Dogleg that no stop or work names."""
    named = {label for each in season.rounds for label in each.stops.of_block("Dogleg").rows}
    return next(label for label in SEASON.block("Dogleg").rows.labels if label not in {*named, "12", "3", "4"})


def without_work(season):
    return replace(season, passes=season.passes[:1])


@pytest.mark.parametrize("name", EDITS)
def test_every_edit_is_undone_to_the_same_season_and_shares_what_it_did_not_touch(name):
    made = EDITS[name](SEASON)
    assert made is not SEASON
    history = done(begun("begun", 0, SEASON), name, 1, made)
    assert undone(history).season is SEASON
    assert redone(undone(history)).season is made
    assert made.estate is SEASON.estate
    assert made.weather is SEASON.weather
    far = SEASON.block("Peña Alta")
    if name not in ("rename block", "move block"):
        assert made.block("Peña Alta") is far


@pytest.mark.parametrize("name", EDITS)
def test_no_stop_is_lost_and_each_stands_at_the_vine_it_names(name):
    made = EDITS[name](SEASON)
    assert stops_stand_at_their_vines(made)
    infected = [sorted(each.stops.infected.tolist()) for each in SEASON.rounds]
    assert [sorted(each.stops.infected.tolist()) for each in made.rounds] == infected
    assert sum(each.hours for each in made.passes) == pytest.approx(
        sum(each.hours for each in (without_work(SEASON) if name == "delete row" else SEASON).passes)
    )


@pytest.mark.parametrize("name", KEEPS_GROUND)
def test_an_edit_of_names_leaves_every_vine_with_its_marks_and_every_count_where_it_is(name):
    made = EDITS[name](SEASON)
    assert ground(made) == ground(SEASON)
    assert counts(made) == counts(SEASON)


def test_nothing_changed_is_the_same_season():
    assert ge.relabel_rows(SEASON, "Dogleg", SEASON.block("Dogleg").rows.labels) is SEASON
    assert ge.add_variety(SEASON, "Dogleg", "Syrah") is SEASON


@FEW
@given(st.floats(12.0, 18.0), st.floats(-0.2, 0.2))
def test_split_then_merge_gives_the_same_ground(at_m, slope):
    line = np.array([[-3.0, at_m], [43.0, at_m + 46.0 * slope]])
    parted = ge.split_along(SEASON, "Dogleg", line, "North")
    made, _ = ge.merge_blocks(parted, "Dogleg", "North", "Dogleg")
    assert ground(made) == ground(SEASON)
    assert counts(made) == counts(SEASON)
    was, now = SEASON.block("Dogleg").outline, made.block("Dogleg").outline
    assert was.symmetric_difference(now).area < 1e-3
    assert parted.block("Dogleg").outline.intersection(parted.block("North").outline).area < 1e-3
    assert stops_stand_at_their_vines(made)


@FEW
@given(st.sets(st.sampled_from(SEASON.block("Dogleg").rows.labels), min_size=1))
def test_reversed_twice_is_nothing(rows):
    once = ge.reverse_rows(SEASON, "Dogleg", tuple(sorted(rows)))
    assert ground(once) == ground(SEASON)
    twice = ge.reverse_rows(once, "Dogleg", tuple(sorted(rows)))
    before, after = place_vines(SEASON.block("Dogleg")), place_vines(twice.block("Dogleg"))
    assert after.x_m == pytest.approx(before.x_m, abs=1e-9)
    assert after.y_m == pytest.approx(before.y_m, abs=1e-9)
    assert after.status.tolist() == before.status.tolist()
    assert after.variety.tolist() == before.variety.tolist()
    for a, b in zip(SEASON.rounds, twice.rounds, strict=True):
        assert a.stops.rows == b.stops.rows
        assert a.stops.vine.tolist() == b.stops.vine.tolist()


def test_vine_one_stands_at_the_other_end_after_a_row_is_reversed():
    before = SEASON.block("Dogleg")
    made = ge.reverse_rows(SEASON, "Dogleg", ("5",)).block("Dogleg")
    row = before.rows.labels.index("5")
    one, two = place_vines(before), place_vines(made)
    of_row = slice(one.row_start[row], one.row_start[row + 1])
    assert two.y_m[of_row].tolist() == pytest.approx(one.y_m[of_row][::-1].tolist())
    assert two.status[of_row].tolist() == one.status[of_row][::-1].tolist()


def test_a_curved_row_and_a_lone_vine_can_be_reversed():
    block = SEASON.block("Dogleg")
    xy = np.array([[0, 0], [10, 0], [18, 6], [30, 30.0], [31, 30]])
    rows = replace(block.rows, labels=("1", "2"), xy_m=xy, start=[0, 3, 5], vine_spacing_m=[1.7, 1.7], vine_count=[11, 1])
    curved = replace(block, rows=rows, outline=shapely.box(-5, -5, 40, 40), exceptions=SEASON.block("Dogleg").exceptions)
    curved = replace(curved, exceptions=type(block.exceptions)([2], [DEAD], [-1]))
    season = replace(SEASON, blocks=(curved,), rounds=(), passes=(), sprays=(), stages=())
    made = ge.reverse_rows(season, "Dogleg", ("1", "2"))
    assert ground(made) == ground(season)
    assert made.block("Dogleg").exceptions.vine.tolist() == [8]


def test_split_after_a_row_parts_the_rows_and_shares_the_hours():
    made = ge.split_after(SEASON, "Dogleg", "7", "East")
    assert [block.name for block in made.blocks] == ["Dogleg", "East", "Wrenfield", "Peña Alta"]
    assert made.block("Dogleg").rows.labels == tuple("1234567")
    assert made.block("East").rows.labels[0] == "8"
    whole, some = made.passes[:2], made.passes[2:4]
    assert [(each.block, each.rows) for each in whole] == [("Dogleg", ()), ("East", ())]
    vines = [int(made.block(name).rows.vine_count.sum()) for name in ("Dogleg", "East")]
    assert [each.hours for each in whole] == pytest.approx([6.0 * count / sum(vines) for count in vines])
    assert [(each.block, each.rows) for each in some] == [("Dogleg", ("3", "4")), ("East", ("12",))]
    assert [each.block for each in made.sprays] == ["Dogleg", "East", "Wrenfield"]
    # midway between row 7 at 16.25 m and row 8 at 18.75 m
    assert made.block("Dogleg").outline.bounds[2] == pytest.approx(17.5)


def test_a_line_across_the_rows_counts_the_far_part_from_one():
    made = ge.split_along(SEASON, "Dogleg", np.array([[-5.0, 15.0], [45.0, 15.0]]), "North")
    south, north = made.block("Dogleg"), made.block("North")
    assert south.outline.bounds[3] == pytest.approx(15.0)
    assert set(south.rows.labels) == set(north.rows.labels) == set(SEASON.block("Dogleg").rows.labels)
    assert place_vines(north).y_m.min() > 15.0 > place_vines(south).y_m.max()
    assert len(place_vines(north)) + len(place_vines(south)) == len(place_vines(SEASON.block("Dogleg")))
    assert {each.block for each in made.passes} == {"Dogleg", "North", "Peña Alta"}


def test_merging_relabels_rows_of_one_label_lists_varieties_once_and_takes_the_lane_in():
    made, relabelled = ge.merge_blocks(SEASON, "Dogleg", "Wrenfield", "Dogleg")
    block = made.block("Dogleg")
    assert relabelled[0] == ("1", "1a")
    assert len(relabelled) == len(SEASON.block("Wrenfield").rows)
    assert block.varieties == ("Syrah", "Carignan", "Grenache")
    assert block.outline.covers(SEASON.block("Dogleg").outline)
    assert block.outline.covers(SEASON.block("Wrenfield").outline)
    assert block.outline.covers(shapely.Point(43, 30))
    # work on the whole of one block is work on its rows now, not on the other's
    whole = next(each for each in made.passes if each.hours == 6.0)
    assert whole.rows == SEASON.block("Dogleg").rows.labels
    assert next(each for each in made.sprays if "1a" in each.rows).rows == ("1a", "2a")
    assert made.block("Wrenfield") is None
    assert all("Wrenfield" not in each.stops.blocks for each in made.rounds)


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (
            lambda s: ge.delete_rows(s, "Dogleg", ("12",)),
            "Row 12 of block Dogleg is named by the pass|has a stop at Dogleg / 12",
        ),
        (lambda s: ge.delete_rows(s, "Dogleg", s.block("Dogleg").rows.labels), "no row left"),
        (lambda s: ge.count_row(s, "Dogleg", s.rounds[0].stops.rows[0], 1), "Round 1 has a stop at Dogleg"),
        (lambda s: ge.count_row(s, "Dogleg", "1", 200), "200 vines every 1.50 m need 298 m"),
        (lambda s: ge.merge_blocks(s, "Dogleg", "Peña Alta", "X"), "lie 260 m apart"),
        (lambda s: ge.merge_blocks(s, "Dogleg", "Dogleg", "X"), "can't be merged with itself"),
        (lambda s: ge.merge_blocks(s, "Dogleg", "Nowhere", "X"), "There is no block Nowhere"),
        (lambda s: ge.merge_blocks(s, "Dogleg", "Wrenfield", "peña alta"), "There is a block peña alta already"),
        (lambda s: ge.split_after(s, "Dogleg", "16", "X"), "No row comes after row 16"),
        (lambda s: ge.split_after(s, "Dogleg", "7", "Wrenfield"), "There is a block Wrenfield already"),
        (lambda s: ge.split_along(s, "Dogleg", np.array([[200.0, 0], [220, 0]]), "X"), "does not cut the block in two"),
        (lambda s: ge.split_along(s, "Dogleg", np.array([[2.0, 0], [2, 0]]), "X"), "one place"),
        (lambda s: ge.split_along(s, "Dogleg", np.array([[-9.0, 0.05], [60, 0.05]]), "X"), "no vines"),
        (lambda s: ge.place_corner(s, "Dogleg", 9, EAST), "no corner 9"),
        (lambda s: ge.place_corner(s, "Dogleg", 1, np.array([200.0, 200.0])), "cross itself"),
        (lambda s: ge.place_corner(s, "Dogleg", 1, np.array([np.nan, 0.0])), "not a place"),
        (lambda s: ge.place_corner(s, "Wrenfield", 2, np.array([60.0, 30.0])), "would lie outside the outline"),
        (lambda s: ge.move_row(s, "Dogleg", "3", 60 * EAST, 60 * EAST), "would lie outside the outline"),
        (lambda s: ge.move_block(s, "Dogleg", 1e9, 0.0), "too far"),
        (lambda s: ge.move_block(s, "Dogleg", float("nan"), 0.0), "too far"),
        (lambda s: ge.rename_row(s, "Dogleg", "3", "4"), "more than one row of block Dogleg 4"),
        (lambda s: ge.rename_row(s, "Dogleg", "3", "4/5"), "can't be the name of a row"),
        (lambda s: ge.rename_block(s, "Dogleg", " "), "can't be the name of a block"),
        (lambda s: ge.renumber_rows(s, "Dogleg", 1, 1, "north"), "none is nearer to the north"),
        (lambda s: ge.add_row(s, "Dogleg", "3", 90.0, "3a"), "A row stands beside row 3 there already"),
        (lambda s: ge.add_row(s, "Dogleg", "3", 0.0, "3a"), "runs that way itself"),
        (lambda s: ge.add_row(s, "Dogleg", "1", 270.0, "0"), "no room inside Dogleg"),
        (lambda s: ge.reverse_rows(s, "Dogleg", ("99",)), "Block Dogleg has no row 99"),
    ],
)
def test_what_is_in_the_way_is_said_and_nothing_is_changed(edit, words):
    before = ground(SEASON), counts(SEASON), SEASON.passes
    with pytest.raises(InputError, match=words) as caught:
        edit(SEASON)
    assert caught.value.do
    assert (ground(SEASON), counts(SEASON), SEASON.passes) == before


def test_blocks_with_different_dates_or_another_between_them_are_not_merged():
    dated = replace(SEASON, stages=(*SEASON.stages, StageDates("Dogleg", budbreak=SEASON.stages[1].budbreak)))
    with pytest.raises(InputError, match="Dogleg and Wrenfield have different dates"):
        ge.merge_blocks(dated, "Dogleg", "Wrenfield", "Dogleg")
    lane = replace(SEASON.block("Peña Alta"), name="Lane", outline=shapely.box(41, 0, 45, 60))
    between = replace(SEASON, blocks=(*SEASON.blocks, lane))
    with pytest.raises(InputError, match="Block Lane lies between"):
        ge.merge_blocks(between, "Dogleg", "Wrenfield", "Dogleg")


def test_dates_follow_a_block_that_is_renamed_split_or_merged():
    renamed = ge.rename_block(SEASON, "Peña Alta", "High")
    assert [each.block for each in renamed.stages] == ["", "High"]
    parted = ge.split_after(SEASON, "Peña Alta", "5", "Low")
    assert [each.block for each in parted.stages] == ["", "Peña Alta", "Low"]
    made, _ = ge.merge_blocks(parted, "Peña Alta", "Low", "Peña Alta")
    assert made.stages == SEASON.stages


def test_a_row_that_is_moved_keeps_its_vines_and_its_stops_go_with_them():
    block = SEASON.block("Dogleg")
    made = ge.move_row(SEASON, "Dogleg", "3", 0.4 * EAST, np.array([0.0, 2.0]))
    now = made.block("Dogleg").rows
    row = now.labels.index("3")
    assert now.vine_count.tolist() == block.rows.vine_count.tolist()
    was_m, now_m = (distance_along_m(rows.line_m(row))[-1] for rows in (block.rows, now))
    assert now.vine_spacing_m[row] == pytest.approx(1.5 * now_m / was_m)
    assert stops_stand_at_their_vines(made)
    # moved as a whole it keeps every digit of its spacing
    assert ge.move_row(SEASON, "Dogleg", "3", 0.4 * EAST, 0.4 * EAST).block("Dogleg").rows.vine_spacing_m[row] == 1.5


def test_a_new_row_lies_one_spacing_away_and_what_stands_after_it_keeps_its_marks():
    wide = ge.place_corner(SEASON, "Wrenfield", 1, np.array([86.0, 0.0]))
    wide = ge.place_corner(wide, "Wrenfield", 2, np.array([86.0, 60.0]))
    last = wide.block("Wrenfield").rows.labels[-1]
    made = ge.add_row(wide, "Wrenfield", last, 90.0, "99")
    rows = made.block("Wrenfield").rows
    assert rows.labels[-1] == "99"
    new, old = rows.line_m(len(rows) - 1), rows.line_m(len(rows) - 2)
    assert new[0][0] - old[0][0] == pytest.approx(2.5)
    assert (new[-1] - new[0])[1] > 0
    assert rows.vine_count[-1] == rows.vine_count[-2]
    known = set(ground(wide))
    assert known < set(ground(made))
    first = ge.delete_rows(replace(wide, rounds=(), passes=(), sprays=()), "Wrenfield", ("5",))
    again = ge.add_row(first, "Wrenfield", "4", 90.0, "5")
    assert again.block("Wrenfield").rows.labels == wide.block("Wrenfield").rows.labels


def test_rows_on_which_something_stands_are_not_made_again():
    rows = SEASON.block("Wrenfield").rows
    with pytest.raises(InputError, match="Wrenfield has stops of round 1"):
        ge.with_rows(SEASON, "Wrenfield", rows, 2.5, 1.5)
    for season, words in (
        (replace(SEASON, rounds=()), "sprays on named rows"),
        (replace(SEASON, rounds=(), sprays=()), "marked vines"),
    ):
        with pytest.raises(InputError, match=words):
            ge.with_rows(season, "Wrenfield", rows, 2.5, 1.5)


def test_corners_are_counted_from_one():
    outline = SEASON.block("Dogleg").outline
    assert nearest_corner(outline, corners_of(outline)[3] + 0.2) == 4
