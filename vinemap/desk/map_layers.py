"""What moves with the hand, drawn over the tiles: threshold line, chosen row, the place under the pointer."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPainterPath, QPolygonF
from shapely import LineString, Point

from vinemap.desk.camera import View
from vinemap.desk.field_lines import FieldLines
from vinemap.desk.map_marks import NUMBER_GAP_PX, find_row_ends, to_map_px
from vinemap.desk.map_pens import HALO_PX, draw_haloed, map_font, pen
from vinemap.desk.map_pick import Spot, words_of
from vinemap.desk.map_scene import BlockScene, MapScene
from vinemap.ground.block import RowTable
from vinemap.sheets.ink import Ink

THRESHOLD_PX, THRESHOLD_DASH_PX = 1.3, (7.0, 2.5, 1.5, 2.5)
LEAST_LINE_POINTS = 5
"""Shorter loops of the threshold line are single cells of the grid, not places."""

FLAG_WIDE_PX, FLAG_HALF_PX = 30.0, 10.0
EDGE_PX = 12.0
NAME_PX, NAME_WIDEST_SHARE, NAME_ROOM_PX = 15.0, 0.6, 130.0
"""Names of blocks: their size, the share of the sheet from which a block needs no name on it, and the least room."""


def threshold_path(lines: FieldLines, incidence: float) -> QPainterPath:
    """The threshold line [m], y to the south."""
    path = QPainterPath()
    for line in lines.at(incidence):
        if len(line) >= LEAST_LINE_POINTS:
            path.addPolygon(QPolygonF([QPointF(x, -y) for x, y in line.tolist()]))
    return path


def draw_threshold(painter: QPainter, path_m: QPainterPath, view: View, ink: Ink) -> None:
    """The threshold line, dashed on a halo of paper."""
    painter.save()
    painter.translate(-view.left_px, -view.top_px)
    path = to_map_px(path_m, view.m_per_px)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(pen(ink.sheet, THRESHOLD_PX + 2.1, opacity=0.8))
    painter.drawPath(path)
    painter.setPen(pen(ink.ink, THRESHOLD_PX, THRESHOLD_DASH_PX))
    painter.drawPath(path)
    painter.restore()


def _row_side(rows: RowTable, row: int, off_m: float, over_m: float, view: View) -> list[QPointF]:
    """A line beside a row, ``over_m`` longer at both ends, in window pixels."""
    line = rows.line_m(row)
    step = np.gradient(line, axis=0)
    unit = step / np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-9)[:, None]
    beside = line + np.column_stack([unit[:, 1], -unit[:, 0]]) * off_m
    beside[0] -= unit[0] * over_m
    beside[-1] += unit[-1] * over_m
    return [QPointF(*view.to_px(x, y)) for x, y in beside.tolist()]


def draw_block_names(painter: QPainter, scene: MapScene, view: View, ratio: float) -> None:
    """The name of each block in its middle, while several are in sight and small; never over another name or a walk."""
    if len(scene.blocks) < 2:
        return
    font = map_font(NAME_PX, 600)
    metrics = QFontMetricsF(font)
    taken: list[QRectF] = []
    for block in scene.blocks:
        outline = block.block.outline
        wide_px = (outline.bounds[2] - outline.bounds[0]) / view.m_per_px
        if wide_px > NAME_WIDEST_SHARE * view.width_px or _is_walked(scene, block):
            continue
        middle = outline.representative_point()
        x, y = view.to_px(middle.x, middle.y)
        name = metrics.elidedText(block.block.name, Qt.TextElideMode.ElideRight, max(wide_px, NAME_ROOM_PX))
        wide, high = metrics.horizontalAdvance(name), metrics.height()
        place = QRectF(x - wide / 2, y - high / 2, wide, high)
        while any(place.intersects(other) for other in taken):
            place.translate(0, high / 2)
        taken.append(place)
        at = QPointF(place.left(), place.center().y() + metrics.capHeight() / 2)
        draw_haloed(painter, at, name, font, (scene.ink.ink, scene.ink.sheet), ratio)


def draw_edges(painter: QPainter, scene: MapScene, view: View, ratio: float) -> None:
    """Tree lines, hedges and walls as a hollow band, with name and height beside those that are long enough on the sheet."""
    font, ink = map_font(EDGE_PX, 400, True), scene.ink
    metrics = QFontMetricsF(font)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for edge in scene.edges:
        places = [QPointF(*view.to_px(x, y)) for x, y in edge.line_m.tolist()]
        for colour, wide in ((ink.sheet, 8.0), (ink.ink_soft, 5.0), (ink.sheet, 2.6)):
            painter.setPen(pen(colour, wide))
            painter.drawPolyline(QPolygonF(places))
        words = f"{edge.name}, {edge.height_m:g} m"
        if LineString(edge.line_m).length / view.m_per_px > metrics.horizontalAdvance(words):
            middle = LineString(edge.line_m).interpolate(0.5, normalized=True)
            x, y = view.to_px(middle.x, middle.y)
            at = QPointF(x - metrics.horizontalAdvance(words) / 2, y - 7.0)
            draw_haloed(painter, at, words, font, (ink.ink_soft, ink.sheet), ratio)


def _is_walked(scene: MapScene, block: BlockScene) -> bool:
    """True where the numbered stops of the walk stand, which a name would hide."""
    walk = scene.walk
    return walk is not None and len(walk.x_m) > 0 and block.block.outline.distance(Point(walk.x_m[0], walk.y_m[0])) < 1.0


def draw_chosen_row(painter: QPainter, scene: BlockScene, row: int, view: View, ink: Ink, has_focus: bool) -> None:
    """Two lines of ink on paper along the row and its number on black flags; the focus line around it."""
    rows, spacing = scene.block.rows, scene.block.row_spacing_m
    off = max(spacing / 2, 2.5 * view.m_per_px)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for width, colour in ((HALO_PX, ink.selection_halo), (1.9, ink.selection)):
        painter.setPen(pen(colour, width, opacity=0.9 if width == HALO_PX else 1.0))
        for side in (-off, off):
            painter.drawPolyline(_row_side(rows, row, side, spacing / 2, view))
    if has_focus:
        gap = off + 4.0 * view.m_per_px
        ring = _row_side(rows, row, -gap, spacing / 2 + gap - off, view)
        ring += _row_side(rows, row, gap, spacing / 2 + gap - off, view)[::-1]
        painter.setPen(pen(ink.focus, 2.0))
        painter.drawPolygon(QPolygonF(ring))
    _draw_flags(painter, scene, row, view, ink)


def _draw_flags(painter: QPainter, scene: BlockScene, row: int, view: View, ink: Ink) -> None:
    line = scene.block.rows.line_m(row)
    one = RowTable(("",), line, np.array([0, len(line)], np.int32), np.zeros(1), np.zeros(1, np.int32))
    ends, words = find_row_ends(one, scene.block.outline), scene.block.rows.labels[row]
    font = map_font(14.0, 700)
    numbers = max(len(label) for label in scene.block.rows.labels)
    wide = max(FLAG_WIDE_PX, QFontMetricsF(font).horizontalAdvance(words) + 14.0)
    for end in (0, 1):
        x_px, y_px = view.to_px(*ends.xy_m[0, end].tolist())
        out_x, out_y = float(ends.out[0, end, 0]), -float(ends.out[0, end, 1])
        clear = NUMBER_GAP_PX + 7.0 * numbers
        x_px, y_px = x_px + out_x * clear, y_px + out_y * clear
        turn = 0.0 if abs(out_x) >= abs(out_y) else 90.0
        side = np.sign(out_x if turn == 0.0 else out_y) or 1.0
        painter.save()
        painter.translate(x_px, y_px)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(ink.selection))
        tip, half = side * 7.0, FLAG_HALF_PX
        if turn == 0.0:
            shape = [(0, 0), (tip, -half), (tip + side * wide, -half), (tip + side * wide, half), (tip, half)]
            middle = QPointF(tip + side * wide / 2, 0.0)
        else:
            far = tip + side * 2 * half
            shape = [(0, 0), (wide / 2, tip), (wide / 2, far), (-wide / 2, far), (-wide / 2, tip)]
            middle = QPointF(0.0, tip + side * half)
        painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in shape]))
        painter.setPen(QColor(ink.selection_halo))
        painter.setFont(font)
        box = QRectF(middle.x() - wide / 2, middle.y() - half, wide, 2 * half)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)
        painter.restore()


def draw_pointer(painter: QPainter, scene: MapScene, spot: Spot, view: View, is_cross: bool) -> None:
    """The vine under the pointer with its words; a cross through the sheet when two sheets share the pointer."""
    ink, block = scene.ink, scene.blocks[spot.block]
    x_px, y_px = view.to_px(float(block.vines.x_m[spot.vine]), float(block.vines.y_m[spot.vine]))
    if is_cross:
        for width, colour in ((3.4, ink.sheet), (1.1, ink.ink)):
            painter.setPen(pen(colour, width, opacity=0.8 if colour == ink.sheet else 1.0))
            painter.drawLine(QPointF(x_px, 8), QPointF(x_px, view.height_px - 8))
            painter.drawLine(QPointF(8, y_px), QPointF(view.width_px - 8, y_px))
    address, words = words_of(scene, spot)
    heavy, plain = map_font(14.5, 600), map_font(14.5)
    wide = 22.0 + max(QFontMetricsF(heavy).horizontalAdvance(address), QFontMetricsF(plain).horizontalAdvance(words))
    high = 50.0 if words else 30.0
    left = x_px - wide - 24 if x_px > view.width_px / 2 else x_px + 24
    left = min(max(left, 12.0), max(view.width_px - wide - 12.0, 12.0))
    top = y_px + 40 if y_px < view.height_px / 2 else y_px - 40 - high
    near = QPointF(min(max(x_px, left), left + wide), top if top > y_px else top + high)
    for width, colour in ((3.4, ink.sheet), (1.1, ink.ink)):
        painter.setPen(pen(colour, width, opacity=0.8 if colour == ink.sheet else 1.0))
        painter.drawLine(QPointF(x_px, y_px), near)
    painter.setBrush(QColor(ink.sheet))
    painter.setPen(pen(ink.sheet, 5.0))
    painter.drawEllipse(QPointF(x_px, y_px), 6.0, 6.0)
    painter.setPen(pen(ink.ink, 1.8))
    painter.drawEllipse(QPointF(x_px, y_px), 6.0, 6.0)
    painter.setBrush(QColor(ink.ink))
    painter.drawEllipse(QPointF(x_px, y_px), 0.8, 0.8)
    painter.setPen(pen(ink.ink, 1.0))
    painter.setBrush(QColor(ink.sheet))
    painter.drawRect(QRectF(left, top, wide, high))
    for font, line, y in ((heavy, address, 20.0), (plain, words, 40.0)):
        painter.setFont(font)
        painter.drawText(QPointF(left + 11, top + y), line)
