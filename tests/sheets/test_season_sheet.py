"""The season on one sheet of paper: what stands where, and that nothing leaves the page. The season is invented."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from test_weather_sheet import reach_of, words_of

from vinemap.desk.fonts import measure
from vinemap.sheets.furniture import HEIGHT_MM, LEFT_MM, RIGHT_MM, WIDTH_MM
from vinemap.sheets.marks import Dots, Path
from vinemap.sheets.season_sheet import LABEL_MM, SeasonPlan, season_sheet

FIRST = dt.date(2026, 4, 1)
DAYS = np.arange(FIRST.toordinal(), FIRST.toordinal() + 100, dtype=float)
INDEX = np.clip(np.arange(100.0), 0.0, 100.0)


def plan_of(**changes):
    made = SeasonPlan(
        FIRST, dt.date(2026, 9, 30), ((dt.date(2026, 5, 29), 1), (dt.date(2026, 6, 12), 2)),
        ((dt.date(2026, 6, 1), "F", dt.date(2026, 6, 1)), (dt.date(2026, 6, 3), "P", dt.date(2026, 6, 17))),
        DAYS, INDEX, INDEX, INDEX, INDEX > 95, INDEX < 60, np.linspace(0.0, 1.0, 183),
        ((dt.date(2026, 5, 28), "bloom"), (dt.date(2026, 4, 20), "primary infection")),
        "Long Acre", "Invented", "station hill", dt.datetime(2026, 6, 12, 5, 0), True,
    )  # fmt: skip
    return replace(made, **changes)


def lines_of(page):
    """The lines of the index: those of half a millimetre with many points."""
    return [mark for mark in page.marks if isinstance(mark, Path) and mark.width_mm == 0.5 and len(mark.rings[0]) > 5]


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"day": np.empty(0), "index": np.empty(0), "low": np.empty(0), "high": np.empty(0), "is_hot": np.empty(0, bool)}
        | {"is_read": np.empty(0, bool), "rounds": (), "work": (), "told": (), "window": np.empty(0)},
        {"low": INDEX * 0.5, "high": np.minimum(INDEX * 2, 100.0)},
        {
            "told": tuple(
                (FIRST + dt.timedelta(days=day), "a long word of what was seen on this day " * 2) for day in range(150)
            )
        },
        {"place": "Côté Nord et tout ce qui est derrière la vieille maison " * 2},
    ],
)
def test_all_of_it_lies_on_the_page(changes):
    page = season_sheet(plan_of(**changes), measure)
    low, high = reach_of(page.marks)
    assert (low >= 0).all()
    assert high[0] <= WIDTH_MM
    assert high[1] <= HEIGHT_MM


def test_the_index_stands_at_its_day_and_is_dashed_where_hours_were_not_read():
    read, other = lines_of(season_sheet(plan_of(), measure))
    assert read.dash == ()
    assert other.dash
    assert len(read.rings[0]) == 61, "sixty days that were read, and on to the next"
    left, wide = LEFT_MM + LABEL_MM, RIGHT_MM - LEFT_MM - LABEL_MM
    assert read.rings[0][0, 0] == pytest.approx(left + wide * 0.5 / 182)
    heights = read.rings[0][:, 1]
    assert np.diff(heights) == pytest.approx(np.full(60, heights[1] - heights[0])), "one more a day, a straight line upward"
    assert heights[1] < heights[0]


def test_what_was_seen_is_listed_by_date_and_what_does_not_fit_is_counted():
    words = words_of(season_sheet(plan_of(), measure).marks)
    assert words.index("20 April: primary infection") < words.index("28 May: bloom")
    many = tuple((FIRST + dt.timedelta(days=day), "rain") for day in range(150))
    last = [text for text in words_of(season_sheet(plan_of(told=many), measure).marks) if text.startswith("and ")]
    assert len(last) == 1
    shown = sum(text.endswith(": rain") for text in words_of(season_sheet(plan_of(told=many), measure).marks))
    assert last == [f"and {150 - shown} lines more: see the strip in the window"]


def test_days_of_heat_rounds_and_work_are_marked():
    page = season_sheet(plan_of(), measure, (2, 2))
    hot = [mark for mark in page.marks if isinstance(mark, Dots) and mark.fill]
    assert [len(mark.points) for mark in hot] == [4]
    assert {"1", "2", "F", "P"} <= set(words_of(page.marks))
    assert any("2 of 2" in text for text in words_of(page.marks))
    empty = season_sheet(plan_of(day=np.empty(0), index=np.empty(0), low=np.empty(0), high=np.empty(0),
                                 is_hot=np.empty(0, bool), is_read=np.empty(0, bool)), measure)  # fmt: skip
    assert "no weather yet" in words_of(empty.marks)
