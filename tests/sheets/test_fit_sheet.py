"""Metres to millimetres: a round scale, north up unless turning gains much, and always inside the box."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.sheets.fit import SCALES, Box, Fit, fit_block, free_place, near_place

BOX = Box(10.0, 20.0, 200.0, 150.0)


def rectangle(length_m: float, width_m: float, bearing_deg: float) -> shapely.Polygon:
    turned = shapely.affinity.rotate(shapely.box(0, 0, width_m, length_m), -bearing_deg, origin=(0, 0))
    return shapely.affinity.translate(turned, 5000.0, -3000.0)


def test_a_hundred_metres_at_1_to_1000_are_a_hundred_millimetres_and_north_is_up() -> None:
    fit = Fit(1000.0, 0.0, 0.0, 0.0, 50.0, 60.0)
    assert fit.place(np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 30.0]])).tolist() == [[50, 60], [150, 60], [50, 30]]


def test_a_turn_of_ninety_degrees_lays_north_to_the_right() -> None:
    fit = Fit(1000.0, 90.0, 0.0, 0.0, 0.0, 0.0)
    assert np.allclose(fit.place(np.array([[0.0, 10.0]])), [[10.0, 0.0]])


def test_a_block_as_wide_as_the_box_keeps_north_up_at_the_scale_that_just_fits() -> None:
    # 200 m by 150 m in 200 mm by 150 mm is 1 : 1000 exactly
    fit = fit_block(rectangle(150, 200, 0), BOX)
    assert (fit.scale, fit.turn_deg) == (1000.0, 0.0)


def test_a_thin_upright_block_is_turned() -> None:
    fit = fit_block(rectangle(300, 20, 0), BOX)
    assert abs(abs(fit.turn_deg) - 90.0) < 1e-6
    assert fit.scale == 1500.0  # 300 m in 200 mm


@given(st.floats(1, 3000), st.floats(1, 3000), st.floats(0, 360))
@settings(derandomize=True, max_examples=60)
def test_every_block_lies_in_the_box_at_a_listed_scale(length: float, width: float, bearing: float) -> None:
    shape = rectangle(length, width, bearing)
    fit = fit_block(shape, BOX)
    points = fit.place(shapely.get_coordinates(shape))
    assert fit.scale in SCALES
    assert BOX.polygon(1e-3).contains(shapely.MultiPoint(points))
    sides_m = np.hypot(*np.diff(shapely.get_coordinates(shape), axis=0).T)
    sides_mm = np.hypot(*np.diff(points, axis=0).T)
    assert np.allclose(sides_mm, sides_m * 1000 / fit.scale)


def test_no_outline_and_too_large_a_block_are_refused_in_words() -> None:
    with pytest.raises(InputError, match="no outline"):
        fit_block(shapely.Polygon(), BOX)
    with pytest.raises(InputError, match="too large"):
        fit_block(rectangle(300_000, 300_000, 0), BOX)


def test_a_free_place_is_clear_and_none_is_given_when_all_is_taken() -> None:
    taken = shapely.box(10, 20, 210, 140)
    spot = free_place(BOX, (30.0, 10.0), taken)
    assert spot is not None
    assert spot.polygon().intersection(taken).area == 0
    assert spot.right_mm == pytest.approx(BOX.right_mm)
    assert free_place(BOX, (30.0, 40.0), taken) is None
    assert free_place(BOX, (300.0, 10.0), shapely.Point(0, 0)) is None


def test_the_near_place_is_the_wished_one_where_free_else_the_nearest() -> None:
    wished = near_place(BOX, (10.0, 10.0), shapely.Point(0, 0), 100.0, 100.0)
    assert wished is not None
    assert (wished.x_mm, wished.y_mm) == (95.0, 95.0)
    taken = shapely.box(80, 80, 120, 120)
    moved = near_place(BOX, (10.0, 10.0), taken, 100.0, 100.0)
    assert moved is not None
    assert not moved.polygon().intersects(taken)
    assert np.hypot(moved.x_mm + 5 - 100, moved.y_mm + 5 - 100) < 30
    assert near_place(BOX, (10.0, 10.0), BOX.polygon(), 100.0, 100.0) is None
