"""Makes one tile of the map, on a worker thread: numpy for points and shade, short painter calls for lines."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPainterPath

from vinemap.columns import Bools
from vinemap.desk import map_marks as marks
from vinemap.desk import shading
from vinemap.desk.field_lines import FieldLines, make_field_lines
from vinemap.desk.map_pens import clear_image, image_of, pen, smooth_painter
from vinemap.desk.map_scene import NOT_KNOWN, READ, WALK, WORK, BlockScene, MapScene
from vinemap.desk.underlay import lay_under
from vinemap.sheets.ink import INCIDENCE_POWER

TILE_PX = 512


@dataclass(frozen=True, slots=True)
class TileKey:
    """A tile: the picture it belongs to, its scale [m per logical px], pixel ratio, and place in the grid of tiles."""

    picture: int
    m_per_px: float
    ratio: float
    column: int
    line: int


@dataclass(frozen=True, slots=True, eq=False)
class Tile:
    """The ground (opaque) and the marks that lie over the threshold line, or None where there are none."""

    ground: QImage
    marks: QImage | None

    @property
    def size_bytes(self) -> int:
        """Memory that it takes."""
        return self.ground.sizeInBytes() + (self.marks.sizeInBytes() if self.marks else 0)


@dataclass(frozen=True, slots=True, eq=False)
class _Plan:
    """What is the same in all tiles of a block: vines as float32 from the block's corner, and ends of rows."""

    origin_m: tuple[float, float]
    east_m: shading.Floats32
    south_m: shading.Floats32
    groups: tuple[tuple[Bools, str, float, bool], ...]
    ends: marks.RowEnds | None
    outline_m: QPainterPath


@dataclass(slots=True, eq=False)
class Picture:
    """A scene ready to be cut into tiles; what is costly is worked out once, by whichever thread needs it first."""

    number: int
    scene: MapScene
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _lattices: dict[tuple[int, int, int], shading.Lattice | None] = field(default_factory=dict)
    _plans: dict[int, _Plan] = field(default_factory=dict)
    _lines: dict[int, FieldLines | None] = field(default_factory=dict)

    def lattice(self, index: int, m_per_px: float) -> shading.Lattice | None:
        """The field of block number ``index`` in the cells that fit a scale."""
        block = self.scene.blocks[index]
        key = (index, *shading.cells_of_zoom(block, m_per_px))
        with self._lock:
            if key not in self._lattices:
                self._lattices[key] = shading.make_lattice(block, key[1], key[2])
            return self._lattices[key]

    def plan(self, index: int) -> _Plan:
        """Vines and row ends of block number ``index``."""
        with self._lock:
            if index not in self._plans:
                self._plans[index] = _plan(self.scene, self.scene.blocks[index])
            return self._plans[index]

    def make_lines(self, index: int) -> None:
        """Get the threshold line of block number ``index`` ready to be drawn at any threshold."""
        with self._lock:
            if index not in self._lines:
                self._lines[index] = make_field_lines(self.scene.blocks[index])

    def lines(self, index: int) -> FieldLines | None:
        """The threshold line of a block, or None as long as no tile of the block has been made."""
        return self._lines.get(index)

    def table(self) -> shading.Pixels:
        """Colours of shade codes."""
        return shading.colour_table(self.scene.ink, 0.5 if self.scene.mode == WALK else 1.0)


def _plan(scene: MapScene, block: BlockScene) -> _Plan:
    vines, ink = block.vines, scene.ink
    is_missing = ~vines.is_living
    is_dark = is_lost = np.zeros(len(vines), bool)
    if block.incidence is not None and scene.mode in (READ, WALK):
        known = np.isfinite(block.incidence)
        certainty = np.zeros(len(vines), np.int8) if block.certainty is None else block.certainty
        is_lost = (certainty == NOT_KNOWN) | ~known
        past = scene.top * shading.DARK_SHARE ** (1 / INCIDENCE_POWER)
        is_dark = ~is_lost & (np.nan_to_num(block.incidence) > past) & (scene.mode == READ)
    groups = (
        (vines.is_living & ~is_dark & ~is_lost, ink.ink, 0.58, False),
        (vines.is_living & is_lost, ink.ink, 0.30, False),
        (vines.is_living & is_dark, ink.sheet, 0.85, False),
        (is_missing, ink.ink_faint, 1.0, True),
    )
    west, south, _, _ = block.block.outline.bounds
    return _Plan(
        (west, south),
        (vines.x_m - west).astype(np.float32),
        (vines.y_m - south).astype(np.float32),
        tuple(group for group in groups if group[0].any()),
        marks.find_row_ends(block.block.rows, block.block.outline) if len(block.block.rows) else None,
        marks.path_of_outline(block.block.outline),
    )


def make_tile(picture: Picture, key: TileKey) -> Tile:
    """Draw one tile: shade, rows, vines, bands and outline below; numbers, letters and stops above."""
    scene, size = picture.scene, round(TILE_PX * key.ratio)
    left, top = key.column * TILE_PX, key.line * TILE_PX
    box = (float(left), float(top), float(left + TILE_PX), float(top + TILE_PX))
    pixels = np.full((size, size), picture.table()[0], np.uint32)
    if scene.underlay is not None:
        west_m, north_m = left * key.m_per_px, -top * key.m_per_px
        lay_under(pixels, scene.underlay, scene.ink, west_m, north_m, TILE_PX * key.m_per_px / size)
    near = [k for k, block in enumerate(scene.blocks) if _touches(block, key.m_per_px, box, marks.NUMBER_REACH_PX)]
    for index in near:
        if scene.mode in (READ, WALK):
            picture.make_lines(index)
        _shade_block(picture, index, key, pixels)
        _stamp_vines(picture, index, key, pixels)
    ground = image_of(pixels, key.ratio)
    painter = smooth_painter(ground)
    painter.translate(-left, -top)
    for index in near:
        block = scene.blocks[index]
        if scene.mode == WORK:
            marks.draw_bands(painter, block, key.m_per_px, box, scene.ink)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(pen(scene.ink.ink, 1.8))
        painter.drawPath(marks.to_map_px(picture.plan(index).outline_m, key.m_per_px))
    painter.end()
    return Tile(ground, _draw_marks(picture, near, key, box))


def _touches(block: BlockScene, m_per_px: float, box: marks.Box, reach_px: float) -> bool:
    west, south, east, north = block.block.outline.bounds
    return bool(
        west / m_per_px - reach_px < box[2]
        and east / m_per_px + reach_px > box[0]
        and -north / m_per_px - reach_px < box[3]
        and -south / m_per_px + reach_px > box[1]
    )


def _outline_mask(outline_m: QPainterPath, key: TileKey, size: int) -> Bools:
    """True (size, size) for pixels of a tile inside the outline."""
    image = QImage(size, size, QImage.Format.Format_Grayscale8)
    image.fill(0)
    painter = QPainter(image)
    painter.scale(key.ratio, key.ratio)
    painter.translate(-key.column * TILE_PX, -key.line * TILE_PX)
    painter.fillPath(marks.to_map_px(outline_m, key.m_per_px), QColor(255, 255, 255))
    painter.end()
    lines = np.frombuffer(image.constBits(), np.uint8).reshape(size, image.bytesPerLine())[:, :size]
    return np.array(lines > 127)


def _shade_block(picture: Picture, index: int, key: TileKey, pixels: shading.Pixels) -> None:
    scene, size = picture.scene, pixels.shape[0]
    left, top, m_per_px = round(key.column * TILE_PX * key.ratio), round(key.line * TILE_PX * key.ratio), key.m_per_px
    lattice = picture.lattice(index, m_per_px) if scene.mode in (READ, WALK) else None
    if lattice is not None:
        mask = _outline_mask(picture.plan(index).outline_m, key, size)
        lines, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
        if len(lines):
            part = np.s_[lines[0] : lines[-1] + 1, columns[0] : columns[-1] + 1]
            inside = mask[part]
            left, top = left + int(columns[0]), top + int(lines[0])
            codes = shading.shade_codes(lattice, scene.top, m_per_px / key.ratio, left, top, inside.shape, key.ratio)
            pixels[part][inside] = picture.table()[codes[inside]]
    elif scene.mode == WORK:
        pixels[_outline_mask(picture.plan(index).outline_m, key, size)] = QColor(scene.ink.ground).rgb()


def _stamp_vines(picture: Picture, index: int, key: TileKey, pixels: shading.Pixels) -> None:
    scene, block, m_per_px = picture.scene, picture.scene.blocks[index], key.m_per_px
    rows = block.block.rows
    if len(rows) and block.block.row_spacing_m / m_per_px >= shading.LEAST_ROW_PX:
        image = QImage(pixels.data, len(pixels), len(pixels), 4 * len(pixels), QImage.Format.Format_RGB32)
        image.setDevicePixelRatio(key.ratio)
        painter = smooth_painter(image)
        left, top = key.column * TILE_PX, key.line * TILE_PX
        painter.translate(-left, -top)
        marks.draw_rows(painter, rows, m_per_px, (left, top, left + TILE_PX, top + TILE_PX), scene.ink.ink, 0.28)
        painter.end()
    if block.block.vine_spacing_m / m_per_px < shading.LEAST_VINE_PX:
        return
    plan = picture.plan(index)
    scale = np.float32(key.ratio / m_per_px)
    x_px = plan.east_m * scale + np.float32((plan.origin_m[0] / m_per_px - key.column * TILE_PX) * key.ratio)
    y_px = -plan.south_m * scale - np.float32((plan.origin_m[1] / m_per_px + key.line * TILE_PX) * key.ratio)
    edge = 4 * key.ratio
    is_near = (x_px > -edge) & (x_px < len(pixels) + edge) & (y_px > -edge) & (y_px < len(pixels) + edge)
    for chosen, colour, opacity, is_cross in plan.groups:
        pick = np.flatnonzero(is_near & chosen)
        if len(pick):
            shading.stamp(pixels, x_px[pick], y_px[pick], colour, opacity, key.ratio, is_cross)


def _draw_marks(picture: Picture, near: list[int], key: TileKey, box: marks.Box) -> QImage | None:
    scene = picture.scene
    image = clear_image(TILE_PX, TILE_PX, key.ratio)
    painter = smooth_painter(image)
    painter.translate(-box[0], -box[1])
    for index in near:
        block, ends = scene.blocks[index], picture.plan(index).ends
        if ends is not None:
            marks.draw_row_numbers(painter, block, ends, key.m_per_px, box, scene.ink, scene.mode != WORK)
        lines = picture.lines(index)
        if lines is not None:
            marks.draw_lost_words(painter, lines, key.m_per_px, scene.not_known_words, scene.ink)
        if scene.mode == WORK:
            marks.draw_band_letters(painter, block, key.m_per_px, box, scene.ink)
        elif scene.mode == READ:
            marks.draw_stops(painter, block, key.m_per_px, box, scene.ink)
    if scene.mode == WALK and scene.walk is not None:
        marks.draw_walk(painter, scene.walk, key.m_per_px, box, scene.ink)
    painter.end()
    return image
