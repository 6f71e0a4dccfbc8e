"""The hand that moves the map: a press, the drag that pans, and the letting go that is a click where nothing moved."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt
from PySide6.QtWidgets import QApplication, QWidget

from vinemap.desk.camera import Camera


class MapDrag:
    """Where the pointer holds the map, None while it does not."""

    def __init__(self, canvas: QWidget, camera: Camera) -> None:
        self._canvas, self._camera = canvas, camera
        self._grip: QPointF | None = None
        self._has_moved = False

    def begin(self, here: QPointF) -> None:
        """Take hold of the map."""
        self._grip, self._has_moved = here, False

    def move(self, here: QPointF) -> bool:
        """The map follows the pointer; False when it is not held."""
        if self._grip is None:
            return False
        step = here - self._grip
        if self._has_moved or step.manhattanLength() >= QApplication.startDragDistance():
            self._has_moved, self._grip = True, here
            self._canvas.setCursor(Qt.CursorShape.ClosedHandCursor)
            self._camera.pan_px(step.x(), step.y())
        return True

    def end(self) -> bool:
        """Let go; True when the map was held and has not moved: a click."""
        was_held = self._grip is not None
        self.forget()
        return was_held and not self._has_moved

    def forget(self) -> None:
        """Hold nothing."""
        if self._grip is not None:
            self._grip = None
            self._canvas.unsetCursor()
