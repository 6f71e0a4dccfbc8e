"""Rows made from an outline: headland, numbering, offset grids and curves; areas and distances are worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from vinemap.errors import InputError
from vinemap.ground.block import FREE, Block
from vinemap.ground.renumber import across_sign, renumbered
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.rows_along_edge import edge_along, make_rows_along
from vinemap.ground.vines import distance_along_m, place_vines

FEW = settings(derandomize=True, max_examples=30, deadline=None)


def places(outline, rows):
    vines = place_vines(Block("A", outline, rows, 3.0, 2.0, training=FREE))
    return np.column_stack([vines.x_m, vines.y_m])


def edge_effect(outline, row_m, vine_m):
    """Area [m2] within half a cell's diagonal of the edge: no cell farther inside can be missed, none outside be counted."""
    half = np.hypot(row_m, vine_m) / 2.0
    length = outline.exterior.length + sum(ring.length for ring in outline.interiors)
    return length * half + np.pi * half**2


@FEW
@given(
    st.lists(st.floats(30, 150), min_size=5, max_size=8),
    st.floats(0, 360),
    st.floats(1.5, 4),
    st.floats(0.9, 3),
    st.booleans(),
    st.booleans(),
)
def test_counts_agree_with_the_area_but_for_the_edge(sizes, bearing_deg, row_m, vine_m, is_offset, is_from_left):
    angles = np.linspace(0, 2 * np.pi, len(sizes), endpoint=False)
    outline = shapely.Polygon(np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(sizes)[:, None])
    outline = outline.difference(shapely.Point(2, 3).buffer(6))
    rows = make_rows(outline, bearing_deg, row_m, vine_m, is_offset=is_offset, is_from_left=is_from_left)
    points = places(outline, rows)
    assert abs(len(points) * row_m * vine_m - outline.area) <= edge_effect(outline, row_m, vine_m)
    assert shapely.contains_xy(outline, points[:, 0], points[:, 1]).all()


def test_a_headland_is_as_wide_as_asked_where_the_edge_lies_askew():
    # the south edge runs at 45 degrees to the rows: the width is measured square to it, not along the row
    outline = shapely.Polygon([(0, 0), (60, 60), (60, 200), (0, 200)])
    rows = make_rows(outline, 0.0, 3.0, 1.0, headland_m=8.0)
    points = shapely.points(places(outline, rows))
    askew, north = shapely.LineString([(0, 0), (60, 60)]), shapely.LineString([(60, 200), (0, 200)])
    assert shapely.distance(askew, points).min() >= 8.0
    assert shapely.distance(askew, points).min() < 8.0 + 1.0
    assert shapely.distance(north, points).min() >= 8.0
    # sides along the rows are no headland
    assert shapely.distance(shapely.LineString([(0, 0), (0, 200)]), points).min() == pytest.approx(1.5)


def test_a_headland_is_kept_at_an_opening_too():
    opening = shapely.box(40, 40, 60, 60)
    outline = shapely.box(0, 0, 100, 100).difference(opening)
    points = shapely.points(places(outline, make_rows(outline, 0.0, 2.5, 1.0, headland_m=5.0)))
    ends = shapely.MultiLineString([[(40, 40), (60, 40)], [(40, 60), (60, 60)]])
    assert shapely.distance(ends, points).min() >= 5.0


@pytest.mark.parametrize(
    ("bearing_deg", "side", "axis", "sign"),
    [(0.0, "west", 0, 1), (0.0, "east", 0, -1), (180.0, "west", 0, 1), (92.0, "north", 1, -1), (92.0, "south", 1, 1)],
)
def test_the_first_row_stands_on_the_side_that_is_asked_for(bearing_deg, side, axis, sign):
    is_from_left = across_sign(bearing_deg, side) > 0
    rows = make_rows(shapely.box(0, 0, 80, 80), bearing_deg, 4.0, 2.0, first_row=11, is_from_left=is_from_left)
    assert rows.labels[0] == "11"
    assert rows.labels[-1] == str(10 + len(rows))
    middles = np.array([rows.line_m(row).mean(axis=0) for row in range(len(rows))])[:, axis]
    assert (np.diff(middles) * sign > 0).all()


def test_a_side_toward_which_the_rows_run_is_refused():
    with pytest.raises(InputError, match="none is nearer to the north") as caught:
        across_sign(5.0, "north")
    assert "from the west" in caught.value.do


def test_an_offset_grid_stands_between_the_vines_of_the_next_row():
    # 2 m by 2 m, shifted by half: each inner vine has four neighbours at sqrt(1 + 4) and two at 2 m
    outline = shapely.box(0, 0, 40, 40)
    points = places(outline, make_rows(outline, 0.0, 2.0, 2.0, is_offset=True))
    inner = np.flatnonzero((abs(points - 20) < 15).all(axis=1))
    away, _ = cKDTree(points).query(points[inner], k=7)
    assert away[:, 1:3] == pytest.approx(np.full((len(inner), 2), 2.0))
    assert away[:, 3:7] == pytest.approx(np.full((len(inner), 4), np.sqrt(5.0)))


def quarter_ring(inner_m, outer_m):
    """A quarter of a ring about (0, 0), drawn with a corner every degree."""
    angles = np.radians(np.arange(0, 91))
    arc = np.column_stack([np.sin(angles), np.cos(angles)])
    return shapely.Polygon(np.vstack([arc * outer_m, arc[::-1] * inner_m]))


def test_rows_follow_a_curved_edge():
    outline = quarter_ring(100.0, 130.0)
    edge = edge_along(outline, 135.0)
    assert len(edge) == 91
    rows = make_rows_along(outline, edge, 3.0, 2.0)
    assert rows.labels == tuple(str(number) for number in range(1, 11))
    for row in range(10):
        radius = np.hypot(*rows.line_m(row).T)
        # a degree of a circle of 130 m sags by 130 (1 - cos 0.5 degrees) = 5 mm; lines are drawn to 2 cm
        assert radius == pytest.approx(np.full(len(radius), 128.5 - 3.0 * row), abs=0.03)
        assert rows.vine_count[row] == pytest.approx((128.5 - 3.0 * row) * np.pi / 2 / 2.0, abs=1)
        # vine 1 is at the northern end, as the bearing says
        assert rows.line_m(row)[0][1] > rows.line_m(row)[-1][1]
    points = places(outline, rows)
    assert shapely.contains_xy(outline, points[:, 0], points[:, 1]).all()
    assert abs(len(points) * 6.0 - outline.area) <= edge_effect(outline, 3.0, 2.0)


def test_the_edge_on_a_side_is_followed_and_rows_may_be_offset():
    outline = quarter_ring(100.0, 130.0)
    inner = edge_along(outline, 135.0, "south")
    assert np.hypot(*inner.T) == pytest.approx(np.full(len(inner), 100.0))
    rows = make_rows_along(outline, inner, 3.0, 2.0, is_offset=True, first_row=7)
    assert rows.labels[0] == "7"
    assert np.hypot(*rows.line_m(0).T) == pytest.approx(np.full(len(rows.line_m(0)), 101.5), abs=0.03)
    # a quarter of 2 m inside its end, then three quarters
    ends = [abs(rows.line_m(row)[0][0]) for row in (0, 1)]
    assert ends == pytest.approx([0.5, 1.5], abs=0.05)


def test_curved_rows_keep_the_headland_free_and_go_on_behind_an_opening():
    outline = quarter_ring(100.0, 130.0).difference(shapely.Point(82, 82).buffer(5))
    rows = make_rows_along(outline, edge_along(outline, 135.0), 3.0, 2.0, headland_m=6.0)
    points = shapely.points(places(outline, rows))
    ends = shapely.MultiLineString([[(0, 100), (0, 130)], [(100, 0), (130, 0)]])
    assert shapely.distance(ends, points).min() >= 6.0
    lettered = [label for label in rows.labels if label.endswith("a")]
    assert lettered
    for label in lettered:
        first, second = (rows.line_m(rows.labels.index(each)) for each in (label[:-1], label))
        assert first[-1][1] > second[0][1]


@pytest.mark.parametrize("sharp_m", [4.0, 12.0, 25.0])
def test_a_tight_bend_still_gives_whole_rows(sharp_m):
    angles = np.radians(np.linspace(-80, 80, 33))
    hollow = np.column_stack([sharp_m * np.sin(angles), sharp_m * np.cos(angles)])
    outline = shapely.Polygon([*hollow, (90, hollow[-1][1]), (90, 90), (-90, 90), (-90, hollow[0][1])])
    rows = make_rows_along(outline, hollow, 3.0, 1.5)
    points = places(outline, rows)
    assert shapely.contains_xy(outline, points[:, 0], points[:, 1]).all()
    # rows never come nearer to each other than their spacing, but for the 2 cm they are drawn to
    lines = [shapely.LineString(rows.line_m(row)) for row in range(len(rows))]
    numbers = [int(label.rstrip("ab")) for label in rows.labels]
    near = [a.distance(b) for i, a in enumerate(lines) for j, b in enumerate(lines) if numbers[i] < numbers[j]]
    assert min(near) > 3.0 - 0.1


def test_both_arms_of_a_bent_block_get_rows_whichever_edge_is_followed():
    outline = shapely.Polygon([(0, 0), (90, 0), (90, 30), (30, 30), (30, 90), (0, 90)])
    # the inner edge at x = 30 is carried on through the arm to the east
    inner = np.array([[30.0, 90.0], [30.0, 30.0]])
    rows = make_rows_along(outline, inner, 3.0, 2.0)
    points = places(outline, rows)
    assert abs(len(points) * 6.0 - outline.area) <= edge_effect(outline, 3.0, 2.0)
    x_m = [rows.line_m(row)[0][0] for row in range(len(rows))]
    assert np.diff(x_m) == pytest.approx(np.full(len(rows) - 1, -3.0))
    assert rows.labels == tuple(str(number) for number in range(1, 31))


def test_a_straight_edge_gives_the_same_as_straight_rows():
    outline = shapely.box(0, 0, 30, 100)
    straight = make_rows(outline, 0.0, 3.0, 2.0)
    along = make_rows_along(outline, edge_along(outline, 0.0, "west"), 3.0, 2.0)
    assert along.labels == straight.labels
    assert places(outline, along) == pytest.approx(places(outline, straight), abs=1e-6)


def test_refusals_of_curved_rows():
    with pytest.raises(InputError, match="No edge of the outline runs along"):
        edge_along(shapely.Polygon([(0, 0), (80, 50), (0, 100), (-80, 50)]), 0.0)
    with pytest.raises(InputError, match="No vine fits"):
        make_rows_along(shapely.box(0, 0, 30, 10), np.array([[0.0, 0.0], [0.0, 10.0]]), 3.0, 2.0, headland_m=6.0)
    with pytest.raises(InputError, match="numbered from -1"):
        make_rows(shapely.box(0, 0, 30, 10), 0.0, 3.0, 2.0, first_row=-1)


@FEW
@given(st.integers(0, 200), st.integers(1, 4), st.sampled_from(["west", "east"]), st.floats(-40, 40))
def test_renumbering_keeps_the_order_in_which_rows_lie(first, step, side, bearing_deg):
    outline = shapely.box(0, 0, 60, 80).difference(shapely.box(25, 30, 35, 50))
    block = Block("A", outline, make_rows(outline, bearing_deg, 3.0, 2.0), 3.0, 2.0)
    labels = renumbered(block, first, step, side)
    assert len(set(labels)) == len(labels)
    numbers = [int("".join(filter(str.isdecimal, label))) for label in labels]
    x = np.array([block.rows.line_m(row).mean(axis=0) for row in range(len(labels))])
    turned = x @ np.array([np.cos(np.radians(bearing_deg)), -np.sin(np.radians(bearing_deg))])
    order = np.argsort(turned * (1 if side == "west" else -1), kind="stable")
    assert (np.diff(np.array(numbers)[order]) >= 0).all()
    assert set(np.diff(sorted(set(numbers)))) <= {step}
    assert min(numbers) == first
    # pieces of one line keep one number and go on with letters away from vine 1
    for row, label in enumerate(labels):
        if label.endswith("a"):
            whole = labels.index(label[:-1])
            assert block.rows.line_m(whole)[0] @ u(bearing_deg) < block.rows.line_m(row)[0] @ u(bearing_deg)
            assert abs(turned[whole] - turned[row]) < 1e-6


def u(bearing_deg):
    return np.array([np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))])


def test_vines_along_a_curve_stand_at_their_spacing():
    rows = make_rows_along(quarter_ring(60, 90), edge_along(quarter_ring(60, 90), 135.0), 3.0, 2.0)
    for row in range(len(rows)):
        assert distance_along_m(rows.line_m(row))[-1] == pytest.approx((rows.vine_count[row] - 1) * 2.0, abs=1e-6)
