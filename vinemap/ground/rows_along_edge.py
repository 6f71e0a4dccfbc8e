"""Rows that follow a curved edge of the outline, each beside the other at one spacing."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.ground.block import RowTable
from vinemap.ground.follow import table_of
from vinemap.ground.renumber import across_sign
from vinemap.ground.rowmaker import check_planting, headland_zone, letters_of
from vinemap.ground.rows_by_hand import run_line_m

CORNER_DEG = 35.0
"""Where the outline turns by more than this one edge ends and the next begins (a choice)."""
FURTHEST_FROM_BEARING_DEG = 45.0
_SMOOTH_M = 0.02
_SHORTEST_M = 0.05
_INSIDE_M = 1e-3


def edge_along(outline: shapely.Polygon, bearing_deg: float, from_side: str = "") -> Floats:
    """The edge (k, 2) [m] of an outline that runs most nearly along a bearing [degrees], in its direction.

    An edge goes on round gentle bends, to the next corner. Of those within 45 degrees of the bearing it is the longest,
    or on ``from_side`` (north, east, south or west) the outermost that is at least half as long.
    Raises InputError when there is none.
    """
    u = np.array([np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))])
    fitting: list[tuple[float, float, Floats]] = []
    for edge in _edges(outline):
        step = edge[-1] - edge[0]
        length = float(np.hypot(*step))
        if length <= 0.0 or abs(float(step @ u)) < length * np.cos(np.radians(FURTHEST_FROM_BEARING_DEG)):
            continue
        edge = edge if float(step @ u) > 0 else edge[::-1]
        # how far to the left of the bearing its middle lies
        left = float(-(edge.mean(axis=0) @ np.array([u[1], -u[0]])))
        fitting.append((left, shapely.LineString(edge).length, edge))
    if not fitting:
        raise InputError("No edge of the outline runs along that bearing.", "Give the bearing of the edge to follow.")
    if from_side:
        sign = across_sign(bearing_deg, from_side)
        longest_m = max(length_m for _, length_m, _ in fitting)
        fitting = [each for each in fitting if each[1] >= longest_m / 2.0]
        return max(fitting, key=lambda each: sign * each[0])[2]
    return max(fitting, key=lambda each: each[1])[2]


def make_rows_along(
    outline: shapely.Polygon,
    edge_m: Floats,
    row_spacing_m: float,
    vine_spacing_m: float,
    headland_m: float = 0.0,
    first_row: int = 1,
    is_offset: bool = False,
) -> RowTable:
    """Rows [m] beside an edge (k, 2) [m] of an outline [m], the first half a row spacing inside, each curved as the edge is.

    Ground that lies beyond the edge where it is carried on straight gets rows too, and those come first.
    Vines stand along each curve from half a vine spacing inside its start; with ``is_offset`` from a quarter and three
    quarters in turn. Headland, cuts and labels are as for straight rows. Raises InputError when the figures can't be
    used or no vine fits.
    """
    check_planting(outline, row_spacing_m, vine_spacing_m, headland_m, first_row)
    reach_m = float(np.hypot(*np.ptp(np.asarray(outline.exterior.coords)[:, :2], axis=0)))
    course = shapely.LineString(_carried_on(edge_m, reach_m))
    free = headland_zone(outline, edge_m, headland_m)
    ground = shapely.difference(outline, free) if not free.is_empty else outline
    side = _inner_side(outline, edge_m)
    shapely.prepare(outline)
    labels: list[str] = []
    lines: list[Floats] = []
    counts: list[int] = []
    number = first_row
    most = int(reach_m / row_spacing_m) + 1
    # an arm of the block may lie on the far side of the edge, where the edge is carried on
    for order in range(-most, most):
        away_m = (order + 0.5) * row_spacing_m
        curve = shapely.offset_curve(course, side * away_m, quad_segs=16, join_style="round")
        kept = 0
        for piece in _pieces(shapely.intersection(curve, ground), course):
            first_m = vine_spacing_m * (0.5 if not is_offset else 0.75 if order % 2 else 0.25)
            count = int(np.floor((shapely.LineString(piece).length - _INSIDE_M - first_m) / vine_spacing_m)) + 1
            if count < 1:
                continue
            last_m = first_m + (count - 1) * vine_spacing_m
            labels.append(f"{number}{letters_of(kept)}")
            lines.append(run_line_m(piece, first_m, max(last_m, first_m + 0.1 * vine_spacing_m)))
            counts.append(count)
            kept += 1
        number += kept > 0
    if not labels:
        raise InputError("No vine fits into the outline.", "Check the edge, the spacings and the headland.")
    return table_of(labels, lines, [vine_spacing_m] * len(labels), counts)


def _edges(outline: shapely.Polygon) -> list[Floats]:
    """The outer ring [m], parted at its corners."""
    ring = np.asarray(outline.exterior.coords)[:, :2]
    ring = ring[:-1]
    ring = ring[np.any(ring != np.roll(ring, 1, axis=0), axis=1)]
    step = np.roll(ring, -1, axis=0) - ring
    bearing = np.degrees(np.arctan2(step[:, 0], step[:, 1]))
    turn = abs((bearing - np.roll(bearing, 1) + 180.0) % 360.0 - 180.0)
    corners = np.flatnonzero(turn > CORNER_DEG)
    if not len(corners):
        # a round outline has no corner: part it where it turns most
        corners = np.array([int(np.argmax(turn)), (int(np.argmax(turn)) + len(ring) // 2) % len(ring)])
    ends = np.append(corners, corners[0] + len(ring))
    return [ring[np.arange(a, b + 1) % len(ring)] for a, b in pairwise(ends.tolist())]


def _carried_on(edge_m: Floats, reach_m: float) -> Floats:
    """The edge with both ends carried on straight."""
    first, last = edge_m[0] - edge_m[1], edge_m[-1] - edge_m[-2]
    return np.vstack([edge_m[0] + first / np.hypot(*first) * reach_m, edge_m, edge_m[-1] + last / np.hypot(*last) * reach_m])


def _inner_side(outline: shapely.Polygon, edge_m: Floats) -> float:
    """1 where the ground lies to the left of the edge, -1 to the right."""
    line = shapely.LineString(edge_m)
    reach_m = max(line.length * 0.01, 0.01)
    sides = {side: shapely.buffer(line, side * reach_m, single_sided=True, cap_style="flat") for side in (1.0, -1.0)}
    return max(sides, key=lambda side: float(shapely.area(shapely.intersection(sides[side], outline))))


def _pieces(cut: shapely.Geometry, course: shapely.LineString) -> list[Floats]:
    """The pieces [m] of a curve, each in the direction of the course and in order along it."""
    merged = shapely.line_merge(cut) if cut.geom_type == "MultiLineString" else cut
    parts = [part for part in shapely.get_parts(merged) if part.geom_type == "LineString" and part.length > _SHORTEST_M]
    found: list[tuple[float, Floats]] = []
    for part in parts:
        points = np.asarray(shapely.simplify(part, _SMOOTH_M).coords)[:, :2]
        first, last = (float(shapely.line_locate_point(course, shapely.Point(*points[end]))) for end in (0, -1))
        found.append((min(first, last), points if last >= first else points[::-1]))
    return [points for _, points in sorted(found, key=lambda each: each[0])]
