"""An aerial picture below a tile: pale, so that it stays paper and the ink above it can be read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from vinemap.errors import FileError
from vinemap.files.picture_pixels import FEW_ROWS, Pixels
from vinemap.files.picture_reader import PictureFile
from vinemap.sheets.ink import Ink

STRENGTH = 0.36
"""How much of the picture is left on the paper; at half the vines' dots begin to drown in it."""
COLOUR = 0.55
"""How much of its colour is left: what is coloured on this map tells of mildew or of work."""
_STRENGTH_256, _COLOUR_256 = np.uint32(round(256 * STRENGTH)), np.uint32(round(256 * COLOUR))


@dataclass(frozen=True, slots=True, eq=False)
class Underlay:
    """The picture below a map; ``tell(picture, error)`` is called on a worker thread when its file fails."""

    picture: PictureFile
    tell: Callable[[PictureFile, FileError], None]


def lay_under(pixels: Pixels, underlay: Underlay, ink: Ink, west_m: float, north_m: float, m_per_px: float) -> None:
    """Lay the picture over the bare sheet of a tile (n, n) whose upper left corner is at a place [m], in place.

    Where the picture has nothing, or fails, the sheet stays.
    """
    try:
        piece = underlay.picture.read_piece(west_m, north_m, m_per_px, len(pixels))
    except FileError as error:
        underlay.tell(underlay.picture, error)
        return
    if piece is not None:
        for top in range(0, len(pixels), FEW_ROWS):
            pixels[top : top + FEW_ROWS] = pale(piece[top : top + FEW_ROWS], ink)


def pale(piece: Pixels, ink: Ink) -> Pixels:
    """Opaque pixels 0xAARRGGBB (n, n) of a piece whose colours are times its alpha, on the sheet.

    In whole numbers, for speed; grey is the luma of ITU-R BT.601 (1982).
    """
    alpha = piece >> np.uint32(24)
    clear = 65536 - _STRENGTH_256 * (alpha + (alpha >> np.uint32(7)))
    channels = [(piece >> np.uint32(shift)) & np.uint32(255) for shift in (16, 8, 0)]
    grey = (channels[0] * 77 + channels[1] * 150 + channels[2] * 29) * (256 - _COLOUR_256) >> np.uint32(8)
    laid = np.full(piece.shape, 0xFF000000, np.uint32)
    for number, (shift, channel) in enumerate(zip((16, 8, 0), channels, strict=True)):
        sheet = int(ink.sheet[1 + 2 * number : 3 + 2 * number], 16)
        mixed = (grey + channel * _COLOUR_256) * _STRENGTH_256 + sheet * clear + 32768
        laid |= (mixed >> np.uint32(16)) << np.uint32(shift)
    return laid
