"""Metres to pixels and back."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.desk.camera import LEAST_M_PER_PX, MOST_M_PER_PX, Camera

PLACES = st.floats(-5000, 5000)
PIXELS = st.floats(0, 800)


@settings(max_examples=60)
@given(PLACES, PLACES, st.floats(0.02, 20.0), PIXELS, PIXELS)
def test_a_pixel_comes_back_from_the_ground(x_m: float, y_m: float, scale: float, x_px: float, y_px: float) -> None:
    view = Camera(x_m, y_m, scale).view(800, 600)
    assert view.to_px(*view.to_m(x_px, y_px)) == pytest.approx((x_px, y_px), abs=1e-6)


def test_east_is_right_and_north_is_up() -> None:
    view = Camera(100.0, 50.0, 0.5).view(800, 600)
    assert view.to_px(100.0, 50.0) == (400.0, 300.0)
    assert view.to_px(110.0, 50.0) == (420.0, 300.0)
    assert view.to_px(100.0, 60.0) == (400.0, 280.0)
    assert view.bounds_m == (-100.0, -100.0, 300.0, 200.0)


@settings(max_examples=60)
@given(PLACES, PLACES, st.floats(0.1, 5.0), st.floats(0.3, 3.0), PIXELS, PIXELS)
def test_zoom_keeps_the_place_under_the_pointer(
    x_m: float, y_m: float, scale: float, factor: float, x_px: float, y_px: float
) -> None:
    camera = Camera(x_m, y_m, scale)
    before = camera.view(800, 600).to_m(x_px, y_px)
    camera.zoom(factor, x_px, y_px, 800, 600)
    # The corner is set on whole pixels, so the place may move by half a pixel.
    assert camera.view(800, 600).to_px(*before) == pytest.approx((x_px, y_px), abs=0.51)
    assert camera.m_per_px == pytest.approx(scale / factor)


def test_zoom_stops_at_both_ends() -> None:
    camera = Camera()
    camera.zoom(1e9, 10, 10, 800, 600)
    assert camera.m_per_px == LEAST_M_PER_PX
    camera.zoom(1e-12, 10, 10, 800, 600)
    assert camera.m_per_px == MOST_M_PER_PX


@settings(max_examples=60)
@given(PLACES, PLACES, st.floats(10, 2000), st.floats(10, 2000), st.floats(0, 150), st.floats(0, 100))
def test_fit_shows_all_of_it_inside_the_insets(
    west: float, south: float, wide: float, high: float, left: float, top: float
) -> None:
    camera = Camera()
    camera.fit((west, south, west + wide, south + high), 800, 600, (left, top, 40.0, 30.0))
    view = camera.view(800, 600)
    x0, y1 = view.to_px(west, south)
    x1, y0 = view.to_px(west + wide, south + high)
    assert left - 1 <= x0 < x1 <= 761
    assert top - 1 <= y0 < y1 <= 571
    room = min((760 - left) - (x1 - x0), (570 - top) - (y1 - y0))
    assert room == pytest.approx(0.0, abs=1e-6), "as large as it can be"


def test_the_corner_lies_on_a_device_pixel() -> None:
    for ratio in (1.0, 1.5, 2.0):
        view = Camera(3.3333, 7.7777, 0.37).view(801, 601, ratio)
        assert np.allclose(np.array([view.left_px, view.top_px]) * ratio % 1.0, 0.0)


def test_a_move_is_told_once_and_standing_still_is_not_told() -> None:
    camera, told = Camera(), []
    camera.changed.connect(lambda: told.append(1))
    camera.pan_px(10, 0)
    camera.pan_px(0, 0)
    assert camera.x_m == pytest.approx(-5.0)
    assert len(told) == 1
