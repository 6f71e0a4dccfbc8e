"""The page of the pressure and the wind rose as marks: invented days whose figures are worked by hand."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from sheet_blocks import measure

from vinemap.canopy.faces import SunClock, faces_of
from vinemap.canopy.wind import WindRose
from vinemap.ground.block import WALL
from vinemap.sheets.day_curve import LEFT_MM, RIGHT_MM, DayHours, curve_marks
from vinemap.sheets.fit import Box
from vinemap.sheets.ink import LIGHT, THEMES
from vinemap.sheets.marks import Dots, Path, Strokes, Words
from vinemap.sheets.rose import rose_marks, rose_top
from vinemap.sheets.weather_sheet import LABEL_MM, TableRow, WeatherPlan, day_at, weather_marks, weather_sheet

BOX = Box(10.0, 20.0, 200.0, 115.0)
DAYS = tuple(dt.date(2026, 5, 25) + dt.timedelta(days=number) for number in range(14))


def hours_of(**changes):
    """A day that warms to 26 °C: in the band from 10:00 to 19:00, and once at 6:00 for an hour."""
    temp = np.array([15.0] * 6 + [22.0] + [18.0] * 3 + [24.0] * 9 + [17.0] * 5)
    inside = (temp >= 21.1) & (temp <= 29.4)
    made = DayHours(
        1.0, temp, temp, temp, np.zeros(24), np.zeros(24), np.zeros(24, np.int8), inside,
        inside & (np.arange(24) >= 10), temp >= 35.0, 35.0,
    )  # fmt: skip
    return replace(made, **changes)


def rose_of(share, drying):
    zero = np.zeros(16)
    return WindRose(np.array(share), zero, np.array(drying), zero, 0.18, 120, 270.0, 0.5, 300, 2.0, 2.5)


EVEN = rose_of([1 / 16] * 16, [0.0] * 12 + [1.0] + [0.0] * 3)


def plan_of(hours, rose=EVEN, clock=None):
    rows = (TableRow("rain, mm", ("0",) * 14), TableRow("pressure", tuple(str(10 * k) for k in range(14)), True))
    return WeatherPlan(
        DAYS, rows, (False,) * 12 + (True,) * 2, 12, "Saturday 6 June", hours, ("It is 120.", "High."), rose, clock,
        "Long Acre", "Invented", "station hill", dt.datetime(2026, 6, 6, 5, 0), is_invented=True,
    )  # fmt: skip


def words_of(marks):
    return [mark.text for mark in marks if isinstance(mark, Words)]


def reach_of(marks):
    """The rectangle all marks lie in."""
    points = [ring for mark in marks if isinstance(mark, Path) for ring in mark.rings]
    points += [mark.points for mark in marks if isinstance(mark, Dots)]
    points += [mark.ends.reshape(-1, 2) for mark in marks if isinstance(mark, Strokes)]
    for mark in marks:
        if isinstance(mark, Words):
            wide = measure(mark.text, mark.size_pt, mark.weight, mark.is_italic)
            left = mark.x_mm - {"start": 0.0, "middle": 0.5, "end": 1.0}[mark.anchor] * wide
            points.append(np.array([[left, mark.y_mm], [left + wide, mark.y_mm]]))
    everything = np.vstack(points)
    return everything.min(axis=0), everything.max(axis=0)


@pytest.mark.parametrize("box", [BOX, Box(0.0, 0.0, 280.0, 180.0), Box(0.0, 0.0, 190.0, 105.0)])
@pytest.mark.parametrize("ink", list(THEMES.values()))
def test_everything_lies_on_the_page(box, ink):
    low, high = reach_of(weather_marks(plan_of(hours_of()), box, ink, measure))
    assert low[0] >= box.x_mm - 0.5
    assert low[1] >= box.y_mm - 0.5
    assert high[0] <= box.right_mm + 0.5
    assert high[1] <= box.bottom_mm + 0.5


def test_the_longest_run_is_bracketed_with_its_hours():
    marks = curve_marks(hours_of(), BOX, LIGHT, measure)
    assert "9 h unbroken, 10:00 to 19:00" in words_of(marks)
    left = BOX.x_mm + LEFT_MM
    per_hour = (BOX.width_mm - LEFT_MM - RIGHT_MM) / 24
    bracket = next(mark for mark in marks if isinstance(mark, Path) and len(mark.rings[0]) == 4 and not mark.is_closed)
    assert bracket.rings[0][:, 0].tolist() == pytest.approx([left + 10 * per_hour] * 2 + [left + 19 * per_hour] * 2)
    none = curve_marks(hours_of(is_counted=np.zeros(24, bool)), BOX, LIGHT, measure)
    assert not any("unbroken" in text for text in words_of(none))


def cells(marks, fill, stroke):
    """Squares of the lane of what counts, without those of the key."""
    low = BOX.bottom_mm - 6.0
    return [
        mark for mark in marks
        if isinstance(mark, Path) and mark.is_closed and len(mark.rings[0]) == 4
        and (mark.fill, mark.stroke) == (fill, stroke) and mark.rings[0][:, 1].max() < low
    ]  # fmt: skip


def test_each_hour_says_what_it_counts():
    marks = curve_marks(hours_of(), BOX, LIGHT, measure)
    assert len(cells(marks, LIGHT.ink, "")) == 9
    assert len(cells(marks, "", LIGHT.ink)) == 1
    wet = curve_marks(
        hours_of(rain_mm=np.array([2.5] + [0.0] * 23), wet_frac=np.array([1.0] * 4 + [0.0] * 20)), BOX, LIGHT, measure
    )
    assert len(cells(wet, LIGHT.ink_soft, "")) == 5


def test_what_was_not_read_is_in_another_hand():
    origin = np.array([0] * 8 + [1] * 8 + [2] * 8)
    curves = [
        mark for mark in curve_marks(hours_of(origin=origin), BOX, LIGHT, measure)
        if isinstance(mark, Path) and mark.width_mm == 0.55
    ]  # fmt: skip
    assert [len(mark.rings[0]) for mark in curves] == [9, 9, 8]
    assert [bool(mark.dash) for mark in curves] == [False, True, True]
    assert curves[1].dash != curves[2].dash


def test_missing_hours_are_hatched_over_all_that_they_can_have_been():
    temp, low, high = (np.array(hours_of().temp_degc) for _ in range(3))
    temp[12:15], low[12:15], high[12:15] = np.nan, 19.0, 33.0
    marks = curve_marks(hours_of(temp_degc=temp, low_degc=low, high_degc=high), BOX, LIGHT, measure)
    whole = curve_marks(hours_of(), BOX, LIGHT, measure)
    hatched = [mark for mark in marks if isinstance(mark, Strokes) and mark.stroke == LIGHT.ink_faint]
    assert len(hatched) == 1 + 3  # the key, and three hours
    assert len([mark for mark in whole if isinstance(mark, Strokes) and mark.stroke == LIGHT.ink_faint]) == 1
    curves = [mark for mark in marks if isinstance(mark, Path) and mark.width_mm == 0.55]
    assert [len(mark.rings[0]) for mark in curves] == [12, 9]


def test_heat_goes_by_the_rule_that_is_chosen():
    hot = hours_of(temp_degc=np.full(24, 39.0), is_hot=np.ones(24, bool), heat_degc=38.0)
    words = words_of(curve_marks(hot, BOX, LIGHT, measure))
    assert "38 °C or more" in words
    assert "38.0 °C" in words
    assert "100 °F" in words
    assert "35.0 °C" not in words_of(curve_marks(hours_of(), BOX, LIGHT, measure))


def test_days_without_a_reading_say_so():
    assert "No reading on this day." in words_of(weather_marks(plan_of(None), BOX, LIGHT, measure))


def test_a_day_of_the_table_is_found_where_it_stands():
    plan = plan_of(hours_of())
    wide = (BOX.width_mm - LABEL_MM) / 14
    for number in (0, 7, 13):
        assert day_at(plan, BOX, BOX.x_mm + LABEL_MM + wide * (number + 0.5), BOX.y_mm + 12.0) == number
    assert day_at(plan, BOX, BOX.x_mm + 4.0, BOX.y_mm + 12.0) is None
    assert day_at(plan, BOX, BOX.x_mm + 100.0, BOX.bottom_mm - 4.0) is None


def test_other_hands_are_in_italics_and_the_chosen_day_is_framed():
    marks = weather_marks(plan_of(hours_of()), BOX, LIGHT, measure)
    figures = {mark.text: mark.is_italic for mark in marks if isinstance(mark, Words) and mark.weight == 700}
    assert figures["110"] is False
    assert figures["120"] is True
    wide = (BOX.width_mm - LABEL_MM) / 14
    frame = next(mark for mark in marks if isinstance(mark, Path) and mark.width_mm == 0.5 and mark.is_closed)
    assert float(frame.rings[0][:, 0].min()) == pytest.approx(BOX.x_mm + LABEL_MM + 12 * wide)


def test_the_sheet_is_one_page_of_a4_with_the_words_and_the_rose():
    page = weather_sheet(plan_of(hours_of()), measure)
    assert (page.width_mm, page.height_mm) == (297.0, 210.0)
    low, high = reach_of(page.marks)
    assert low.min() >= 5.0
    assert high[0] <= 292.0
    assert high[1] <= 207.0
    words = words_of(page.marks)
    assert {"Long Acre", "It is 120.", "High.", "Where the wind comes from", "invented demonstration data"} <= set(words)
    sun = SunClock(np.arange(6.0, 20.0), np.arange(6.0, 20.0), faces_of(0.0, WALL), np.full((2, 14), 0.4), np.ones(14))
    both = weather_sheet(plan_of(hours_of(), EVEN, ("Sun on row 3", sun)), measure)
    assert {"Sun on row 3", "east", "west", "Where the wind comes from"} <= set(words_of(both.marks))
    assert reach_of(both.marks)[1][1] <= 207.0
    without = weather_sheet(plan_of(hours_of(), None), measure)
    assert "Where the wind comes from" not in words_of(without.marks)


def test_a_petal_points_to_where_the_wind_comes_from():
    box = Box(0.0, 0.0, 60.0, 60.0)
    marks = rose_marks(EVEN, box, LIGHT, measure)
    petals = [mark for mark in marks if isinstance(mark, Path) and len(mark.rings[0]) == 8]
    middle = petals[0].rings[0][0]
    (west,) = [mark.rings[0] for mark in petals if mark.fill and np.ptp(mark.rings[0], axis=0).max() > 1.0]
    out = west.mean(axis=0) - middle
    # number 12 of 16 is west: left of the middle, as high as it
    assert out[0] < -5.0
    assert abs(out[1]) < 0.1
    turned = rose_marks(EVEN, box, LIGHT, measure, north_deg=90.0)
    petals = [mark for mark in turned if isinstance(mark, Path) and len(mark.rings[0]) == 8 and mark.fill]
    out = next(m.rings[0] for m in petals if np.ptp(m.rings[0], axis=0).max() > 1.0).mean(axis=0) - middle
    assert out[1] < -5.0
    low, high = reach_of(marks)
    assert low.min() >= -0.1
    assert high.max() <= 60.1


def test_the_area_of_a_petal_is_its_share():
    rose = rose_of([0.4, 0.1] + [0.0] * 14, [0.5, 0.5] + [0.0] * 14)
    assert rose_top(rose) == 0.5
    outlines = [
        mark.rings[0] for mark in rose_marks(rose, Box(0.0, 0.0, 60.0, 60.0), LIGHT, measure)
        if isinstance(mark, Path) and len(mark.rings[0]) == 8 and mark.stroke
    ]  # fmt: skip
    far = [np.hypot(*(ring[4] - ring[0])) for ring in outlines[:2]]
    assert far[0] / far[1] == pytest.approx(2.0)
