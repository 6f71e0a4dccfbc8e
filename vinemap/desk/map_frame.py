"""The furniture of the sheet: ruler frame, scale bar, north dart, legend, title, and the sentence of an empty sheet."""

from __future__ import annotations

import numpy as np
import shapely
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QPainter, QPolygonF

from vinemap.desk import shading
from vinemap.desk.camera import View
from vinemap.desk.map_layers import THRESHOLD_DASH_PX, THRESHOLD_PX
from vinemap.desk.map_pens import draw_haloed, draw_stop, image_of, map_font, pattern_brush, pen
from vinemap.desk.map_scene import READ, WALK, WORK, MapScene
from vinemap.sheets.ink import INCIDENCE_TICKS, Ink, place_on_ramp

RULER_STEPS_M = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000)
LEAST_DASH_PX = 28.0
RULER_PX = 6.0
FURNITURE_GAP_PX = 24.0
LEGEND_PX = 206.0
SCALE_SIZE_PX = (270.0, 56.0)
KIND_WORDS = {
    "L": "open lightly",
    "F": "open firmly",
    "D": "open both faces",
    "R": "remove laterals",
    "T": "thin shoots",
    "P": "spray",
    "C": "cut out bad fruit",
    "V": "look again",
}


def ruler_step_m(m_per_px: float) -> int:
    """Length [m] of a dash of the ruler: the shortest of 1, 2, 5, 10 ... that can still be counted."""
    return next((step for step in RULER_STEPS_M if step / m_per_px >= LEAST_DASH_PX), RULER_STEPS_M[-1])


def draw_frame(painter: QPainter, view: View, ink: Ink) -> None:
    """Two lines around the sheet with dashes of metres between them, which stay with the ground."""
    width, height, inner = view.width_px, view.height_px, RULER_PX
    edges = (
        QRectF(0, 0, width, inner),
        QRectF(0, height - inner, width, inner),
        QRectF(0, 0, inner, height),
        QRectF(width - inner, 0, inner, height),
    )
    for edge in edges:
        painter.fillRect(edge, QColor(ink.sheet))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(pen(ink.ink, 0.8))
    painter.drawRect(QRectF(0.4, 0.4, width - 0.8, height - 0.8))
    painter.drawRect(QRectF(inner, inner, width - 2 * inner, height - 2 * inner))
    dash = ruler_step_m(view.m_per_px) / view.m_per_px
    painter.setPen(pen(ink.ink, 3.0))
    half, far = inner / 2, inner
    for start in np.arange(-(view.left_px % (2 * dash)), width, 2 * dash):
        low, high = max(start, far), min(start + dash, width - far)
        if low < high:
            painter.drawLine(QPointF(low, half), QPointF(high, half))
            painter.drawLine(QPointF(low, height - half), QPointF(high, height - half))
    for start in np.arange(-(view.top_px % (2 * dash)), height, 2 * dash):
        low, high = max(start, far), min(start + dash, height - far)
        if low < high:
            painter.drawLine(QPointF(half, low), QPointF(half, high))
            painter.drawLine(QPointF(width - half, low), QPointF(width - half, high))


def place_furniture(
    ground: shapely.Geometry | None, view: View, sizes_px: list[tuple[float, float]], top_px: float
) -> list[tuple[QRectF, bool]]:
    """A corner for each piece where the blocks leave paper, and whether it is free of them.

    ``ground``: all outlines [m]; ``top_px``: room kept at the top for the title. Corners are tried from the lower left
    and lower right up; a piece that fits nowhere takes the corner with most room.
    """
    taken: list[QRectF] = []
    placed = []
    for number, (wide, high) in enumerate(sizes_px):
        left, right = FURNITURE_GAP_PX, view.width_px - FURNITURE_GAP_PX - wide
        low, top = view.height_px - FURNITURE_GAP_PX - high, top_px
        sides = (left, right) if number == 0 else (right, left)
        corners = [QRectF(x, y, wide, high) for y in (low, top) for x in sides]
        free = [box for box in corners if not any(box.intersects(other) for other in taken)] or corners
        covered = [covered_px(ground, view, box) for box in free]
        best = int(np.argmin(covered))
        taken.append(free[best])
        placed.append((free[best], covered[best] < 1.0))
    return placed


def covered_px(ground: shapely.Geometry | None, view: View, box: QRectF) -> float:
    """Area [square px] of a box that lies on a block."""
    if ground is None:
        return 0.0
    west, north = view.to_m(box.left() - 6, box.top() - 6)
    east, south = view.to_m(box.right() + 6, box.bottom() + 6)
    return float(shapely.clip_by_rect(ground, west, south, east, north).area) / view.m_per_px**2


def draw_scale(painter: QPainter, box: QRectF, view: View, ink: Ink, north_deg: float) -> None:
    """A bar of four lengths and the dart to true north."""
    step = float(ruler_step_m(view.m_per_px))
    part = step / view.m_per_px
    if 4 * part > box.width() - 70:
        part, step = part / 2, step / 2
    left, top = box.left() + 8, box.top() + 22
    painter.setPen(pen(ink.ink, 0.9))
    for k in range(4):
        painter.setBrush(QColor(ink.ink if k % 2 == 0 else ink.sheet))
        painter.drawRect(QRectF(left + k * part, top, part, 5))
    painter.setFont(map_font(12.0))
    for k in (0, 2, 4):
        words = f"{k * step:g}" + (" m" if k == 4 else "")
        wide = painter.fontMetrics().horizontalAdvance(words)
        painter.drawText(QPointF(left + k * part - wide / 2, top + 18), words)
    painter.save()
    painter.translate(box.right() - 16, box.top() + 30)
    painter.rotate(north_deg)
    size = 20.0
    painter.setPen(pen(ink.ink, 1.1))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    tip, tail = QPointF(0, -size), QPointF(0, size * 0.3)
    left_foot, right_foot = QPointF(-size * 0.2, size * 0.5), QPointF(size * 0.2, size * 0.5)
    painter.drawPolygon(QPolygonF([tip, right_foot, tail, left_foot]))
    painter.setBrush(QColor(ink.ink))
    painter.drawPolygon(QPolygonF([tip, tail, left_foot]))
    painter.setFont(map_font(11.0, 600))
    painter.drawText(QPointF(-4, -size - 3), "N")
    painter.restore()


def legend_size_px(scene: MapScene) -> tuple[float, float]:
    """Room that the legend takes; none where there is nothing to explain."""
    if scene.mode == WALK and all(block.incidence is None for block in scene.blocks):
        return 0.0, 0.0
    if scene.mode == READ or scene.mode == WALK:
        return LEGEND_PX, 176.0 if scene.mode == READ else 108.0
    if scene.mode == WORK:
        return LEGEND_PX, (52.0 if scene.gain_ticks else 8.0) + 24.0 * len(_kinds(scene))
    return 0.0, 0.0


def _kinds(scene: MapScene) -> list[str]:
    """Kinds of work that are on the sheet."""
    drawn = {band.kind for block in scene.blocks for band in block.bands}
    return [kind for kind in KIND_WORDS if kind in drawn]


def draw_legend(painter: QPainter, box: QRectF, scene: MapScene, threshold: float | None) -> None:
    """What the shade, the textures and the marks of this step mean."""
    if scene.mode == WORK:
        _draw_work_legend(painter, box, scene)
    else:
        _draw_field_legend(painter, box, scene, threshold)


def _ramp(
    painter: QPainter, left: float, top: float, colours: tuple[str, ...], title: str, ink: Ink, strength: float = 1.0
) -> float:
    """Steps of a ramp under a title, on paper as strong as the map is; returns the width."""
    wide = 178.0
    painter.setPen(QColor(ink.ink))
    painter.setFont(map_font(13.5, 400, True))
    painter.drawText(QPointF(left, top - 7), title)
    for k, colour in enumerate(colours):
        edge = QRectF(left + k * wide / len(colours), top, wide / len(colours) + 0.5, 12)
        painter.setOpacity(strength)
        painter.fillRect(edge, QColor(colour))
        painter.setOpacity(1.0)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(pen(ink.ink, 0.8))
    painter.drawRect(QRectF(left, top, wide, 12))
    painter.setFont(map_font(13.0))
    return wide


def _tick(painter: QPainter, x_px: float, top: float, words: str, ink: Ink) -> None:
    painter.setPen(pen(ink.ink, 0.9))
    painter.drawLine(QPointF(x_px, top + 12), QPointF(x_px, top + 16))
    wide = QFontMetricsF(painter.font()).horizontalAdvance(words.split(" ")[0])
    painter.drawText(QPointF(x_px - wide / 2, top + 29), words)


def _swatch(painter: QPainter, box: QRectF, image: QImage, words: str, ink: Ink) -> None:
    painter.drawImage(box.topLeft(), image)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(pen(ink.ink, 0.8))
    painter.drawRect(box)
    painter.drawText(QPointF(box.right() + 10, box.bottom() - 3), words)


def draw_incidence_ramp(
    painter: QPainter, left: float, top: float, ink: Ink, top_share: float, strength: float = 1.0
) -> None:
    """The ramp of incidence with its ticks, under its title; ``top_share`` is the share at its dark end."""
    wide = _ramp(painter, left, top, ink.steps, "clusters with mildew", ink, strength)
    for share in INCIDENCE_TICKS:
        if share <= top_share:
            at = left + wide * int(place_on_ramp(np.array(share), top_share)) / 255
            _tick(painter, at, top, f"{100 * share:g}" + (" %" if share == max(INCIDENCE_TICKS) else ""), ink)


def _draw_field_legend(painter: QPainter, box: QRectF, scene: MapScene, threshold: float | None) -> None:
    ink, left, top = scene.ink, box.left(), box.top() + 22
    strength = 0.5 if scene.mode == WALK else 1.0
    draw_incidence_ramp(painter, left, top, ink, scene.top, strength)
    ratio, table = 1.0, shading.colour_table(ink, strength)
    middle = int(place_on_ramp(np.array(0.08), scene.top))
    strokes = 1 + 256 * shading.stroke_cover(0, 0, (16, 30), ratio).astype(np.int32) + middle
    ticks = 1 + 256 * shading.LEVELS + shading.tick_cover(2, 1, (16, 30), ratio).astype(np.int32)
    painter.setFont(map_font(14.0))
    for codes, words, down in ((strokes, "unsure", 42.0), (ticks, "not known", 68.0)):
        place = QRectF(left, top + down, 30, 16)
        _swatch(painter, place, image_of(np.ascontiguousarray(table[codes]), ratio), words, ink)
    if scene.mode != READ:
        return
    down = top + 106.0
    for k, (infected, words) in enumerate(((0, "0 of 20"), (8, "8 of 20"))):
        draw_stop(painter, QPointF(left + 11 + 92 * k, down), 20, infected, ink)
        painter.setPen(QColor(ink.ink))
        painter.drawText(QPointF(left + 27 + 92 * k, down + 5), words)
    down += 26.0
    if threshold is not None:
        painter.setPen(pen(ink.ink, THRESHOLD_PX, THRESHOLD_DASH_PX))
        painter.drawLine(QPointF(left, down), QPointF(left + 30, down))
        painter.setPen(QColor(ink.ink))
        painter.drawText(QPointF(left + 40, down + 5), f"{100 * threshold:.0f} % line")
    painter.setPen(pen(ink.ink_soft, 1.0))
    painter.drawLine(QPointF(left + 116, down - 3), QPointF(left + 122, down + 3))
    painter.drawLine(QPointF(left + 116, down + 3), QPointF(left + 122, down - 3))
    painter.setPen(QColor(ink.ink))
    painter.drawText(QPointF(left + 130, down + 5), "missing")


def _draw_work_legend(painter: QPainter, box: QRectF, scene: MapScene) -> None:
    ink, left, top = scene.ink, box.left(), box.top()
    if scene.gain_ticks:
        top += 22
        wide = _ramp(painter, left, top, ink.gain, scene.gain_title, ink)
        for k, words in enumerate(scene.gain_ticks):
            _tick(painter, left + wide * k / max(len(scene.gain_ticks) - 1, 1), top, words, ink)
        top += 30
    for k, kind in enumerate(_kinds(scene)):
        place = QRectF(left, top + 8 + 24 * k, 30, 15)
        painter.setPen(pen(ink.of_kind(kind), 0.8))
        painter.setBrush(QColor(ink.sheet))
        painter.drawRect(place)
        painter.setBrush(pattern_brush(kind, ink))
        painter.drawRect(place)
        painter.setFont(map_font(14.0, 700))
        painter.setPen(QColor(ink.of_kind(kind)))
        painter.drawText(QPointF(left + 39, place.bottom() - 2), kind)
        painter.setFont(map_font(14.0))
        painter.setPen(QColor(ink.ink))
        painter.drawText(QPointF(left + 56, place.bottom() - 2), KIND_WORDS[kind])


def draw_title(painter: QPainter, scene: MapScene, ratio: float) -> None:
    """The name of the sheet, at its head, and below it a remark."""
    title, subtitle = map_font(21.0, 600), map_font(15.0, 400, True)
    after = FURNITURE_GAP_PX + QFontMetricsF(title).horizontalAdvance(scene.title) + (14 if scene.title else 0)
    draw_haloed(painter, QPointF(FURNITURE_GAP_PX, 36), scene.title, title, (scene.ink.ink, scene.ink.sheet), ratio)
    draw_haloed(painter, QPointF(after, 36), scene.subtitle, subtitle, (scene.ink.ink_soft, scene.ink.sheet), ratio)
    below = QPointF(FURNITURE_GAP_PX, 36 + (24 if scene.title or scene.subtitle else 0))
    draw_haloed(painter, below, scene.remark, subtitle, (scene.ink.ink_soft, scene.ink.sheet), ratio)


def draw_empty(painter: QPainter, view: View, words: str, ink: Ink) -> None:
    """One sentence in the middle of an empty sheet."""
    painter.setFont(map_font(18.0, 400, True))
    painter.setPen(QColor(ink.ink_soft))
    room = QRectF(view.width_px * 0.15, 0, view.width_px * 0.7, view.height_px)
    painter.drawText(room, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, words)
