"""Pieces of work as bands over their rows: pattern, heavy line on the face to open, and a ringed letter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.ground.block import Block, Vines
from vinemap.sheets.fit import Fit
from vinemap.sheets.hatch import hatch
from vinemap.sheets.marks import Dots, Mark, Path, Words
from vinemap.sheets.setting import BLACK, WHITE

BAND_SHARE, BAND_MOST_MM = 0.50, 2.6
"""A band's height: this share of the space between rows, and no more than this."""

HEAVY_MM = 0.62
RING_MM, RING_SMALL_MM = 1.9, 1.5
RING_PT, RING_SMALL_PT = 8.8, 7.0
PLACES = (0.5, 0.22, 0.78, 0.36, 0.64, 0.10, 0.90)
"""Where along a band its letter may stand, best first."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of work in one row: vines from first to last (from 1), its letter, and the side to open.

    ``row`` is the row's index in the block; ``side``: +1 the heavy line runs right of the row as it runs from vine 1,
    -1 left, 2 both, 0 none; ``face`` is the face's word ("east", "both", or "" for none); ``minutes`` of one person.
    """

    row: int
    first_vine: int
    last_vine: int
    kind: str
    side: int
    face: str
    minutes: float


def band_marks(block: Block, vines: Vines, pieces: Sequence[Piece], fit: Fit) -> tuple[list[Mark], list[Mark]]:
    """Bands of the pieces, and the letters to lay over them."""
    space = block.row_spacing_m * fit.mm_per_m
    height = min(BAND_SHARE * space, BAND_MOST_MM)
    heavy = min(HEAVY_MM, 0.18 * space)
    fine = float(np.clip(height / 1.3, 0.5, 1.0))
    marks: list[Mark] = []
    lines = [piece_line(vines, piece, fit) for piece in pieces]
    for piece, along in zip(pieces, lines, strict=True):
        shape = shapely.LineString(along).buffer(height / 2, cap_style="flat", join_style="mitre")
        ring = shapely.get_coordinates(shape.exterior)
        step = along[-1] - along[0]
        marks.append(Path((ring,), fill=WHITE, is_closed=True))
        marks += hatch(piece.kind, shape, float(np.degrees(np.arctan2(step[1], step[0]))), BLACK, fine)
        marks.append(Path((ring,), stroke=BLACK, width_mm=min(0.22, 0.12 * space), is_closed=True))
        for side in {1: (1,), -1: (-1,), 2: (1, -1)}.get(piece.side, ()):
            marks.append(Path((beside(along, side * (height + heavy) / 2),), stroke=BLACK, width_mm=heavy))
    return marks, letter_marks([piece.kind for piece in pieces], lines, space)


def piece_line(vines: Vines, piece: Piece, fit: Fit) -> Floats:
    """The piece's line (k, 2) [mm], half a vine longer at both ends, from its first vine to its last."""
    start, stop = int(vines.row_start[piece.row]), int(vines.row_start[piece.row + 1])
    xy = np.column_stack([vines.x_m[start:stop], vines.y_m[start:stop]])
    first, last = max(piece.first_vine, 1) - 1, min(piece.last_vine, len(xy)) - 1
    chosen = xy[first : last + 1]
    if len(xy) < 2:
        step_in = step_out = np.array([0.5, 0.0])
    else:
        step_in = (xy[min(first + 1, len(xy) - 1)] - xy[min(first, len(xy) - 2)]) / 2
        step_out = (xy[max(last, 1)] - xy[max(last, 1) - 1]) / 2
    line = fit.place(np.vstack([chosen[0] - step_in, chosen, chosen[-1] + step_out]))
    simple: Floats = shapely.get_coordinates(shapely.LineString(line).simplify(0.02))
    return simple


def beside(line_mm: Floats, offset_mm: float) -> Floats:
    """A line (k, 2) moved to its right as it runs, y downwards (or to its left where negative) [mm]."""
    step = np.gradient(line_mm, axis=0)
    step /= np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-9)[:, None]
    moved: Floats = line_mm + offset_mm * np.column_stack([-step[:, 1], step[:, 0]])
    return moved


def letter_marks(kinds: Sequence[str], lines: Sequence[Floats], space_mm: float) -> list[Mark]:
    """A ringed letter on each band; where there is no room, neighbours of one kind share one."""
    is_tight = space_mm < 1.9
    radius, size = (RING_SMALL_MM, RING_SMALL_PT) if is_tight else (RING_MM, RING_PT)
    placed: list[tuple[float, float, str]] = []
    for kind, line in zip(kinds, lines, strict=True):
        path = shapely.LineString(line)
        near = [path.distance(shapely.Point(x, y)) for x, y, other in placed if other == kind]
        if is_tight and min(near, default=np.inf) < 2.4 * radius:
            continue
        turn = len(placed) % 3
        order = PLACES[turn:] + PLACES[:turn]
        points = [path.interpolate(share, normalized=True) for share in order]
        room = [min((np.hypot(point.x - x, point.y - y) for x, y, _ in placed), default=np.inf) for point in points]
        free = next((k for k, distance in enumerate(room) if distance >= 2 * radius + 0.25), None)
        if free is None:
            if min(near, default=np.inf) < 3.2 * radius:
                continue
            free = int(np.argmax(room))
        placed.append((points[free].x, points[free].y, kind))
    if not placed:
        return []
    centres = np.array([(x, y) for x, y, _ in placed])
    rings = Dots(centres, np.full(len(placed), radius), fill=WHITE, stroke=BLACK, width_mm=0.3)
    down = size * 0.125
    return [rings, *(Words(x, y + down, kind, size, 700, anchor="middle", fill=BLACK) for x, y, kind in placed)]
