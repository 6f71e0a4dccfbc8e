"""Drawn over the map while ground is put right by hand: handles, and the line that follows the hand."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPixmap, QPolygonF

from vinemap.columns import Floats
from vinemap.desk.camera import View
from vinemap.desk.ground_handles import ROW_END, Handle, places_px
from vinemap.desk.map_pens import pen
from vinemap.ground.block import RowTable
from vinemap.sheets.ink import Ink

RING_PX = 9.0
_ROUND = Qt.PenCapStyle.RoundCap


def _dots(painter: QPainter, places: Floats, colour: str, wide_px: float) -> None:
    dot = QPen(QColor(colour), wide_px)
    dot.setCapStyle(_ROUND)
    painter.setPen(dot)
    painter.drawPoints(_polygon(places))


def _polygon(places: Floats) -> QPolygonF:
    return QPolygonF([QPointF(x, y) for x, y in places.tolist()])


def draw_handles(painter: QPainter, handles: tuple[Handle, ...], touched: Handle | None, view: View, ink: Ink) -> None:
    """Small rings; the end with vine 1 has a pupil, the one that was touched is dark within the line of focus."""
    if not handles:
        return
    places = places_px(np.array([(each.x_m, each.y_m) for each in handles]), view)
    seen = (places >= -RING_PX).all(axis=1) & (places <= (view.width_px + RING_PX, view.height_px + RING_PX)).all(axis=1)
    _dots(painter, places[seen], ink.sheet, RING_PX + 4.0)
    _dots(painter, places[seen], ink.ink, RING_PX + 0.6)
    _dots(painter, places[seen], ink.sheet, RING_PX - 3.0)
    firsts = np.array([each.kind == ROW_END and each.number == 1 for each in handles])
    _dots(painter, places[seen & firsts], ink.ink, 3.4)
    if touched is not None:
        place = places_px(np.array([(touched.x_m, touched.y_m)]), view)
        _dots(painter, place, ink.ink, RING_PX + 0.6)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(pen(ink.focus, 2.0))
        painter.drawEllipse(QPointF(*place[0].tolist()), RING_PX, RING_PX)


def handles_layer(handles: tuple[Handle, ...], view: View, ink: Ink, ratio: float) -> QPixmap:
    """Handles on nothing, as large as the map, to be laid over it again and again; ``ratio``: device pixels to one."""
    layer = QPixmap(math.ceil(view.width_px * ratio), math.ceil(view.height_px * ratio))
    layer.setDevicePixelRatio(ratio)
    layer.fill(Qt.GlobalColor.transparent)
    painter = QPainter(layer)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    draw_handles(painter, handles, None, view, ink)
    painter.end()
    return layer


def draw_line(painter: QPainter, line_m: Floats, view: View, ink: Ink, is_closed: bool = False) -> None:
    """The line that follows the hand: ink on a halo of paper."""
    points = _polygon(places_px(line_m, view))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for made in (pen(ink.sheet, 4.6, opacity=0.9), pen(ink.ink, 1.8, (7.0, 4.0))):
        painter.setPen(made)
        if is_closed:
            painter.drawPolygon(points)
        else:
            painter.drawPolyline(points)


def draw_rows(painter: QPainter, rows: RowTable, view: View, ink: Ink) -> None:
    """Rows that would be made: thin lines, a dot where vine 1 stands."""
    places = places_px(rows.xy_m, view)
    ends = rows.start.tolist()
    lines = [_polygon(places[first:last]) for first, last in pairwise(ends)]
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for made in (pen(ink.sheet, 3.6, opacity=0.9), pen(ink.focus, 1.4)):
        painter.setPen(made)
        for line in lines:
            painter.drawPolyline(line)
    _dots(painter, places[rows.start[:-1]], ink.focus, 5.0)


def draw_points(painter: QPainter, points_m: Floats, view: View, ink: Ink) -> None:
    """Places that were clicked, as dots."""
    places = places_px(points_m, view)
    _dots(painter, places, ink.sheet, RING_PX + 4.0)
    _dots(painter, places, ink.ink, RING_PX)


def draw_run(painter: QPainter, line_m: Floats, view: View, ink: Ink) -> None:
    """Vines that are chosen: a tube of ink around them."""
    points = _polygon(places_px(line_m, view))
    wide = max(9.0, 1.6 / view.m_per_px)
    for width, colour in ((wide + 4.0, ink.sheet), (wide, ink.ink), (wide - 3.6, ink.wash)):
        painter.setPen(pen(colour, width))
        painter.drawPolyline(points)
    inner = pen(ink.ink, 2.4, (2.4, 3.0))
    painter.setPen(inner)
    painter.drawPolyline(points)


def draw_cross(painter: QPainter, place_m: tuple[float, float], view: View, ink: Ink) -> None:
    """Where the next place would be put by key."""
    x, y = view.to_px(*place_m)
    for width, colour in ((4.0, ink.sheet), (1.6, ink.focus)):
        painter.setPen(pen(colour, width))
        painter.drawLine(QPointF(x - 12, y), QPointF(x + 12, y))
        painter.drawLine(QPointF(x, y - 12), QPointF(x, y + 12))


def draw_outline(painter: QPainter, ring: Floats, view: View, ink: Ink) -> None:
    """The block that would be taken: a heavy outline."""
    points = _polygon(places_px(ring, view))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for made in (pen(ink.sheet, 7.0, opacity=0.9), pen(ink.ink, 3.4)):
        painter.setPen(made)
        painter.drawPolygon(points)
