"""The map of the work that is handed to a crew: which block, where to start, which row, which side, which vines, how hard."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from vinemap.ground.block import Block, Vines
from vinemap.sheets.bands import Piece, band_marks
from vinemap.sheets.crew_list import ListPlace, entry_lines, list_marks, list_pages, nothing_marks
from vinemap.sheets.fit import Box, Fit, all_taken, free_place, near_place
from vinemap.sheets.furniture import (
    HEAD_MM,
    HEIGHT_MM,
    LEFT_MM,
    RIGHT_MM,
    WIDTH_MM,
    caution_marks,
    foot_marks,
    head_marks,
    kind_legend,
    north_dart,
    place_sign,
    scale_bar,
    sun_sign,
)
from vinemap.sheets.marks import Mark, Measure, Page, Path
from vinemap.sheets.rows import End, Numbers, fit_with_numbers, outline_rings, row_marks
from vinemap.sheets.setting import BLACK, both, line, width_of
from vinemap.sheets.walk_marks import arrow_box, start_end, start_marks, turn_marks
from vinemap.sheets.words import SILENT, WORDS, Both, day_words, heat_words, keep_out_words, printed_words, work_words
from vinemap.work.diary import KINDS

COLUMN_MM = 58.0
"""Width of the legend and the list of rows."""

SIGN_PT = 9.75


@dataclass(frozen=True, slots=True)
class Place:
    """A place that the crew needs: ``kind`` "gate", "water" or "shade", at east and north [m]."""

    kind: str
    x_m: float
    y_m: float


@dataclass(frozen=True, slots=True)
class KeepOut:
    """From when until when nobody may be in the block; local standard time."""

    start: dt.datetime
    end: dt.datetime


@dataclass(frozen=True, slots=True, eq=False)
class BlockPlan:
    """What a crew does in one block on one day: all that its map shows.

    ``pieces``: in the order of the work. ``crew`` and ``hours``: who, and "6:00 – 13:30". ``cautions``: more than the
    usual ones. ``why_none``: why there is nothing to do, where there are no pieces. ``round_words``: "round 5 of 13 June";
    ``plan_words``: "plan 14"; ``code``: the sheet's code; ``printed``: when it was printed; ``call``: who to call.
    """

    block: Block
    vines: Vines
    estate: str
    date: dt.date
    pieces: tuple[Piece, ...]
    round_words: str
    plan_words: str
    code: str
    printed: dt.datetime
    crew: Both = SILENT
    hours: str = ""
    call: str = ""
    keep_out: tuple[KeepOut, ...] = ()
    hot_after: dt.time | None = None
    cautions: tuple[Both, ...] = ()
    why_none: Both = SILENT
    places: tuple[Place, ...] = ()
    is_invented: bool = False

    @property
    def kinds(self) -> tuple[str, ...]:
        """Letters of the work in it, in the usual order."""
        here = {piece.kind for piece in self.pieces}
        return tuple(kind for kind in KINDS if kind in here)


def crew_map(plan: BlockPlan, measure: Measure) -> tuple[Page, ...]:
    """The pages [mm] of one block's map: one, and more only where the list of rows is long."""
    return crew_maps((plan,), measure)


def crew_maps(plans: Sequence[BlockPlan], measure: Measure) -> tuple[Page, ...]:
    """The pages [mm] of several blocks' maps, A4 lying, numbered through."""
    lists = [list_pages(entry_lines(plan.pieces, plan.block, measure), _list_places(plan, measure)) for plan in plans]
    total = sum(len(each) for each in lists)
    pages: list[Page] = []
    for plan, parts in zip(plans, lists, strict=True):
        for number, part in enumerate(parts):
            marks, bottom = _frame_marks(plan, (len(pages) + 1, total), measure)
            if number == 0:
                marks += _map_marks(plan, bottom, measure)
                marks += _column_marks(plan, bottom, measure)
            if part.entries or number:
                marks += list_marks(part, measure)
            pages.append(Page(f"{plan.block.name}: {work_words(plan.kinds).english}", WIDTH_MM, HEIGHT_MM, tuple(marks)))
    return tuple(pages)


def _frame_marks(plan: BlockPlan, sheet: tuple[int, int], measure: Measure) -> tuple[list[Mark], float]:
    """Head, cautions and foot; and where the cautions begin [mm]."""
    who = " · ".join(part for part in (str(plan.crew), plan.hours) if part)
    right = [(str(day_words(plan.date)), 600)] + ([(who, 400)] if who else [])
    marks = head_marks(plan.block.name, work_words(plan.kinds), right, measure)
    printed = printed_words(plan.printed)
    invented = str(WORDS["invented"]) if plan.is_invented else ""
    foot, top = foot_marks((plan.estate, plan.round_words, plan.plan_words, printed), invented, sheet, measure)
    code = " · ".join(part for part in (plan.plan_words, plan.code) if part)
    call = Both(f"{WORDS['call']}: {plan.call}", f"{WORDS['call']}: {plan.call}") if plan.call else WORDS["call"]
    cautions, bottom = caution_marks(_cautions(plan), call, code, top, measure)
    return [*marks, *foot, *cautions], bottom


def _cautions(plan: BlockPlan) -> list[list[Both]]:
    """The cautions in two or three columns: keeping out and what is special; heat and label; hands and blade."""
    special = [keep_out_words(plan.block.name, each.start, each.end) for each in plan.keep_out] + list(plan.cautions)
    heat = [heat_words(plan.hot_after)] if plan.hot_after else []
    columns = [special, [*heat, WORDS["label"]], [WORDS["hands"]]]
    return [column for column in columns if column]


def _list_places(plan: BlockPlan, measure: Measure) -> tuple[ListPlace, ListPlace]:
    """Where the list of rows stands: beside the map, and on a sheet of its own."""
    bottom = _frame_marks(plan, (1, 1), measure)[1] - 4.0
    top = _legend_bottom(plan)
    beside = ListPlace(RIGHT_MM - COLUMN_MM, top, bottom, 1, COLUMN_MM, 0.0)
    alone = ListPlace(LEFT_MM, HEAD_MM + 5.0, bottom, 4, COLUMN_MM, (RIGHT_MM - LEFT_MM - 4 * COLUMN_MM) / 3)
    return beside, alone


def _pitch(plan: BlockPlan) -> float:
    """From one kind to the next in the legend [mm]."""
    return 8.75 if len(plan.kinds) <= 5 else 7.6


def _legend_bottom(plan: BlockPlan) -> float:
    """Where the legend ends and the list may begin [mm]."""
    return HEAD_MM + 7.6 + len(plan.kinds) * _pitch(plan)


def _column_marks(plan: BlockPlan, bottom_mm: float, measure: Measure) -> list[Mark]:
    """The rule beside the map, and the legend; or the sentence that there is nothing to do."""
    x = RIGHT_MM - COLUMN_MM
    rule = line(x - 4.3, HEAD_MM + 4.0, x - 4.3, bottom_mm - 2.0, 0.2)
    if not plan.pieces:
        return [rule, *nothing_marks(plan.why_none, x, HEAD_MM + 8.0, COLUMN_MM, measure)]
    return [rule, *kind_legend(plan.kinds, x, HEAD_MM + 7.8, _pitch(plan))]


def _map_marks(plan: BlockPlan, bottom_mm: float, measure: Measure) -> list[Mark]:
    """The block with its rows and work, and the furniture where the block is not."""
    box = Box(LEFT_MM, HEAD_MM + 2.5, RIGHT_MM - COLUMN_MM - 6.5 - LEFT_MM, bottom_mm - HEAD_MM - 4.5)
    for strip_mm in (0.0, 12.0):
        fit, numbers = _fit(plan, box.shrunk(0.0, 0.0, 0.0, strip_mm), measure)
        start = _start(plan, fit)
        rings = outline_rings(plan.block, fit)
        taken = [shapely.Polygon(rings[0]).buffer(1.5), *(each.polygon(1.3) for _, _, each in numbers.boxes)]
        walk: list[Mark] = []
        if start is not None:
            walk = turn_marks(plan.block, plan.pieces, start, fit, numbers)
            taken += [shapely.LineString(mark.rings[0]).buffer(1.2) for mark in walk if isinstance(mark, Path)]
            arrow, boxes = start_marks(start, numbers, taken, box, measure)
            walk += arrow
            taken += [each.polygon(1.0) for each in boxes]
        signs, boxes = _place_marks(plan.places, fit, box, taken, measure)
        furniture = _furniture(plan, fit, box, [*taken, *(each.polygon(1.0) for each in boxes)], measure)
        if furniture is not None:
            break
    bands, letters = band_marks(plan.block, plan.vines, plan.pieces, fit)
    ground = [
        *row_marks(plan.block, fit, {piece.row for piece in plan.pieces}),
        *bands,
        Path(rings, stroke=BLACK, width_mm=0.42, is_closed=True),
    ]
    return [*ground, *letters, *numbers.marks, *walk, *signs, *(furniture or [])]


def _start(plan: BlockPlan, fit: Fit) -> End | None:
    """The end of a row where the crew starts; None where there is nothing to do."""
    return start_end(plan.block, plan.pieces, plan.places, fit) if plan.pieces else None


def _fit(plan: BlockPlan, box: Box, measure: Measure) -> tuple[Fit, Numbers]:
    """The fit that leaves room for the row numbers and the arrow at the start, and the numbers."""

    def arrow(fit: Fit, numbers: Numbers) -> list[Box]:
        start = _start(plan, fit)
        return [arrow_box(start, numbers)] if start else []

    return fit_with_numbers(plan.block, box, {piece.row for piece in plan.pieces}, measure, arrow)


def _place_marks(
    places: Sequence[Place], fit: Fit, box: Box, taken: Sequence[shapely.Geometry], measure: Measure
) -> tuple[list[Mark], list[Box]]:
    """Gate, water and shade where they are, or as near to it as there is room."""
    marks: list[Mark] = []
    boxes: list[Box] = []
    for place in places:
        words = WORDS[place.kind]
        size = (max(width_of(words, SIGN_PT, measure), 8.0), 15.0)
        x, y = fit.place(np.array([[place.x_m, place.y_m]]))[0].tolist()
        spot = near_place(box, size, all_taken([*taken, *(each.polygon(1.0) for each in boxes)]), x, y)
        if spot is None:  # a full map: better over a row than not at all
            across, down = box.right_mm - size[0], box.bottom_mm - size[1]
            spot = Box(float(np.clip(x, box.x_mm, across)), float(np.clip(y, box.y_mm, down)), *size)
        middle = spot.x_mm + size[0] / 2
        marks += place_sign(place.kind, middle, spot.y_mm + 3.4)
        marks += both(middle, spot.y_mm + 9.8, words, SIGN_PT, anchor="middle")
        boxes.append(spot)
    return marks, boxes


def _furniture(plan: BlockPlan, fit: Fit, box: Box, taken: list[shapely.Geometry], measure: Measure) -> list[Mark] | None:
    """Scale bar, north and the note on the thick line where nothing else is; None where there is no room."""
    _, length = scale_bar(fit, 0.0, 0.0, 46.0)
    spot = free_place(box, (length + 24.0, 11.6), all_taken(taken), 3.0)
    if spot is None:
        return None
    marks = scale_bar(fit, spot.x_mm + 2.0, spot.y_mm + 2.0, 46.0)[0]
    marks += north_dart(spot.right_mm - 5.0, spot.y_mm + 6.8, fit.turn_deg)
    note = _note(plan)
    if note is None:
        return marks
    size = (width_of(note, SIGN_PT, measure) + 13.0, 9.4)
    spot_of_note = free_place(box, size, all_taken([*taken, spot.polygon(1.0)]), 3.0, from_top=True)
    if spot_of_note is None:
        return None
    marks += sun_sign(spot_of_note.x_mm + 4.7, spot_of_note.y_mm + 4.8)
    return marks + both(spot_of_note.x_mm + 11.5, spot_of_note.y_mm + 4.0, note, SIGN_PT)


def _note(plan: BlockPlan) -> Both | None:
    """What the thick line means: the morning side only where it is so for every piece."""
    faces = {piece.face for piece in plan.pieces if piece.side in (-1, 1)}
    if not any(piece.side for piece in plan.pieces):
        return None
    if faces and faces <= {"east", "north-east", "south-east"}:
        return WORDS["morning"]
    if faces and faces <= {"west", "north-west", "south-west"}:
        return WORDS["afternoon"]
    return WORDS["thick"]
