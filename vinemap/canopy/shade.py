"""What keeps the direct sun off a row: the slope, the next row, and tall edges that were mapped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vinemap.canopy.sun import SunTrack
from vinemap.columns import Floats
from vinemap.ground.edges import Edge

SECTOR_DEG = 5.0
"""Horizons are kept in sectors of this width."""
REACH_HEIGHTS = 10.0
"""An edge farther away than so many times its height takes only sun below 6 degrees, and is left out (stated assumption)."""
NEAREST_M = 1.0
"""Nobody stands nearer to the middle of a hedge than this (stated assumption)."""


@dataclass(frozen=True, slots=True)
class Neighbour:
    """The next row: top of its leaves [m], height of the fruit [m], distance between rows [m] and width of its leaves [m].

    ``open_frac``: share of light 0..1 that comes through it, for single vines with gaps between them.
    """

    top_m: float
    fruit_m: float
    row_spacing_m: float
    width_m: float = 0.0
    open_frac: float = 0.0


@dataclass(frozen=True, slots=True)
class Lie:
    """How the ground lies: slope [degrees from level] and the bearing down it [degrees clockwise from true north]."""

    slope_deg: float = 0.0
    aspect_true_deg: float = 0.0


LEVEL = Lie()


def slope_light(track: SunTrack, lie: Lie) -> Floats:
    """1 where the sun stands above the slope, 0 where the hill itself is in its way (n,).

    Source: the sun must be on the outer side of the ground, whose normal leans by the slope (plane geometry).
    """
    if lie.slope_deg == 0.0:
        return np.ones(len(track.hour))
    tilt, down = np.radians(lie.slope_deg), np.radians(lie.aspect_true_deg)
    outward = track.up * np.cos(tilt) + np.sin(tilt) * (track.east * np.sin(down) + track.north * np.cos(down))
    return np.asarray(outward > 0, np.float64)


def row_light(
    track: SunTrack, bearing_true_deg: float, neighbour: Neighbour | None, lie: Lie = LEVEL
) -> tuple[Floats, Floats]:
    """Share 0..1 of the beam that the next row lets through: (n,) to the fruit, (n,) to the face from the fruit to the top.

    The rows run at ``bearing_true_deg``; the sun comes over the row on its own side, whose foot stands higher or lower on a
    slope. Source: the shadow line of the near upper edge of the next row, by plane geometry.
    """
    if neighbour is None:
        return np.ones(len(track.hour)), np.ones(len(track.hour))
    along = np.radians(bearing_true_deg)
    side = track.east * np.cos(along) - track.north * np.sin(along)
    # metres that the ground rises, for each metre straight across the row towards the sun
    fall = np.tan(np.radians(lie.slope_deg)) * np.sin(np.radians(lie.aspect_true_deg - bearing_true_deg))
    rise = -fall * np.sign(side) * neighbour.row_spacing_m
    gap = max(neighbour.row_spacing_m - neighbour.width_m, 0.1)
    steep = track.up / np.maximum(np.abs(side), 1e-9)
    line_m = neighbour.top_m + rise - gap * steep
    wall = max(neighbour.top_m - neighbour.fruit_m, 1e-9)
    fruit = (line_m < neighbour.fruit_m).astype(np.float64)
    face = np.clip((neighbour.top_m - line_m) / wall, 0.0, 1.0)
    through = neighbour.open_frac
    return through + (1.0 - through) * fruit, through + (1.0 - through) * face


def horizons(spots_m: Floats, edges: Sequence[Edge], fruit_m: float, lie: Lie = LEVEL) -> list[tuple[Floats, float]]:
    """For each edge that is near: whole degrees (spots, sectors) that its top stands above the fruit, and its open share.

    ``spots_m``: (s, 2) [m]; sectors are 5 degrees wide, clockwise from GRID north, number 0 centred on it; -90 where the edge
    does not stand. ``lie`` carries the foot of the edge up or down the slope, its aspect from grid north here.
    Source: lines of sight crossed with the line of the edge, by plane geometry.
    """
    angle = np.radians(SECTOR_DEG * np.arange(round(360 / SECTOR_DEG)))
    look = np.column_stack([np.sin(angle), np.cos(angle)])
    down = np.radians(lie.aspect_true_deg)
    fall = np.tan(np.radians(lie.slope_deg)) * (look @ np.array([np.sin(down), np.cos(down)]))
    found = []
    low, high = spots_m.min(axis=0), spots_m.max(axis=0)
    for edge in edges:
        reach_m = REACH_HEIGHTS * edge.height_m
        if (edge.line_m.min(axis=0) > high + reach_m).any() or (edge.line_m.max(axis=0) < low - reach_m).any():
            continue
        away_m = _distance_m(spots_m, look, edge)
        if np.isinf(away_m).all():
            continue
        is_seen = np.isfinite(away_m)
        near_m = np.where(is_seen, away_m, 1.0)
        height = np.degrees(np.arctan((edge.height_m - fruit_m) / near_m - fall))
        found.append((np.where(is_seen, np.rint(height), -90.0), edge.open_frac))
    return found


def _distance_m(spots_m: Floats, look: Floats, edge: Edge) -> Floats:
    """Distance [m] (spots, sectors) to the line of an edge along each line of sight; infinite where it is not met."""
    nearest = np.full((len(spots_m), len(look)), np.inf)
    for start, end in zip(edge.line_m[:-1], edge.line_m[1:], strict=True):
        along = end - start
        to_start = start - spots_m
        turn = look[:, 0] * along[1] - look[:, 1] * along[0]
        with np.errstate(divide="ignore", invalid="ignore"):
            away = ((to_start[:, 0] * along[1] - to_start[:, 1] * along[0])[:, None]) / turn
            at = (to_start[:, :1] * look[:, 1] - to_start[:, 1:] * look[:, 0]) / turn
        is_met = (away > 0) & (at >= 0) & (at <= 1) & (away <= REACH_HEIGHTS * edge.height_m)
        nearest = np.where(is_met, np.minimum(nearest, np.maximum(away, NEAREST_M)), nearest)
    return nearest


def edge_light(track: SunTrack, seen: Sequence[tuple[Floats, float]], convergence_deg: float = 0.0) -> Floats:
    """Share 0..1 (spots, n) of the beam that tall edges let through, from ``horizons``; several in a line each take theirs.

    ``convergence_deg`` is what a grid bearing lacks to be true.
    """
    sector = np.rint((track.azimuth_deg - convergence_deg) / SECTOR_DEG).astype(np.intp) % round(360 / SECTOR_DEG)
    light = np.ones((len(seen[0][0]), len(track.hour)))
    for top_deg, open_frac in seen:
        light *= np.where(track.elevation_deg < top_deg[:, sector], open_frac, 1.0)
    return light
