"""Where the hand can take hold of a block: corners of its outline and openings, and the ends of a row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from PySide6.QtCore import Qt

from vinemap.columns import Floats
from vinemap.desk.camera import View
from vinemap.desk.map_scene import BlockScene
from vinemap.ground.block import Block
from vinemap.ground.vines import distance_along_m

CORNER, ROW_END = "corner", "row end"
GRAB_PX, EDGE_PX = 10.0, 6.0
"""How near the pointer must be to a handle, and to an edge."""
ARROWS = {Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0), Qt.Key.Key_Up: (0, 1), Qt.Key.Key_Down: (0, -1)}
"""Steps east and north of the keys."""


@dataclass(frozen=True, slots=True)
class Handle:
    """A place to take hold of [m]. Of a corner: ``ring`` 0 for the outline, from 1 for openings, ``number`` from 1.

    Of a row's end: ``ring`` is the row's index, ``number`` 1 for the end with vine 1 and 2 for the other.
    """

    kind: str
    ring: int
    number: int
    x_m: float
    y_m: float

    @property
    def key(self) -> tuple[str, int, int]:
        """Which handle it is, wherever it stands."""
        return self.kind, self.ring, self.number

    def words(self, block: Block) -> str:
        """What it is called."""
        if self.kind == ROW_END:
            end = "vine 1" if self.number == 1 else "the last vine"
            return f"row {block.rows.labels[self.ring]}, end with {end}"
        return f"corner {self.number}" + (f" of opening {self.ring}" if self.ring else "")


@dataclass(frozen=True, slots=True)
class Run:
    """Vines of one row that are chosen: from ``anchor`` to ``last``, ordinals from 1, in the order of the hand."""

    row: int
    anchor: int
    last: int

    @property
    def span(self) -> tuple[int, int]:
        """First and last vine."""
        return min(self.anchor, self.last), max(self.anchor, self.last)

    def words(self, block: Block) -> str:
        """Its address, as it is written."""
        first, last = self.span
        vines = f"vine {first}" if first == last else f"vines {first} to {last}"
        return f"row {block.rows.labels[self.row]}, {vines}"


def ring_m(block: Block, ring: int) -> Floats:
    """Corners (k, 2) [m] of the outline, or of an opening (from 1)."""
    line = block.outline.exterior if ring == 0 else block.outline.interiors[ring - 1]
    return np.asarray(line.coords)[:-1, :2]


def handles_of(block: Block, row: int | None) -> tuple[Handle, ...]:
    """All handles of a block: its corners, then those of its openings, then the ends of the row that is picked."""
    made = [
        Handle(CORNER, ring, number, *place)
        for ring in range(len(block.outline.interiors) + 1)
        for number, place in enumerate(ring_m(block, ring).tolist(), start=1)
    ]
    if row is not None:
        line = block.rows.line_m(row)
        made += [Handle(ROW_END, row, 1, *line[0].tolist()), Handle(ROW_END, row, 2, *line[-1].tolist())]
    return tuple(made)


def places_px(places_m: Floats, view: View) -> Floats:
    """Window pixels (k, 2) of places (k, 2) [m]."""
    return places_m / view.m_per_px * (1.0, -1.0) - (view.left_px, view.top_px)


def nearest_handle(handles: tuple[Handle, ...], view: View, x_px: float, y_px: float) -> Handle | None:
    """The handle under the pointer; the end of a row before a corner beneath it."""
    if not handles:
        return None
    places = places_px(np.array([(each.x_m, each.y_m) for each in handles]), view)
    away = np.hypot(places[:, 0] - x_px, places[:, 1] - y_px)
    away -= [1e-3 if each.kind == ROW_END else 0.0 for each in handles]
    nearest = int(np.argmin(away))
    return handles[nearest] if away[nearest] <= GRAB_PX else None


def nearest_edge(block: Block, view: View, x_px: float, y_px: float) -> tuple[int, int, Floats] | None:
    """The ring, the corner (from 1) before the place, and the place (2,) [m] on the edge under the pointer."""
    at_m = np.array(view.to_m(x_px, y_px))
    best: tuple[float, int, int, Floats] | None = None
    for ring in range(len(block.outline.interiors) + 1):
        first = ring_m(block, ring)
        step = np.roll(first, -1, axis=0) - first
        share = np.clip(((at_m - first) * step).sum(axis=1) / np.maximum((step**2).sum(axis=1), 1e-12), 0.0, 1.0)
        foot = first + share[:, None] * step
        away = np.hypot(foot[:, 0] - at_m[0], foot[:, 1] - at_m[1])
        nearest = int(np.argmin(away))
        if best is None or away[nearest] < best[0]:
            best = float(away[nearest]), ring, nearest + 1, foot[nearest]
    return best[1:] if best is not None and best[0] <= EDGE_PX * view.m_per_px else None


def moved_line_m(block: Block, handle: Handle, to_m: Floats) -> Floats:
    """The line (k, 2) [m] that follows the hand: both edges of a corner, or the row."""
    if handle.kind == CORNER:
        ring = ring_m(block, handle.ring)
        at = handle.number - 1
        return np.array([ring[at - 1], to_m, ring[(at + 1) % len(ring)]])
    line = block.rows.line_m(handle.ring)
    along = distance_along_m(line)
    share = (along / along[-1])[:, None]
    step = to_m - (line[0] if handle.number == 1 else line[-1])
    moved: Floats = line + (1.0 - share if handle.number == 1 else share) * step
    return moved


def vine_near(scene: BlockScene, row: int, x_m: float, y_m: float) -> int:
    """Ordinal of the vine of a row that is nearest to a place [m]."""
    part = slice(int(scene.vines.row_start[row]), int(scene.vines.row_start[row + 1]))
    away = np.hypot(scene.vines.x_m[part] - x_m, scene.vines.y_m[part] - y_m)
    return int(np.argmin(away)) + 1


def run_line_m(scene: BlockScene, run: Run) -> Floats:
    """The line (k, 2) [m] through the vines of a run, half a vine spacing longer at both ends."""
    start, (first, last) = int(scene.vines.row_start[run.row]), run.span
    part = slice(start + first - 1, start + last)
    line = np.column_stack([scene.vines.x_m[part], scene.vines.y_m[part]])
    row = scene.block.rows.line_m(run.row)
    along = row[-1] - row[0]
    over = along / max(float(np.hypot(*along)), 1e-9) * float(scene.block.rows.vine_spacing_m[run.row]) / 2.0
    longer: Floats = np.vstack([line[0] - over, line, line[-1] + over])
    return longer


def block_at(scenes: tuple[BlockScene, ...], x_m: float, y_m: float) -> Block | None:
    """The block whose outline holds a place [m]."""
    return next((each.block for each in scenes if shapely.contains_xy(each.block.outline, x_m, y_m)), None)
