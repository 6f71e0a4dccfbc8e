"""Rows made from an outline: counts, places, cuts, and what shifting and turning must not change."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.ground.block import Block
from vinemap.ground.rowmaker import free_label, make_rows
from vinemap.ground.vines import place_vines, row_bearings_deg, row_frame_m

FEW = settings(derandomize=True, max_examples=40, deadline=None)


def vines_of(outline, rows, row_spacing_m=3.0):
    return place_vines(Block("A", outline, rows, row_spacing_m, float(rows.vine_spacing_m[0])))


def test_a_rectangle_by_hand():
    # 12 m wide at 3 m: rows at 1.5, 4.5, 7.5, 10.5; 10 m long at 2 m: vines at 1, 3, 5, 7, 9
    rows = make_rows(shapely.box(0, 0, 12, 10), 0.0, 3.0, 2.0)
    assert rows.labels == ("1", "2", "3", "4")
    assert rows.vine_count.tolist() == [5, 5, 5, 5]
    vines = vines_of(shapely.box(0, 0, 12, 10), rows)
    assert np.unique(vines.x_m).tolist() == pytest.approx([1.5, 4.5, 7.5, 10.5])
    assert vines.y_m[:5].tolist() == pytest.approx([1, 3, 5, 7, 9])


@pytest.mark.parametrize("bearing_deg", [0.0, 5.0, 38.0, 92.0, 140.0, 271.0, 359.0])
def test_rows_run_along_the_bearing_and_are_numbered_to_its_right(bearing_deg):
    rows = make_rows(shapely.Point(0, 0).buffer(60), bearing_deg, 3.0, 2.0)
    many = rows.vine_count > 1
    assert row_bearings_deg(rows)[many] == pytest.approx(np.full(many.sum(), bearing_deg), abs=1e-6)
    first = rows.xy_m[rows.start[:-1]]
    _, across = row_frame_m(first[:, 0], first[:, 1], bearing_deg)
    assert np.diff(across) == pytest.approx(np.full(len(rows) - 1, 3.0))


@pytest.mark.parametrize("bearing_deg", [0.0, 17.0, 45.0, 111.0])
@pytest.mark.parametrize(
    "outline",
    [
        shapely.box(0, 0, 400, 350),
        shapely.Polygon([(0, 0), (380, 60), (420, 300), (90, 340), (-40, 150)]),
        shapely.Polygon([(0, 0), (400, 0), (400, 150), (180, 150), (180, 380), (0, 380)]),
        shapely.Point(0, 0).buffer(200).difference(shapely.box(-20, -30, 25, 15)),
    ],
)
def test_counts_agree_with_the_area(outline, bearing_deg):
    rows = make_rows(outline, bearing_deg, 2.7, 1.8)
    # places per area is the definition of the spacings; two in a hundred covers the cut ends of these outlines
    assert rows.vine_count.sum() == pytest.approx(outline.area / (2.7 * 1.8), rel=0.02)


def test_an_opening_cuts_rows_into_lettered_ones():
    outline = shapely.box(0, 0, 12, 40).difference(shapely.box(4, 10, 8, 20))
    rows = make_rows(outline, 0.0, 3.0, 2.0)
    assert rows.labels == ("1", "2", "2a", "3", "3a", "4")
    # row 2 stands at 4.5 m: 10 m before the opening, 20 m after it
    assert rows.vine_count.tolist() == [20, 5, 10, 5, 10, 20]


def test_many_pieces_keep_apart_labels():
    comb = shapely.box(0, 0, 3, 300).difference(shapely.union_all([shapely.box(-1, y, 4, y + 2) for y in range(4, 296, 6)]))
    assert comb.geom_type == "MultiPolygon"
    teeth = shapely.union_all([comb, shapely.box(2.5, 0, 3, 300)])
    rows = make_rows(teeth, 0.0, 4.0, 2.0)
    assert len(set(rows.labels)) == len(rows) == 50
    assert rows.labels[26:29] == ("1z", "1aa", "1ab")


def test_a_square_planting_lines_up_both_ways():
    outline = shapely.Polygon([(0, 0), (90, 13), (110, 70), (12, 95)])
    vines = vines_of(outline, make_rows(outline, 30.0, 2.4, 2.4))
    steps = vines.along_m / 2.4
    assert np.ptp((steps - steps[0] + 0.5) % 1.0) == pytest.approx(0.0, abs=1e-6)
    steps = vines.across_m / 2.4
    assert np.ptp((steps - steps[0] + 0.5) % 1.0) == pytest.approx(0.0, abs=1e-6)


def test_headland_is_kept_free():
    outline = shapely.box(0, 0, 30, 100)
    rows = make_rows(outline, 0.0, 3.0, 2.0, headland_m=8.0)
    vines = vines_of(outline, rows)
    assert vines.y_m.min() == pytest.approx(9.0)
    assert vines.y_m.max() == pytest.approx(91.0)


def star(corners, sizes, phase):
    angles = phase + np.linspace(0, 2 * np.pi, corners, endpoint=False)
    return shapely.Polygon(np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(sizes[:corners])[:, None])


STARS = st.builds(star, st.integers(3, 9), st.lists(st.floats(15, 120), min_size=9, max_size=9), st.floats(0, 6))


@FEW
@given(STARS, st.floats(0, 360), st.floats(1.5, 4), st.floats(0.8, 3))
def test_every_vine_stands_inside_and_apart(outline, bearing_deg, row_spacing_m, vine_spacing_m):
    try:
        rows = make_rows(outline, bearing_deg, row_spacing_m, vine_spacing_m)
    except InputError:
        assert outline.area < 20 * row_spacing_m * max(row_spacing_m, vine_spacing_m)
        return
    vines = vines_of(outline, rows)
    assert shapely.contains_xy(outline, vines.x_m, vines.y_m).all()
    assert len(set(rows.labels)) == len(rows)
    from scipy.spatial import cKDTree

    if len(vines) > 1:
        near, _ = cKDTree(np.column_stack([vines.x_m, vines.y_m])).query(np.column_stack([vines.x_m, vines.y_m]), k=2)
        assert near[:, 1].min() > min(row_spacing_m, vine_spacing_m) - 1e-6


@FEW
@given(STARS, st.floats(0, 180), st.floats(-3000, 3000), st.floats(-3000, 3000), st.floats(0, 360))
def test_shifting_and_turning_the_estate_changes_nothing(outline, bearing_deg, east_m, north_m, turn_deg):
    from shapely import affinity

    def counts(shape, bearing):
        try:
            return make_rows(shape, bearing, 2.5, 1.7).vine_count
        except InputError:
            return np.zeros(0, int)

    here = counts(outline, bearing_deg)
    moved = affinity.translate(affinity.rotate(outline, -turn_deg, origin=(0, 0)), east_m, north_m)
    there = counts(moved, bearing_deg + turn_deg)
    # a vine or a row that lies on the very edge may fall to either side by rounding
    assert abs(len(here) - len(there)) <= 1
    assert abs(int(here.sum()) - int(there.sum())) <= max(2, here.max(initial=0) if len(here) != len(there) else 2)


@pytest.mark.parametrize(
    ("outline", "figures", "words"),
    [
        (shapely.Polygon(), (0, 3, 2), "empty or crosses itself"),
        (shapely.Polygon([(0, 0), (9, 9), (9, 0), (0, 9)]), (0, 3, 2), "empty or crosses itself"),
        (shapely.box(0, 0, 90, 90), (0, 0, 2), "A row spacing of 0 m"),
        (shapely.box(0, 0, 90, 90), (0, 3, -1), "A vine spacing of -1 m"),
        (shapely.box(0, 0, 90, 90), (0, float("nan"), 2), "A row spacing of nan m"),
        (shapely.box(0, 0, 90, 90), (float("inf"), 3, 2), "row bearing is not a number"),
        (shapely.box(0, 0, 90, 90), (0, 3, 2, -5), "A headland of -5 m"),
        (shapely.box(0, 0, 90, 90), (0, 3, 2, 50), "No vine fits"),
        (shapely.box(0, 0, 0.5, 0.5), (0, 3, 2), "No vine fits"),
        (shapely.box(0, 0, 9000, 9000), (0, 1, 1), "more than 2,000,000 vines"),
    ],
)
def test_refusals(outline, figures, words):
    with pytest.raises(InputError, match=words) as caught:
        make_rows(outline, *figures)
    assert caught.value.do


def test_a_label_is_free_after_the_last_letter_too():
    taken = {"7", *(f"7{chr(97 + letter)}" for letter in range(26))}
    assert free_label("7", 1, taken - {"7c"}) == "7c"
    assert free_label("7", 1, taken) == "7aa"
