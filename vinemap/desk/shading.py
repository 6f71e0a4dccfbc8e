"""Shade and vine dots of one tile as numpy arrays: long calls that leave the interpreter free for the hand."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from vinemap.columns import Bools, Floats
from vinemap.desk.map_scene import NOT_KNOWN, BlockScene
from vinemap.ground.block import SPAN_VINES
from vinemap.ground.vines import usual_bearing_deg
from vinemap.sheets.ink import INCIDENCE_POWER, Ink, ramp_rgba

Floats32 = npt.NDArray[np.float32]
Pixels = npt.NDArray[np.uint32]
Codes = npt.NDArray[np.uint16]

LEAST_ROW_PX = 2.5
"""Below this many pixels a row, rows are shaded by span."""

LEAST_VINE_PX = 5.0
DOT_PX = 1.35
DARK_SHARE = 0.56
"""Share of the ramp past which vine dots turn to the colour of the sheet."""

STROKE_PX, STROKE_EVERY_PX = 1.45, 5.5
TICK_PX, TICK_EVERY_PX = 1.1, 18
TICKS = ((3.0, 6.5, 6.5, 3.0), (12.0, 15.5, 15.5, 12.0))
LEAST_WEIGHT = 1e-3
"""A cell with less of a vine in it than this is empty."""

LEVELS = 16
"""Grades of coverage of a stroke's edge."""


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """A block's field on cells across (rows of the arrays) and along (columns) its rows.

    ``incidence`` 0..1 and ``doubt`` (code of certainty, averaged) are filled everywhere from the nearest vine;
    ``origin_m`` is the outer corner (across, along) of cell (0, 0), ``cell_m`` the size (across, along).
    """

    incidence: Floats32
    doubt: Floats32
    origin_m: tuple[float, float]
    cell_m: tuple[float, float]
    bearing_deg: float

    def window(self, m_per_px: float, left_px: float, top_px: float) -> tuple[Floats, Floats]:
        """Matrix (2, 2) and offset (2,) from pixels (down, right) of a tile to cells (across, along)."""
        sin, cos = np.sin(np.radians(self.bearing_deg)), np.cos(np.radians(self.bearing_deg))
        turn = np.array([[sin, cos], [-cos, sin]]) * m_per_px / np.array(self.cell_m)[:, None]
        corner = turn @ np.array([top_px + 0.5, left_px + 0.5])
        return turn, corner - np.array(self.origin_m) / np.array(self.cell_m) - 0.5


def cells_of_zoom(scene: BlockScene, m_per_px: float) -> tuple[int, int]:
    """Rows and vines to a cell at a scale: single vines, or spans of so many rows that a cell can be seen."""
    row_px = scene.block.row_spacing_m / m_per_px
    if row_px >= LEAST_ROW_PX:
        return 1, 1
    rows = 2 ** int(np.ceil(np.log2(LEAST_ROW_PX / row_px)))
    span_px = SPAN_VINES * scene.block.vine_spacing_m / m_per_px
    return rows, SPAN_VINES * 2 ** max(0, int(np.ceil(np.log2(LEAST_ROW_PX / span_px))))


def make_lattice(scene: BlockScene, rows: int, vines: int) -> Lattice | None:
    """The field of a block in cells of ``rows`` by ``vines``; None when no vine has a figure."""
    if scene.incidence is None:
        return None
    from scipy.ndimage import distance_transform_edt

    places = scene.vines
    has_figure = np.isfinite(scene.incidence)
    if not has_figure.any():
        return None
    doubt = np.where(has_figure, 0 if scene.certainty is None else scene.certainty, NOT_KNOWN).astype(np.float32)
    spacing = (scene.block.row_spacing_m, scene.block.vine_spacing_m)
    cell = (spacing[0] * rows, spacing[1] * vines)
    origin = (float(places.across_m.min()) - spacing[0] / 2, float(places.along_m.min()) - spacing[1] / 2)
    down = (places.across_m - origin[0]) / cell[0] - 0.5
    right = (places.along_m - origin[1]) / cell[1] - 0.5
    upper, left = np.floor(down).astype(np.int64), np.floor(right).astype(np.int64)
    shape = (int(upper.max()) + 3, int(left.max()) + 3)
    flat, lower_share, right_share = (upper + 1) * shape[1] + left + 1, down - upper, right - left

    def mean(values: npt.NDArray[np.floating], is_in: Bools) -> Floats32:
        """Mean of each cell, a vine between cells counting in each by nearness; empty ones take the nearest."""
        weight, total = np.zeros(shape[0] * shape[1]), np.zeros(shape[0] * shape[1])
        for lower in (0, 1):
            for righter in (0, 1):
                share = np.abs(1 - lower - lower_share[is_in]) * np.abs(1 - righter - right_share[is_in])
                at = flat[is_in] + lower * shape[1] + righter
                weight += np.bincount(at, share, len(weight))
                total += np.bincount(at, share * values[is_in], len(total))
        is_empty = (weight < LEAST_WEIGHT).reshape(shape)
        cells: Floats32 = (total / np.maximum(weight, LEAST_WEIGHT)).astype(np.float32).reshape(shape)
        if is_empty.any():
            nearest = distance_transform_edt(is_empty, sampling=cell, return_distances=False, return_indices=True)
            cells = cells[tuple(nearest)]
        return cells

    return Lattice(
        mean(scene.incidence, has_figure),
        mean(doubt, has_figure | places.is_living),
        (origin[0] - cell[0], origin[1] - cell[1]),
        cell,
        usual_bearing_deg(scene.block.rows),
    )


def sample(
    lattice: Lattice, values: Floats32, m_per_px: float, left_px: int, top_px: int, shape: tuple[int, int]
) -> Floats32:
    """Values (height, width) of a lattice at the middle of each pixel from a corner on, straight lines between cells."""
    from scipy.ndimage import affine_transform

    matrix, offset = lattice.window(m_per_px, left_px, top_px)
    out = np.empty(shape, np.float32)
    affine_transform(values, matrix, offset, output=out, order=1, mode="nearest", prefilter=False)
    return out


def stroke_cover(left_px: int, top_px: int, shape: tuple[int, int], ratio: float) -> npt.NDArray[np.uint8]:
    """Coverage 0..15 (height, width) of paper strokes at 45 degrees, anchored to the map so that tiles meet."""
    along = np.arange(sum(shape) - 1) + left_px + top_px
    period = STROKE_EVERY_PX * ratio
    away = np.abs((along + 1.0 + period / 2) % period - period / 2) / np.sqrt(2.0)
    cover = np.clip(STROKE_PX * ratio / 2 + 0.5 - away, 0.0, 1.0)
    grade = np.rint(cover * (LEVELS - 1)).astype(np.uint8)
    cover_px: npt.NDArray[np.uint8] = grade[np.arange(shape[0])[:, None] + np.arange(shape[1])]
    return cover_px


def tick_cover(left_px: int, top_px: int, shape: tuple[int, int], ratio: float) -> npt.NDArray[np.uint8]:
    """Coverage 0..15 (height, width) of the two slanted ticks in each square, anchored to the map."""
    every = round(TICK_EVERY_PX * ratio)
    down, right = np.mgrid[0:every, 0:every] + 0.5
    cover = np.zeros((every, every))
    for x0, y0, x1, y1 in np.array(TICKS) * ratio:
        step_x, step_y = x1 - x0, y1 - y0
        share = np.clip(((right - x0) * step_x + (down - y0) * step_y) / (step_x**2 + step_y**2), 0.0, 1.0)
        away = np.hypot(right - x0 - share * step_x, down - y0 - share * step_y)
        cover = np.maximum(cover, np.clip(TICK_PX * ratio / 2 + 0.5 - away, 0.0, 1.0))
    grade = np.rint(cover * (LEVELS - 1)).astype(np.uint8)
    return grade[np.ix_((np.arange(shape[0]) + top_px) % every, (np.arange(shape[1]) + left_px) % every)]


@lru_cache(maxsize=8)
def colour_table(ink: Ink, strength: float) -> Pixels:
    """Colours of codes: 0 the sheet, then 16 grades of worn shade by 256 colours, then 16 grades of tick."""
    sheet, soft = _rgb(ink.sheet), _rgb(ink.ink_soft)
    ramp = ramp_rgba(ink)[:, :3] * strength + sheet * (1.0 - strength)
    cover = np.linspace(0.0, 1.0, LEVELS)[:, None]
    worn = ramp[None] * (1.0 - cover[:, :, None]) + sheet * cover[:, :, None]
    ticks = soft * cover + sheet * (1.0 - cover)
    table = pack_rgb(np.concatenate([sheet[None], worn.reshape(-1, 3), ticks]))
    table.setflags(write=False)
    return table


def shade_codes(
    lattice: Lattice, top: float, m_per_px: float, left_px: int, top_px: int, shape: tuple[int, int], ratio: float
) -> Codes:
    """Code (height, width) of each pixel from a corner on for ``colour_table``, as if the block had no edge."""
    incidence = sample(lattice, lattice.incidence, m_per_px, left_px, top_px, shape)
    share = np.clip(incidence / np.float32(top), 0.0, 1.0) ** np.float32(INCIDENCE_POWER)
    codes: Codes = (share * np.float32(255.0) + np.float32(1.5)).astype(np.uint16)
    if lattice.doubt.any():
        doubt = sample(lattice, lattice.doubt, m_per_px, left_px, top_px, shape)
        is_unsure, is_lost = (doubt > 0.5) & (doubt <= 1.5), doubt > 1.5
        if is_unsure.any():
            strokes = stroke_cover(left_px, top_px, shape, ratio).astype(np.uint16)
            codes[is_unsure] += 256 * strokes[is_unsure]
        if is_lost.any():
            codes[is_lost] = 1 + 256 * LEVELS + tick_cover(left_px, top_px, shape, ratio)[is_lost].astype(np.uint16)
    return codes


def stamp(
    pixels: Pixels, x_px: Floats32, y_px: Floats32, colour: str, opacity: float, ratio: float, is_cross: bool = False
) -> None:
    """Stamp small round dots, or crosses, of one colour at (n,) pixels of a tile, smooth at the edges, in place."""
    size = pixels.shape[0]
    reach = 2 if ratio <= 1.2 else 1 + int(np.ceil(DOT_PX * 1.25 * ratio))
    edge = reach + 1
    is_near = (x_px > -edge) & (y_px > -edge) & (x_px < size + edge) & (y_px < size + edge)
    x_px, y_px = x_px[is_near], y_px[is_near]
    column, line = np.floor(x_px).astype(np.int32), np.floor(y_px).astype(np.int32)
    cover = np.zeros((size + 4 * edge) ** 2, np.float32)
    wide = size + 4 * edge
    for down in range(-reach, reach + 1):
        for right in range(-reach, reach + 1):
            off_x, off_y = column + right + np.float32(0.5) - x_px, line + down + np.float32(0.5) - y_px
            if is_cross:
                away = np.minimum(np.abs(off_x - off_y), np.abs(off_x + off_y)) * np.float32(0.7071)
                ink = np.clip(0.4 * ratio + 0.5 - away, 0.0, 1.0)
                ink *= np.maximum(np.abs(off_x), np.abs(off_y)) <= DOT_PX * 1.25 * ratio
            else:
                ink = np.clip(DOT_PX * ratio + 0.5 - np.hypot(off_x, off_y), 0.0, 1.0)
            at = (line + down + 2 * edge) * wide + column + right + 2 * edge
            cover[at] = np.maximum(cover[at], ink)
    inner = cover.reshape(wide, wide)[2 * edge : 2 * edge + size, 2 * edge : 2 * edge + size]
    where = np.flatnonzero(inner)
    blend(pixels, where, inner.ravel()[where] * np.float32(opacity), colour)


def blend(pixels: Pixels, where: npt.NDArray[np.intp], cover: Floats32, colour: str) -> None:
    """Lay a colour over flat positions of opaque pixels, ``cover`` 0..1 thick, in place."""
    flat = pixels.reshape(-1)
    under = flat[where]
    result = np.full(len(where), 0xFF000000, np.uint32)
    for shift, value in zip((16, 8, 0), _rgb(colour), strict=True):
        channel = ((under >> np.uint32(shift)) & np.uint32(255)).astype(np.float32)
        channel += (np.float32(value) - channel) * cover
        result |= (channel + np.float32(0.5)).astype(np.uint32) << np.uint32(shift)
    flat[where] = result


def pack_rgb(rgb: npt.NDArray[np.floating]) -> Pixels:
    """Opaque pixels (n,) 0xAARRGGBB of colours (n, 3) 0..255."""
    whole = np.rint(rgb).astype(np.uint32)
    packed: Pixels = np.uint32(0xFF000000) | whole[:, 0] << np.uint32(16) | whole[:, 1] << np.uint32(8) | whole[:, 2]
    return packed


def _rgb(colour: str) -> Floats:
    return np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)], np.float64)
