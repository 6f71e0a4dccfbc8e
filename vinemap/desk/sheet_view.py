"""A sheet of paper in the map's place, with marks that are laid out for the room there is."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen
from PySide6.QtWidgets import QWidget

from vinemap.desk.painter import paint
from vinemap.sheets.fit import Box
from vinemap.sheets.ink import Ink
from vinemap.sheets.marks import Mark
from vinemap.sheets.marks import Page as Sheet

MARGIN, PER_MM = 14, 4.0
"""Px around the sheet, and px for a millimetre: words as large as in the ledger."""


class SheetView(QWidget):
    """The sheet, framed, in ink or in the colour of focus; ``pad_px`` within it."""

    def __init__(self, title: str, pad_px: float, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ink, self._title, self._pad_px = ink, title, pad_px
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(title)

    def sheet(self) -> tuple[QRectF, Box]:
        """The sheet [px], and the room for marks on it [mm]."""
        sheet = QRectF(self.rect()).adjusted(MARGIN, MARGIN, -MARGIN, -MARGIN)
        width, height = ((each - 2 * self._pad_px) / PER_MM for each in (sheet.width(), sheet.height()))
        return sheet, Box(0.0, 0.0, width, height)

    def paint_sheet(self, marks_in: Callable[[Box], Sequence[Mark]] | None) -> None:
        """Paint the sheet, and the marks that are made for its room; None leaves it empty."""
        painter = QPainter(self)
        sheet, room = self.sheet()
        painter.fillRect(sheet, QColor(self._ink.sheet))
        painter.setPen(QPen(QColor(self._ink.focus if self.hasFocus() else self._ink.ink), 2.0 if self.hasFocus() else 1.0))
        painter.drawRect(sheet)
        if marks_in is None:
            return
        marks = tuple(marks_in(room))
        painter.translate(sheet.left() + self._pad_px, sheet.top() + self._pad_px)
        paint(Sheet(self._title, room.width_mm, room.height_mm, marks), painter, PER_MM)
