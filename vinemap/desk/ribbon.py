"""The ribbon of pressure: as thick as the index, worn where hours are missing, hollow where they were not read."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPolygonF

from vinemap.columns import Floats
from vinemap.service.strip import Strip
from vinemap.sheets.ink import Ink
from vinemap.vineclock.weather import ESTIMATED, READ

RIBBON = 16.0
"""Half thickness [px] of the ribbon at a pressure of 100."""

LEAST_HALF = 0.6
STROKE_PX, STROKE_GAP_PX = 1.45, 5.5
"""The strokes of paper that wear a shade where it is not sure."""


def ribbon(x: Floats, half: Floats, middle_px: float) -> QPolygonF:
    """A ribbon along a lane, ``half`` [px] thick to each side."""
    upper = [QPointF(float(a), middle_px - float(b)) for a, b in zip(x, half, strict=True)]
    lower = [QPointF(float(a), middle_px + float(b)) for a, b in zip(x[::-1], half[::-1], strict=True)]
    return QPolygonF(upper + lower)


def paint_pressure(painter: QPainter, x: Floats, strip: Strip, middle_px: float, ink: Ink) -> None:
    """Pressure of a strip whose days stand at ``x`` (n,) [px]: read days whole, estimated ones hollow, forecast dotted."""
    edges = np.flatnonzero(np.diff(strip.origin)) + 1
    for start, stop in pairwise([0, *edges.tolist(), len(x)]):
        # each run reaches to the next, so that the ribbon does not break between them
        run = slice(start, min(stop + 1, len(x)))
        low, index, high = (
            np.maximum(column[run] / 100.0 * RIBBON, LEAST_HALF) for column in (strip.low, strip.pressure, strip.high)
        )
        code = int(strip.origin[start])
        if code == READ:
            _paint_whole(painter, x[run], (low, index, high), middle_px, ink)
            continue
        style = Qt.PenStyle.SolidLine if code == ESTIMATED else Qt.PenStyle.DotLine
        painter.setPen(QPen(QColor(ink.ink_soft), 1.3, style))
        painter.setBrush(QColor(ink.ground))
        painter.drawPolygon(ribbon(x[run], high, middle_px))
    painter.setBrush(Qt.BrushStyle.NoBrush)


def _paint_whole(painter: QPainter, x: Floats, halves: tuple[Floats, Floats, Floats], middle_px: float, ink: Ink) -> None:
    """A ribbon of read hours: whole up to the least it can be, worn from there to the most."""
    low, index, high = halves
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(ink.ink_soft))
    if (high > low).any():
        outer = ribbon(x, high, middle_px)
        painter.drawPolygon(outer)
        _wear(painter, outer, ink)
        painter.setPen(QPen(QColor(ink.ink_soft), 1.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPolygon(ribbon(x, index, middle_px))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(ink.ink_soft))
    painter.drawPolygon(ribbon(x, low, middle_px))


def _wear(painter: QPainter, shape: QPolygonF, ink: Ink) -> None:
    """Strokes of paper over a shape, at 45 degrees."""
    painter.save()
    path = QPainterPath()
    path.addPolygon(shape)
    painter.setClipPath(path)
    painter.setPen(QPen(QColor(ink.ground), STROKE_PX))
    box: QRectF = shape.boundingRect()
    step = STROKE_GAP_PX * 2**0.5
    for left in np.arange(box.left() - box.height(), box.right(), step).tolist():
        painter.drawLine(QPointF(left, box.bottom()), QPointF(left + box.height(), box.top()))
    painter.restore()
