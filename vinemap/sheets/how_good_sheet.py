"""How good a map is, drawn: what was said of stops left out against what was found, and where to look next."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vinemap.columns import Floats
from vinemap.ground.block import Block
from vinemap.scouting.rounds import Stops
from vinemap.sheets.fit import Box, Fit, fit_block
from vinemap.sheets.furniture import (
    HEAD_MM,
    HEIGHT_MM,
    LEFT_MM,
    RIGHT_MM,
    WIDTH_MM,
    foot_marks,
    head_marks,
)
from vinemap.sheets.ink import LIGHT, Ink
from vinemap.sheets.marks import Dots, Mark, Measure, Page, Path, Strokes, Words
from vinemap.sheets.read_ledger import STOP_MM
from vinemap.sheets.rows import outline_rings
from vinemap.sheets.setting import lead_mm, line, shrink, wrap
from vinemap.sheets.words import WORDS, Both, printed_words

HEAD_PT, BODY_PT, TICK_PT = 12.75, 10.2, 9.6
GAP_MM = 9.0
TOPS = (0.02, 0.05, 0.10, 0.15, 0.20, 0.30, 0.40, 0.60, 0.80, 1.00)
"""Shares at which the axes of the plot may end."""
TICKS = {0.02: 0.005, 0.05: 0.01, 0.10: 0.02, 0.15: 0.05, 0.20: 0.05, 0.30: 0.05, 0.40: 0.10}
LEFT_AXIS_MM, BELOW_AXIS_MM = 15.0, 11.0
DOT_MM, PLACE_MM = 1.25, 2.6
ROW_MM = 0.8
"""Rows closer than this are not drawn."""
SAID_TITLE, NEXT_TITLE = "Said and found", "Where one more stop tells most"
NEXT_WORDS = "the doubt: how far the map may be off, all vines together"
ON_LINE = "found just what was said"


@dataclass(frozen=True, slots=True)
class SaidFound:
    """A group of ``stops`` left out: the share that was ``said``, the share ``found`` with its 90 % range; all 0..1."""

    said: float
    found: float
    low: float
    high: float
    stops: int


@dataclass(frozen=True, slots=True)
class Place:
    """A place to look next [m]."""

    x_m: float
    y_m: float


@dataclass(frozen=True, slots=True, eq=False)
class HowGoodPlan:
    """All that the page shows. ``below_plot``, ``below_map``: sentences; ``why_no_plot``: one in the plot's stead."""

    block: Block
    stops: Stops
    said_found: tuple[SaidFound, ...]
    below_plot: tuple[str, ...]
    why_no_plot: str
    places: tuple[Place, ...]
    below_map: tuple[str, ...]
    estate: str
    round_words: str
    code: str
    printed: dt.datetime
    is_invented: bool = False


def how_good_sheet(plan: HowGoodPlan, facts: Sequence[tuple[str, str]], note: str, measure: Measure) -> Page:
    """The page [mm] on paper, A4 lying, with the facts and the note of the ledger below."""
    what = Both("how good the map is", "how good the map is")
    marks = head_marks(plan.block.name, what, [(plan.round_words, 600)], measure)
    printed = printed_words(plan.printed)
    invented = WORDS["invented"].english if plan.is_invented else ""
    foot, bottom = foot_marks((plan.estate, plan.round_words, plan.code, printed), invented, (1, 1), measure)
    width = RIGHT_MM - LEFT_MM
    lead = lead_mm(BODY_PT)
    told = [f"{label}: {value}" for label, value in facts]
    listed = "; ".join(told)
    sentences = wrap(f"{listed[:1].upper()}{listed[1:]}." if told else "", width, BODY_PT, measure)
    sentences += wrap(note, width, BODY_PT, measure)
    top = bottom - 1.0 - lead * len(sentences)
    marks += _lines(sentences, LEFT_MM, top + lead, LIGHT)
    marks += foot
    marks += how_good_marks(
        plan, Box(LEFT_MM, HEAD_MM + 3.0, width, top - HEAD_MM - 6.0), replace(LIGHT, sheet="#FFFFFF"), measure
    )
    return Page(f"{plan.block.name}: how good the map is, {plan.round_words}", WIDTH_MM, HEIGHT_MM, tuple(marks))


def how_good_marks(plan: HowGoodPlan, box: Box, ink: Ink, measure: Measure) -> list[Mark]:
    """The plot at the left and the map of the next stops at the right of a box [mm]."""
    half = (box.width_mm - GAP_MM) / 2
    left = Box(box.x_mm, box.y_mm, half, box.height_mm)
    right = Box(box.x_mm + half + GAP_MM, box.y_mm, half, box.height_mm)
    marks, room = _headed(left, SAID_TITLE, _dot_words(plan.said_found), ink, measure)
    lead = lead_mm(BODY_PT)
    if plan.said_found:
        below = _wrapped(plan.below_plot, left.width_mm, measure)
        room = room.shrunk(LEFT_AXIS_MM, 2.0, 6.0, BELOW_AXIS_MM + 3.0 + lead * len(below))
        side = max(min(room.width_mm, room.height_mm), 10.0)
        marks += _plot(plan.said_found, Box(room.x_mm, room.y_mm, side, side), ink)
        marks += _lines(below, left.x_mm, room.y_mm + side + BELOW_AXIS_MM + 3.0 + lead, ink)
    else:
        marks += _lines(_wrapped((plan.why_no_plot,), room.width_mm, measure), room.x_mm, room.y_mm + lead, ink)
    headed, room = _headed(right, NEXT_TITLE, NEXT_WORDS if plan.places else "", ink, measure)
    below = _wrapped(plan.below_map, right.width_mm, measure)
    room = room.shrunk(1.0, 1.0, 1.0, 5.0 + lead * len(below))
    room = Box(room.x_mm, room.y_mm, room.width_mm, min(room.height_mm, room.width_mm))
    marks += headed
    marks += _map(plan, room, ink)
    return marks + _lines(below, right.x_mm, room.bottom_mm + 4.0 + lead, ink)


def _dot_words(said_found: Sequence[SaidFound]) -> str:
    """What a dot and its bar are."""
    if not said_found:
        return ""
    usual = round(sum(each.stops for each in said_found) / len(said_found))
    return f"a dot: about {usual} stops, each told from all others; the bar: a 90 % range"


def _headed(box: Box, title: str, words: str, ink: Ink, measure: Measure) -> tuple[list[Mark], Box]:
    """A heading with a rule and a remark; and the room that is left below."""
    marks: list[Mark] = [Words(box.x_mm, box.y_mm + 4.4, title, HEAD_PT, 600, fill=ink.ink)]
    marks.append(line(box.x_mm, box.y_mm + 6.4, box.right_mm, box.y_mm + 6.4, 0.3, ink.ink))
    if not words:
        return marks, box.shrunk(0.0, 8.0, 0.0, 0.0)
    size = shrink(words, box.width_mm, BODY_PT, measure, 400, True)
    marks.append(Words(box.x_mm, box.y_mm + 10.8, words, size, 400, True, fill=ink.ink_soft))
    return marks, box.shrunk(0.0, 13.0, 0.0, 0.0)


def _wrapped(sentences: Sequence[str], width_mm: float, measure: Measure) -> list[str]:
    return [text for sentence in sentences for text in wrap(sentence, width_mm, BODY_PT, measure)]


def _lines(texts: Sequence[str], x_mm: float, y_mm: float, ink: Ink) -> list[Mark]:
    return [Words(x_mm, y_mm + lead_mm(BODY_PT) * number, text, BODY_PT, fill=ink.ink) for number, text in enumerate(texts)]


def plot_top(said_found: Sequence[SaidFound]) -> float:
    """Where the axes end, 0..1: the least that holds every group and its range."""
    most = max(max(each.said, each.high) for each in said_found)
    return next((top for top in TOPS if top >= most), 1.0)


def _plot(said_found: Sequence[SaidFound], square: Box, ink: Ink) -> list[Mark]:
    """Said along, found up, the same scale on both, with the line on which what was said is what was found."""
    side, left, bottom = square.width_mm, square.x_mm, square.bottom_mm
    top = plot_top(said_found)
    step = TICKS.get(top, 0.20)
    marks: list[Mark] = []
    for tick in np.arange(0.0, top + 1e-9, step):
        at = side * float(tick) / top
        marks.append(line(left, bottom - at, left + side, bottom - at, 0.15, ink.hair))
        marks.append(line(left + at, bottom, left + at, bottom - side, 0.15, ink.hair))
        text = f"{round(100 * tick, 1):g} %" if tick > top - step / 2 else f"{round(100 * tick, 1):g}"
        marks.append(Words(left + at, bottom + 4.4, text, TICK_PT, anchor="middle", fill=ink.ink))
        marks.append(Words(left - 1.4, bottom - at + 1.2, text, TICK_PT, anchor="end", fill=ink.ink))
    # dots of a good map lie on the line, and hardly any far below it
    diagonal = np.array([[left, bottom], [left + side, bottom - side]])
    key = np.array([[left + side - 9.0, bottom - 3.6], [left + side - 1.0, bottom - 3.6]])
    marks += [Path((each,), stroke=ink.ink_soft, width_mm=0.25, dash=(1.4, 1.0)) for each in (diagonal, key)]
    marks.append(Words(left + side - 10.5, bottom - 2.4, ON_LINE, TICK_PT, 400, True, "end", ink.ink_soft, halo=ink.sheet))
    marks.append(line(left, bottom, left + side, bottom, 0.35, ink.ink))
    marks.append(line(left, bottom, left, bottom - side, 0.35, ink.ink))
    marks.append(Words(left + side / 2, bottom + 9.6, "said, share of clusters", BODY_PT, 400, True, "middle", ink.ink))
    marks.append(
        Words(
            left - 11.0, bottom - side / 2, "found, share of clusters", BODY_PT, 400, True, "middle", ink.ink, angle_deg=-90.0
        )
    )
    x, low, found, high = (
        side * np.minimum([getattr(each, name) for each in said_found], top) / top
        for name in ("said", "low", "found", "high")
    )
    bars = np.column_stack([left + x, bottom - low, left + x, bottom - high])
    points = np.column_stack([left + x, bottom - found])
    radius = np.full(len(points), DOT_MM)
    marks.append(Strokes(bars, ink.ink, 0.5))
    marks.append(Dots(points, radius + 0.4, fill=ink.sheet))
    return [*marks, Dots(points, radius, fill=ink.ink)]


def _map(plan: HowGoodPlan, room: Box, ink: Ink) -> list[Mark]:
    """The block, its rows, its stops as rings with pupils, and the places to look next by number; north is up."""
    if room.width_mm < 5.0 or room.height_mm < 5.0:
        return []
    fit = fit_block(plan.block.outline, room, 0.0)
    marks: list[Mark] = [Path(outline_rings(plan.block, fit), stroke=ink.ink, width_mm=0.4, is_closed=True)]
    rows = plan.block.rows
    for row in range(len(rows) if plan.block.row_spacing_m * fit.mm_per_m >= ROW_MM else 0):
        marks.append(Path((fit.place(rows.line_m(row)),), stroke=ink.rule, width_mm=0.12))
    marks += _stops(plan.stops, fit, ink)
    for number, place in enumerate(plan.places, start=1):
        at = fit.place(np.array([[place.x_m, place.y_m]]))
        marks.append(Dots(at, np.array([PLACE_MM + 0.5]), fill=ink.sheet))
        marks.append(Dots(at, np.array([PLACE_MM]), fill=ink.sheet, stroke=ink.ink, width_mm=0.7))
        marks.append(Words(float(at[0, 0]), float(at[0, 1]) + 1.25, str(number), BODY_PT, 700, anchor="middle", fill=ink.ink))
    return marks


def _stops(stops: Stops, fit: Fit, ink: Ink) -> list[Mark]:
    """Stops at half their usual size: the places to look next come first here."""
    if not len(stops):
        return []
    at: Floats = fit.place(np.column_stack([stops.x_m, stops.y_m]))
    ring, pupil = (0.5 * STOP_MM * np.sqrt(column.astype(np.float64)) for column in (stops.examined, stops.infected))
    sick = pupil > 0.0
    marks: list[Mark] = [Dots(at, ring, fill=ink.sheet, stroke=ink.ink_soft, width_mm=0.2)]
    if sick.any():
        marks.append(Dots(at[sick], pupil[sick], fill=ink.ink_soft))
    return marks
