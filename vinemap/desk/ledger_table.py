"""The ledger's table: ruled above and below, figures right, one frame around what is chosen or opened."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from vinemap.desk.type import HEAD, LEDGER, screen_font, set_ground
from vinemap.service.ledger import Column, Fact, Line, Page, Why
from vinemap.sheets.ink import Ink

ROW, WHY_ROW, HEAD_ROW, GAP, BETWEEN = 28, 22, 27, 10, 10
INTERVAL_TOP = 0.5
"""Share at the right end of the drawn ranges: half of all clusters."""


class LedgerTable(QWidget):
    """Lines of a page; one can be opened into its why. Arrows move, Enter opens, Esc closes."""

    opened = Signal(str, int)
    closed = Signal()

    def __init__(self, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ink = ink
        self._columns: tuple[Column, ...] = ()
        self._lines: tuple[Line, ...] = ()
        self._why: Why | None = None
        self._threshold: float | None = None
        self._at = -1
        set_ground(self, ink.ground)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def show_page(self, page: Page, chosen: tuple[str, int] | None, why: Why | None, threshold: float | None) -> None:
        """Set the lines; ``chosen`` (block, row) is framed and, with a ``why``, opened."""
        self._columns, self._lines, self._why, self._threshold = page.columns, page.lines, why, threshold
        keys = [(line.block, line.row) for line in page.lines]
        self._at = keys.index(chosen) if chosen in keys else -1
        self.setAccessibleName(page.title)
        self.setAccessibleDescription(" ".join(self._lines[self._at].cells) if self._at >= 0 else "")
        self.setFixedHeight(self.sizeHint().height())
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        if not self._columns:
            return QSize(200, 0)
        return QSize(200, HEAD_ROW + len(self._lines) * ROW + self._why_height() + 8)

    def chosen_top(self) -> int:
        """Where the chosen line begins [px], for scrolling it into view."""
        return HEAD_ROW + max(self._at, 0) * ROW

    def _why_height(self) -> int:
        if self._why is None or self._at < 0:
            return 0
        metrics = QFontMetricsF(screen_font(LEDGER - 1, 400, True))
        remark = metrics.boundingRect(QRectF(0, 0, self._inner_width(), 900), Qt.TextFlag.TextWordWrap, self._why.remark)
        extra = round(remark.height()) + 6 if self._why.remark else 0
        return 30 + len(self._why.facts) * WHY_ROW + extra + GAP

    def _inner_width(self) -> float:
        return max(self.width() - 34.0, 100.0)

    def _line_top(self, index: int) -> int:
        return HEAD_ROW + index * ROW + (self._why_height() if 0 <= self._at < index else 0)

    def _line_at(self, y: float) -> int:
        for index in range(len(self._lines)):
            if self._line_top(index) <= y < self._line_top(index) + ROW:
                return index
        return -1

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._choose(self._line_at(event.position().y()))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key in (Qt.Key.Key_Down, Qt.Key.Key_Up):
            step = 1 if key == Qt.Key.Key_Down else -1
            self._choose(min(max(self._at + step, 0), len(self._lines) - 1), is_toggle=False)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._choose(self._at)
        elif key == Qt.Key.Key_Escape and self._at >= 0:
            self.closed.emit()
        else:
            super().keyPressEvent(event)

    def _choose(self, index: int, is_toggle: bool = True) -> None:
        if not 0 <= index < len(self._lines):
            return
        if is_toggle and index == self._at and self._why is not None:
            self.closed.emit()
            return
        self.opened.emit(self._lines[index].block, self._lines[index].row)

    def _edges(self) -> list[float]:
        unit = self.width() / max(sum(column.width for column in self._columns), 1e-9)
        edges = [0.0]
        for column in self._columns:
            edges.append(edges[-1] + column.width * unit)
        return edges

    def paintEvent(self, event: QPaintEvent) -> None:
        if not self._columns:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        edges = self._edges()
        self._paint_heads(painter, edges)
        visible = event.rect()
        for index, line in enumerate(self._lines):
            top = self._line_top(index)
            if top + ROW >= visible.top() and top <= visible.bottom():
                self._paint_line(painter, edges, line, top, index == self._at)
        bottom = self.height() - 4
        painter.fillRect(QRectF(0, bottom, self.width(), 0.8), QColor(self._ink.ink_soft))
        if self._at >= 0:
            self._paint_chosen(painter)

    def _paint_heads(self, painter: QPainter, edges: list[float]) -> None:
        painter.fillRect(QRectF(0, 0, self.width(), 1.6), QColor(self._ink.ink))
        painter.setFont(screen_font(HEAD, 400, False, True))
        painter.setPen(QColor(self._ink.ink_soft))
        for column, left, right in zip(self._columns, edges, edges[1:], strict=False):
            side = Qt.AlignmentFlag.AlignRight if column.is_right else Qt.AlignmentFlag.AlignLeft
            box = QRectF(left + 2, 2, right - left - BETWEEN, HEAD_ROW - 4)
            # a head a little wider than its figures reaches into the gap beside it
            painter.drawText(box, side | Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextDontClip, column.head)
        painter.fillRect(QRectF(0, HEAD_ROW - 1, self.width(), 0.8), QColor(self._ink.ink_soft))

    def _paint_line(self, painter: QPainter, edges: list[float], line: Line, top: int, is_chosen: bool) -> None:
        soft = QColor(self._ink.ink_soft if line.is_soft else self._ink.ink)
        cells = iter(line.cells)
        for index, column in enumerate(self._columns):
            box = QRectF(edges[index] + 2, top, edges[index + 1] - edges[index] - BETWEEN, ROW)
            if column.is_interval:
                self._paint_interval(painter, box, line)
                continue
            text = next(cells, "")
            is_letter = bool(line.letter) and text == line.letter
            painter.setFont(screen_font(LEDGER, 700 if is_letter or index == 0 else 400))
            painter.setPen(QColor(self._ink.of_kind(line.letter)) if is_letter else soft)
            side = Qt.AlignmentFlag.AlignRight if column.is_right else Qt.AlignmentFlag.AlignLeft
            fitted = shortened(text, QFontMetricsF(painter.font()), box.width() + 1)
            painter.drawText(box, side | Qt.AlignmentFlag.AlignVCenter, fitted)

    def _paint_interval(self, painter: QPainter, box: QRectF, line: Line) -> None:
        middle_y = box.center().y()
        left, span = box.left() + 6, box.width() - 16
        painter.fillRect(QRectF(left, middle_y - 0.4, span, 0.8), QColor(self._ink.rule))
        if self._threshold is not None:
            x = left + span * min(self._threshold / INTERVAL_TOP, 1.0)
            painter.setPen(QPen(QColor(self._ink.ink_soft), 1, Qt.PenStyle.DotLine))
            painter.drawLine(QPointF(x, box.top() + 5), QPointF(x, box.bottom() - 5))
        if line.interval is None:
            return
        low, at, high = (left + span * min(value / INTERVAL_TOP, 1.0) for value in line.interval)
        painter.fillRect(QRectF(low, middle_y - 1, max(high - low, 1.0), 2), QColor(self._ink.ink))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self._ink.ink))
        painter.drawEllipse(QPointF(at, middle_y), 3.6, 3.6)
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _paint_chosen(self, painter: QPainter) -> None:
        top = self._line_top(self._at)
        frame = QRectF(0.75, top + 0.75, self.width() - 1.5, ROW + self._why_height() - 1.5)
        painter.setPen(QPen(QColor(self._ink.focus if self.hasFocus() else self._ink.ink), 1.5))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(frame)
        if self._why is not None:
            self._paint_why(painter, self._why, top + ROW)

    def _paint_why(self, painter: QPainter, why: Why, top: float) -> None:
        left, right = 24.0, self.width() - 10.0
        painter.setPen(QColor(self._ink.ink))
        painter.setFont(screen_font(LEDGER, 600))
        painter.drawText(QRectF(left - 10, top, right - left, 26), Qt.AlignmentFlag.AlignVCenter, why.question)
        painter.setFont(screen_font(LEDGER - 1, 400, True))
        painter.drawText(
            QRectF(left, top, right - left, 26), Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, "close"
        )
        y = top + 28
        painter.fillRect(QRectF(left - 7.6, y, 1.2, WHY_ROW * (len(why.facts) - 0.5)), QColor(self._ink.ink))
        for fact in why.facts:
            paint_fact(painter, self._ink, QRectF(left + 4, y, right - left - 4, WHY_ROW), fact, LEDGER - 1)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(self._ink.ink))
            painter.drawEllipse(QPointF(left - 7, y + WHY_ROW / 2), 2.6, 2.6)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            y += WHY_ROW
        if why.remark:
            painter.setFont(screen_font(LEDGER - 1, 400, True))
            painter.setPen(QColor(self._ink.ink))
            painter.drawText(QRectF(left - 10, y + 4, self._inner_width(), 900), Qt.TextFlag.TextWordWrap, why.remark)


def shortened(text: str, metrics: QFontMetricsF, room_px: float) -> str:
    """Words cut to the room there is; a row's label at their end stays, for without it a line says nothing."""
    name, _, last = text.rpartition(" ")
    if not name or not any(sign.isdigit() for sign in last):
        return metrics.elidedText(text, Qt.TextElideMode.ElideRight, room_px)
    end = f" {last}"
    if metrics.horizontalAdvance(text) <= room_px:
        return text
    return metrics.elidedText(name, Qt.TextElideMode.ElideRight, room_px - metrics.horizontalAdvance(end)) + end


def paint_fact(painter: QPainter, ink: Ink, box: QRectF, fact: Fact, size_px: int) -> None:
    """A label and its figure with dots between them; a label too long for the line is shortened, never the figure."""
    words = screen_font(size_px, 600 if fact.is_heavy else 400)
    figure = screen_font(size_px, 600)
    value_width = QFontMetricsF(figure).horizontalAdvance(fact.value)
    room = box.width() - value_width - 12
    metrics = QFontMetricsF(words)
    text = metrics.elidedText(fact.label, Qt.TextElideMode.ElideRight, max(room, 20))
    painter.setPen(QColor(ink.ink))
    painter.setFont(words)
    painter.drawText(box, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, text)
    painter.setFont(figure)
    painter.drawText(box, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, fact.value)
    start, end = box.left() + metrics.horizontalAdvance(text) + 6, box.right() - value_width - 6
    if end > start:
        dots = QPen(QColor(ink.ink_faint), 1.0)
        dots.setDashPattern([1.0, 3.0])
        painter.setPen(dots)
        base = box.center().y() + metrics.capHeight() / 2
        painter.drawLine(QPointF(start, base), QPointF(end, base))
