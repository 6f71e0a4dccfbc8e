"""Rows on a sheet: their lines, and their numbers at both ends without two numbers on one place."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.ground.block import Block
from vinemap.sheets.fit import Box, Fit, fit_block
from vinemap.sheets.marks import Mark, Measure, Path, Words
from vinemap.sheets.setting import BLACK, FAINT, LEAST_PT, SOFT

NUMBER_PT, OTHER_PT = 7.65, 7.05
NUMBER_MM = 1.85
"""Height of a figure [mm]."""

AIR_MM = 0.42
"""What must stay free between two numbers [mm]."""

SHARED_MOST = 10
"""So many neighbours may share one number."""

GAP_MM = 1.3
REACH_MM = 12.0
"""A number stands outside the outline unless the row ends further than this inside it [mm]."""

STEPS = (1, 5, 10, 20, 50, 100)
LEVELS = 6
TRIES = 5


@dataclass(frozen=True, slots=True, eq=False)
class End:
    """One end of one row on the sheet: where its number starts [mm] and the unit vector that leads away from the row."""

    row: int
    is_first: bool
    at_mm: Floats
    out: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Numbers:
    """Row numbers as marks, and the boxes [mm] that they cover, by row and end."""

    marks: tuple[Mark, ...]
    boxes: tuple[tuple[int, bool, Box], ...]


def outline_rings(block: Block, fit: Fit) -> tuple[Floats, ...]:
    """The block's outline and holes [mm]."""
    return tuple(fit.place(shapely.get_coordinates(ring)) for ring in (block.outline.exterior, *block.outline.interiors))


def row_marks(block: Block, fit: Fit, worked: Collection[int]) -> list[Mark]:
    """Row lines: dotted where nothing is done, whole where there is work."""
    lines = [fit.place(block.rows.line_m(row)) for row in range(len(block.rows))]
    idle = [Path((each,), stroke=FAINT, width_mm=0.16, dash=(0.32, 0.6)) for n, each in enumerate(lines) if n not in worked]
    busy = [Path((each,), stroke=FAINT, width_mm=0.18) for n, each in enumerate(lines) if n in worked]
    return [*idle, *busy]


def fit_with_numbers(
    block: Block,
    box: Box,
    worked: Collection[int],
    measure: Measure,
    more: Callable[[Fit, Numbers], list[Box]] = lambda fit, numbers: [],
) -> tuple[Fit, Numbers]:
    """The fit that leaves room in the box [mm] for the row numbers, and for what ``more`` says must also be in it."""
    margins = np.full(4, 2.0)
    fit = fit_block(block.outline, box.shrunk(*margins.tolist()))
    for _ in range(TRIES):
        numbers = number_rows(block, fit, worked, measure)
        around = [*(each for _, _, each in numbers.boxes), *more(fit, numbers)]
        over = np.max([box.overflow_mm(each) for each in around] or [np.zeros(4)], axis=0)
        if not over.any():
            break
        margins = margins + over + 0.2
        fit = fit_block(block.outline, box.shrunk(*margins.tolist()), fit.turn_deg)
    return fit, number_rows(block, fit, worked, measure)


def row_ends(block: Block, fit: Fit) -> list[End]:
    """Both ends of every row, carried on past the outline where it is near."""
    shape = shapely.Polygon(outline_rings(block, fit)[0])
    edge = shapely.LineString(outline_rings(block, fit)[0])
    shapely.prepare(shape)
    ends = []
    for row in range(len(block.rows)):
        line = fit.place(block.rows.line_m(row))
        for is_first in (True, False):
            tip, inner = (line[0], line[1]) if is_first else (line[-1], line[-2])
            out = (tip - inner) / max(float(np.hypot(*(tip - inner))), 1e-9)
            ends.append(End(row, is_first, tip + out * (_to_edge(tip, out, shape, edge) + GAP_MM), out))
    return ends


def _to_edge(tip: Floats, out: Floats, shape: shapely.Polygon, edge: shapely.LineString) -> float:
    """How far [mm] from the row's tip to the outline, 0 where it is outside or too far in."""
    if not shapely.contains_xy(shape, tip[0], tip[1]):
        return 0.0
    crossing = shapely.intersection(edge, shapely.LineString([tip, tip + out * REACH_MM]))
    points = shapely.get_coordinates(crossing)
    return float(np.hypot(*(points - tip).T).min()) if len(points) else 0.0


def number_rows(block: Block, fit: Fit, worked: Collection[int], measure: Measure) -> Numbers:
    """Numbers at both ends: rows with work always and heavy; of the others as many as there is room for."""
    marks: list[Mark] = []
    boxes: list[tuple[int, bool, Box]] = []
    ends = row_ends(block, fit)
    for is_first in (True, False):
        side = [end for end in ends if end.is_first == is_first]
        if not side:
            continue
        taken: list[Box] = []
        for rows in _groups(side, worked, measure, block):
            _number(rows, side, block, measure, taken, marks, True)
            boxes += [(row, is_first, taken[-1]) for row in rows]
        step = _step_of(side, measure, block)
        ends_of_block = [0, len(side) - 1]
        others = [*ends_of_block, *(n for n in range(1, len(side) - 1) if n % step == step - 1)]
        for row in dict.fromkeys(row for row in others if row not in worked):
            if _number([row], side, block, measure, taken, marks, False):
                boxes.append((row, is_first, taken[-1]))
    return Numbers(tuple(marks), tuple(boxes))


def _need_mm(side: list[End], measure: Measure, block: Block) -> tuple[float, float]:
    """What a number needs and what rows leave it, across the rows [mm]."""
    widest = max((measure(label, NUMBER_PT, 800, False) for label in block.rows.labels), default=0.0)
    out = side[0].out
    need = abs(out[0]) * (NUMBER_MM + AIR_MM) + abs(out[1]) * (widest + 2 * AIR_MM)
    places = np.array([end.at_mm for end in side])
    gaps = np.abs(np.diff(places @ np.array([-out[1], out[0]])))
    return float(need), float(np.median(gaps)) if len(gaps) else np.inf


def _step_of(side: list[End], measure: Measure, block: Block) -> int:
    """Every how many rows there is room for a number."""
    need, gap = _need_mm(side, measure, block)
    return next((step for step in STEPS if step * gap >= need * 0.98), STEPS[-1])


def _groups(side: list[End], worked: Collection[int], measure: Measure, block: Block) -> list[list[int]]:
    """Rows with work. Where rows lie too close, few neighbours share one number ("15–20") and many show some of theirs."""
    rows = sorted(worked)
    need, gap = _need_mm(side, measure, block)
    if 2 * gap >= need:
        return [[row] for row in rows]
    runs: list[list[int]] = []
    for row in rows:
        if runs and row == runs[-1][-1] + 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    step = _step_of(side, measure, block)
    groups = [run for run in runs if len(run) <= SHARED_MOST]
    for run in runs:
        if len(run) > SHARED_MOST:
            inner = [row for row in run[step // 2 : -(step // 2) or None] if row % step == step - 1]
            groups += [[row] for row in sorted({run[0], run[-1], *inner})]
    return sorted(groups)


def _number(
    rows: list[int], side: list[End], block: Block, measure: Measure, taken: list[Box], marks: list[Mark], is_heavy: bool
) -> bool:
    """Set one number clear of those already set, further out with a leader where it must; False where there is no room."""
    labels = block.rows.labels
    text = labels[rows[0]] if len(rows) == 1 else f"{labels[rows[0]]}–{labels[rows[-1]]}"
    size, weight = (NUMBER_PT, 800) if is_heavy else (OTHER_PT, 400)
    width = measure(text, max(size, LEAST_PT), weight, False)
    middle = np.mean([side[row].at_mm for row in rows], axis=0)
    out = side[rows[len(rows) // 2]].out
    levels = LEVELS if is_heavy else 1
    for level in range(levels):
        at = middle + out * level * (abs(out[0]) * (width + 1.2) + abs(out[1]) * (NUMBER_MM + 0.9))
        box = _box_at(at, out, width)
        is_last = is_heavy and level == levels - 1
        if is_last or not any(_overlap(box, other) for other in taken):
            break
    else:
        return False
    if level:
        marks.append(Path((np.array([middle - out * 0.9, at - out * 0.3]),), stroke=FAINT, width_mm=0.12))
    taken.append(box)
    ink = BLACK if is_heavy else SOFT
    marks.append(Words(box.x_mm, box.bottom_mm - 0.12, text, size, weight, fill=ink))
    return True


def _box_at(at: Floats, out: Floats, width: float) -> Box:
    """The box of a number whose near edge is at a point, leading outwards."""
    x = at[0] - width / 2 + out[0] * width / 2
    y = at[1] - NUMBER_MM / 2 + out[1] * NUMBER_MM / 2
    return Box(float(x), float(y), width, NUMBER_MM)


def _overlap(one: Box, other: Box) -> bool:
    """True where two numbers would touch."""
    return (
        one.x_mm < other.right_mm + 2 * AIR_MM
        and other.x_mm < one.right_mm + 2 * AIR_MM
        and one.y_mm < other.bottom_mm + AIR_MM
        and other.y_mm < one.bottom_mm + AIR_MM
    )
