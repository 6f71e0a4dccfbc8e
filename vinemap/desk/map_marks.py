"""Lines, numbers, bands and stops of a block, drawn into tiles. The painter's units are map pixels (see camera)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPainterPath, QPolygonF, QTransform

from vinemap.columns import Bools, Floats
from vinemap.desk.field_lines import FieldLines
from vinemap.desk.map_pens import HALO_PX, STOP_PX, draw_letter, draw_stop, map_font, pattern_brush, pen
from vinemap.desk.map_scene import BandMark, BlockScene, WalkLine
from vinemap.ground.block import RowTable
from vinemap.ground.vines import usual_bearing_deg
from vinemap.sheets.ink import Ink

NUMBER_PX = 10.5
NUMBER_GAP_PX = 8.0
NUMBER_STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
NUMBER_REACH_PX = 40.0
BAND_SHARE = 0.41
"""Half the width of a band of work as a share of the row spacing."""

Box = tuple[float, float, float, float]
"""Left, top, right, bottom in map pixels."""


@dataclass(frozen=True, slots=True, eq=False)
class RowEnds:
    """Where row numbers stand. ``xy_m``: (rows, 2, 2) start and end outside the outline; ``out``: unit directions off it."""

    xy_m: Floats
    out: Floats


def find_row_ends(rows: RowTable, outline: shapely.Polygon) -> RowEnds:
    """The first places past both ends of each row that lie outside the outline, at most 15 m away."""
    first, last = rows.xy_m[rows.start[:-1]], rows.xy_m[rows.start[1:] - 1]
    out = np.stack([first - rows.xy_m[rows.start[:-1] + 1], last - rows.xy_m[rows.start[1:] - 2]], axis=1)
    out /= np.maximum(np.hypot(out[..., 0], out[..., 1]), 1e-9)[..., None]
    away_m = np.arange(0.0, 15.1, 0.5)
    ends = np.stack([first, last], axis=1)
    tried = ends[:, :, None, :] + out[:, :, None, :] * away_m[:, None]
    # On a copy: what shapely prepares for many points inside a polygon is not safe between threads.
    own = shapely.from_wkb(shapely.to_wkb(outline))
    is_out = ~shapely.contains_xy(own, tried[..., 0], tried[..., 1])
    # Past 15 m the headland is so wide that the number stands better at the vines.
    step = np.where(is_out.any(axis=2), is_out.argmax(axis=2), 0)
    places = ends + out * away_m[step][..., None]
    return RowEnds(places, _away_from(own, places, out))


def _away_from(outline: shapely.Polygon, places_m: Floats, out: Floats) -> Floats:
    """Unit directions (rows, 2, 2) square to the outline where a place lies just outside it, else as they were.

    Along the row a number would slide along an edge that slants beside it, and stand on its line.
    """
    near = shapely.get_coordinates(shapely.shortest_line(outline.boundary, shapely.points(places_m)))[::2]
    away = places_m - near.reshape(places_m.shape)
    far = np.hypot(away[..., 0], away[..., 1])[..., None]
    is_just_outside = ~shapely.contains_xy(outline, places_m[..., 0], places_m[..., 1])[..., None] & (far > 1e-6)
    square: Floats = np.where(is_just_outside, away / np.maximum(far, 1e-6), out)
    return square


def number_step(row_spacing_m: float, bearing_deg: float, m_per_px: float, digits: int) -> int:
    """Which rows carry a number: every one, or every second, fifth, tenth ... so that numbers never touch."""
    across = np.abs([np.cos(np.radians(bearing_deg)), np.sin(np.radians(bearing_deg))])
    need_px = np.array([NUMBER_PX * (0.6 * digits + 0.5), NUMBER_PX * 0.92])
    least_px = float(np.min(need_px / np.maximum(across, 1e-9)))
    return next((step for step in NUMBER_STEPS if step * row_spacing_m / m_per_px >= least_px), NUMBER_STEPS[-1])


def path_of_outline(outline: shapely.Polygon) -> QPainterPath:
    """The outline with its holes [m], y to the south."""
    path = QPainterPath()
    for ring in (outline.exterior, *outline.interiors):
        xy = np.asarray(ring.coords)[:, :2]
        path.addPolygon(QPolygonF([QPointF(x, -y) for x, y in xy.tolist()]))
        path.closeSubpath()
    return path


def to_map_px(path_m: QPainterPath, m_per_px: float) -> QPainterPath:
    """A path [m] in map pixels."""
    return QTransform.fromScale(1 / m_per_px, 1 / m_per_px).map(path_m)


def _meets(x_px: Floats, y_px: Floats, box: Box, reach_px: float) -> Bools:
    left, top, right, bottom = box
    inside: Bools = (
        (x_px > left - reach_px) & (x_px < right + reach_px) & (y_px > top - reach_px) & (y_px < bottom + reach_px)
    )
    return inside


def draw_rows(painter: QPainter, rows: RowTable, m_per_px: float, box: Box, colour: str, opacity: float) -> None:
    """Row lines as hairs."""
    left, top, right, bottom = box
    x_px, y_px = rows.xy_m[:, 0] / m_per_px, -rows.xy_m[:, 1] / m_per_px
    lines = [
        QLineF(x_px[k], y_px[k], x_px[k + 1], y_px[k + 1])
        for row in np.flatnonzero(
            (np.minimum.reduceat(x_px, rows.start[:-1]) <= right)
            & (np.maximum.reduceat(x_px, rows.start[:-1]) >= left)
            & (np.minimum.reduceat(y_px, rows.start[:-1]) <= bottom)
            & (np.maximum.reduceat(y_px, rows.start[:-1]) >= top)
        )
        for k in range(rows.start[row], rows.start[row + 1] - 1)
    ]
    painter.setPen(pen(colour, 0.5, opacity=opacity))
    painter.drawLines(lines)


def draw_row_numbers(
    painter: QPainter, scene: BlockScene, ends: RowEnds, m_per_px: float, box: Box, ink: Ink, has_fifths: bool
) -> None:
    """Row labels past both ends; rows with work are heavy, else each fifth."""
    rows = scene.block.rows
    digits = max(len(label) for label in rows.labels)
    step = number_step(scene.block.row_spacing_m, usual_bearing_deg(rows), m_per_px, digits)
    numbers = np.array([int(label) if label.isdecimal() else k + 1 for k, label in enumerate(rows.labels)])
    is_shown = numbers % step == 0
    is_shown[[0, -1]] |= step == 1
    heavy = {band.row for band in scene.bands} if not has_fifths else set(np.flatnonzero(numbers % (5 * step) == 0).tolist())
    x_px, y_px = ends.xy_m[..., 0] / m_per_px, -ends.xy_m[..., 1] / m_per_px
    is_near = is_shown[:, None] & _meets(x_px, y_px, box, NUMBER_REACH_PX)
    fonts = {False: map_font(NUMBER_PX), True: map_font(NUMBER_PX, 700)}
    for row, end in np.argwhere(is_near):
        is_heavy = int(row) in heavy
        painter.setFont(fonts[is_heavy])
        painter.setPen(QColor(ink.ink if is_heavy else ink.ink_soft))
        words = rows.labels[row]
        width = QFontMetricsF(fonts[is_heavy]).horizontalAdvance(words)
        out_x, out_y = ends.out[row, end]
        middle_x = x_px[row, end] + out_x * (NUMBER_GAP_PX + width / 2)
        middle_y = y_px[row, end] - out_y * NUMBER_GAP_PX * 1.3
        painter.drawText(QPointF(middle_x - width / 2, middle_y + NUMBER_PX * 0.34), words)


def band_line_px(scene: BlockScene, band: BandMark, m_per_px: float) -> Floats:
    """Middle line (k, 2) of a band in map pixels: through its vines, half a spacing over at both ends."""
    start = int(scene.vines.row_start[band.row])
    last = min(band.last_vine, int(scene.vines.row_start[band.row + 1]) - start)
    pick = np.unique(np.linspace(start + band.first_vine - 1, start + last - 1, 14).round().astype(int))
    xy = np.column_stack([scene.vines.x_m[pick], -scene.vines.y_m[pick]]) / m_per_px
    bearing = np.radians(usual_bearing_deg(scene.block.rows))
    step = xy[-1] - xy[0]
    length = float(np.hypot(*step))
    unit = step / length if length > 0 else np.array([np.sin(bearing), -np.cos(bearing)])
    over = unit * scene.block.vine_spacing_m / 2 / m_per_px
    return np.vstack([xy[0] - over, xy, xy[-1] + over])


def _beside(line_px: Floats, off_px: float) -> list[QPointF]:
    """The line moved to the right of its direction on the page."""
    step = line_px[-1] - line_px[0]
    normal = np.array([-step[1], step[0]]) / max(float(np.hypot(*step)), 1e-9)
    return [QPointF(x, y) for x, y in (line_px + normal * off_px).tolist()]


def draw_bands(painter: QPainter, scene: BlockScene, m_per_px: float, box: Box, ink: Ink) -> None:
    """Bands of work: gain, pattern, edge, and a heavy line on the face to open."""
    half_px = max(BAND_SHARE * scene.block.row_spacing_m / m_per_px, 1.2)
    turn_deg = usual_bearing_deg(scene.block.rows) - 90.0
    for band in scene.bands:
        line = band_line_px(scene, band, m_per_px)
        low, high = line.min(axis=0) - half_px, line.max(axis=0) + half_px
        if high[0] < box[0] or high[1] < box[1] or low[0] > box[2] or low[1] > box[3]:
            continue
        shape = QPolygonF(_beside(line, -half_px) + _beside(line, half_px)[::-1])
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(ink.gain[band.gain_step] if band.gain_step >= 0 else ink.sheet))
        painter.drawPolygon(shape)
        painter.setPen(pen(ink.of_kind(band.kind), 1.0 if half_px > 2 else 0.6))
        painter.setBrush(pattern_brush(band.kind, ink, turn_deg))
        painter.drawPolygon(shape)
        if np.isfinite(band.face_deg):
            step = line[-1] - line[0]
            right = np.array([-step[1], step[0]])
            face = np.array([np.sin(np.radians(band.face_deg)), -np.cos(np.radians(band.face_deg))])
            side = 1.0 if float(right @ face) >= 0 else -1.0
            painter.setPen(pen(ink.ink, 2.6))
            painter.drawPolyline(_beside(line, side * half_px))


def draw_band_letters(painter: QPainter, scene: BlockScene, m_per_px: float, box: Box, ink: Ink) -> None:
    """The letter of each band on its middle, moved a little from row to row so that letters do not touch."""
    row_px = scene.block.row_spacing_m / m_per_px
    if row_px < LEAST_LETTER_ROW_PX:
        return
    for band in scene.bands:
        line = band_line_px(scene, band, m_per_px)
        share = 0.5 + (band.row % 3 - 1) * 0.12
        x_px, y_px = line[0] + (line[-1] - line[0]) * share
        middle = line[len(line) // 2] - (line[0] + line[-1]) / 2
        x_px, y_px = x_px + middle[0], y_px + middle[1]
        if _meets(np.array([x_px]), np.array([y_px]), box, 12.0)[0]:
            draw_letter(painter, QPointF(x_px, y_px), band.kind, ink, min(7.6, max(5.5, row_px * 0.65)))


LEAST_LETTER_ROW_PX = 5.0


def stop_step_px(scene: BlockScene, m_per_px: float) -> float:
    """Size of the stop mark at a scale: smaller where stops would cover each other, never so small as to vanish."""
    count = len(scene.stops)
    if count == 0:
        return STOP_PX
    room_px = float(np.sqrt(scene.block.outline.area / count)) / m_per_px
    usual_px = 2.0 * STOP_PX * float(np.sqrt(max(np.median(scene.stops.examined), 1.0)))
    return STOP_PX * min(1.0, max(0.22, 0.55 * room_px / usual_px))


def draw_stops(painter: QPainter, scene: BlockScene, m_per_px: float, box: Box, ink: Ink) -> None:
    """The stops of the round."""
    stops, step = scene.stops, stop_step_px(scene, m_per_px)
    x_px, y_px = stops.x_m / m_per_px, -stops.y_m / m_per_px
    reach = step * np.sqrt(np.maximum(stops.examined, 1)) + 2.0
    for k in np.flatnonzero(_meets(x_px, y_px, box, float(reach.max(initial=0.0)))):
        draw_stop(
            painter,
            QPointF(x_px[k], y_px[k]),
            int(stops.examined[k]),
            int(stops.infected[k]),
            ink,
            step,
            1.5 * max(0.5, step / STOP_PX),
        )


def draw_halo_path(painter: QPainter, path: QPainterPath, ink: Ink, width_px: float, dash_px: tuple[float, ...] = ()) -> None:
    """A line on a halo of paper."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(pen(ink.sheet, width_px + HALO_PX / 2, opacity=0.85))
    painter.drawPath(path)
    painter.setPen(pen(ink.ink, width_px, dash_px))
    painter.drawPath(path)


def draw_lost_words(painter: QPainter, lines: FieldLines, m_per_px: float, words: str, ink: Ink) -> None:
    """Say on the sheet that nothing is known there, where there is room for the words."""
    font = map_font(15.0, 500, True)
    wide = QFontMetricsF(font).horizontalAdvance(words)
    if 2.0 * lines.lost_room_m / m_per_px < 0.6 * wide:
        return
    path = QPainterPath()
    path.addText(lines.lost_at_m[0] / m_per_px - wide / 2, -lines.lost_at_m[1] / m_per_px + 5, font, words)
    painter.strokePath(path, pen(ink.sheet, HALO_PX))
    painter.fillPath(path, QColor(ink.ink_soft))


def draw_walk(painter: QPainter, walk: WalkLine, m_per_px: float, box: Box, ink: Ink) -> None:
    """The walk as one line of ink with its stops numbered in order."""
    x_px, y_px = walk.x_m / m_per_px, -walk.y_m / m_per_px
    path = QPainterPath()
    path.addPolygon(QPolygonF([QPointF(x, y) for x, y in zip(x_px.tolist(), y_px.tolist(), strict=True)]))
    draw_halo_path(painter, path, ink, 1.8)
    painter.setFont(map_font(12.0, 700))
    for k in np.flatnonzero(_meets(x_px, y_px, box, 14.0)):
        painter.setPen(pen(ink.ink, 1.5))
        painter.setBrush(QColor(ink.sheet))
        painter.drawEllipse(QPointF(x_px[k], y_px[k]), 10.0, 10.0)
        painter.drawText(QRectF(x_px[k] - 12, y_px[k] - 11, 24, 22), Qt.AlignmentFlag.AlignCenter, str(k + 1))
