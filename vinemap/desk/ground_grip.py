"""What the hand holds of a block: a corner or the end of a row, moved by dragging or by arrow keys, saved when it lets go."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF
from PySide6.QtGui import QPainter, QPixmap
from PySide6.QtWidgets import QApplication

from vinemap.columns import Floats
from vinemap.desk import ground_marks as marks
from vinemap.desk.camera import View
from vinemap.desk.ground_handles import (
    CORNER,
    Handle,
    handles_of,
    moved_line_m,
    nearest_edge,
    nearest_handle,
    ring_m,
)
from vinemap.ground.block import Block

if TYPE_CHECKING:
    from vinemap.desk.ground_hand import GroundHand


@dataclass(slots=True)
class _Drag:
    """A handle in the hand: where it is now [m], where the pointer took hold ([px], None for keys), whether it has moved.

    ``still``: all other handles as they were drawn in a view; an outline may have a thousand corners.
    """

    handle: Handle
    to_m: tuple[float, float]
    grip_px: QPointF | None = None
    off_m: tuple[float, float] = (0.0, 0.0)
    has_moved: bool = False
    still: tuple[View, QPixmap] | None = None


class GroundGrip:
    """The handles of the block in view, the one that was touched last, and the one that is being moved."""

    def __init__(self, hand: GroundHand) -> None:
        self._hand = hand
        self.handles: tuple[Handle, ...] = ()
        self._name = ""
        self._touched: tuple[str, int, int] | None = None
        self._drag: _Drag | None = None

    def show(self, block: Block | None, row: int | None) -> None:
        """Offer the handles of a block and of the row that is picked in it; what was being moved is put back."""
        self._drag = None
        self.handles = handles_of(block, row) if block is not None else ()
        name = block.name if block is not None else ""
        if name != self._name:
            self._name, self._touched = name, None

    @property
    def touched(self) -> Handle | None:
        """The handle that was touched last."""
        return next((each for each in self.handles if each.key == self._touched), None)

    @property
    def is_moving(self) -> bool:
        """True while a handle is away from its place."""
        return self._drag is not None and self._drag.has_moved

    def put_back(self) -> bool:
        """Take back what is being moved; False when nothing is."""
        was, self._drag = self._drag, None
        return was is not None

    def leave(self) -> None:
        """Touch nothing."""
        self._drag, self._touched = None, None

    # ---- mouse

    def take(self, here: QPointF) -> bool:
        """Take hold of the handle under the pointer; False where there is none."""
        view = self._hand.view
        handle = nearest_handle(self.handles, view, here.x(), here.y())
        if handle is None:
            return False
        self._touch(handle)
        x_m, y_m = view.to_m(here.x(), here.y())
        self._drag = _Drag(handle, (handle.x_m, handle.y_m), here, (handle.x_m - x_m, handle.y_m - y_m))
        return True

    def move(self, here: QPointF) -> bool:
        """The handle follows the pointer; False when none is in the hand."""
        drag = self._drag
        if drag is None or drag.grip_px is None:
            return False
        if drag.has_moved or (here - drag.grip_px).manhattanLength() >= QApplication.startDragDistance():
            x_m, y_m = self._hand.view.to_m(here.x(), here.y())
            drag.to_m, drag.has_moved = (x_m + drag.off_m[0], y_m + drag.off_m[1]), True
            self._hand.redraw()
        return True

    def let_go(self, of_keys: bool) -> bool:
        """Save what is in the hand as one step; where that is refused it springs back. False when nothing is held so."""
        drag, block = self._drag, self._hand.block
        if drag is None or block is None or (drag.grip_px is None) != of_keys:
            return False
        self._drag = None
        if drag.has_moved:
            self._hand.tell(self._hand.deeds.move(block, drag.handle, np.array(drag.to_m)))
        self._hand.redraw()
        return True

    def double(self, block: Block, here: QPointF) -> bool:
        """Add a corner to the edge under the pointer; False where there is none."""
        view = self._hand.view
        if nearest_handle(self.handles, view, here.x(), here.y()) is not None:
            return True
        edge = nearest_edge(block, view, here.x(), here.y())
        if edge is not None:
            self._add_corner(block, *edge)
        return edge is not None

    # ---- keys

    def shift(self, way: tuple[int, int], step_m: float) -> bool:
        """Move the touched handle by a step; False when none is touched."""
        handle = self.touched
        if handle is None:
            return False
        drag = self._drag or _Drag(handle, (handle.x_m, handle.y_m))
        drag.to_m, drag.has_moved = (drag.to_m[0] + way[0] * step_m, drag.to_m[1] + way[1] * step_m), True
        self._drag = drag
        self._hand.redraw()
        return True

    def touch_next(self, step: int) -> bool:
        """Touch the next handle; False when there is none."""
        keys = [each.key for each in self.handles]
        if keys:
            at = keys.index(self._touched) + step if self._touched in keys else (0 if step > 0 else -1)
            self._touch(self.handles[at % len(keys)])
        return bool(keys)

    def insert(self, block: Block) -> None:
        """Add a corner in the middle of the edge after the one that was touched."""
        handle = self.touched
        if handle is None or handle.kind != CORNER:
            self._hand.tell("Touch a corner first, with Tab or a click.")
            return
        ring = ring_m(block, handle.ring)
        middle = (ring[handle.number - 1] + ring[handle.number % len(ring)]) / 2.0
        self._add_corner(block, handle.ring, handle.number, middle)

    def delete_corner(self, block: Block) -> bool:
        """Delete the corner that was touched; False when it was none."""
        handle = self.touched
        if handle is None or handle.kind != CORNER:
            return False
        self.leave()
        self._hand.tell(self._hand.deeds.delete_corner(block, handle) or f"{handle.words(block).capitalize()} deleted.")
        return True

    def _add_corner(self, block: Block, ring: int, after: int, at_m: Floats) -> None:
        refused = self._hand.deeds.add_corner(block, ring, after, at_m)
        if not refused:
            self._touched = (CORNER, ring, after + 1)
        self._hand.tell(refused or f"Corner {after + 1} added.")

    def _touch(self, handle: Handle) -> None:
        self._hand.runs.let_go()
        self._drag, self._touched = None, handle.key
        if self._hand.block is not None:
            self._hand.tell(handle.words(self._hand.block).capitalize())

    # ---- drawing

    def draw(self, painter: QPainter, view: View) -> None:
        """The handles, and the line that follows the hand."""
        ink, block, drag = self._hand.window.ink, self._hand.block, self._drag
        if drag is None or not drag.has_moved or block is None:
            marks.draw_handles(painter, self.handles, self.touched, view, ink)
            return
        marks.draw_line(painter, moved_line_m(block, drag.handle, np.array(drag.to_m)), view, ink)
        if drag.still is None or drag.still[0] != view:
            others = tuple(each for each in self.handles if each.key != drag.handle.key)
            ratio = self._hand.window.canvas.devicePixelRatioF()
            drag.still = view, marks.handles_layer(others, view, ink, ratio)
        painter.drawPixmap(0, 0, drag.still[1])
        moved = Handle(*drag.handle.key, *drag.to_m)
        marks.draw_handles(painter, (moved,), moved, view, ink)
