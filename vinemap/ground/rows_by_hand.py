"""Rows put right by hand: turned round, moved, added, deleted, counted again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely import ops

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.ground.block import Block, RowTable
from vinemap.ground.follow import GONE, Reshaped, Went, carried, lines_of, stayed, table_of
from vinemap.ground.rowmaker import LARGEST_SPACING_M, SMALLEST_SPACING_M
from vinemap.ground.vines import distance_along_m, row_starts, usual_bearing_deg

MOST_VINES_IN_ROW = 20_000
_LONE = 0.1
"""A lone vine still needs a line with a direction: this part of a vine spacing."""


def row_number(block: Block, label: str) -> int:
    """Index of the row of that label. Raises InputError."""
    if label not in block.rows.labels:
        raise InputError(f"Block {block.name} has no row {label}.", "Use a row label as it stands on the map.")
    return block.rows.labels.index(label)


def run_line_m(line_m: Floats, from_m: float, to_m: float) -> Floats:
    """The part (k, 2) [m] of a row's line between two distances [m] along it; past its end it goes on straight."""
    along = distance_along_m(line_m)
    if to_m > along[-1]:
        tail = line_m[-1] - line_m[-2]
        line_m = np.vstack([line_m[:-1], line_m[-1] + tail / np.hypot(*tail) * (to_m - along[-1])])
    if len(line_m) == 2:
        unit = (line_m[1] - line_m[0]) / np.hypot(*(line_m[1] - line_m[0]))
        return np.array([line_m[0] + unit * from_m, line_m[0] + unit * to_m])
    return np.asarray(ops.substring(shapely.LineString(line_m), from_m, to_m).coords)[:, :2]


def reverse_rows(block: Block, labels: tuple[str, ...]) -> Reshaped:
    """The block with vine 1 of these rows at their other end; the vines stay where they stand. Raises InputError."""
    rows = block.rows
    lines, way = lines_of(rows), stayed(rows)
    starts, vine = row_starts(rows), way.vine.copy()
    for label in labels:
        row = row_number(block, label)
        count, spacing_m = int(rows.vine_count[row]), float(rows.vine_spacing_m[row])
        if count > 1:
            lines[row] = run_line_m(lines[row], 0.0, (count - 1) * spacing_m)[::-1]
        else:
            first, second = lines[row][:2]
            lines[row] = np.array([first, first - (second - first) / np.hypot(*(second - first)) * _LONE * spacing_m])
        part = slice(starts[row], starts[row + 1])
        vine[part] = count + 1 - vine[part]
    made = replace(block, rows=table_of(rows.labels, lines, rows.vine_spacing_m.tolist(), rows.vine_count.tolist()))
    return carried([block], [made], [Went(way.block, way.row, vine)])


def move_block(block: Block, east_m: float, north_m: float) -> Reshaped:
    """The block, its outline and rows, moved by metres east and north. Raises InputError."""
    _refuse_far(east_m, north_m)
    step = np.array([east_m, north_m])
    rows = replace(block.rows, xy_m=block.rows.xy_m + step)
    outline = shapely.transform(block.outline, lambda xy: xy + step)
    return Reshaped((replace(block, outline=outline, rows=rows),), (stayed(rows),))


def move_row(block: Block, label: str, start_m: Floats, end_m: Floats) -> Reshaped:
    """The block with the ends of a row moved by ``start_m`` (2,) and ``end_m`` (2,) [m east, north].

    Points between move by their share of the way, and the vines are spread over the line as they were before: their number
    stays. Raises InputError when they would stand too near, or outside the outline.
    """
    row, rows = row_number(block, label), block.rows
    _refuse_far(*start_m)
    _refuse_far(*end_m)
    lines = lines_of(rows)
    was_m = distance_along_m(lines[row])
    share = (was_m / was_m[-1])[:, None]
    lines[row] = lines[row] + (1.0 - share) * np.asarray(start_m) + share * np.asarray(end_m)
    now_m = distance_along_m(lines[row])[-1]
    spacings = rows.vine_spacing_m.copy()
    if now_m != was_m[-1] and not np.allclose(start_m, end_m):
        spacings[row] *= now_m / was_m[-1]
    _refuse_spacing(float(spacings[row]), label)
    table = table_of(rows.labels, lines, spacings.tolist(), rows.vine_count.tolist())
    refuse_outside(block.outline, table, [row], block.row_spacing_m)
    return Reshaped((replace(block, rows=table),), (stayed(table),))


def spread_vines(block: Block, labels: tuple[str, ...]) -> Reshaped:
    """The block with the vines of these rows spread evenly from end to end of the line. Raises InputError."""
    rows, spacings = block.rows, block.rows.vine_spacing_m.copy()
    for label in labels:
        row = row_number(block, label)
        if rows.vine_count[row] > 1:
            spacings[row] = distance_along_m(rows.line_m(row))[-1] / (rows.vine_count[row] - 1)
        _refuse_spacing(float(spacings[row]), label)
    return Reshaped((replace(block, rows=replace(rows, vine_spacing_m=spacings)),), (stayed(rows),))


def count_row(block: Block, label: str, count: int) -> Reshaped:
    """The block with another number of vine places in a row, counted from vine 1. Raises InputError when they don't fit."""
    row, rows = row_number(block, label), block.rows
    if not 1 <= count <= MOST_VINES_IN_ROW:
        raise InputError(f"A row can't have {count} vines.", f"Give a number from 1 to {MOST_VINES_IN_ROW:,}.")
    spacing_m, length_m = float(rows.vine_spacing_m[row]), float(distance_along_m(rows.line_m(row))[-1])
    if (count - 1) * spacing_m > length_m + 1.5 * spacing_m:
        raise InputError(
            f"{count} vines every {spacing_m:.2f} m need {(count - 1) * spacing_m:.0f} m; row {label} has {length_m:.0f} m.",
            "Move the end of the row first.",
        )
    counts = rows.vine_count.copy()
    counts[row] = count
    way = stayed(rows)
    gone = (way.row == row) & (way.vine > count)
    made = replace(block, rows=replace(rows, vine_count=counts))
    return carried([block], [made], [Went(way.block, np.where(gone, GONE, way.row), way.vine)])


def delete_rows(block: Block, labels: tuple[str, ...]) -> Reshaped:
    """The block without these rows. Raises InputError when none would be left."""
    gone = sorted({row_number(block, label) for label in labels})
    kept = [row for row in range(len(block.rows)) if row not in gone]
    if not kept:
        raise InputError(f"Block {block.name} would have no row left.", "Delete the block instead.")
    rows, way = block.rows, stayed(block.rows)
    new_row = np.full(len(rows), GONE, np.int32)
    new_row[kept] = np.arange(len(kept))
    table = table_of(
        [rows.labels[row] for row in kept],
        [rows.line_m(row) for row in kept],
        rows.vine_spacing_m[kept].tolist(),
        rows.vine_count[kept].tolist(),
    )
    return carried([block], [replace(block, rows=table)], [Went(way.block, new_row[way.row], way.vine)])


def add_row(block: Block, beside: str, toward_deg: float, label: str) -> Reshaped:
    """The block with a row beside another, at the block's row spacing on the side toward a bearing [degrees].

    The new row is as long as fits into the outline, runs the same way and has the same vine spacing. Raises InputError when
    the side can't be told, a row stands there already, or no vine fits.
    """
    row, rows = row_number(block, beside), block.rows
    if label in rows.labels:
        raise InputError(f"Block {block.name} already has a row {label}.", "Give the new row another label.")
    line = shapely.LineString(rows.line_m(row))
    right_deg = usual_of_row_deg(rows, row) + 90.0
    turn = float(np.cos(np.radians(toward_deg - right_deg)))
    if abs(turn) < np.sin(np.radians(20.0)):
        raise InputError(f"Row {beside} runs that way itself.", "Name the side to its left or right, for example east.")
    shifted = shapely.offset_curve(line, -np.sign(turn) * block.row_spacing_m, join_style="mitre")
    inside = [part for part in shapely.get_parts(shapely.intersection(shifted, block.outline)) if part.length > 0]
    spacing_m = float(rows.vine_spacing_m[row])
    if not inside:
        raise InputError(f"There is no room inside {block.name} beside row {beside}.", "Move a corner of the outline first.")
    made = max(inside, key=lambda part: part.length)
    others = shapely.MultiLineString([rows.line_m(each) for each in range(len(rows))])
    if shapely.distance(others, made) < 0.5 * block.row_spacing_m:
        raise InputError(f"A row stands beside row {beside} there already.", "Name the row at the edge, or the other side.")
    points = _along(np.asarray(made.coords)[:, :2], line)
    count = int(np.floor(made.length / spacing_m + 1e-6)) + 1
    at = row + 1
    table = table_of(
        [*rows.labels[:at], label, *rows.labels[at:]],
        [*lines_of(rows)[:at], points, *lines_of(rows)[at:]],
        np.insert(rows.vine_spacing_m, at, spacing_m).tolist(),
        np.insert(rows.vine_count, at, count).tolist(),
    )
    way = stayed(rows)
    moved = Went(way.block, way.row + (way.row >= at), way.vine)
    return carried([block], [replace(block, rows=table)], [moved])


def usual_of_row_deg(rows: RowTable, row: int) -> float:
    """Bearing [degrees] of one row from its first to its last point."""
    step = rows.line_m(row)[-1] - rows.line_m(row)[0]
    return float(np.degrees(np.arctan2(step[0], step[1])))


def refuse_outside(outline: shapely.Polygon, rows: RowTable, which: list[int], reach_m: float) -> None:
    """Raise InputError where one of some rows leaves the outline by more than ``reach_m`` [m], as when rows are read."""
    reach = outline.buffer(reach_m)
    for row in which:
        if not shapely.contains_properly(reach, shapely.LineString(rows.line_m(row))):
            raise InputError(
                f"Row {rows.labels[row]} would lie outside the outline.", "Move the row and the outline in steps that fit."
            )


def rows_inside(outline: shapely.Polygon, rows: RowTable, reach_m: float) -> list[int]:
    """Rows that lie in the outline or leave it by no more than ``reach_m`` [m]."""
    reach = outline.buffer(reach_m)
    shapely.prepare(reach)
    return [row for row, line in enumerate(lines_of(rows)) if shapely.contains_properly(reach, shapely.LineString(line))]


def side_words(block: Block) -> tuple[str, str]:
    """The compass words of the two sides of the block's rows, for example west and east."""
    across_deg = (usual_bearing_deg(block.rows) + 90.0) % 180.0
    return ("west", "east") if 45.0 <= across_deg < 135.0 else ("south", "north")


def _along(points_m: Floats, line: shapely.LineString) -> Floats:
    first, last = (shapely.line_locate_point(line, shapely.Point(*points_m[end])) for end in (0, -1))
    return points_m if last >= first else points_m[::-1]


def _refuse_spacing(spacing_m: float, label: str) -> None:
    if not SMALLEST_SPACING_M <= spacing_m <= LARGEST_SPACING_M:
        raise InputError(
            f"The vines of row {label} would stand {spacing_m:.2f} m apart.",
            f"They can stand {SMALLEST_SPACING_M:g} to {LARGEST_SPACING_M:g} m apart.",
        )


FURTHEST_MOVE_M = 5_000.0
"""Nothing is put right by more than this: a larger step is a slip (a choice)."""


def _refuse_far(east_m: float, north_m: float) -> None:
    if not np.hypot(east_m, north_m) <= FURTHEST_MOVE_M:
        raise InputError("That is too far to move.", f"Give at most {FURTHEST_MOVE_M:g} m.")
