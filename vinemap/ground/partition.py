"""One block made into two along a line, and two made into one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely
from shapely import ops

from vinemap.columns import Bools, Floats, Ints
from vinemap.errors import InputError
from vinemap.ground.address import row_order
from vinemap.ground.block import Block, RowTable, Vines
from vinemap.ground.follow import Reshaped, Went, carried, lines_of, stayed, table_of
from vinemap.ground.rowmaker import free_label
from vinemap.ground.rows_by_hand import row_number, run_line_m
from vinemap.ground.vines import place_vines, row_frame_m, row_starts, usual_bearing_deg

WIDEST_LANE_M = 12.0
"""Blocks that lie farther apart than this are not merged (a choice: a lane for two tractors)."""
MOST_VARIETIES = 127
_OVER_M = 0.01
_POINTS = 40


def split_along(block: Block, line_m: Floats, name: str) -> Reshaped:
    """The block cut along a line (k, 2) [m]; the part with vine 1 of the first row keeps its name, the other gets ``name``.

    The line is carried on straight to the outline at both ends. A row that it crosses is cut too: the part in the new block
    counts from 1 again. Raises InputError when the line does not make two parts with vines of the block.
    """
    pieces = _cut(block.outline, line_m)
    vines = place_vines(block)
    side = _sides(pieces, vines)
    if len(side) and side[0] == 1:
        pieces, side = pieces[::-1], 1 - side
    if not len(side) or not side.any() or side.all():
        raise InputError("One part would have no vines.", "Cut between vines, or move a corner of the outline instead.")
    return _split(block, pieces, side, name)


def split_after(block: Block, label: str, name: str) -> Reshaped:
    """The block cut midway between a row and the next one in order of labels; the rows after it go to the new block.

    Raises InputError when no row comes after, or the rows do not lie in the order of their labels.
    """
    row_number(block, label)
    rows = block.rows
    order = row_order(rows.labels)
    at = next(place for place, row in enumerate(order) if rows.labels[row] == label)
    bearing_deg = usual_bearing_deg(rows)
    across = np.array([_across(rows.line_m(row), bearing_deg) for row in range(len(rows))])
    before, after = order[: at + 1], order[at + 1 :]
    if not after:
        raise InputError(f"No row comes after row {label}.", "Name an earlier row.")
    nearest = min(after, key=lambda row: abs(across[row] - across[order[at]]))
    if abs(across[nearest] - across[order[at]]) < 0.25 * block.row_spacing_m:
        raise InputError(
            f"Row {rows.labels[nearest]} lies on the line of row {label}.",
            f"Write “after row {rows.labels[nearest]}”.",
        )
    line = _midway(rows.line_m(order[at]), rows.line_m(nearest))
    pieces = _cut(block.outline, line)
    vines = place_vines(block)
    side = _sides(pieces, vines)
    if side[np.flatnonzero(vines.row == order[at])[0]] == 1:
        pieces, side = pieces[::-1], 1 - side
    is_after: Bools = np.isin(vines.row, after)
    wrong = np.flatnonzero(is_after != (side == 1))
    if len(wrong):
        first = rows.labels[int(vines.row[wrong[0]])]
        where = "after" if first in [rows.labels[row] for row in before] else "before"
        raise InputError(
            f"Row {first} lies {where} the cut, against its number.", "Renumber the rows first, or cut along a line."
        )
    return _split(block, pieces, side, name)


def merge(first: Block, second: Block, name: str) -> tuple[Reshaped, tuple[tuple[str, str], ...]]:
    """Two blocks as one, and the rows of the second that need another label, as (old, new).

    A lane between them, up to 12 m, becomes part of the block. The row spacing is that of the first; each row keeps its own
    vine spacing. Vigour is the mean by vines. Raises InputError when they lie apart or are trained in different ways.
    """
    if first.training != second.training:
        raise InputError(f"{first.name} is trained as {first.training}, {second.name} as {second.training}.", _KEEP_APART)
    varieties = tuple(dict.fromkeys((*first.varieties, *second.varieties)))
    if len(varieties) > MOST_VARIETIES:
        raise InputError(f"Together they have more than {MOST_VARIETIES} varieties.", _KEEP_APART)
    outline = _joined(first, second)
    labels, relabelled = list(first.rows.labels), []
    for label in second.rows.labels:
        new = free_label(label, 1, {*labels, *second.rows.labels}) if label in labels else label
        labels.append(new)
        relabelled += [(label, new)] if new != label else []
    table = table_of(
        labels,
        [*lines_of(first.rows), *lines_of(second.rows)],
        np.concatenate([first.rows.vine_spacing_m, second.rows.vine_spacing_m]).tolist(),
        np.concatenate([first.rows.vine_count, second.rows.vine_count]).tolist(),
    )
    weight = [float(each.rows.vine_count.sum()) for each in (first, second)]
    vigour = first.vigour
    if first.vigour != second.vigour:
        vigour = float(np.average([first.vigour, second.vigour], weights=weight))
    made = replace(first, name=name, outline=outline, rows=table, varieties=varieties, vigour=vigour)
    one, two = stayed(first.rows), stayed(second.rows)
    went = (one, Went(two.block, two.row + len(first.rows), two.vine))
    return carried([first, second], [made], went), tuple(relabelled)


_KEEP_APART = "Keep them as two blocks."


def _split(block: Block, pieces: Sequence[shapely.Polygon], side: Ints, name: str) -> Reshaped:
    """Two blocks from the side, 0 or 1, of every vine (n,)."""
    rows, starts = block.rows, row_starts(block.rows)
    new_row, vine = np.zeros(len(side), np.int32), np.zeros(len(side), np.int32)
    parts: tuple[list[tuple[str, Floats, float, int]], ...] = ([], [])
    for row, label in enumerate(rows.labels):
        of_row = side[starts[row] : starts[row + 1]]
        cuts = [0, *(np.flatnonzero(np.diff(of_row)) + 1).tolist(), len(of_row)]
        spacing_m = float(rows.vine_spacing_m[row])
        pieces_of = [0, 0]
        for begin, end in pairwise(cuts):
            where = int(of_row[begin])
            line = rows.line_m(row)
            if end - begin < len(of_row):
                line = run_line_m(line, begin * spacing_m, max(end - 1, begin + 0.1) * spacing_m)
            here = slice(starts[row] + begin, starts[row] + end)
            new_row[here] = len(parts[where])
            vine[here] = np.arange(1, end - begin + 1)
            new_label = free_label(label, pieces_of[where], rows.labels) if pieces_of[where] else label
            parts[where].append((new_label, line, spacing_m, end - begin))
            pieces_of[where] += 1
    made = [
        replace(block, name=new_name, outline=piece, rows=_table(part))
        for new_name, piece, part in zip((block.name, name), pieces, parts, strict=True)
    ]
    return carried([block], made, [Went(side, new_row, vine)])


def _sides(pieces: Sequence[shapely.Polygon], vines: Vines) -> Ints:
    """Which of two pieces (n,) every vine stands in, or nearer to where it stands outside both."""
    for piece in pieces:
        shapely.prepare(piece)
    inside = [shapely.contains_xy(piece, vines.x_m, vines.y_m) for piece in pieces]
    side: Ints = inside[1].astype(np.int32)
    open_ = np.flatnonzero(inside[0] == inside[1])
    places = shapely.points(vines.x_m[open_], vines.y_m[open_])
    side[open_] = np.argmin(np.stack([shapely.distance(piece, places) for piece in pieces]), axis=0)
    return side


def _table(parts: Sequence[tuple[str, Floats, float, int]]) -> RowTable:
    labels, lines, spacings, counts = (list(column) for column in zip(*parts, strict=True))
    return table_of(labels, lines, spacings, counts)


def _cut(outline: shapely.Polygon, line_m: Floats) -> list[shapely.Polygon]:
    """The two parts of an outline on both sides of a line that is carried on to its edge. Raises InputError."""
    line_m = line_m[np.concatenate([[True], np.any(np.diff(line_m, axis=0) != 0.0, axis=1)])]
    if len(line_m) < 2:
        raise InputError("The two ends of the cut are one place.", "Give two places, on both sides of the block.")
    reach_m = float(np.hypot(*np.ptp(np.vstack([np.asarray(outline.exterior.coords)[:, :2], line_m]), axis=0)))
    first, last = line_m[0] - line_m[1], line_m[-1] - line_m[-2]
    far = np.vstack([line_m[0] + first / np.hypot(*first) * reach_m, line_m, line_m[-1] + last / np.hypot(*last) * reach_m])
    whole, drawn = shapely.LineString(far), shapely.LineString(line_m)
    cuts = []
    for part in shapely.get_parts(shapely.intersection(whole, outline)):
        # a cut that the line itself does not touch is only met where the line was carried on: another arm of the block
        if part.length > 0.0 and shapely.distance(part, drawn) < _OVER_M:
            ends = sorted(shapely.line_locate_point(whole, shapely.Point(part.coords[end])) for end in (0, -1))
            cuts.append(ops.substring(whole, max(ends[0] - _OVER_M, 0.0), ends[1] + _OVER_M))
    edges = [shapely.LineString(ring.coords) for ring in (outline.exterior, *outline.interiors)]
    faces = shapely.get_parts(shapely.polygonize([shapely.union_all([*edges, *cuts])]))
    parts = [face for face in faces if outline.covers(shapely.point_on_surface(face))]
    if len(parts) != 2:
        raise InputError(
            "The line does not cut the block in two."
            if len(parts) < 2
            else f"The line cuts the block into {len(parts)} parts.",
            "Let it cross the block once, from edge to edge.",
        )
    return parts


def _joined(first: Block, second: Block) -> shapely.Polygon:
    """Both outlines as one, with the lane between them. Raises InputError when they lie apart."""
    both = shapely.union_all([first.outline, second.outline])
    if both.geom_type != "Polygon":
        gap_m = float(shapely.distance(first.outline, second.outline))
        if gap_m > WIDEST_LANE_M:
            raise InputError(f"{first.name} and {second.name} lie {gap_m:.0f} m apart.", _KEEP_APART)
        # a little more than the narrowest place, so that a lane that widens is taken in whole
        reach_m = 1.5 * gap_m + 0.1
        lane = shapely.intersection(first.outline.buffer(reach_m), second.outline.buffer(reach_m))
        both = shapely.union_all([both, shapely.intersection(lane, shapely.convex_hull(both))])
    if both.geom_type != "Polygon" or not both.is_valid:
        raise InputError(f"{first.name} and {second.name} only meet in a point.", _KEEP_APART)
    return both


def _midway(first_m: Floats, second_m: Floats) -> Floats:
    """The line midway between two rows, which may run in opposite directions."""
    count = 2 if len(first_m) == len(second_m) == 2 else _POINTS
    share = np.linspace(0.0, 1.0, count)
    one, two = (
        shapely.line_interpolate_point(shapely.LineString(line), share, normalized=True) for line in (first_m, second_m)
    )
    a, b = shapely.get_coordinates(one), shapely.get_coordinates(two)
    if float((a[-1] - a[0]) @ (b[-1] - b[0])) < 0.0:
        b = b[::-1]
    return np.asarray((a + b) / 2.0)


def _across(line_m: Floats, bearing_deg: float) -> float:
    across = row_frame_m(line_m[:, 0], line_m[:, 1], bearing_deg)[1]
    return float((across.min() + across.max()) / 2.0)
