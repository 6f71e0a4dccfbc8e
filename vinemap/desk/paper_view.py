"""The sheet at its true shape, as it will be printed, page by page."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from vinemap.desk.painter import paint
from vinemap.desk.type import SUBTITLE, screen_font
from vinemap.sheets.ink import Ink
from vinemap.sheets.marks import Page

MARGIN = 26
NOTHING = "No sheet yet: bring in the stops of a round first. The crew's maps are made from it."


class PaperView(QWidget):
    """One page, as large as the room allows; Page Up and Page Down turn it."""

    def __init__(self, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ink = ink
        self._pages: tuple[Page, ...] = ()
        self._at = 0
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Paper")

    @property
    def pages(self) -> tuple[Page, ...]:
        """What is shown."""
        return self._pages

    @property
    def at(self) -> int:
        """Index of the page in view."""
        return self._at

    def show_pages(self, pages: tuple[Page, ...], at: int = 0) -> None:
        """Show pages from one on."""
        self._pages = pages
        self.turn_to(at)

    def turn_to(self, at: int) -> None:
        """Turn to a page."""
        self._at = min(max(at, 0), max(len(self._pages) - 1, 0))
        if self._pages:
            self.setAccessibleDescription(f"page {self._at + 1} of {len(self._pages)}: {self._pages[self._at].title}")
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_PageDown, Qt.Key.Key_Right, Qt.Key.Key_Down):
            self.turn_to(self._at + 1)
        elif event.key() in (Qt.Key.Key_PageUp, Qt.Key.Key_Left, Qt.Key.Key_Up):
            self.turn_to(self._at - 1)
        else:
            super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(self._ink.wash))
        if not self._pages:
            painter.setFont(screen_font(SUBTITLE, 400, True))
            painter.setPen(QColor(self._ink.ink))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, NOTHING)
            return
        page = self._pages[self._at]
        room_x, room_y = max(self.width() - 2 * MARGIN, 1), max(self.height() - 2 * MARGIN, 1)
        per_mm = min(room_x / page.width_mm, room_y / page.height_mm)
        width, height = page.width_mm * per_mm, page.height_mm * per_mm
        left, top = (self.width() - width) / 2, (self.height() - height) / 2
        painter.fillRect(QRectF(left, top, width, height), QColor("#FFFFFF"))
        painter.setPen(QPen(QColor(self._ink.rule), 1))
        painter.drawRect(QRectF(left, top, width, height))
        painter.translate(left, top)
        paint(page, painter, per_mm)
        if self.hasFocus():
            painter.resetTransform()
            painter.setPen(QPen(QColor(self._ink.focus), 2))
            painter.drawRect(QRectF(left - 4, top - 4, width + 8, height + 8))
