"""Why the pressure is what it is, drawn: a fortnight as a table, and the hours of one day; and the page for paper."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vinemap.canopy.faces import SunClock
from vinemap.canopy.wind import WindRose
from vinemap.sheets.day_curve import DayHours, curve_marks
from vinemap.sheets.fit import Box
from vinemap.sheets.furniture import HEAD_MM, HEIGHT_MM, LEFT_MM, RIGHT_MM, WIDTH_MM, foot_marks, head_marks
from vinemap.sheets.ink import LIGHT, Ink
from vinemap.sheets.marks import Mark, Measure, Page, Words
from vinemap.sheets.rose import rose_marks
from vinemap.sheets.setting import lead_mm, line, rectangle, shrink, wrap
from vinemap.sheets.sun_clock import sun_clock_marks
from vinemap.sheets.words import WORDS, Both, printed_words
from vinemap.vineclock.stage import date_words

HEAD_PT, BODY_PT = 12.75, 10.2
ROW_MM, LABEL_MM = 5.0, 36.0
LOW_MM, LOW_ROW_MM = 140.0, 4.4
"""Lower room than this has closer rows, and one heading less."""

TITLED_MM = 9.0
SIDE_MM, GAP_MM, ROSE_HIGH_MM, CLOCK_HIGH_MM = 66.0, 8.0, 72.0, 62.0
"""The wind rose and the sun clock beside the page on paper."""


@dataclass(frozen=True, slots=True)
class TableRow:
    """A line of the table of days: what it tells, and a word for each day."""

    label: str
    cells: tuple[str, ...]
    is_heavy: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class WeatherPlan:
    """All that the page shows: days in a row, the one of them that is ``chosen``, its hours (None: no reading) and its words.

    ``is_other_hand``: of each day, whether its hours are estimated, forecast or stand in; ``clock``:
    the sun on a row, with its name.
    """

    days: tuple[dt.date, ...]
    rows: tuple[TableRow, ...]
    is_other_hand: tuple[bool, ...]
    chosen: int
    day_words: str
    hours: DayHours | None
    words: tuple[str, ...]
    rose: WindRose | None
    clock: tuple[str, SunClock] | None
    place: str
    estate: str
    station: str
    printed: dt.datetime
    north_deg: float = 0.0
    is_invented: bool = False


def weather_sheet(plan: WeatherPlan, measure: Measure, sheet: tuple[int, int] = (1, 1)) -> Page:
    """The page [mm] on paper, A4 lying: days, hours and words; wind rose and sun clock beside them where there are any."""
    what = Both("why the pressure is what it is", "why the pressure is what it is")
    marks = head_marks(plan.place, what, [(plan.day_words, 600), (plan.station, 400)], measure)
    invented = WORDS["invented"].english if plan.is_invented else ""
    foot, bottom = foot_marks((plan.estate, plan.station, printed_words(plan.printed)), invented, sheet, measure)
    ink = replace(LIGHT, sheet="#FFFFFF")
    width = RIGHT_MM - LEFT_MM - (SIDE_MM + GAP_MM if plan.rose is not None or plan.clock is not None else 0.0)
    lead = lead_mm(BODY_PT)
    told = [text for sentence in plan.words for text in wrap(sentence, width, BODY_PT, measure)]
    top = bottom - 2.0 - lead * len(told)
    marks += [Words(LEFT_MM, top + lead * number, text, BODY_PT, fill=ink.ink) for number, text in enumerate(told, start=1)]
    marks += weather_marks(plan, Box(LEFT_MM, HEAD_MM + 3.0, width, top - HEAD_MM - 5.0), ink, measure)
    side = Box(RIGHT_MM - SIDE_MM, HEAD_MM + 3.0, SIDE_MM, ROSE_HIGH_MM)
    if plan.rose is not None:
        marks += rose_marks(plan.rose, side, ink, measure, plan.north_deg)
    if plan.clock is not None:
        name, clock = plan.clock
        below = Box(side.x_mm, side.bottom_mm + 8.0, SIDE_MM, CLOCK_HIGH_MM)
        marks += sun_clock_marks(clock, name, below, ink, measure)
    return Page(f"{plan.place}: why the pressure is what it is, {plan.day_words}", WIDTH_MM, HEIGHT_MM, (*marks, *foot))


def weather_marks(plan: WeatherPlan, box: Box, ink: Ink, measure: Measure) -> list[Mark]:
    """The table of days above the hours of the chosen one, in a box [mm]; in a low one the hours have no heading."""
    marks = _titled(box, f"{_count_words(len(plan.days))} to {plan_end(plan)}", ink)
    marks += _table(plan, _table_box(plan, box), ink, measure)
    below = box.shrunk(0.0, _table_box(plan, box).bottom_mm - box.y_mm + 4.0, 0.0, 0.0)
    if box.height_mm >= LOW_MM:
        marks += _titled(below, f"The hours of {plan.day_words}", ink)
        below = below.shrunk(0.0, TITLED_MM, 0.0, 0.0)
    if plan.hours is None:
        why = Words(below.x_mm, below.y_mm + 6.0, "No reading on this day.", BODY_PT, 400, True, fill=ink.ink_soft)
        return [*marks, why]
    return marks + curve_marks(plan.hours, below, ink, measure)


def _table_box(plan: WeatherPlan, box: Box) -> Box:
    """Room of the table [mm]."""
    row = ROW_MM if box.height_mm >= LOW_MM else LOW_ROW_MM
    return Box(box.x_mm, box.y_mm + TITLED_MM, box.width_mm, row * (len(plan.rows) + 1))


def plan_end(plan: WeatherPlan) -> str:
    """The last day of the table, as a day and a month."""
    return date_words(plan.days[-1]) if plan.days else "now"


def _count_words(days: int) -> str:
    return "The fortnight" if days == 14 else f"{days} days"


def _titled(box: Box, title: str, ink: Ink) -> list[Mark]:
    """A heading with a rule below."""
    return [
        Words(box.x_mm, box.y_mm + 4.4, title, HEAD_PT, 600, fill=ink.ink),
        line(box.x_mm, box.y_mm + 6.4, box.right_mm, box.y_mm + 6.4, 0.3, ink.ink),
    ]


def day_at(plan: WeatherPlan, box: Box, x_mm: float, y_mm: float) -> int | None:
    """Which day of the table lies at a place [mm] of the box that ``weather_marks`` was given, or None."""
    wide = (box.width_mm - LABEL_MM) / max(len(plan.days), 1)
    number = int(np.floor((x_mm - box.x_mm - LABEL_MM) / wide))
    table = _table_box(plan, box)
    is_there = 0 <= number < len(plan.days) and table.y_mm - 2.0 <= y_mm <= table.bottom_mm + 2.0
    return number if is_there else None


def _table(plan: WeatherPlan, box: Box, ink: Ink, measure: Measure) -> list[Mark]:
    """A column for each day; the chosen one is framed, those that were not read are set in italics."""
    wide = (box.width_mm - LABEL_MM) / max(len(plan.days), 1)
    marks: list[Mark] = []
    rows: Sequence[TableRow] = (TableRow("day", _heads(plan.days)), *plan.rows)
    high = box.height_mm / len(rows)
    for number, row in enumerate(rows):
        y = box.y_mm + high * (number + 1) - 1.3
        size = shrink(row.label, LABEL_MM - 2.0, BODY_PT, measure, 400, True)
        marks.append(Words(box.x_mm, y, row.label, size, 400, True, fill=ink.ink_soft))
        for day, text in enumerate(row.cells):
            weight = 700 if row.is_heavy else 400
            is_italic = plan.is_other_hand[day]
            size = shrink(text, wide - 2.0, BODY_PT, measure, weight, is_italic)
            x = box.x_mm + LABEL_MM + wide * (day + 0.5)
            marks.append(Words(x, y, text, size, weight, is_italic, "middle", ink.ink))
        under = box.y_mm + high * (number + 1)
        marks.append(line(box.x_mm, under, box.right_mm, under, 0.15, ink.ink if number == 0 else ink.hair))
    left = box.x_mm + LABEL_MM + wide * plan.chosen
    frame = rectangle(left, box.y_mm - 0.6, wide, box.height_mm + 1.0, 0.5, ink.ink)
    return [*marks, frame]


def _heads(days: Sequence[dt.date]) -> tuple[str, ...]:
    """The day of the month, with the month where it begins."""
    return tuple(
        f"{day.day}" if number and day.day != 1 else f"{day.day} {date_words(day).split()[1][:3]}"
        for number, day in enumerate(days)
    )
