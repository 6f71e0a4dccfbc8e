"""What is left of the wind behind tall edges and among rows: published figures, plane geometry by hand, invariances."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.canopy.shelter import LEFT_INSIDE, SETTLING_M, among_rows, behind_edge, wind_left
from vinemap.canopy.wind import wind_rose
from vinemap.ground.edges import Edge
from vinemap.vineclock.weather import Weather

RING = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0), (0.0, 0.0)])
NOON = 1_750_000_000 // 86_400 * 86_400 + 20 * 3600


def steady(*from_deg: float):
    """A rose of dry wind by day at 38 N, 122 W."""
    n = len(from_deg)
    one = np.ones(n)
    weather = Weather(
        *("invented", -8.0, NOON + 60 * np.arange(n), 20 * one, 0 * one, 0 * one, 0.4 * one, 3 * one), np.array(from_deg)
    )
    return wind_rose(weather, 38.0, -122.0)


def line(x_m: float, height_m: float = 10.0, open_frac: float = 0.5, half_m: float = 5000.0) -> Edge:
    return Edge("poplars", np.array([(x_m, -half_m), (x_m, half_m)]), height_m, open_frac)


def left(points, edges=(), rose=None, bearing=0.0, ring=RING, **more):
    points = np.array(points, float)
    return wind_left(points, np.full(len(points), bearing), ring, edges, rose or steady(270.0), **more)


@pytest.mark.parametrize(
    ("open_frac", "at_5_10_15_20_30"),
    [
        # Brandle & Finch 1991, as shares of 20 mph in the open
        (0.7, (0.50, 0.65, 0.80, 0.85, 1.00)),
        (0.5, (0.30, 0.50, 0.60, 0.75, 0.95)),
        (0.3, (0.25, 0.35, 0.65, 0.85, 0.95)),
        (0.0, (0.25, 0.70, 0.90, 0.95, 1.00)),
    ],
)
def test_wind_behind_an_edge_is_as_published(open_frac, at_5_10_15_20_30):
    heights = np.array([5.0, 10.0, 15.0, 20.0, 30.0])
    assert behind_edge(heights, open_frac) == pytest.approx(at_5_10_15_20_30)


def test_a_moderately_dense_edge_agrees_with_another_table():
    """Speed taken away 78, 66, 35, 14, 10 and 4 % at 5, 10, 15, 20, 25 and 30 heights (an extension table for farmsteads)."""
    heights = np.array([5.0, 10.0, 15.0, 20.0, 25.0, 30.0])
    assert behind_edge(heights, 0.3) == pytest.approx([0.22, 0.34, 0.65, 0.86, 0.90, 0.96], abs=0.04)


def test_nothing_is_felt_far_behind_an_edge_or_of_none():
    assert behind_edge(np.array([40.0, np.inf]), 0.0).tolist() == [1.0, 1.0]
    assert behind_edge(np.array([0.0, 3.0, 50.0]), 1.0).tolist() == [1.0, 1.0, 1.0]


@given(st.floats(0, 60), st.floats(0, 60), st.floats(0, 1))
@settings(derandomize=True, max_examples=100)
def test_farther_behind_the_same_edge_there_is_never_less_wind(one, two, open_frac):
    near, far = behind_edge(np.array(sorted((one, two))), open_frac)
    assert 0.25 <= near <= far <= 1.0


def test_an_edge_shelters_on_its_lee_side_only():
    """A line of poplars 10 m high, half open, 50 m west of the vine: five heights away, a little more aslant."""
    aslant = 5.0 / np.cos(np.radians(7.5))
    expected = np.mean([0.30, 0.30 + 0.20 * (aslant - 5) / 5, 0.30 + 0.20 * (aslant - 5) / 5])
    assert left([(50.0, 50.0)], [line(0.0)]).behind_edges == pytest.approx([expected])
    assert left([(50.0, 50.0)], [line(0.0)], steady(90.0)).behind_edges == pytest.approx([1.0])
    # half the time from each side
    assert left([(50.0, 50.0)], [line(0.0)], steady(90.0, 270.0)).behind_edges == pytest.approx([(1 + expected) / 2])


def test_of_two_edges_the_one_that_shelters_most_counts():
    both = left([(50.0, 50.0)], [line(0.0), line(-400.0, 8.0)])
    assert both.behind_edges == left([(50.0, 50.0)], [line(0.0)]).behind_edges


def test_wind_goes_past_a_short_edge():
    beside = line(0.0, half_m=5.0)
    assert left([(50.0, 0.0), (50.0, 80.0)], [beside]).behind_edges.tolist() == pytest.approx([1 / 3 * 0.3 + 2 / 3, 1.0])


def test_among_rows_the_wind_slows_across_them_and_not_along_them():
    """15 m behind the first row of rows that run north, in wind from the west."""
    inside = left([(SETTLING_M, 50.0)])
    expected = np.mean([1 - np.cos(np.radians(a)) * 0.6 * (1 - np.exp(-1 / np.cos(np.radians(a)))) for a in (-7.5, 0.0, 7.5)])
    assert inside.among_rows == pytest.approx([expected])
    assert inside.both == pytest.approx([expected])
    along = left([(SETTLING_M, 50.0)], bearing=90.0).among_rows[0]
    assert 0.9 < along < 1.0
    assert left([(0.0, 50.0)]).among_rows[0] == pytest.approx(1.0)


@given(st.floats(0, 500), st.floats(0, 500), st.floats(0, 1), st.floats(0, 1))
@settings(derandomize=True, max_examples=100)
def test_deeper_in_the_block_or_more_across_it_there_is_never_more_wind(one, two, flat, steep):
    near, far = sorted((one, two))
    less, more = sorted((flat, steep))
    speed = among_rows(np.array([near, far, far]), np.array([less, less, more]))
    assert 1.0 >= speed[0] >= speed[1] >= speed[2] >= LEFT_INSIDE - 1e-12


@given(st.sampled_from([22.5 * step for step in range(16)]), st.floats(-300, 300), st.floats(5, 30))
@settings(derandomize=True, max_examples=40)
def test_everything_turned_together_is_the_same(turn_deg, shift_m, height_m):
    angle = np.radians(turn_deg)
    # clockwise, as bearings go
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    points, edge = np.array([(30.0, 40.0), (70.0, 20.0)]), line(-20.0, height_m, half_m=60.0)
    plain = left(points, [edge])
    turned_edge = Edge("poplars", edge.line_m @ turn + shift_m, height_m, 0.5)
    turned = left(points @ turn + shift_m, [turned_edge], steady(270.0 + turn_deg), turn_deg, RING @ turn + shift_m)
    for name in ("behind_edges", "among_rows", "both"):
        assert getattr(turned, name) == pytest.approx(getattr(plain, name), abs=1e-9)


def test_the_wind_is_told_from_true_north_and_the_ground_lies_by_the_grid():
    """Grid north 22.5 degrees east of true north: wind from the true west comes from the grid's west-south-west."""
    turned = left([(50.0, 50.0)], [line(0.0)], steady(270.0), convergence_deg=22.5)
    assert turned.both == pytest.approx(left([(50.0, 50.0)], [line(0.0)], steady(247.5)).both)
