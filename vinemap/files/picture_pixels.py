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
_LOW, _HIGH = 2.0, 98.0
"""Per cent of a 16 bit picture that may turn black, and from which it may turn white (a choice)."""
_COLOURS = ("red", "green", "blue")


FEW_ROWS = 32
"""Rows of 512 at a time: what is in between then stays near the processor, 2.4 times as fast as all at once."""
_PAIR = np.uint32(0x00FF00FF)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Which figures of a picture are black and white; white is the lower one where a picture is kept like a negative."""

    black: float
    white: float


def is_colour(source: Any) -> bool:
    """True where bands are colours: three or more of 8 or 16 bits, grey with alpha, or one with a table of colours."""
    from rasterio.enums import ColorInterp

    if source.count == 1:
        return bool(source.colorinterp[0] == ColorInterp.palette)
    if source.count == 2 and source.colorinterp[1] != ColorInterp.alpha:
        return False
    return all(each in COLOUR_TYPES for each in source.dtypes)


def may_be_grey(source: Any) -> bool:
    """True where nobody can tell figures from a grey picture: one band of plain whole numbers of 8 or 16 bits."""
    from rasterio.enums import ColorInterp

    is_plain = (source.count, *source.scales, *source.offsets) == (1, 1.0, 0.0)
    return is_plain and source.dtypes[0] in COLOUR_TYPES and source.colorinterp[0] != ColorInterp.palette


def _bands(source: Any) -> list[int]:
    """Numbers of the bands for red, green and blue, by what they are called before their order, or of the only one."""
    if source.count < 3:
        return [1]
    said = [each.name for each in source.colorinterp]
    called = [(each or "").strip().casefold() for each in source.descriptions]
    # names first: a file of many bands calls its first three red, green and blue whatever they hold
    for names in (called, said):
        if set(_COLOURS) <= set(names):
            return [names.index(each) + 1 for each in _COLOURS]
    return [1, 2, 3]


def how_shown(source: Any) -> tuple[str, ...]:
    """Sentences, without the name they begin with, on what is shown of a picture, where that is not simply all of it."""
    bands, said = _bands(source), [each.name for each in source.colorinterp]
    told = []
    more = source.count - len(bands) - ("alpha" in said)
    if len(bands) == 3 and more > 0:
        which = ", ".join(str(each) for each in bands)
        left_out = "1 more is left out" if more == 1 else f"{more} more are left out"
        told.append(f"bands {which} are shown as red, green and blue; {left_out}.")
    if source.dtypes[0] == "uint16" and said[0] != "palette":
        told.append(f"it has 16 bits: its darkest {_LOW:.0f} % are shown black and its lightest {100 - _HIGH:.0f} % white.")
    return tuple(told)


def find_stretch(source: Any) -> Stretch:
    """Black and white of a picture: 0 and 255 of 8 bits; of 16 what nearly all of it lies between, seen from afar."""
    found = _stretch(source)
    is_negative = source.tags(ns="IMAGE_STRUCTURE").get("MINISWHITE") == "YES"
    return Stretch(found.white, found.black) if is_negative else found


def _stretch(source: Any) -> Stretch:
    if source.dtypes[0] == "uint8":
        bits = int(source.tags(1, ns="IMAGE_STRUCTURE").get("NBITS", "8"))
        return Stretch(0.0, float(2 ** min(bits, 8) - 1))
    shape = (min(source.height, _LOOK_PX), min(source.width, _LOOK_PX))
    bands = _bands(source)
    figures = source.read(bands, out_shape=(len(bands), *shape))
    known = figures[:, _cover(source, None, shape) > 0]
    if not known.size:
        return Stretch(0.0, 65535.0)
    black, white = np.percentile(known, (_LOW, _HIGH))
    return Stretch(float(black), max(float(white), float(black) + 1.0))


def read_pixels(source: Any, box: tuple[int, int, int, int], out: tuple[int, int], stretch: Stretch) -> Pixels:
    """Pixels (rows, columns) of a box (left, top, width, height), made as small as ``out``."""
    from rasterio.enums import ColorInterp, Resampling
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
    np.minimum(colours[..., 3], _cover(source, window, out), out=colours[..., 3])
    if not (colours[..., 3] == 255).all():
        alpha = colours[..., 3:].astype(np.uint16)
        colours[..., :3] = (colours[..., :3] * alpha + 127) // 255
    pixels: Pixels = colours.view("<u4")[..., 0].astype(np.uint32, copy=False)
    return pixels


def _cover(source: Any, window: Any, out: tuple[int, int]) -> npt.NDArray[np.uint8]:
    """How much there is of each pixel (rows, columns) of a window, or of all of it: 0 to 255."""
    from rasterio.enums import ColorInterp, MaskFlags

    cover = np.full(out, 255, np.uint8)
    if any(MaskFlags.all_valid not in flags for flags in source.mask_flag_enums):
        np.minimum(cover, source.dataset_mask(window=window, out_shape=out), out=cover)
    if source.count > 4 and ColorInterp.alpha in source.colorinterp:
        # among more than four bands it is not counted as a mask
        alpha = source.read(source.colorinterp.index(ColorInterp.alpha) + 1, window=window, out_shape=out)
        np.minimum(cover, alpha if alpha.dtype == np.uint8 else (alpha >> 8).astype(np.uint8), out=cover)
    return cover


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
