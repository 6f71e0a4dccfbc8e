"""Places put on the map one by one: the line of a cut, the outline of a new block, two places along a row, or a neighbour."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QMouseEvent, QPainter

from vinemap.columns import Floats
from vinemap.desk import ground_marks as marks
from vinemap.desk.camera import View
from vinemap.desk.ground_handles import ARROWS, GRAB_PX, block_at, ring_m
from vinemap.errors import InputError
from vinemap.ground.block import RowTable
from vinemap.ground.planting import bearing_between_deg

if TYPE_CHECKING:
    from vinemap.desk.ground_hand import GroundHand

CUT, MERGE, DRAW, ALONG = "cut", "merge", "draw", "along"
PEN_STEP_PX, PEN_FINE_PX = 10.0, 1.0
SAYS = {
    CUT: "Click two places: the cut runs through them, from edge to edge. Esc gives up.",
    MERGE: "Click the block that {block} shall be one with, or Tab and Enter. Esc gives up.",
    DRAW: "Click the corners of the new block; Enter or a double click closes it, Backspace takes one back.",
    ALONG: "Click two places along a row, or Enter to write its bearing. Esc gives up.",
}


class GroundDrawing:
    """What has been put on the map so far; nothing of it is in the season until it is whole."""

    def __init__(self, hand: GroundHand) -> None:
        self._hand = hand
        self.mode = ""
        self.points: list[tuple[float, float]] = []
        self.outline: tuple[tuple[float, float], ...] = ()
        self.other = ""
        self.rows: RowTable | None = None
        self._pen: tuple[float, float] | None = None
        self._has_cross = False

    def begin(self, mode: str) -> None:
        """Begin with nothing put down."""
        self.give_up()
        self.mode = mode

    def give_up(self) -> None:
        """Forget what was put down."""
        self.mode, self.points, self.outline, self.other, self.rows = "", [], (), "", None
        self._pen, self._has_cross = None, False
        self._hand.window.canvas.drag.forget()

    @property
    def says(self) -> str:
        """What the hand does now."""
        block = self._hand.block
        return SAYS[self.mode].format(block=block.name if block is not None else "this block")

    # ---- mouse

    def on_mouse(self, event: QMouseEvent) -> bool:
        """A press, move or release on the map; a drag moves the map as ever."""
        here, kind, drag = event.position(), event.type(), self._hand.window.canvas.drag
        if kind == QEvent.Type.MouseMove:
            self._move(here)
            return True
        if event.button() != Qt.MouseButton.LeftButton:
            return False
        if kind == QEvent.Type.MouseButtonPress:
            drag.begin(here)
        elif kind == QEvent.Type.MouseButtonRelease and drag.end():
            self._has_cross = False
            self._put(self._hand.view.to_m(here.x(), here.y()))
        elif kind == QEvent.Type.MouseButtonDblClick:
            drag.forget()
            if self.mode == DRAW:
                self._close()
        return True

    def _move(self, here: QPointF) -> None:
        canvas = self._hand.window.canvas
        if canvas.drag.move(here):
            return
        self._pen = self._hand.view.to_m(here.x(), here.y())
        if self.mode == MERGE:
            block = block_at(canvas.scene.blocks, *self._pen)
            self.other = block.name if block is not None and block is not self._hand.block else ""
        canvas.update()

    # ---- keys

    def on_key(self, key: Qt.Key, is_fine: bool) -> bool:
        """A key: arrows move the cross, Space puts a place down."""
        if key == Qt.Key.Key_Escape:
            self.give_up()
            self._hand.tell("Given up; nothing was changed.")
        elif self.mode == MERGE and key in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
            self._next_other(-1 if key == Qt.Key.Key_Backtab else 1)
        elif self.mode == MERGE and key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self._merge(self.other)
        elif self.mode != MERGE and key in ARROWS:
            view, way = self._hand.view, ARROWS[key]
            step_m = (PEN_FINE_PX if is_fine else PEN_STEP_PX) * view.m_per_px
            x_m, y_m = self._pen or view.to_m(view.width_px / 2, view.height_px / 2)
            self._pen, self._has_cross = (x_m + way[0] * step_m, y_m + way[1] * step_m), True
        elif key == Qt.Key.Key_Space and self._pen is not None:
            self._put(self._pen)
        elif key == Qt.Key.Key_Backspace:
            self.points = self.points[:-1]
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._on_enter()
        else:
            return False
        self._hand.window.canvas.update()
        return True

    def _on_enter(self) -> None:
        if self.mode == DRAW:
            self._close()
        elif self.mode == ALONG:
            self._plant(0.0)

    # ---- what is put down

    def _put(self, place: tuple[float, float]) -> None:
        view = self._hand.view
        if self.mode == MERGE:
            block = block_at(self._hand.window.canvas.scene.blocks, *place)
            self._merge(block.name if block is not None else "")
        elif self.mode == DRAW and len(self.points) > 2 and self._is_first(place, view):
            self._close()
        elif place not in self.points:
            self.points.append(place)
            if self.mode == CUT and len(self.points) == 2:
                self._cut()
            elif self.mode == ALONG and len(self.points) == 2:
                self._plant_along()
        self._hand.window.canvas.update()

    def _is_first(self, place: tuple[float, float], view: View) -> bool:
        step = np.subtract(place, self.points[0]) / view.m_per_px
        return float(np.hypot(*step)) <= GRAB_PX

    def _close(self) -> None:
        if len(self.points) < 3:
            self._hand.tell("An outline needs three corners.")
            return
        self.outline, self.points, self.mode = tuple(self.points), [], ALONG
        self._hand.tell("")

    def _plant_along(self) -> None:
        try:
            bearing_deg = bearing_between_deg(*np.array(self.points))
        except InputError as error:
            self.points = self.points[:1]
            self._hand.tell(str(error))
            return
        self._plant(bearing_deg)

    def _plant(self, bearing_deg: float) -> None:
        """Plant the outline that was drawn, or where none was the block in view."""
        hand, block = self._hand, self._hand.block
        if self.outline:
            refused, is_settled = hand.deeds.add_block(np.array(self.outline), bearing_deg, self._show_rows)
        elif block is not None:
            refused, is_settled = hand.deeds.plant(block, bearing_deg, self._show_rows)
        else:
            return
        self.points = []
        if not is_settled:
            hand.tell(refused)
            return
        blocks = hand.window.book.season.blocks
        made = blocks[-1] if self.outline else next(each for each in blocks if block is not None and each.name == block.name)
        self.give_up()
        hand.window.look(block=made.name, chosen=None)
        hand.tell(refused or f"{made.name} has {len(made.rows)} rows now.")

    def _show_rows(self, rows: RowTable | None) -> None:
        """Draw the rows that would be made; None draws none."""
        self.rows = rows
        self._hand.window.canvas.update()

    def _cut(self) -> None:
        block, line = self._hand.block, np.array(self.points)
        self.give_up()
        if block is not None:
            self._hand.tell(self._hand.deeds.split(block, line))

    def _next_other(self, step: int) -> None:
        block = self._hand.block
        names = [each.name for each in self._hand.window.book.season.blocks if each is not block]
        if names:
            at = names.index(self.other) + step if self.other in names else (0 if step > 0 else -1)
            self.other = names[at % len(names)]
            self._hand.tell(self.other)

    def _merge(self, name: str) -> None:
        block, other = self._hand.block, self._hand.window.book.season.block(name)
        if block is None or other is None or other is block:
            self._hand.tell("Choose another block.")
            return
        self.give_up()
        self._hand.tell(self._hand.deeds.merge(block, other))

    # ---- drawing

    def draw(self, painter: QPainter, view: View) -> None:
        """Lines over the map."""
        ink = self._hand.window.ink
        if self.outline:
            marks.draw_line(painter, np.array(self.outline), view, ink, is_closed=True)
        if self.rows is not None:
            marks.draw_rows(painter, self.rows, view, ink)
        if self.mode == MERGE:
            other = self._hand.window.book.season.block(self.other)
            if other is not None:
                marks.draw_outline(painter, ring_m(other, 0), view, ink)
            return
        if self.points:
            marks.draw_line(painter, self._drawn(), view, ink)
            marks.draw_points(painter, np.array(self.points), view, ink)
        if self._has_cross and self._pen is not None:
            marks.draw_cross(painter, self._pen, view, ink)

    def _drawn(self) -> Floats:
        """What was put down, and where the next place would be."""
        return np.array([*self.points, *([self._pen] if self._pen is not None else [])])
