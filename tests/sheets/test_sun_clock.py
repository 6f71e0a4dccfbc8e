"""The sun clock as marks: a day that is made up, with sun on one face before noon and on the other after it."""

import numpy as np
import pytest
from sheet_blocks import mark_bounds, measure

from vinemap.canopy.faces import SunClock, faces_of
from vinemap.ground.block import FREE, WALL
from vinemap.sheets.fit import Box
from vinemap.sheets.ink import LIGHT, THEMES
from vinemap.sheets.marks import Dots, Path, Strokes, Words
from vinemap.sheets.sun_clock import KEYS, clock_hours, sun_clock_marks

BOX = Box(10.0, 20.0, 62.0, 40.0)
HOUR = np.arange(6.0, 20.0, 1 / 6) + 1 / 12


def clock_of(warm=0.0, training=WALL, late_h=0.0):
    """East face lit before 13:00, west face after it; the sun's noon is at 13:00 by the clock."""
    faces = faces_of(0.0, training)
    sun = np.zeros((len(faces), len(HOUR)))
    sun[0], sun[1] = np.where(HOUR < 13, 0.5, 0.0), np.where(13 + late_h < HOUR, 0.5, 0.0)
    return SunClock(HOUR, HOUR - 1.0, faces, sun, np.full(len(HOUR), warm))


def areas(marks, fill):
    """Shapes of sun, without those of the key."""
    key = BOX.bottom_mm - 10.0
    return [
        mark.rings[0] for mark in marks
        if isinstance(mark, Path) and mark.is_closed and mark.fill == fill and mark.rings[0][:, 1].max() < key
    ]  # fmt: skip


def test_morning_is_white_late_is_hatched_and_the_rest_is_full():
    marks = sun_clock_marks(clock_of(), "Sun", BOX, LIGHT, measure)
    full = areas(marks, LIGHT.ink_soft)
    white = areas(marks, LIGHT.sheet)
    # east: before 10 by the sun, which is 11:00, then to 13:00; west: to 15 by the sun, which is 16:00, then on
    assert (len(white), len(full)) == (2, 2)
    first, last = clock_hours(clock_of())
    assert (first, last) == (6, 20)
    lanes = [mark for mark in marks if isinstance(mark, Path) and mark.stroke == LIGHT.ink_soft and len(mark.rings[0]) == 2]
    left, right = lanes[0].rings[0][:, 0]
    per_hour = (right - left) / (last - first)
    ends = sorted(
        tuple(((ring[:, 0].min() - left) / per_hour + first, (ring[:, 0].max() - left) / per_hour + first))
        for ring in white + full
    )
    assert np.array(ends) == pytest.approx(np.array([[6, 11], [11, 13], [13, 16], [16, 20]]), abs=0.01)
    assert any(isinstance(mark, Strokes) for mark in marks)


def test_hot_hours_have_dots():
    key = 3
    cool = sun_clock_marks(clock_of(0.2), "Sun", BOX, LIGHT, measure)
    hot = sun_clock_marks(clock_of(0.8), "Sun", BOX, LIGHT, measure)
    assert sum(len(mark.points) for mark in cool if isinstance(mark, Dots)) == key
    assert sum(len(mark.points) for mark in hot if isinstance(mark, Dots)) == key + 42


def test_it_says_which_face_and_what_the_marks_mean():
    words = [
        mark.text for mark in sun_clock_marks(clock_of(), "Sun on row 3", BOX, LIGHT, measure) if isinstance(mark, Words)
    ]
    assert {"Sun on row 3", "east", "west", "6:00", "18:00", *KEYS} <= set(words)


@pytest.mark.parametrize("ink", list(THEMES.values()))
@pytest.mark.parametrize(("training", "box"), [(WALL, BOX), (FREE, Box(0.0, 0.0, 62.0, 66.0))])
def test_all_of_it_lies_in_its_box(training, box, ink):
    marks = sun_clock_marks(
        clock_of(0.8, training), "Sun on row 12 of a block with quite a long name, 12 June", box, ink, measure
    )
    low = np.array([mark_bounds(mark) for mark in marks])
    assert low[:, 0].min() >= box.x_mm - 2.5
    assert low[:, 1].min() >= box.y_mm - 0.1
    assert low[:, 2].max() <= box.right_mm + 4.0
    assert low[:, 3].max() <= box.bottom_mm + 0.5


def test_a_day_without_sun_has_empty_lanes():
    nothing = SunClock(HOUR, HOUR, faces_of(0.0, WALL), np.zeros((2, len(HOUR))), np.ones(len(HOUR)))
    marks = sun_clock_marks(nothing, "Sun", BOX, LIGHT, measure)
    assert areas(marks, LIGHT.sheet) == areas(marks, LIGHT.ink_soft) == []
    polar = SunClock(HOUR[:0], HOUR[:0], faces_of(0.0, WALL), np.zeros((2, 0)), HOUR[:0])
    assert clock_hours(polar) == (6, 18)
    assert sun_clock_marks(polar, "Sun", BOX, LIGHT, measure)
