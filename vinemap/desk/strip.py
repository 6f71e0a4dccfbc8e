"""The season strip: rounds to pick, work, the ribbon of pressure in the lens of the fruit window."""

from __future__ import annotations

import datetime as dt

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPainterPath, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QToolTip, QWidget

from vinemap.columns import Floats
from vinemap.desk.ribbon import RIBBON, paint_pressure, ribbon
from vinemap.desk.type import screen_font
from vinemap.service.strip import RoundMark, Strip
from vinemap.sheets.ink import Ink
from vinemap.vineclock.stage import date_words

LEFT, RIGHT, HEIGHT = 112, 24, 154
ROUNDS_Y, WORK_Y, SKY_Y, PRESSURE_Y, AXIS_Y = 22, 44, 62, 98, 126
LANES = (("rounds", ROUNDS_Y), ("work", WORK_Y), ("rain, heat", SKY_Y), ("pressure", PRESSURE_Y))
SMALL = 14


class SeasonStrip(QWidget):
    """Pick a round to see it; pick a second one with Shift, or with the right button, to put it beside the first.

    ``asked_why``: a day whose pressure was pressed; ``dated``: a date below the axis, pressed twice, to enter what was seen.
    """

    picked = Signal(int)
    picked_beside = Signal(int)
    asked_why = Signal(object)
    dated = Signal(object)

    def __init__(self, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ink = ink
        self._strip: Strip | None = None
        self._shown: tuple[int, ...] = ()
        self._day: dt.date | None = None
        self.setFixedHeight(HEIGHT)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Season strip: rounds, work and pressure")

    def show_strip(self, strip: Strip, shown: tuple[int, ...], day: dt.date | None = None) -> None:
        """Set what is shown; ``shown``: numbers of the rounds on the map, one or two; ``day``: the day that is asked why."""
        self._strip, self._shown, self._day = strip, shown, day
        told = [f"round {number} is shown" for number in shown] + ([strip.words_on(day)] if day is not None else [])
        self.setAccessibleDescription(", ".join(told))
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(900, HEIGHT)

    def x_of(self, date: dt.date) -> float:
        """Where a date stands [px]."""
        assert self._strip is not None
        share = (date - self._strip.first).days / max((self._strip.last - self._strip.first).days, 1)
        return LEFT + share * (self.width() - LEFT - RIGHT)

    def _date_at(self, x: float) -> dt.date:
        assert self._strip is not None
        share = (x - LEFT) / max(self.width() - LEFT - RIGHT, 1)
        days = round(share * (self._strip.last - self._strip.first).days)
        return self._strip.first + dt.timedelta(days=days)

    def _round_at(self, x: float, y: float) -> RoundMark | None:
        if self._strip is None or y > (ROUNDS_Y + WORK_Y) / 2 + 4:
            return None
        near = [(abs(self.x_of(mark.date) - x), mark.number, mark) for mark in self._strip.rounds]
        best = min(near, default=None)
        return best[2] if best is not None and best[0] < 16 else None

    def mousePressEvent(self, event: QMouseEvent) -> None:
        mark = self._round_at(event.position().x(), event.position().y())
        if mark is None:
            self._pick_day(event)
            return
        is_beside = event.button() == Qt.MouseButton.RightButton or event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        (self.picked_beside if is_beside else self.picked).emit(mark.number)

    def _is_pressure(self, x: float, y: float) -> bool:
        """On the lanes of weather, where a day can be asked why."""
        return self._strip is not None and x >= LEFT and WORK_Y + 11 < y < AXIS_Y - 4

    def _pick_day(self, event: QMouseEvent) -> None:
        at = event.position()
        if event.button() == Qt.MouseButton.LeftButton and self._is_pressure(at.x(), at.y()):
            self.asked_why.emit(self._date_at(at.x()))

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        at = event.position()
        if self._strip is not None and at.x() >= LEFT and at.y() >= AXIS_Y - 4:
            self.dated.emit(self._date_at(at.x()))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._strip is None or event.position().x() < LEFT:
            return
        mark = self._round_at(event.position().x(), event.position().y())
        can_press = mark or self._is_pressure(event.position().x(), event.position().y())
        self.setCursor(Qt.CursorShape.PointingHandCursor if can_press else Qt.CursorShape.ArrowCursor)
        words = self._strip.words_on(mark.date if mark else self._date_at(event.position().x()))
        if mark:
            words += f": {mark.infected} of {mark.examined} clusters with mildew"
        QToolTip.showText(event.globalPosition().toPoint(), words, self)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self._strip is None or event.key() not in (Qt.Key.Key_Left, Qt.Key.Key_Right) or not self._strip.rounds:
            super().keyPressEvent(event)
            return
        numbers = [mark.number for mark in sorted(self._strip.rounds, key=lambda mark: mark.date)]
        at = numbers.index(self._shown[0]) if self._shown and self._shown[0] in numbers else 0
        at = min(max(at + (1 if event.key() == Qt.Key.Key_Right else -1), 0), len(numbers) - 1)
        self.picked.emit(numbers[at])

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(QRectF(0, 0, self.width(), 1.0), QColor(self._ink.ink))
        if self._strip is None:
            return
        self._paint_lanes(painter)
        self._paint_window(painter, self._strip)
        self._paint_axis(painter, self._strip)
        self._paint_pressure(painter, self._strip)
        self._paint_sky(painter, self._strip)
        self._paint_today(painter, self._strip)
        self._paint_day(painter)
        self._paint_work(painter, self._strip)
        self._paint_rounds(painter, self._strip)
        if self.hasFocus():
            painter.setPen(QPen(QColor(self._ink.focus), 2))
            painter.drawRect(QRectF(2, 3, self.width() - 4, self.height() - 5))

    def _words(
        self, painter: QPainter, x: float, y: float, text: str, colour: str, weight: int = 400, italic: bool = True
    ) -> None:
        painter.setFont(screen_font(SMALL, weight, italic))
        painter.setPen(QColor(colour))
        painter.drawText(QPointF(x, y), text)

    def _paint_lanes(self, painter: QPainter) -> None:
        for name, y in LANES:
            self._words(painter, 24, y + 5, name, self._ink.ink_soft)
            if y != SKY_Y:
                painter.fillRect(QRectF(LEFT, y - 0.4, self.width() - LEFT - RIGHT, 0.8), QColor(self._ink.hair))

    def _paint_window(self, painter: QPainter, strip: Strip) -> None:
        if not strip.window.any():
            return
        x = np.linspace(LEFT, self.width() - RIGHT, len(strip.window))
        painter.setPen(QPen(QColor(self._ink.rule), 0.8))
        painter.setBrush(QColor(self._ink.wash))
        painter.drawPolygon(ribbon(x, strip.window * (RIBBON + 4), PRESSURE_Y))

    def _paint_pressure(self, painter: QPainter, strip: Strip) -> None:
        if not len(strip.pressure_day):
            self._words(
                painter, LEFT + 8, PRESSURE_Y - 4, "no weather yet: bring in the hours of your station", self._ink.ink_soft
            )
            return
        paint_pressure(painter, self._x_of_days(strip), strip, PRESSURE_Y, self._ink)

    def _x_of_days(self, strip: Strip) -> Floats:
        """Where the days of the pressure stand (n,) [px]."""
        share = (strip.pressure_day - strip.first.toordinal()) / max((strip.last - strip.first).days, 1)
        return np.asarray(LEFT + share * (self.width() - LEFT - RIGHT), np.float64)

    def _paint_sky(self, painter: QPainter, strip: Strip) -> None:
        """Heat as fine dots, a primary infection as strokes of rain."""
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self._ink.ink_soft))
        for x in self._x_of_days(strip)[strip.is_hot].tolist():
            for up, right in ((-3.0, -1.3), (0.0, 1.3), (3.0, -1.3)):
                painter.drawEllipse(QPointF(x + right, SKY_Y + up), 0.9, 0.9)
        painter.setPen(QPen(QColor(self._ink.ink), 1.3))
        for mark in strip.events:
            x = self.x_of(mark.date)
            for right in (-3.5, 0.0, 3.5):
                painter.drawLine(QPointF(x + right + 1.5, SKY_Y - 5), QPointF(x + right - 1.5, SKY_Y + 5))
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _paint_axis(self, painter: QPainter, strip: Strip) -> None:
        painter.fillRect(QRectF(LEFT, AXIS_Y, self.width() - LEFT - RIGHT, 1), QColor(self._ink.ink_soft))
        day = strip.first
        while day <= strip.last:
            x = self.x_of(day)
            if day.day == 1:
                painter.fillRect(QRectF(x, AXIS_Y, 1, 9), QColor(self._ink.ink))
                if x < self.width() - RIGHT - 70:
                    self._words(painter, x + 5, AXIS_Y + 18, date_words(day).split()[1], self._ink.ink, italic=False)
            elif day.weekday() == 0:
                painter.fillRect(QRectF(x, AXIS_Y, 0.8, 4), QColor(self._ink.ink_soft))
            day += dt.timedelta(days=1)
        if strip.window.any():
            metrics = QFontMetricsF(screen_font(SMALL, 400, True))
            peak = strip.first + dt.timedelta(days=int(np.flatnonzero(strip.window >= strip.window.max() * 0.3)[-1]))
            x = min(self.x_of(peak) + 12, self.width() - RIGHT - metrics.horizontalAdvance(strip.window_words))
            self._words(painter, x, PRESSURE_Y - RIBBON - 5, strip.window_words, self._ink.ink_soft)

    def _paint_day(self, painter: QPainter) -> None:
        """The day that is asked why: a line through the lanes of the weather, on a halo of paper, with a foot on the axis."""
        if self._day is None:
            return
        x = self.x_of(self._day)
        painter.fillRect(QRectF(x - 2, SKY_Y - 8, 4, AXIS_Y - SKY_Y + 8), QColor(self._ink.ground))
        painter.fillRect(QRectF(x - 1, SKY_Y - 8, 2, AXIS_Y - SKY_Y + 8), QColor(self._ink.ink))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self._ink.ink))
        painter.drawPolygon(QPolygonF([QPointF(x - 6, AXIS_Y + 7), QPointF(x + 6, AXIS_Y + 7), QPointF(x, AXIS_Y)]))
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _paint_today(self, painter: QPainter, strip: Strip) -> None:
        x = self.x_of(strip.today)
        painter.setPen(QPen(QColor(self._ink.ink), 1.2, Qt.PenStyle.DotLine))
        painter.drawLine(QPointF(x, 12), QPointF(x, AXIS_Y))
        if len(strip.pressure_day):
            end = dt.date.fromordinal(max(int(strip.pressure_day[-1]), strip.today.toordinal()))
            if strip.last - end > dt.timedelta(days=16):
                self._words(painter, self.x_of(end) + 12, PRESSURE_Y + 5, "not known yet", self._ink.ink_soft)

    def _paint_work(self, painter: QPainter, strip: Strip) -> None:
        for mark in strip.work:
            if mark.letter == "P":
                self._paint_spray(painter, self.x_of(mark.date), self.x_of(min(mark.ends, strip.last)))
        for mark in strip.work:
            if mark.letter != "P":
                box = QRectF(self.x_of(mark.date) - 8, WORK_Y - 9, 16, 18)
                painter.fillRect(box, QColor(self._ink.ground))
                painter.setPen(QPen(QColor(self._ink.of_kind(mark.letter)), 1.4))
                painter.drawRect(box)
                painter.setFont(screen_font(SMALL, 700))
                painter.drawText(box, Qt.AlignmentFlag.AlignCenter, mark.letter)

    def _paint_spray(self, painter: QPainter, x: float, end: float) -> None:
        colour = QColor(self._ink.work_spray)
        wedge = QPolygonF([QPointF(x, WORK_Y - 6), QPointF(end, WORK_Y), QPointF(x, WORK_Y)])
        painter.setPen(Qt.PenStyle.NoPen)
        faint = QColor(colour)
        faint.setAlphaF(0.35)
        painter.setBrush(faint)
        painter.drawPolygon(wedge)
        drop = QPainterPath(QPointF(x, WORK_Y - 9))
        drop.cubicTo(QPointF(x + 2, WORK_Y - 4), QPointF(x + 4.5, WORK_Y - 1), QPointF(x + 4.5, WORK_Y + 3))
        drop.cubicTo(QPointF(x + 4.5, WORK_Y + 8.5), QPointF(x - 4.5, WORK_Y + 8.5), QPointF(x - 4.5, WORK_Y + 3))
        drop.cubicTo(QPointF(x - 4.5, WORK_Y - 1), QPointF(x - 2, WORK_Y - 4), QPointF(x, WORK_Y - 9))
        painter.setBrush(colour)
        painter.drawPath(drop)
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _paint_rounds(self, painter: QPainter, strip: Strip) -> None:
        for mark in strip.rounds:
            x = self.x_of(mark.date)
            is_shown = mark.number in self._shown
            if is_shown:
                painter.fillRect(QRectF(x - 1, 0, 2, AXIS_Y), QColor(self._ink.ink))
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(QColor(self._ink.ink))
                painter.drawPolygon(QPolygonF([QPointF(x - 9, 0), QPointF(x + 9, 0), QPointF(x, 11)]))
            radius = 9.0
            painter.setPen(QPen(QColor(self._ink.ink), 2.4 if is_shown else 1.5))
            painter.setBrush(QColor(self._ink.sheet))
            painter.drawEllipse(QPointF(x, ROUNDS_Y), radius, radius)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(self._ink.ink))
            pupil = radius * (mark.infected / mark.examined) ** 0.5 if mark.examined else 0.0
            if pupil > 0:
                painter.drawEllipse(QPointF(x, ROUNDS_Y), max(pupil, 1.2), max(pupil, 1.2))
            else:
                painter.fillRect(QRectF(x - 2.5, ROUNDS_Y - 0.7, 5, 1.4), QColor(self._ink.ink))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            number = str(mark.number)
            metrics = QFontMetricsF(screen_font(SMALL + 1, 700 if is_shown else 400))
            painter.setFont(screen_font(SMALL + 1, 700 if is_shown else 400))
            painter.setPen(QColor(self._ink.ink))
            painter.drawText(QPointF(x - radius - 7 - metrics.horizontalAdvance(number), ROUNDS_Y + 5), number)
