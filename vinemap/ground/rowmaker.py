"""Straight rows made from an outline, where nobody has mapped the real ones."""

from __future__ import annotations

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.ground.block import RowTable
from vinemap.ground.vines import row_frame_m

SMALLEST_SPACING_M, LARGEST_SPACING_M = 0.3, 20.0
MOST_VINES = 2_000_000
_INSIDE_M = 1e-3


def make_rows(
    outline: shapely.Polygon, bearing_deg: float, row_spacing_m: float, vine_spacing_m: float, headland_m: float = 0.0
) -> RowTable:
    """Rows [m] that fill an outline [m] and leave its holes free, numbered from 1 to the right of the row bearing.

    ``bearing_deg`` [degrees clockwise from grid north]; ``headland_m`` [m] is kept free at both ends of each row. The
    first row stands half a row spacing inside the edge. Vines of all rows share one grid along the rows, which starts half
    a vine spacing inside the outline's end, so that square plantings line up both ways. A row that an opening cuts goes on
    under its number with a letter: 7, 7a, 7b. Raises InputError when the figures can't be used or no vine fits.
    """
    _check(outline, bearing_deg, row_spacing_m, vine_spacing_m, headland_m)
    bearing_deg = bearing_deg % 360.0
    turned = shapely.transform(outline, lambda xy: np.column_stack(row_frame_m(xy[:, 0], xy[:, 1], bearing_deg)))
    along_0, across_0, along_1, across_1 = shapely.bounds(turned)
    across = np.arange(across_0 + row_spacing_m / 2.0, across_1 - _INSIDE_M, row_spacing_m)
    ends = np.array([along_0 - 1.0, along_1 + 1.0])
    lines = shapely.linestrings(np.stack(np.broadcast_arrays(ends[None, :], across[:, None]), axis=-1))
    shapely.prepare(turned)
    cut = shapely.intersection(lines, turned)
    labels: list[str] = []
    pieces: list[tuple[float, float, float, int]] = []
    for line, at in zip(cut, across, strict=True):
        number_of_row = sum(1 for label in labels if label.isdecimal()) + 1
        kept = 0
        for start, end in _intervals(line):
            first = np.ceil((start + headland_m + _INSIDE_M - along_0) / vine_spacing_m - 0.5)
            last = np.floor((end - headland_m - _INSIDE_M - along_0) / vine_spacing_m - 0.5)
            count = int(last - first) + 1
            if count < 1:
                continue
            labels.append(f"{number_of_row}{_letters(kept)}")
            pieces.append((at, along_0 + (first + 0.5) * vine_spacing_m, end, count))
            kept += 1
    if not pieces:
        raise InputError("No vine fits into the outline.", "Check the row bearing, the spacings and the headland.")
    return _table(labels, pieces, bearing_deg, vine_spacing_m)


def _check(
    outline: shapely.Polygon, bearing_deg: float, row_spacing_m: float, vine_spacing_m: float, headland_m: float
) -> None:
    if outline.is_empty or not outline.is_valid or outline.area <= 0:
        raise InputError("The outline is empty or crosses itself.", "Draw it again.")
    for words, spacing_m in (("row", row_spacing_m), ("vine", vine_spacing_m)):
        if not SMALLEST_SPACING_M <= spacing_m <= LARGEST_SPACING_M:
            raise InputError(
                f"A {words} spacing of {spacing_m:g} m can't be used.",
                f"Give metres, from {SMALLEST_SPACING_M:g} to {LARGEST_SPACING_M:g}.",
            )
    if not np.isfinite(bearing_deg):
        raise InputError("The row bearing is not a number.", "Give degrees clockwise from grid north.")
    if not headland_m >= 0.0:
        raise InputError(f"A headland of {headland_m:g} m can't be used.", "Give 0 or more metres.")
    if outline.area / (row_spacing_m * vine_spacing_m) > MOST_VINES:
        raise InputError(
            f"The outline would hold more than {MOST_VINES:,} vines.", "Check that it is one block and in metres."
        )


def _intervals(cut: shapely.Geometry) -> list[tuple[float, float]]:
    """Where a row line runs inside, as (start, end) along it [m], joined where they only touch."""
    pieces = [shapely.bounds(part)[[0, 2]] for part in shapely.get_parts(cut) if shapely.length(part) > 0]
    joined: list[tuple[float, float]] = []
    for start, end in sorted((float(piece[0]), float(piece[1])) for piece in pieces):
        if joined and start - joined[-1][1] < _INSIDE_M:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return joined


def _letters(index: int) -> str:
    """Nothing, a, b, ... z, aa, ab, ..."""
    letters = ""
    while index > 0:
        index, rest = divmod(index - 1, 26)
        letters = chr(ord("a") + rest) + letters
    return letters


def _table(
    labels: list[str], pieces: list[tuple[float, float, float, int]], bearing_deg: float, vine_spacing_m: float
) -> RowTable:
    across, first, end, count = (np.array(column) for column in zip(*pieces, strict=True))
    last = first + (count - 1) * vine_spacing_m
    # a lone vine still needs a line with a direction
    last = np.where(count == 1, np.maximum(end, first + 0.1 * vine_spacing_m), last)
    xy = np.empty((2 * len(labels), 2))
    xy[0::2] = _on_ground(first, across, bearing_deg)
    xy[1::2] = _on_ground(last, across, bearing_deg)
    start = np.arange(0, 2 * len(labels) + 1, 2, dtype=np.int32)
    return RowTable(tuple(labels), xy, start, np.full(len(labels), vine_spacing_m), count)


def _on_ground(along_m: Floats, across_m: Floats, bearing_deg: float) -> Floats:
    sin, cos = np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))
    return np.column_stack([along_m * sin + across_m * cos, along_m * cos - across_m * sin])
