"""The one painter: a page of marks becomes QPainter calls on a screen, a printer, a PDF or a picture."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import singledispatch
from pathlib import Path as File

import numpy as np
from PySide6.QtCore import QBuffer, QIODevice, QLineF, QMarginsF, QPointF, QRectF, QSizeF, Qt, QUuid
from PySide6.QtGui import (
    QColor,
    QFontMetricsF,
    QImage,
    QPageLayout,
    QPageSize,
    QPaintEngine,
    QPainter,
    QPainterPath,
    QPdfWriter,
    QPen,
    QPolygonF,
)

from vinemap.desk.fonts import SIZE_PX, ensure_gui, font
from vinemap.errors import FileError, InputError
from vinemap.sheets.marks import MM_PER_PT, Dots, Mark, Page, Path, Shade, Strokes, Words

PDF_DPI = 1200
CHUNK = 4000
"""Lines or points in one call: Qt holds the interpreter for a whole call, so calls are kept short."""

FINE = 100.0
"""Rings are drawn in hundredths: Qt strokes a curve of a few units with lines that are 4 % too thin on the slant."""

_ID_SPACE = QUuid("{7b6a4c2e-2f0d-4f6a-9a55-6d1f0f7b3c11}")


def paint(page: Page, painter: QPainter, px_per_mm: float) -> None:
    """Paint a page's marks in order, its top left corner at the painter's origin."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
    painter.scale(px_per_mm, px_per_mm)
    for mark in page.marks:
        _paint(mark, painter)
    painter.restore()


def write_pdf(pages: Sequence[Page], path: str | File) -> None:
    """Write pages as one PDF with vector marks and embedded, searchable words. Raises InputError, FileError."""
    if not pages:
        raise InputError("There is no page to print.", "Choose at least one block.")
    ensure_gui()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setResolution(PDF_DPI)
    writer.setTitle(pages[0].title)
    writer.setCreator("Vinemap")
    writer.setDocumentId(QUuid.createUuidV5(_ID_SPACE, "\n".join(page.title for page in pages).encode()))
    writer.setPageLayout(_layout(pages[0]))
    painter = QPainter(writer)
    try:
        for number, page in enumerate(pages):
            if number:
                writer.setPageLayout(_layout(page))
                writer.newPage()
            paint(page, painter, PDF_DPI / 25.4)
    finally:
        painter.end()
    _write(bytes(buffer.data().data()), path)


def write_png(page: Page, path: str | File, dpi: float = 150.0) -> None:
    """Write a page as a picture on white paper. Raises FileError."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    draw_image(page, dpi).save(buffer, "PNG")  # type: ignore[call-overload]
    _write(bytes(buffer.data().data()), path)


def draw_image(page: Page, dpi: float = 150.0) -> QImage:
    """A page as a picture on white paper, ``dpi`` dots to the inch."""
    ensure_gui()
    per_mm = dpi / 25.4
    image = QImage(round(page.width_mm * per_mm), round(page.height_mm * per_mm), QImage.Format.Format_RGB32)
    image.setDotsPerMeterX(round(per_mm * 1000))
    image.setDotsPerMeterY(round(per_mm * 1000))
    image.fill(QColor("#FFFFFF"))
    painter = QPainter(image)
    try:
        paint(page, painter, per_mm)
    finally:
        painter.end()
    return image


def _layout(page: Page) -> QPageLayout:
    """The page's own size without margins: the sheet keeps its own."""
    size = QPageSize(
        QSizeF(page.width_mm, page.height_mm), QPageSize.Unit.Millimeter, "", QPageSize.SizeMatchPolicy.ExactMatch
    )
    layout = QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(), QPageLayout.Unit.Millimeter)
    layout.setMode(QPageLayout.Mode.FullPageMode)
    return layout


def _write(content: bytes, path: str | File) -> None:
    """Put a finished file in place, or say why not."""
    try:
        File(path).write_bytes(content)
    except OSError as error:
        raise FileError(
            f"{File(path).name} could not be written: {error.strerror or error}.",
            "Close it where it is open, or choose another folder.",
        ) from error


def _pen(colour: str, width_mm: float, dash: tuple[float, ...] = ()) -> QPen:
    pen = QPen(QColor(colour), width_mm)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    if dash:
        pen.setDashPattern([length / width_mm for length in dash])
    return pen


def _outline(rings: tuple[np.ndarray, ...], is_closed: bool) -> QPainterPath:
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    for ring in rings:
        path.addPolygon(QPolygonF([QPointF(x, y) for x, y in ring.tolist()]))
        if is_closed:
            path.closeSubpath()
    return path


@singledispatch
def _paint(mark: Mark, painter: QPainter) -> None:
    raise TypeError(f"no way to paint {type(mark).__name__}")


@_paint.register
def _(mark: Path, painter: QPainter) -> None:
    painter.setPen(_pen(mark.stroke, mark.width_mm, mark.dash) if mark.stroke else Qt.PenStyle.NoPen)
    painter.setBrush(QColor(mark.fill) if mark.fill else Qt.BrushStyle.NoBrush)
    painter.drawPath(_outline(mark.rings, mark.is_closed or bool(mark.fill)))


@_paint.register
def _(mark: Strokes, painter: QPainter) -> None:
    painter.setPen(_pen(mark.stroke, mark.width_mm))
    for first in range(0, len(mark.ends), CHUNK):
        painter.drawLines([QLineF(*ends) for ends in mark.ends[first : first + CHUNK].tolist()])


@_paint.register
def _(mark: Dots, painter: QPainter) -> None:
    if not mark.stroke and mark.fill:
        _paint_plain_dots(mark, painter)
        return
    painter.save()
    painter.scale(1 / FINE, 1 / FINE)
    painter.setPen(_pen(mark.stroke, mark.width_mm * FINE) if mark.stroke else Qt.PenStyle.NoPen)
    painter.setBrush(QColor(mark.fill) if mark.fill else Qt.BrushStyle.NoBrush)
    for (x, y), radius in zip((mark.points * FINE).tolist(), (mark.radius_mm * FINE).tolist(), strict=True):
        painter.drawEllipse(QPointF(x, y), radius, radius)
    painter.restore()


def _paint_plain_dots(mark: Dots, painter: QPainter) -> None:
    """Discs without an edge are points of a round pen, many in one call."""
    pen = QPen(QColor(mark.fill))
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    for radius in np.unique(mark.radius_mm):
        pen.setWidthF(2.0 * float(radius))
        painter.setPen(pen)
        points = mark.points[mark.radius_mm == radius]
        for first in range(0, len(points), CHUNK):
            painter.drawPoints([QPointF(x, y) for x, y in points[first : first + CHUNK].tolist()])


@_paint.register
def _(mark: Words, painter: QPainter) -> None:
    face = font(mark.weight, mark.is_italic, mark.is_small_caps)
    left = {"start": 0.0, "middle": -0.5, "end": -1.0}[mark.anchor] * QFontMetricsF(face).horizontalAdvance(mark.text)
    painter.save()
    painter.translate(mark.x_mm, mark.y_mm)
    painter.rotate(mark.angle_deg)
    scale = mark.size_pt * MM_PER_PT / SIZE_PX
    painter.scale(scale, scale)
    if mark.halo:
        around = QPainterPath()
        around.addText(QPointF(left, 0.0), face, mark.text)
        pen = QPen(QColor(mark.halo), 0.30 * SIZE_PX)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.strokePath(around, pen)
    painter.setFont(face)
    painter.setPen(QColor(mark.fill))
    painter.drawText(QPointF(left, 0.0), mark.text)
    if painter.paintEngine().type() == QPaintEngine.Type.Pdf:
        _lay_plain_figures(mark, left, painter)
    painter.restore()


def _lay_plain_figures(mark: Words, left_px: float, painter: QPainter) -> None:
    """Lay clear plain glyphs over the set ones: Qt's PDF knows no letter for a lining figure or a small capital."""
    metrics = QFontMetricsF(font(mark.weight, mark.is_italic, mark.is_small_caps))
    plain = font(mark.weight, mark.is_italic, is_plain=True)
    painter.setFont(plain)
    painter.setPen(QColor(0, 0, 0, 0))
    for run in re.finditer(r"[a-zà-ÿ0-9]+" if mark.is_small_caps else r"[0-9]+", mark.text):
        painter.drawText(QPointF(left_px + metrics.horizontalAdvance(mark.text[: run.start()]), 0.0), run.group())


@_paint.register
def _(mark: Shade, painter: QPainter) -> None:
    cells = np.ascontiguousarray(mark.rgba, np.uint8)
    rows, columns = cells.shape[:2]
    image = QImage(cells.data, columns, rows, 4 * columns, QImage.Format.Format_RGBA8888)
    painter.save()
    if mark.clip:
        painter.setClipPath(_outline(mark.clip, True), Qt.ClipOperation.IntersectClip)
    painter.drawImage(QRectF(mark.x_mm, mark.y_mm, mark.width_mm, mark.height_mm), image)
    painter.restore()
