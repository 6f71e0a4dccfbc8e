"""Where the crew starts, and how it turns from one row into the next."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Protocol

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.ground.block import Block
from vinemap.sheets.bands import Piece
from vinemap.sheets.fit import Box, Fit, all_taken, near_place
from vinemap.sheets.marks import Mark, Measure, Path
from vinemap.sheets.rows import End, Numbers, row_ends
from vinemap.sheets.setting import BLACK, WHITE, both, lead_mm, width_of
from vinemap.sheets.words import WORDS

ARROW_MM = 11.0
START_PT = 10.5
TURN_SPACE_MM = 2.2
"""Rows must lie this far apart on the sheet for the turns to be drawn."""


class Placed(Protocol):
    """A place with its kind, at east and north [m]."""

    @property
    def kind(self) -> str: ...
    @property
    def x_m(self) -> float: ...
    @property
    def y_m(self) -> float: ...


def start_marks(
    end: End, numbers: Numbers, taken: Sequence[shapely.Geometry], box: Box, measure: Measure
) -> tuple[list[Mark], list[Box]]:
    """A heavy arrow into the first row from its end, its words near by where nothing is taken, and their boxes."""
    tip, tail = _arrow_ends(end, numbers)
    around = arrow_box(end, numbers)
    lead = lead_mm(START_PT)
    size = (width_of(WORDS["start"], START_PT, measure, 800), lead * 2)
    middle = (tip + tail) / 2
    upward = 0.0 if abs(end.out[1]) > 0.7 else lead + 2.5
    side = size[0] / 2 + 2.5 if abs(end.out[1]) > 0.7 else 0.0
    spot = near_place(box, size, all_taken([*taken, around.polygon(0.2)]), float(middle[0]) + side, float(middle[1]) - upward)
    if spot is None:
        return _arrow(tail, tip), [around]
    words = both(spot.x_mm, spot.y_mm + lead * 0.8, WORDS["start"], START_PT, 800, halo=WHITE)
    return [*_arrow(tail, tip), *words], [around, spot]


def arrow_box(end: End, numbers: Numbers) -> Box:
    """What the arrow at the start covers [mm]."""
    ends = np.array(_arrow_ends(end, numbers))
    low, high = ends.min(axis=0) - 1.2, ends.max(axis=0) + 1.2
    return Box(float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1]))


def _arrow_ends(end: End, numbers: Numbers) -> tuple[Floats, Floats]:
    """Tip and tail [mm] of the arrow at the start, beyond the row's number."""
    tip: Floats = end.at_mm + end.out * (_beyond(end, numbers) + 0.9)
    return tip, tip + end.out * ARROW_MM


def start_end(block: Block, pieces: Sequence[Piece], places: Sequence[Placed], fit: Fit) -> End:
    """The end of the first row to start from: the one nearer to the gate, else that of vine 1."""
    ends = [end for end in row_ends(block, fit) if end.row == pieces[0].row]
    gates = [fit.place(np.array([[place.x_m, place.y_m]]))[0] for place in places if place.kind == "gate"]
    return min(ends, key=lambda each: float(np.hypot(*(each.at_mm - gates[0])))) if gates else ends[0]


def _beyond(end: End, numbers: Numbers) -> float:
    """How far [mm] the numbers near this end of the row reach outwards."""
    reach = [0.0]
    across = np.array([-end.out[1], end.out[0]])
    for _, is_first, box in numbers.boxes:
        if is_first != end.is_first:
            continue
        corners = np.array([[x, y] for x in (box.x_mm, box.right_mm) for y in (box.y_mm, box.bottom_mm)]) - end.at_mm
        if np.abs(corners @ across).min() < 3.0:
            reach.append(float((corners @ end.out).max()))
    return max(reach)


def _arrow(tail: Floats, tip: Floats) -> list[Mark]:
    """A heavy arrow [mm]."""
    step = (tip - tail) / np.hypot(*(tip - tail))
    side = np.array([-step[1], step[0]])
    neck = tip - step * 3.6
    head = np.array([tip, neck + side * 2.0, neck - side * 2.0])
    return [Path((np.array([tail, neck]),), stroke=BLACK, width_mm=1.1), Path((head,), fill=BLACK, is_closed=True)]


def turn_marks(block: Block, pieces: Sequence[Piece], start: End, fit: Fit, numbers: Numbers) -> list[Mark]:
    """Hooks from one whole row into the next, out along one and back along the other, while the order is by neighbours."""
    if block.row_spacing_m * fit.mm_per_m < TURN_SPACE_MM:
        return []
    ends = {(end.row, end.is_first): end for end in row_ends(block, fit)}
    is_at_first = start.is_first
    marks: list[Mark] = []
    for piece, following in pairwise(pieces):
        if abs(piece.row - following.row) != 1 or not (_is_whole(piece, block) and _is_whole(following, block)):
            break
        is_at_first = not is_at_first
        here, there = ends[piece.row, is_at_first], ends[following.row, is_at_first]
        marks += _hook(here, there, max(_beyond(here, numbers), _beyond(there, numbers)) + 1.6)
    return marks


def _is_whole(piece: Piece, block: Block) -> bool:
    """True where the piece is the whole row."""
    return piece.first_vine <= 1 and piece.last_vine >= int(block.rows.vine_count[piece.row])


def _hook(here: End, there: End, out_mm: float) -> list[Mark]:
    """A half turn [mm] with its head, ``out_mm`` beyond the further of two ends."""
    way = here.out
    level = max(float(here.at_mm @ way), float(there.at_mm @ way)) + out_mm
    start, stop = (each.at_mm + way * (level - float(each.at_mm @ way)) for each in (here, there))
    back = stop - start
    turn = np.linspace(0.0, np.pi, 13)
    middle, radius = start + back / 2, float(np.hypot(*back)) / 2
    if radius < 0.2:
        return []
    arc = middle - np.outer(np.cos(turn), back / 2) + np.outer(np.sin(turn), way * min(radius * 1.6, 2.4))
    end = arc[-1]
    side = back / (2 * radius)
    head = np.array([end - way * 1.3, end + side * 0.85, end - side * 0.85])
    return [Path((arc,), stroke=BLACK, width_mm=0.36), Path((head,), fill=BLACK, is_closed=True)]
