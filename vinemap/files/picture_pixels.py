"""Pixels of an open picture as red, green, blue and alpha of 8 bits, whatever its bands are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from vinemap.columns import Floats

Pixels = npt.NDArray[np.uint8]

COLOUR_TYPES = ("uint8", "uint16")
_LOOK_PX = 256
_LOW, _HIGH = 1.0, 99.0
"""Per cent of a 16 bit picture that may turn black, and from which it may turn white (a choice)."""


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
    """Pixels (rows, columns, 4) of a box (left, top, width, height), made as small as ``out``, colours times alpha."""
    from rasterio.enums import ColorInterp, MaskFlags, Resampling
    from rasterio.windows import Window

    window, bands = Window(*box), _bands(source)
    is_table = source.colorinterp[0] == ColorInterp.palette
    # colours of a table have no mean: their numbers are names
    way = Resampling.nearest if is_table or out == (box[3], box[2]) else Resampling.average
    figures = source.read(bands, window=window, out_shape=(len(bands), *out), resampling=way)
    pixels = np.empty((*out, 4), np.uint8)
    if is_table:
        pixels[:] = _table(source)[figures[0]]
    else:
        if stretch != Stretch(0.0, 255.0):
            share = (figures.astype(np.float32) - np.float32(stretch.black)) / np.float32(stretch.white - stretch.black)
            figures = (np.clip(share, 0.0, 1.0) * 255.0 + 0.5).astype(np.uint8)
        pixels[..., :3] = np.moveaxis(figures, 0, -1)
        pixels[..., 3] = 255
    if any(MaskFlags.all_valid not in flags for flags in source.mask_flag_enums):
        mask = source.dataset_mask(window=window, out_shape=out)
        pixels[..., 3] = np.minimum(pixels[..., 3], mask)
    if not (pixels[..., 3] == 255).all():
        alpha = pixels[..., 3:].astype(np.uint16)
        pixels[..., :3] = (pixels[..., :3] * alpha + 127) // 255
    return pixels


def _table(source: Any) -> Pixels:
    """The table of colours (n, 4), black and clear where it names none."""
    colours = np.zeros((65536 if source.dtypes[0] == "uint16" else 256, 4), np.uint8)
    for number, colour in source.colormap(1).items():
        if number < len(colours):
            colours[number] = colour
    return colours


def sample(pixels: Pixels, across: Floats, down: Floats) -> Pixels:
    """Pixels (rows, columns, 4) at places counted from the outer corner of the first one, straight lines between
    their middles; clear outside."""
    from scipy.ndimage import map_coordinates

    high, wide = pixels.shape[:2]
    places = np.stack([np.clip(down - 0.5, 0, high - 1), np.clip(across - 0.5, 0, wide - 1)]).astype(np.float32)
    found = np.empty((*across.shape, 4), np.uint8)
    for band in range(4):
        found[..., band] = map_coordinates(pixels[..., band], places, order=1, mode="nearest", prefilter=False)
    found[(across < 0) | (across > wide) | (down < 0) | (down > high)] = 0
    return found
