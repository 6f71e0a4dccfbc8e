"""Pixels of an open picture as one number each, 0xAARRGGBB, colours times alpha, whatever its bands are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Pixels = npt.NDArray[np.uint32]
Floats32 = npt.NDArray[np.float32]

COLOUR_TYPES = ("uint8", "uint16")
_LOOK_PX = 256
_LOW, _HIGH = 1.0, 99.0
"""Per cent of a 16 bit picture that may turn black, and from which it may turn white (a choice)."""


FEW_ROWS = 32
"""Rows of 512 at a time: what is in between then stays near the processor, 2.4 times as fast as all at once."""
_PAIR = np.uint32(0x00FF00FF)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Which figures of a picture are black and white."""

    black: float
    white: float


def is_colour(source: Any) -> bool:
    """True where bands are colours: three or four of 8 or 16 bits, grey with alpha, or one with a table of colours."""
    from rasterio.enums import ColorInterp

    if source.count == 1:
        return bool(source.colorinterp[0] == ColorInterp.palette)
    if source.count == 2 and source.colorinterp[1] != ColorInterp.alpha:
        return False
    return source.count <= 4 and all(each in COLOUR_TYPES for each in source.dtypes)


def _bands(source: Any) -> list[int]:
    """Numbers of the bands for red, green and blue, or of the only one."""
    from rasterio.enums import ColorInterp

    said = list(source.colorinterp)
    wanted = (ColorInterp.red, ColorInterp.green, ColorInterp.blue)
    if source.count >= 3:
        return [said.index(each) + 1 for each in wanted] if set(wanted) <= set(said) else [1, 2, 3]
    return [1]


def find_stretch(source: Any) -> Stretch:
    """Black and white of a picture: 0 and 255 of 8 bits; of 16 what nearly all of it lies between, seen from afar."""
    if source.dtypes[0] == "uint8":
        return Stretch(0.0, 255.0)
    shape = (min(source.height, _LOOK_PX), min(source.width, _LOOK_PX))
    bands = _bands(source)
    figures = source.read(bands, out_shape=(len(bands), *shape))
    known = figures[:, source.dataset_mask(out_shape=shape) > 0]
    if not known.size:
        return Stretch(0.0, 65535.0)
    black, white = np.percentile(known, (_LOW, _HIGH))
    return Stretch(float(black), max(float(white), float(black) + 1.0))


def read_pixels(source: Any, box: tuple[int, int, int, int], out: tuple[int, int], stretch: Stretch) -> Pixels:
    """Pixels (rows, columns) of a box (left, top, width, height), made as small as ``out``."""
    from rasterio.enums import ColorInterp, MaskFlags, Resampling
    from rasterio.windows import Window

    window, bands = Window(*box), _bands(source)
    is_table = source.colorinterp[0] == ColorInterp.palette
    # colours of a table have no mean: their numbers are names
    way = Resampling.nearest if is_table or out == (box[3], box[2]) else Resampling.average
    figures = source.read(bands, window=window, out_shape=(len(bands), *out), resampling=way)
    colours = np.empty((*out, 4), np.uint8)
    if is_table:
        colours[:] = _table(source)[figures[0]]
    else:
        if stretch != Stretch(0.0, 255.0):
            share = (figures.astype(np.float32) - np.float32(stretch.black)) / np.float32(stretch.white - stretch.black)
            figures = (np.clip(share, 0.0, 1.0) * 255.0 + 0.5).astype(np.uint8)
        for place, band in enumerate((2, 1, 0) if len(bands) == 3 else (0, 0, 0)):
            colours[..., place] = figures[band]
        colours[..., 3] = 255
    if any(MaskFlags.all_valid not in flags for flags in source.mask_flag_enums):
        np.minimum(colours[..., 3], source.dataset_mask(window=window, out_shape=out), out=colours[..., 3])
    if not (colours[..., 3] == 255).all():
        alpha = colours[..., 3:].astype(np.uint16)
        colours[..., :3] = (colours[..., :3] * alpha + 127) // 255
    pixels: Pixels = colours.view("<u4")[..., 0].astype(np.uint32, copy=False)
    return pixels


def _table(source: Any) -> npt.NDArray[np.uint8]:
    """The table of colours (n, 4), blue first; black and clear where it names none."""
    colours = np.zeros((65536 if source.dtypes[0] == "uint16" else 256, 4), np.uint8)
    for number, (red, green, blue, alpha) in source.colormap(1).items():
        if number < len(colours):
            colours[number] = blue, green, red, alpha
    return colours


def sample(pixels: Pixels, across: Floats32, down: Floats32) -> Pixels:
    """Pixels (rows, columns) at places counted from the outer corner of the first one; clear outside.

    Straight lines between the middles of pixels, to a sixteenth of one, two channels at a time in one number.
    """
    found = np.empty(across.shape, np.uint32)
    for top in range(0, len(across), FEW_ROWS):
        part = np.s_[top : top + FEW_ROWS]
        found[part] = _mixed(pixels, across[part], down[part])
    return found


def _mixed(pixels: Pixels, across: Floats32, down: Floats32) -> Pixels:
    high, wide = pixels.shape
    column, right = _sixteenths(across, wide)
    row, below = _sixteenths(down, high)
    flat, corner = pixels.ravel(), row * np.int32(wide) + column
    next_column = (column < wide - 1).astype(np.int32)
    next_row = np.where(row < high - 1, np.int32(wide), np.int32(0))
    low = high_pair = np.uint32(0x00800080)
    for at, weight in (
        (corner, (16 - right) * (16 - below)),
        (corner + next_column, right * (16 - below)),
        (corner + next_row, (16 - right) * below),
        (corner + next_row + next_column, right * below),
    ):
        found = flat[at]
        low = low + (found & _PAIR) * weight
        high_pair = high_pair + ((found >> np.uint32(8)) & _PAIR) * weight
    mixed = ((low >> np.uint32(8)) & _PAIR) | (high_pair & ~_PAIR)
    return np.where((across >= 0) & (across <= wide) & (down >= 0) & (down <= high), mixed, np.uint32(0))


def _sixteenths(places: Floats32, count: int) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.uint32]]:
    """The pixel at or before each place, and how far beyond its middle, in sixteenths."""
    fine = np.clip(places * np.float32(16) - np.float32(7.5), 0, 16 * (count - 1)).astype(np.int32)
    return fine >> 4, (fine & 15).astype(np.uint32)
