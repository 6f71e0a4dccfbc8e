"""Patterns stay in their shape, follow the row, and differ from kind to kind."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.sheets.hatch import hatch
from vinemap.sheets.marks import Dots, Strokes
from vinemap.work.diary import KINDS

BAND = shapely.box(0, 0, 60, 2.0)


def share_of_black(kind: str) -> float:
    black = 0.0
    for mark in hatch(kind, BAND, 0.0, "#000000"):
        if isinstance(mark, Strokes):
            black += mark.width_mm * np.hypot(*(mark.ends[:, 2:] - mark.ends[:, :2]).T).sum()
        else:
            rings = 2 * np.pi * mark.radius_mm * mark.width_mm
            black += float((np.pi * mark.radius_mm**2 if mark.fill else rings).sum())
    return black / BAND.area


@pytest.mark.parametrize("kind", KINDS)
@given(angle=st.floats(0, 360), height=st.floats(0.3, 4.0))
@settings(derandomize=True, max_examples=12)
def test_every_pattern_stays_in_its_band(kind: str, angle: float, height: float) -> None:
    turned = shapely.affinity.rotate(shapely.box(10, 10, 60, 10 + height), angle)
    marks = hatch(kind, turned, angle, "#000000", 0.6)
    assert marks
    room = turned.buffer(1e-6)
    for mark in marks:
        if isinstance(mark, Strokes):
            assert shapely.covers(room, shapely.linestrings(mark.ends.reshape(-1, 2, 2))).all()
        else:
            assert isinstance(mark, Dots)
            assert shapely.contains_xy(room, *mark.points.T).all()


def test_kinds_differ_and_firm_is_darker_than_light() -> None:
    shares = {kind: share_of_black(kind) for kind in KINDS}
    assert shares["L"] < 0.2 < shares["F"]
    assert shares["L"] < shares["D"]
    drawn = {kind: tuple(type(mark).__name__ for mark in hatch(kind, BAND, 0.0, "#000000")) for kind in KINDS}
    assert drawn["P"] == drawn["C"] == ("Dots",)
    (dots,), (rings,) = hatch("P", BAND, 0.0, "#000000"), hatch("C", BAND, 0.0, "#000000")
    assert isinstance(dots, Dots)
    assert isinstance(rings, Dots)
    assert dots.fill
    assert not rings.fill
    assert rings.radius_mm[0] > dots.radius_mm[0]


@pytest.mark.parametrize(("kind", "slant"), [("T", 90.0), ("R", 90.0), ("V", 0.0), ("L", 50.0), ("F", 50.0)])
@pytest.mark.parametrize("along", [0.0, 30.0, 145.0])
def test_strokes_keep_their_slant_to_the_row(kind: str, slant: float, along: float) -> None:
    (mark,) = hatch(kind, shapely.affinity.rotate(BAND, along), along, "#000000")
    assert isinstance(mark, Strokes)
    step = mark.ends[:, 2:] - mark.ends[:, :2]
    off = (np.degrees(np.arctan2(step[:, 1], step[:, 0])) - along - slant + 90.0) % 180.0 - 90.0
    assert np.abs(off).max() < 1e-6


def test_both_faces_is_crossed() -> None:
    (mark,) = hatch("D", BAND, 0.0, "#000000")
    assert isinstance(mark, Strokes)
    step = mark.ends[:, 2:] - mark.ends[:, :2]
    assert set(np.rint(np.degrees(np.arctan2(step[:, 1], step[:, 0])) % 180.0).tolist()) == {50.0, 130.0}


def test_nothing_is_drawn_in_no_shape() -> None:
    assert hatch("F", shapely.Polygon(), 0.0, "#000000") == ()
