"""An aerial picture below a tile: pale, so that it stays paper and the ink above it can be read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vinemap.errors import FileError
from vinemap.files.picture_reader import PictureFile
from vinemap.sheets.ink import Ink

STRENGTH = 0.36
"""How much of the picture is left on the paper; at half the vines' dots begin to drown in it."""
COLOUR = 0.55
"""How much of its colour is left: what is coloured on this map tells of mildew or of work."""
_LUMA = np.array([0.299, 0.587, 0.114], np.float32)  # ITU-R BT.601 (1982)


@dataclass(frozen=True, slots=True, eq=False)
class Underlay:
    """The picture below a map; ``tell(picture, error)`` is called on a worker thread when its file fails."""

    picture: PictureFile
    tell: Callable[[PictureFile, FileError], None]


def lay_under(
    pixels: npt.NDArray[np.uint32], underlay: Underlay, ink: Ink, west_m: float, north_m: float, m_per_px: float
) -> None:
    """Lay the picture over the bare sheet of a tile (n, n) whose upper left corner is at a place [m], in place.

    Where the picture has nothing, or fails, the sheet stays.
    """
    try:
        piece = underlay.picture.read_piece(west_m, north_m, m_per_px, len(pixels))
    except FileError as error:
        underlay.tell(underlay.picture, error)
        return
    if piece is not None:
        pixels[:] = pale(piece, ink)


def pale(piece: npt.NDArray[np.uint8], ink: Ink) -> npt.NDArray[np.uint32]:
    """Opaque pixels 0xAARRGGBB (n, n) of a piece (n, n, 4), whose colours are times its alpha, on the sheet."""
    colours, alpha = piece[..., :3].astype(np.float32), piece[..., 3:].astype(np.float32) / np.float32(255.0)
    grey = colours @ _LUMA
    sheet = np.array([int(ink.sheet[k : k + 2], 16) for k in (1, 3, 5)], np.float32)
    muted = grey[..., None] * np.float32(1.0 - COLOUR) + colours * np.float32(COLOUR)
    mixed = muted * np.float32(STRENGTH) + sheet * (1.0 - np.float32(STRENGTH) * alpha)
    whole = (mixed + np.float32(0.5)).astype(np.uint32)
    red, green, blue = whole[..., 0] << np.uint32(16), whole[..., 1] << np.uint32(8), whole[..., 2]
    laid: npt.NDArray[np.uint32] = np.uint32(0xFF000000) | red | green | blue
    return laid
