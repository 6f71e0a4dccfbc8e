"""The season on one sheet: rounds, work, rain and heat, pressure with its range, how open the fruit is, and what was seen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vinemap.columns import Bools, Floats
from vinemap.sheets.fit import Box
from vinemap.sheets.furniture import HEAD_MM, HEIGHT_MM, LEFT_MM, RIGHT_MM, WIDTH_MM, foot_marks, head_marks
from vinemap.sheets.ink import LIGHT, Ink
from vinemap.sheets.marks import Dots, Mark, Measure, Page, Path, Strokes, Words
from vinemap.sheets.setting import lead_mm, line, rectangle, wrap
from vinemap.sheets.words import WORDS, Both, printed_words
from vinemap.vineclock.stage import date_words

BODY_PT, SMALL_PT = 10.2, 8.6
LABEL_MM = 34.0
LANES_MM = (("rounds", 9.0), ("work", 9.0), ("heat", 6.0), ("pressure", 42.0), ("fruit open", 16.0))
"""The lanes from above to below, and how high each is."""
CLASSES = ((40.0, "moderate from 40"), (60.0, "high from 60"))
COLUMNS, COLUMN_GAP_MM = 3, 7.0
MONTH_MM = 18.0
"""Room that the longest name of a month needs."""


@dataclass(frozen=True, slots=True, eq=False)
class SeasonPlan:
    """All that the sheet shows, from ``first`` to ``last``.

    ``rounds``: day and number; ``work``: day, letter and the day its cover ends (that of the day for a pass); ``day``: (n,)
    date ordinals of the pressure, ``index``, ``low``, ``high`` (n,) 0..100; ``is_hot`` (n,); ``is_read`` (n,): false where
    hours are estimated, forecast or stand in; ``window``: 0..1, one a day; ``told``: what happened, day and words.
    """

    first: dt.date
    last: dt.date
    rounds: tuple[tuple[dt.date, int], ...]
    work: tuple[tuple[dt.date, str, dt.date], ...]
    day: Floats
    index: Floats
    low: Floats
    high: Floats
    is_hot: Bools
    is_read: Bools
    window: Floats
    told: tuple[tuple[dt.date, str], ...]
    place: str
    estate: str
    station: str
    printed: dt.datetime
    is_invented: bool = False


def season_sheet(plan: SeasonPlan, measure: Measure, sheet: tuple[int, int] = (1, 1)) -> Page:
    """The page [mm] on paper, A4 lying."""
    years = f"{date_words(plan.first)} {plan.first.year} to {date_words(plan.last)} {plan.last.year}"
    marks = head_marks(plan.place, Both("the season", "the season"), [(years, 600), (plan.station, 400)], measure)
    invented = WORDS["invented"].english if plan.is_invented else ""
    foot, bottom = foot_marks((plan.estate, plan.station, printed_words(plan.printed)), invented, sheet, measure)
    ink = replace(LIGHT, sheet="#FFFFFF")
    top = HEAD_MM + 5.0
    for name, high in LANES_MM:
        box = Box(LEFT_MM + LABEL_MM, top, RIGHT_MM - LEFT_MM - LABEL_MM, high)
        marks.append(Words(LEFT_MM, box.y_mm + high / 2 + 1.2, name, BODY_PT, 400, True, fill=ink.ink_soft))
        marks += _LANES[name](plan, box, ink, measure)
        top = box.bottom_mm
    axis = Box(LEFT_MM + LABEL_MM, HEAD_MM + 5.0, RIGHT_MM - LEFT_MM - LABEL_MM, top - HEAD_MM - 5.0)
    marks = _months(plan, axis, ink) + marks
    list_top = top + 13.0
    marks += _told(plan, Box(LEFT_MM, list_top, RIGHT_MM - LEFT_MM, bottom - 3.0 - list_top), ink, measure)
    return Page(f"{plan.place}: the season", WIDTH_MM, HEIGHT_MM, (*marks, *foot))


def _x(plan: SeasonPlan, box: Box, day: float) -> float:
    """Where a date ordinal stands [mm]."""
    first, days = plan.first.toordinal(), max((plan.last - plan.first).days, 1)
    return box.x_mm + box.width_mm * (day - first) / days


def _months(plan: SeasonPlan, box: Box, ink: Ink) -> list[Mark]:
    """A line where each month begins, and its name below."""
    marks: list[Mark] = [line(box.x_mm, box.bottom_mm, box.right_mm, box.bottom_mm, 0.3, ink.ink)]
    day = plan.first.replace(day=1)
    while day <= plan.last:
        if day >= plan.first:
            x = _x(plan, box, day.toordinal())
            marks.append(line(x, box.y_mm, x, box.bottom_mm + 1.4, 0.15, ink.hair))
            if x < box.right_mm - MONTH_MM:
                marks.append(Words(x + 1.0, box.bottom_mm + 5.0, date_words(day).split()[1], SMALL_PT, fill=ink.ink))
        day = (day + dt.timedelta(days=31)).replace(day=1)
    return marks


def _rounds(plan: SeasonPlan, box: Box, ink: Ink, measure: Measure) -> list[Mark]:
    marks: list[Mark] = []
    for date, number in plan.rounds:
        x, y = _x(plan, box, date.toordinal()), box.y_mm + box.height_mm / 2
        marks.append(Dots(np.array([[x, y]]), np.array([1.5]), "", ink.ink, 0.45))
        marks.append(Words(x - 2.2, y + 1.2, str(number), SMALL_PT, 600, anchor="end", fill=ink.ink))
    return marks


def _work(plan: SeasonPlan, box: Box, ink: Ink, measure: Measure) -> list[Mark]:
    """A letter for each pass; for a spray P, and a line as long as it covers."""
    marks: list[Mark] = []
    y = box.y_mm + box.height_mm / 2
    for date, letter, ends in plan.work:
        x = _x(plan, box, date.toordinal())
        if ends > date:
            until = min(_x(plan, box, ends.toordinal()), box.right_mm)
            marks.append(line(x, y + 2.6, until, y + 2.6, 0.5, ink.ink_soft))
        marks.append(Words(x, y + 1.2, letter, SMALL_PT, 700, anchor="middle", fill=ink.ink, halo="#FFFFFF"))
    return marks


def _heat(plan: SeasonPlan, box: Box, ink: Ink, measure: Measure) -> list[Mark]:
    hot = plan.day[plan.is_hot]
    if not len(hot):
        return []
    points = np.column_stack([[_x(plan, box, day + 0.5) for day in hot.tolist()], np.full(len(hot), box.y_mm + 3.0)])
    return [Dots(points, np.full(len(hot), 0.55), ink.ink)]


def _pressure(plan: SeasonPlan, box: Box, ink: Ink, measure: Measure) -> list[Mark]:
    """The index as a line, its range as a band; where hours were not read the line is dashed."""
    marks: list[Mark] = [rectangle(box.x_mm, box.y_mm, box.width_mm, box.height_mm, 0.15, ink.hair)]
    inner = box.shrunk(0.0, 2.0, 0.0, 2.0)

    def y(value: Floats) -> Floats:
        high: Floats = inner.bottom_mm - inner.height_mm * np.asarray(value, np.float64) / 100.0
        return high

    for value, words in CLASSES:
        at = float(y(np.array([value]))[0])
        marks.append(line(box.x_mm, at, box.right_mm, at, 0.15, ink.ink_faint))
        marks.append(Words(box.x_mm + 1.0, at - 0.7, words, 7.2, 400, True, fill=ink.ink_soft))
    if not len(plan.day):
        why = "no weather yet"
        return [*marks, Words(box.x_mm + box.width_mm / 2, box.y_mm + 20.0, why, BODY_PT, 400, True, "middle", ink.ink_soft)]
    x = np.array([_x(plan, box, day + 0.5) for day in plan.day.tolist()])
    if (plan.high > plan.low).any():
        band = np.vstack([np.column_stack([x, y(plan.high)]), np.column_stack([x, y(plan.low)])[::-1]])
        marks.append(Path((band,), fill=ink.rule, is_closed=True))
    edges = np.flatnonzero(np.diff(plan.is_read.astype(np.int8))) + 1
    starts = [0, *edges.tolist()]
    for start, stop in zip(starts, [*starts[1:], len(x)], strict=True):
        run = slice(start, min(stop + 1, len(x)))
        dash = () if plan.is_read[start] else (1.4, 0.9)
        marks.append(Path((np.column_stack([x[run], y(plan.index[run])]),), ink.ink, 0.5, dash))
    return marks


def _window(plan: SeasonPlan, box: Box, ink: Ink, measure: Measure) -> list[Mark]:
    """How open the fruit is, as a hatched hill."""
    if not len(plan.window):
        return []
    inner = box.shrunk(0.0, 2.0, 0.0, 1.0)
    x = np.array([_x(plan, box, plan.first.toordinal() + day) for day in range(len(plan.window))])
    top = inner.bottom_mm - inner.height_mm * plan.window
    hatch = np.arange(0, len(x), 2)
    ends = np.column_stack([x[hatch], np.full(len(hatch), inner.bottom_mm), x[hatch], top[hatch]])
    return [Strokes(ends, ink.ink_faint, 0.2), Path((np.column_stack([x, top]),), ink.ink, 0.4)]


_LANES = {"rounds": _rounds, "work": _work, "heat": _heat, "pressure": _pressure, "fruit open": _window}


def _told(plan: SeasonPlan, box: Box, ink: Ink, measure: Measure) -> list[Mark]:
    """What was seen and what happened, in columns; what does not fit is counted."""
    wide = (box.width_mm - COLUMN_GAP_MM * (COLUMNS - 1)) / COLUMNS
    lead = lead_mm(SMALL_PT)
    fit = max(int(box.height_mm / lead), 1)
    lines = _lines(plan.told, wide, measure)
    room = fit * COLUMNS
    if len(lines) > room:
        lines = [*lines[: room - 1], (f"and {len(lines) - room + 1} lines more: see the strip in the window", False)]
    return [
        Words(
            box.x_mm + (wide + COLUMN_GAP_MM) * (number // fit),
            box.y_mm + lead * (number % fit + 1),
            text,
            SMALL_PT,
            500 if is_head else 400,
            fill=ink.ink,
        )
        for number, (text, is_head) in enumerate(lines)
    ]


def _lines(told: Sequence[tuple[dt.date, str]], wide_mm: float, measure: Measure) -> list[tuple[str, bool]]:
    """Lines of words, and whether each begins a day."""
    lines: list[tuple[str, bool]] = []
    for date, words in sorted(told, key=lambda each: each[0]):
        parts = wrap(f"{date_words(date)}: {words}", wide_mm, SMALL_PT, measure, 600)
        lines += [(text, number == 0) for number, text in enumerate(parts)]
    return lines
