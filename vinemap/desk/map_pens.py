"""The pens of the map: its type, the stop mark, and the patterns of work. Shared by tiles, overlay and legend."""

from __future__ import annotations

import threading
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QImage, QPainter, QPainterPath, QPen, QTransform

from vinemap.desk.fonts import font
from vinemap.sheets.ink import Ink

STOP_PX = 2.15
"""Radius of a stop is this times the root of the clusters examined."""

HALO_PX = 4.2
PATTERN_SQUARE_PX = {"L": (9, 9), "F": (5, 5), "D": (7, 7), "R": (5, 8), "T": (6, 6), "P": (5, 5), "C": (9, 9), "V": (12, 6)}
_STROKES = {
    "L": (1.3, ((-2, 11, 11, -2), (-2, 2, 2, -2), (7, 11, 11, 7))),
    "F": (2.0, ((-1, 6, 6, -1), (-1, 1, 1, -1), (4, 6, 6, 4))),
    "D": (1.4, ((-1, 8, 8, -1), (-1, -1, 8, 8))),
    "R": (1.3, ((2.5, 2, 2.5, 6),)),
    "T": (1.8, ((3, -1, 3, 7),)),
    "V": (1.4, ((1, 3, 7, 3),)),
}


class _OwnFonts(threading.local):
    """Fonts of one thread: a font remembers the engine that last drew it, which belongs to one thread."""

    def __init__(self) -> None:
        self.made: dict[tuple[int, int, bool], QFont] = {}


_own_fonts = _OwnFonts()


def map_font(size_px: float, weight: int = 400, is_italic: bool = False) -> QFont:
    """The house face at a size in logical pixels, for the thread that asks."""
    key = max(1, round(size_px)), weight, is_italic
    face = _own_fonts.made.get(key)
    if face is None:
        face = QFont(font(weight, is_italic))
        face.setPixelSize(key[0])
        _own_fonts.made[key] = face
    return face


def pen(colour: str, width_px: float, dash_px: tuple[float, ...] = (), opacity: float = 1.0) -> QPen:
    """A flat-ended pen of one colour; dashes in pixels."""
    shade = QColor(colour)
    shade.setAlphaF(opacity)
    made = QPen(shade, width_px)
    made.setCapStyle(Qt.PenCapStyle.FlatCap)
    made.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    if dash_px:
        made.setDashPattern([length / width_px for length in dash_px])
    return made


def clear_image(width_px: int, height_px: int, ratio: float) -> QImage:
    """A transparent picture of that many logical pixels."""
    image = QImage(round(width_px * ratio), round(height_px * ratio), QImage.Format.Format_ARGB32_Premultiplied)
    image.setDevicePixelRatio(ratio)
    image.fill(0)
    return image


def smooth_painter(image: QImage) -> QPainter:
    """A painter with smooth edges on a picture."""
    painter = QPainter(image)
    painter.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.SmoothPixmapTransform)
    return painter


@lru_cache(maxsize=64)
def _pattern(kind: str, colour: str, scale: int) -> QImage:
    """One square of a kind's pattern, ``scale`` times enlarged."""
    width, height = PATTERN_SQUARE_PX[kind]
    image = QImage(width * scale, height * scale, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(0)
    painter = smooth_painter(image)
    painter.scale(scale, scale)
    if kind == "P":
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(colour))
        painter.drawEllipse(QPointF(2.5, 2.5), 1.35, 1.35)
    elif kind == "C":
        painter.setPen(QPen(QColor(colour), 1.4))
        painter.drawEllipse(QPointF(4.5, 4.5), 2.6, 2.6)
    else:
        thick_px, strokes = _STROKES[kind]
        painter.setPen(pen(colour, thick_px))
        for x0, y0, x1, y1 in strokes:
            painter.drawLine(QPointF(x0, y0), QPointF(x1, y1))
    painter.end()
    return image


def pattern_brush(kind: str, ink: Ink, turn_deg: float = 0.0) -> QBrush:
    """The pattern of a kind of work as a brush, turned clockwise on the page."""
    scale = 4
    brush = QBrush(_pattern(kind, ink.of_kind(kind), scale))
    brush.setTransform(QTransform().rotate(turn_deg).scale(1 / scale, 1 / scale))
    return brush


def draw_stop(
    painter: QPainter, at_px: QPointF, examined: int, infected: int, ink: Ink, step_px: float = STOP_PX, pen_px: float = 1.5
) -> None:
    """The stop mark: area of the ring is the clusters examined, area of the pupil those with mildew."""
    radius = step_px * float(np.sqrt(max(examined, 1)))
    painter.setPen(QPen(QColor(ink.ink), pen_px))
    painter.setBrush(QColor(ink.sheet))
    painter.drawEllipse(at_px, radius, radius)
    if infected > 0:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(ink.ink))
        pupil = step_px * float(np.sqrt(min(infected, examined)))
        painter.drawEllipse(at_px, pupil, pupil)
    else:
        half = min(2.0, radius * 0.5)
        painter.setPen(pen(ink.ink, 1.2))
        painter.drawLine(QPointF(at_px.x() - half, at_px.y()), QPointF(at_px.x() + half, at_px.y()))


def draw_letter(painter: QPainter, at_px: QPointF, kind: str, ink: Ink, radius_px: float = 7.6) -> None:
    """The letter of a kind of work in its ring."""
    painter.setPen(QPen(QColor(ink.of_kind(kind)), 1.3))
    painter.setBrush(QColor(ink.sheet))
    painter.drawEllipse(at_px, radius_px, radius_px)
    painter.setFont(map_font(radius_px * 1.65, 700))
    box = QRectF(at_px.x() - radius_px, at_px.y() - radius_px, 2 * radius_px, 2 * radius_px)
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, kind)


def image_of(pixels: npt.NDArray[np.uint32], ratio: float) -> QImage:
    """A picture of opaque pixels (h, w); it copies, so that the array may go."""
    height, width = pixels.shape
    image = QImage(pixels.data, width, height, width * 4, QImage.Format.Format_RGB32).copy()
    image.setDevicePixelRatio(ratio)
    return image


RIM_PX = 4
"""Paper around words that are to be read on any ground, and room around their picture."""


@lru_cache(maxsize=256)
def _haloed(text: str, size_px: int, weight: int, is_italic: bool, colour: str, paper: str, ratio: float) -> QImage:
    """Words with a rim of paper as a picture: stroking a rim costs a frame, laying a picture down does not."""
    face = map_font(size_px, weight, is_italic)
    metrics = QFontMetricsF(face)
    image = clear_image(int(metrics.horizontalAdvance(text)) + 2 * RIM_PX + 2, int(metrics.height()) + 2 * RIM_PX, ratio)
    words = QPainterPath()
    words.addText(QPointF(RIM_PX, RIM_PX + metrics.ascent()), face, text)
    halo = pen(paper, RIM_PX)
    halo.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter = smooth_painter(image)
    painter.strokePath(words, halo)
    painter.fillPath(words, QColor(colour))
    painter.end()
    return image


def draw_haloed(painter: QPainter, at: QPointF, text: str, font: QFont, inks: tuple[str, str], ratio: float) -> None:
    """Words with a rim, to be read on any ground; ``at`` is where their base line begins, ``inks`` words and paper."""
    if text:
        colour, paper = inks
        image = _haloed(text, font.pixelSize(), font.weight(), font.italic(), colour, paper, ratio)
        painter.drawImage(at - QPointF(RIM_PX, RIM_PX + QFontMetricsF(font).ascent()), image)
