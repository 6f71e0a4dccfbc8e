"""Invented blocks on the ground: outlines from corners, rows clipped to them, vines that are not as their row says."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
import shapely.ops
from dice import draw_normal, pick, smooth_field

from vinemap.columns import Floats
from vinemap.ground.block import DEAD, LIVING, MISSING, REPLANT, WALL, Block, RowTable, VineExceptions
from vinemap.ground.vines import place_vines, row_frame_m

HEADLAND_M = 1.2
"""Least distance of a vine from the outline, so that rounding to the centimetre leaves every vine inside."""
FEWEST_VINES = 4
"""Shorter pieces of row are left unplanted."""

Corner = tuple[float, float, float]
"""East and north [m] from the estate's corner, and how far the side that starts here bulges to its left [m]."""


@dataclass(frozen=True)
class BlockPlan:
    """What is decided about a block before anything is drawn by chance.

    ``varieties`` with their shares; ``curve_m`` the centre [m] of curved rows; ``foci`` the number of patches where
    mildew starts; ``inoculum`` the incidence in such a patch at the start; ``luck`` how fast it grows here (1 is usual);
    ``loss`` share of vines missing, dead or replanted.
    """

    name: str
    corners: tuple[Corner, ...]
    bearing_deg: float
    row_spacing_m: float
    vine_spacing_m: float
    varieties: tuple[tuple[str, float], ...]
    training: str = WALL
    vigour: float = 0.5
    hole: tuple[Corner, ...] = ()
    curve_m: tuple[float, float] | None = None
    foci: int = 3
    inoculum: float = 0.02
    luck: float = 1.0
    loss: float = 0.05


def ring(corners: tuple[Corner, ...]) -> list[tuple[float, float]]:
    """Points of a ring whose sides may bulge, as sides along a creek or a track do."""
    points: list[tuple[float, float]] = []
    for (x, y, bulge), (next_x, next_y, _) in zip(corners, corners[1:] + corners[:1], strict=True):
        length = float(np.hypot(next_x - x, next_y - y))
        left = (-(next_y - y) / length, (next_x - x) / length)
        for part in (0.0, 0.14, 0.29, 0.43, 0.57, 0.71, 0.86) if bulge else (0.0,):
            out = 4.0 * bulge * part * (1.0 - part)
            points.append((x + (next_x - x) * part + left[0] * out, y + (next_y - y) * part + left[1] * out))
    return points


def outline_of(plan: BlockPlan) -> shapely.Polygon:
    """The outline [m], exterior anticlockwise as RFC 7946 asks, with its hole if it has one."""
    holes = [ring(plan.hole)] if plan.hole else []
    return shapely.orient_polygons(shapely.Polygon(ring(plan.corners), holes), exterior_cw=False)


def _straight_lines(plan: BlockPlan, area: shapely.Polygon) -> Iterator[shapely.LineString]:
    """Lines across the whole block at the row spacing, from the left edge to the right when looking along the bearing."""
    sin, cos = np.sin(np.radians(plan.bearing_deg)), np.cos(np.radians(plan.bearing_deg))
    points = shapely.get_coordinates(area.exterior)
    along, across = row_frame_m(points[:, 0], points[:, 1], plan.bearing_deg)
    # Whole spacings from the estate's corner on both axes, so that free-standing vines make a true grid.
    first_along = np.floor(along.min() / plan.vine_spacing_m) * plan.vine_spacing_m
    for step in range(int(np.ceil(across.min() / plan.row_spacing_m)), int(across.max() / plan.row_spacing_m) + 1):
        offset = step * plan.row_spacing_m
        start = (first_along * sin + offset * cos, first_along * cos - offset * sin)
        end = (along.max() * sin + offset * cos, along.max() * cos - offset * sin)
        yield shapely.LineString([start, end])


def _curved_lines(plan: BlockPlan, area: shapely.Polygon) -> Iterator[shapely.LineString]:
    """Arcs about the plan's centre at the row spacing, from the innermost out, in chords of about four metres."""
    assert plan.curve_m is not None
    step = shapely.get_coordinates(area.exterior) - np.array(plan.curve_m)
    radius, bearing = np.hypot(step[:, 0], step[:, 1]), np.arctan2(step[:, 0], step[:, 1])
    for count in range(int(np.ceil(radius.min() / plan.row_spacing_m)) - 4, int(radius.max() / plan.row_spacing_m) + 1):
        around = count * plan.row_spacing_m
        angles = np.linspace(bearing.min(), bearing.max(), int(np.ptp(bearing) * around / 4.0) + 2)
        yield shapely.LineString(np.column_stack([np.sin(angles), np.cos(angles)]) * around + np.array(plan.curve_m))


def _pieces(line: shapely.LineString, area: shapely.Polygon) -> list[shapely.LineString]:
    """The parts of a line inside an area, in the direction of the line."""
    inside = shapely.get_parts(shapely.intersection(line, area))
    lines = [piece for piece in inside if piece.geom_type == "LineString" and piece.length > 0]
    ends = sorted(
        (sorted((line.project(shapely.Point(piece.coords[0])), line.project(shapely.Point(piece.coords[-1])))), i)
        for i, piece in enumerate(lines)
    )
    return [shapely.ops.substring(line, start, end) for (start, end), _ in ends]


def plant_rows(plan: BlockPlan, outline: shapely.Polygon) -> RowTable:
    """Rows of the block; a row cut by a hole or by the block's shape goes on under the same number and a letter."""
    area = outline.buffer(-HEADLAND_M, join_style="mitre")
    lines = _straight_lines(plan, area) if plan.curve_m is None else _curved_lines(plan, area)
    labels: list[str] = []
    points: list[Floats] = []
    counts: list[int] = []
    number = 0
    for line in lines:
        planted = 0
        for piece in _pieces(line, area):
            start = line.project(shapely.Point(piece.coords[0]))
            if plan.curve_m is None:  # the vines of straight rows stand side by side
                start = float(np.ceil(start / plan.vine_spacing_m - 1e-9)) * plan.vine_spacing_m
            end = line.project(shapely.Point(piece.coords[-1]))
            count = int((end - start) / plan.vine_spacing_m + 1e-9) + 1
            if count < FEWEST_VINES:
                continue
            row = shapely.ops.substring(line, start, start + (count - 1) * plan.vine_spacing_m)
            number += planted == 0
            labels.append(f"{number}{'abcdef'[planted - 1] if planted else ''}")
            points.append(np.asarray(row.coords))
            counts.append(count)
            planted += 1
    start_of_row = np.concatenate([[0], np.cumsum([len(part) for part in points])])
    return RowTable(
        tuple(labels),
        np.concatenate(points),
        start_of_row.astype(np.int32),
        np.full(len(labels), plan.vine_spacing_m),
        np.array(counts, np.int32),
    )


def _exceptions(plan: BlockPlan, block: Block, rng: np.random.Generator) -> VineExceptions:
    """Missing, dead and replanted vines, which come in groups, and the varieties of a field blend, vine by vine."""
    vines = place_vines(block)
    poor = smooth_field(rng, vines.x_m, vines.y_m, 30.0, 120.0)
    chance = plan.loss * np.exp(0.7 * poor - 0.25)
    status = np.where(rng.random(len(vines)) < chance, 1 + pick(rng, len(vines), (0.35, 0.2, 0.45)), LIVING)
    status = np.choose(status, (LIVING, MISSING, DEAD, REPLANT))
    # Grafters worked along the row from one bundle of wood, so neighbours are more often alike than by chance.
    drift = 0.5 * draw_normal(rng, len(vines)) + smooth_field(rng, vines.x_m, vines.y_m, 8.0, 40.0)
    rank = np.empty(len(vines))
    rank[np.argsort(drift, kind="stable")] = (np.arange(len(vines)) + 0.5) / len(vines)
    edges = np.cumsum([share for _, share in plan.varieties])
    variety = np.minimum(np.searchsorted(edges, rank, side="right"), len(edges) - 1)
    differs = np.flatnonzero((status != LIVING) | (variety != 0))
    return VineExceptions(differs, status[differs], variety[differs])


def make_block(plan: BlockPlan, rng: np.random.Generator) -> Block:
    """The block as the program knows it, in metres from the estate's corner."""
    outline = outline_of(plan)
    block = Block(
        plan.name,
        outline,
        plant_rows(plan, outline),
        plan.row_spacing_m,
        plan.vine_spacing_m,
        tuple(name for name, _ in plan.varieties),
        plan.training,
        plan.vigour,
    )
    return replace(block, exceptions=_exceptions(plan, block, rng))
