"""The field of one round on paper: where the mildew is, how much, how sure, and the worst rows."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.ground.block import MISSING, Block, Vines
from vinemap.scouting.rounds import Stops
from vinemap.sheets.fit import Box, Fit, all_taken, free_place, near_place
from vinemap.sheets.furniture import (
    HEAD_MM,
    HEIGHT_MM,
    LEFT_MM,
    RIGHT_MM,
    WIDTH_MM,
    foot_marks,
    head_marks,
    north_dart,
    scale_bar,
)
from vinemap.sheets.ink import LIGHT, place_on_ramp
from vinemap.sheets.marks import Dots, Mark, Measure, Page, Path, Strokes, Words
from vinemap.sheets.read_ledger import COLUMN_MM, RowShare, ledger_marks, legend_marks, stop_marks
from vinemap.sheets.rows import fit_with_numbers, outline_rings
from vinemap.sheets.setting import line
from vinemap.sheets.shade import PAPER, field_cells, shade_marks
from vinemap.sheets.words import WORDS, Both, day_words, printed_words
from vinemap.surface.field import NOT_KNOWN, Field

VINE_MM = 0.8
"""Vines closer than this on the sheet are not drawn."""

LOST_PT = 8.5
VINE_RADIUS_MM = 0.17
TURNS_PALE = 0.56
"""Share of the ramp from which a vine is drawn in paper colour."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadPlan:
    """The field of one round in one block: all that its map shows.

    ``field``: at every vine; ``stops``: of this block; ``rows``: shares to list, any order; ``facts``: label and figure
    ("clusters looked at", "872"); ``round_words``: "round 5 of 13 June, scouted by Marta"; ``note``: a sentence below.
    """

    block: Block
    vines: Vines
    field: Field
    stops: Stops
    threshold: float
    rows: tuple[RowShare, ...]
    estate: str
    date: dt.date
    round_words: str
    code: str
    printed: dt.datetime
    facts: tuple[tuple[str, str], ...] = ()
    note: str = ""
    is_invented: bool = False


def read_map(plan: ReadPlan, measure: Measure) -> Page:
    """The page [mm] of one block's field, A4 lying."""
    what = Both("where the mildew is", "where the mildew is")
    marks = head_marks(plan.block.name, what, [(day_words(plan.date).english, 600), (plan.round_words, 400)], measure)
    printed = printed_words(plan.printed)
    invented = WORDS["invented"].english if plan.is_invented else ""
    foot, bottom = foot_marks((plan.estate, plan.round_words, plan.code, printed), invented, (1, 1), measure)
    box = Box(LEFT_MM, HEAD_MM + 2.5, RIGHT_MM - COLUMN_MM - 6.5 - LEFT_MM, bottom - HEAD_MM - 3.0)
    marks += foot
    marks += _map_marks(plan, box, measure)
    x = RIGHT_MM - COLUMN_MM
    marks.append(line(x - 4.3, HEAD_MM + 4.0, x - 4.3, bottom - 2.0, 0.2, LIGHT.ink))
    below = ledger_marks(plan.facts, plan.rows, plan.threshold, plan.note, x, HEAD_MM + 7.0, measure)
    marks += below[0]
    marks += legend_marks(plan.threshold, plan.field.recipe.reach_m, x, bottom - 31.0, measure)
    return Page(f"{plan.block.name}: {plan.round_words}", WIDTH_MM, HEIGHT_MM, tuple(marks))


def _map_marks(plan: ReadPlan, box: Box, measure: Measure) -> list[Mark]:
    """The block with its shade, vines and stops; scale bar and north where the block is not."""
    for strip_mm in (0.0, 12.0):
        fit, numbers = fit_with_numbers(plan.block, box.shrunk(0.0, 0.0, 0.0, strip_mm), (), measure)
        rings = outline_rings(plan.block, fit)
        taken = [shapely.Polygon(rings[0]).buffer(1.5), *(each.polygon(1.0) for _, _, each in numbers.boxes)]
        length = scale_bar(fit, 0.0, 0.0, 46.0)[1]
        spot = free_place(box, (length + 24.0, 11.6), all_taken(taken), 3.0)
        if spot is not None:
            break
    marks: list[Mark] = []
    xy = fit.place(np.column_stack([plan.vines.x_m, plan.vines.y_m]))
    if len(xy):
        cells = field_cells(xy, plan.field.incidence, plan.field.certainty, shapely.Polygon(rings[0]))
        marks += shade_marks(cells, rings, plan.threshold)
        marks += _vine_marks(plan, xy, fit)
    marks.append(Path(rings, stroke=LIGHT.ink, width_mm=0.42, is_closed=True))
    stops_mm = fit.place(np.column_stack([plan.stops.x_m, plan.stops.y_m])) if len(plan.stops) else np.empty((0, 2))
    marks += stop_marks(stops_mm, plan.stops.examined, plan.stops.infected)
    marks += numbers.marks
    if spot is not None:
        marks += scale_bar(fit, spot.x_mm + 2.0, spot.y_mm + 2.0, 46.0)[0]
        marks += north_dart(spot.right_mm - 5.0, spot.y_mm + 6.8, fit.turn_deg)
    return marks + _lost_words(plan, xy, shapely.Polygon(rings[0], rings[1:]), measure)


def _vine_marks(plan: ReadPlan, xy_mm: Floats, fit: Fit) -> list[Mark]:
    """Vines as small dots, pale on dark shade and faint where not known; missing ones as crosses."""
    if plan.block.vine_spacing_m * fit.mm_per_m < VINE_MM:
        return []
    ramp = place_on_ramp(plan.field.incidence)
    lost = plan.field.certainty == NOT_KNOWN
    alive = plan.vines.is_living
    marks: list[Mark] = []
    for chosen, colour in (
        (alive & ~lost & (ramp < TURNS_PALE * 255), LIGHT.ink_soft),
        (alive & ~lost & (ramp >= TURNS_PALE * 255), PAPER),
        (alive & lost, LIGHT.rule),
    ):
        if chosen.any():
            marks.append(Dots(xy_mm[chosen], np.full(int(chosen.sum()), VINE_RADIUS_MM), fill=colour))
    gone = xy_mm[plan.vines.status == MISSING]
    if len(gone):
        arm = np.array([0.3, 0.3])
        other = np.array([0.3, -0.3])
        ends = np.vstack([np.hstack([gone - arm, gone + arm]), np.hstack([gone - other, gone + other])])
        marks.append(Strokes(ends, LIGHT.ink_faint, 0.14))
    return marks


def _lost_words(plan: ReadPlan, xy_mm: Floats, outline: shapely.Polygon, measure: Measure) -> list[Mark]:
    """The words "not known" in the middle of the largest part that is not known, where they fit."""
    lost = plan.field.certainty == NOT_KNOWN
    if lost.sum() < 12:
        return []
    points = xy_mm[lost]
    text = f"not known: no stop within {plan.field.recipe.reach_m:.0f} m"
    part = shapely.union_all(shapely.buffer(shapely.points(points), 2.4, quad_segs=2)) & outline.buffer(-1.5)
    if part.is_empty:
        return []
    largest = max(shapely.get_parts(part), key=lambda each: float(each.area))
    x0, y0, x1, y1 = largest.bounds
    room = Box(x0, y0, x1 - x0, y1 - y0)
    at = largest.representative_point()
    spot = near_place(room, (measure(text, LOST_PT, 400, True), 4.0), room.polygon().difference(largest), at.x, at.y)
    if spot is None:
        return []
    return [Words(spot.x_mm, spot.y_mm + 3.0, text, LOST_PT, 400, True, fill=LIGHT.ink, halo=PAPER)]
