"""Words that can be pressed: ink with a thin underline. No boxes."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QWidget

from vinemap.desk.type import BODY, screen_font
from vinemap.sheets.ink import Ink

PAD = 4


class Verb(QAbstractButton):
    """A word to press. ``underline_px`` 0 draws none; a checked one is heavy (the step one is in)."""

    def __init__(
        self,
        text: str,
        ink: Ink,
        size_px: int = BODY,
        weight: int = 600,
        underline_px: float = 1.0,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setText(text)
        self._ink, self._size, self._weight, self._underline = ink, size_px, weight, underline_px
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(text)

    def set_words(self, text: str) -> None:
        """Change what it says."""
        self.setText(text)
        self.setAccessibleName(text)
        self.updateGeometry()

    def sizeHint(self) -> QSize:
        metrics = QFontMetricsF(screen_font(self._size, max(self._weight, 600 if self.isCheckable() else 0)))
        return QSize(round(metrics.horizontalAdvance(self.text())) + 2 * PAD + 2, round(metrics.height()) + 2 * PAD)

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        is_here = self.isCheckable() and self.isChecked()
        weight = 600 if is_here else (400 if self.isCheckable() else self._weight)
        face = screen_font(self._size, weight)
        metrics = QFontMetricsF(face)
        colour = self._ink.ink if self.isEnabled() and (is_here or not self.isCheckable()) else self._ink.ink_soft
        painter.setFont(face)
        painter.setPen(QColor(colour))
        base = (self.height() + metrics.capHeight()) / 2
        # in a full line the end is left off, never the beginning
        words = metrics.elidedText(self.text(), Qt.TextElideMode.ElideRight, self.width())
        width = metrics.horizontalAdvance(words)
        left = (self.width() - width) / 2
        painter.drawText(QRectF(left, 0, width + 2, self.height()), Qt.AlignmentFlag.AlignVCenter, words)
        thick = 3.0 if is_here else (0.0 if self.isCheckable() else self._underline)
        if thick and self.isEnabled():
            painter.fillRect(QRectF(left, base + metrics.descent() + 1, width, thick), QColor(self._ink.ink))
        if self.hasFocus():
            painter.setPen(QPen(QColor(self._ink.focus), 2.0))
            painter.drawRect(QRectF(1, 1, self.width() - 2, self.height() - 2))
