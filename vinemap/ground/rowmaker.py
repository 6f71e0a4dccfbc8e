"""Straight rows made from an outline, where nobody has mapped the real ones."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.ground.block import RowTable
from vinemap.ground.vines import row_frame_m

SMALLEST_SPACING_M, LARGEST_SPACING_M = 0.3, 20.0
MOST_VINES = 2_000_000
LARGEST_ROW = 100_000
SIDE_DEG = 30.0
"""An edge of the outline nearer than this to the rows [degrees] is a side; others end rows (a choice)."""
_INSIDE_M = 1e-3


def make_rows(
    outline: shapely.Polygon,
    bearing_deg: float,
    row_spacing_m: float,
    vine_spacing_m: float,
    headland_m: float = 0.0,
    first_row: int = 1,
    is_from_left: bool = True,
    is_offset: bool = False,
) -> RowTable:
    """Rows [m] that fill an outline [m] and leave its holes free, numbered from ``first_row``.

    ``bearing_deg`` [degrees clockwise from grid north]; ``headland_m`` [m] is the width kept free along the outline where
    rows end. The first row stands half a row spacing inside the edge, on the left of the row bearing or else on its right.
    Vines of all rows share one grid along the rows, which starts half a vine spacing inside the outline's end, so that
    square plantings line up both ways; with ``is_offset`` every other row is shifted by half a vine spacing (quincunx). A row
    that an opening cuts goes on under its number with a letter: 7, 7a, 7b. Raises InputError when the figures can't be used
    or no vine fits.
    """
    check_planting(outline, row_spacing_m, vine_spacing_m, headland_m, first_row)
    if not np.isfinite(bearing_deg):
        raise InputError("The row bearing is not a number.", "Give degrees clockwise from grid north.")
    bearing_deg = bearing_deg % 360.0
    turned = shapely.transform(outline, lambda xy: np.column_stack(row_frame_m(xy[:, 0], xy[:, 1], bearing_deg)))
    along_0, across_0, along_1, across_1 = shapely.bounds(turned)
    across = np.arange(row_spacing_m / 2.0, across_1 - across_0 - _INSIDE_M, row_spacing_m)
    across = across_0 + across if is_from_left else across_1 - across
    ends = np.array([along_0 - 1.0, along_1 + 1.0])
    lines = shapely.linestrings(np.stack(np.broadcast_arrays(ends[None, :], across[:, None]), axis=-1))
    shapely.prepare(turned)
    cut = shapely.intersection(lines, turned)
    free = headland_zone(turned, np.array([[0.0, 0.0], [1.0, 0.0]]), headland_m)
    labels: list[str] = []
    pieces: list[tuple[float, float, float, int]] = []
    number = first_row
    for order, (line, at) in enumerate(zip(cut, across, strict=True)):
        shift = 0.5 if is_offset and order % 2 else 0.0
        kept = 0
        for start, end in _kept(line, free, headland_m):
            first = np.ceil((start + _INSIDE_M - along_0) / vine_spacing_m - 0.5 - shift)
            last = np.floor((end - _INSIDE_M - along_0) / vine_spacing_m - 0.5 - shift)
            count = int(last - first) + 1
            if count < 1:
                continue
            labels.append(f"{number}{letters_of(kept)}")
            pieces.append((at, along_0 + (first + 0.5 + shift) * vine_spacing_m, end, count))
            kept += 1
        number += kept > 0
    if not pieces:
        raise InputError("No vine fits into the outline.", "Check the row bearing, the spacings and the headland.")
    return _table(labels, pieces, bearing_deg, vine_spacing_m)


def headland_zone(outline: shapely.Polygon, course_m: Floats, headland_m: float) -> shapely.Geometry:
    """The ground [m] within a headland of those edges of an outline, holes too, that cross the course (k, 2) [m] of the rows.

    An edge nearer than 30 degrees to the course beside it is a side, along which rows may run; all others end rows.
    """
    if headland_m <= 0.0:
        return shapely.Polygon()
    rings = [np.asarray(ring.coords)[:, :2] for ring in (outline.exterior, *outline.interiors)]
    edges = np.concatenate([np.stack([ring[:-1], ring[1:]], axis=1) for ring in rings])
    steps = edges[:, 1] - edges[:, 0]
    edges, steps = edges[np.any(steps != 0.0, axis=1)], steps[np.any(steps != 0.0, axis=1)]
    course_steps = np.diff(course_m, axis=0)
    middles = shapely.points(edges.mean(axis=1))
    parts = shapely.linestrings(np.stack([course_m[:-1], course_m[1:]], axis=1))
    beside = np.argmin(np.stack([shapely.distance(part, middles) for part in parts]), axis=0)
    course = course_steps[beside]
    turn = abs(steps[:, 0] * course[:, 1] - steps[:, 1] * course[:, 0])
    ends = turn > np.sin(np.radians(SIDE_DEG)) * np.hypot(*steps.T) * np.hypot(*course.T)
    return shapely.union_all(shapely.buffer(shapely.linestrings(edges[ends]), headland_m))


def check_planting(
    outline: shapely.Polygon, row_spacing_m: float, vine_spacing_m: float, headland_m: float, first_row: int
) -> None:
    """Raise InputError where rows can't be made with these figures [m]."""
    if outline.is_empty or not outline.is_valid or outline.area <= 0:
        raise InputError("The outline is empty or crosses itself.", "Draw it again.")
    for words, spacing_m in (("row", row_spacing_m), ("vine", vine_spacing_m)):
        if not SMALLEST_SPACING_M <= spacing_m <= LARGEST_SPACING_M:
            raise InputError(
                f"A {words} spacing of {spacing_m:g} m can't be used.",
                f"Give metres, from {SMALLEST_SPACING_M:g} to {LARGEST_SPACING_M:g}.",
            )
    if not (headland_m >= 0.0 and np.isfinite(headland_m)):
        raise InputError(f"A headland of {headland_m:g} m can't be used.", "Give 0 or more metres.")
    if not 0 <= first_row <= LARGEST_ROW:
        raise InputError(f"Rows can't be numbered from {first_row}.", f"Begin with 0 to {LARGEST_ROW:,}.")
    if outline.area / (row_spacing_m * vine_spacing_m) > MOST_VINES:
        raise InputError(
            f"The outline would hold more than {MOST_VINES:,} vines.", "Check that it is one block and in metres."
        )


def _kept(cut: shapely.Geometry, free: shapely.Geometry, headland_m: float) -> list[tuple[float, float]]:
    """Where a row line runs inside and off the headlands, as (start, end) along it [m]."""
    inside = [(start + headland_m, end - headland_m) for start, end in _intervals(cut)]
    if not free.is_empty:
        off = _intervals(shapely.difference(cut, free))
        inside = [(max(a, c), min(b, d)) for a, b in inside for c, d in off]
    return [(start, end) for start, end in inside if end > start]


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


def free_label(label: str, piece: int, taken: Collection[str]) -> str:
    """The label of a row with the letters of a piece (from 1), or the next ones that make a label not yet taken."""
    while (new := f"{label}{letters_of(piece)}") in taken:
        piece += 1
    return new


def letters_of(index: int) -> str:
    """What a piece of a row adds to its number: nothing, a, b, ... z, aa, ab, ..."""
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
