"""Vines of a block, computed from its rows."""

from __future__ import annotations

import numpy as np

from vinemap.columns import Bytes, Floats, Ints
from vinemap.ground.block import LIVING, Block, RowTable, Vines


def row_bearings_deg(rows: RowTable) -> Floats:
    """Bearing of each row (n,) [degrees clockwise from grid north, 0..360), from its first to its last point."""
    first = rows.xy_m[rows.start[:-1]]
    last = rows.xy_m[rows.start[1:] - 1]
    step = last - first
    bearings: Floats = np.degrees(np.arctan2(step[:, 0], step[:, 1])) % 360.0
    return bearings


def usual_bearing_deg(rows: RowTable) -> float:
    """The block's usual row bearing [degrees, 0..180): mean of the axes weighted by row length.

    Axes are averaged as doubled angles (Mardia & Jupp 2000, Directional Statistics, section 1.4).
    """
    if len(rows) == 0:
        return 0.0
    first = rows.xy_m[rows.start[:-1]]
    last = rows.xy_m[rows.start[1:] - 1]
    step = last - first
    length = np.hypot(step[:, 0], step[:, 1])
    doubled = 2.0 * np.arctan2(step[:, 0], step[:, 1])
    mean = np.arctan2(float(np.sum(length * np.sin(doubled))), float(np.sum(length * np.cos(doubled))))
    return float(np.degrees(mean / 2.0) % 180.0)


def row_frame_m(x_m: Floats, y_m: Floats, bearing_deg: float) -> tuple[Floats, Floats]:
    """Metres along and across (n,) of points, for rows at ``bearing_deg``; across grows to the right of the row."""
    sin, cos = np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))
    return x_m * sin + y_m * cos, x_m * cos - y_m * sin


def distance_along_m(line_m: Floats) -> Floats:
    """Distance (k,) [m] of each point of a line (k, 2) from its start."""
    step = np.diff(line_m, axis=0)
    return np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])


def _points_of_row(line_m: Floats, distance_m: Floats) -> Floats:
    """Points (n, 2) [m] at distances along a row; past its end the last stretch is carried on straight."""
    along = distance_along_m(line_m)
    points = np.column_stack([np.interp(distance_m, along, line_m[:, axis]) for axis in (0, 1)])
    over = distance_m > along[-1]
    if over.any():
        tail = line_m[-1] - line_m[-2]
        points[over] = line_m[-1] + np.outer(distance_m[over] - along[-1], tail / np.hypot(*tail))
    return points


def row_starts(rows: RowTable) -> Ints:
    """Number (rows + 1,) of vines before each row."""
    return np.concatenate([[0], np.cumsum(rows.vine_count)]).astype(np.int32)


def whole_codes(block: Block) -> tuple[Bytes, Bytes]:
    """Status (n,) and variety (n,) of every vine of a block, as codes; the first variety is 0."""
    total = int(block.rows.vine_count.sum())
    status, variety = np.full(total, LIVING, np.int8), np.zeros(total, np.int8)
    differs = block.exceptions
    status[differs.vine] = differs.status
    named = differs.variety >= 0
    variety[differs.vine[named]] = differs.variety[named]
    return status, variety


def place_vines(block: Block) -> Vines:
    """Every vine place of the block with its position [m], status and variety."""
    rows = block.rows
    count = rows.vine_count
    row_start = row_starts(rows)
    total = int(row_start[-1])
    row = np.repeat(np.arange(len(rows), dtype=np.int32), count)
    ordinal = np.arange(total, dtype=np.int32) - row_start[row] + 1
    xy = np.empty((total, 2))
    points_per_row = np.diff(rows.start)
    straight = points_per_row[row] == 2
    if straight.any():
        first = rows.xy_m[rows.start[:-1]]
        step = rows.xy_m[rows.start[1:] - 1] - first
        unit = step / np.hypot(step[:, 0], step[:, 1])[:, None]
        distance = (ordinal - 1) * rows.vine_spacing_m[row]
        xy[straight] = (first[row] + unit[row] * distance[:, None])[straight]
    for index in np.flatnonzero(points_per_row > 2):
        distance = np.arange(count[index]) * rows.vine_spacing_m[index]
        xy[row_start[index] : row_start[index + 1]] = _points_of_row(rows.line_m(int(index)), distance)
    along, across = row_frame_m(xy[:, 0], xy[:, 1], usual_bearing_deg(rows))
    status, variety = whole_codes(block)
    return Vines(row, ordinal, xy[:, 0], xy[:, 1], along, across, status, variety, row_start)
