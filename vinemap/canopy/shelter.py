"""How much of the drying wind is left at a row: behind tall edges that were mapped, and among the rows of its block."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from vinemap.canopy.wind import SECTORS, WindRose, run_shares
from vinemap.columns import Floats, freeze
from vinemap.ground.edges import Edge

RAYS = 3
"""Directions looked into for each sector of the rose, evenly spread over it."""
SETTLING_M = 15.0
"""Behind the first rows the air slows over about three times 1 / (drag x leaf area density), here 1 / (0.2 x 1 per m)
(Belcher, Jerram & Hunt 2003, J. Fluid Mech. 488:369; the figures of a row wall are a stated assumption)."""
LEFT_INSIDE = 0.4
"""What is left of wind straight across the rows far inside a block, at the height of the fruit (stated assumption)."""

_HEIGHTS = (0.0, 5.0, 10.0, 15.0, 20.0, 30.0)
_OPEN_FRACS = (0.0, 0.3, 0.5, 0.7, 1.0)
# Speed behind a windbreak as a share of the wind in the open, at so many times its height, for walls, dense rows of conifers,
# one row of conifers, and bare or open rows (Brandle & Finch 1991, How windbreaks work, from memory; the second row agrees
# within 0.04 with an extension table of a moderately dense windbreak). Nearer than five heights as there; none at all is 1.
_BEHIND = np.array(
    [
        (0.25, 0.25, 0.70, 0.90, 0.95, 1.0),
        (0.25, 0.25, 0.35, 0.65, 0.85, 0.95),
        (0.30, 0.30, 0.50, 0.60, 0.75, 0.95),
        (0.50, 0.50, 0.65, 0.80, 0.85, 1.0),
        (1.0, 1.0, 1.0, 1.0, 1.0, 1.0),
    ]
)
_GONE_HEIGHTS = 40.0
"""From so many heights on nothing is felt of an edge (stated assumption; straight from 30)."""


@dataclass(frozen=True, slots=True, eq=False)
class WindLeft:
    """Share 0..1 of the drying wind that is left at points (n,): ``behind_edges``, ``among_rows``, and both together."""

    behind_edges: Floats
    among_rows: Floats
    both: Floats

    def __post_init__(self) -> None:
        freeze(self, behind_edges=np.float64, among_rows=np.float64, both=np.float64)


def behind_edge(distance_heights: Floats, open_frac: float) -> Floats:
    """Speed (n,) as a share 0..1 of the wind in the open, so many heights (n,) behind an edge of which ``open_frac`` is open.

    Source: Brandle & Finch 1991, straight between their figures; infinite distance: 1.
    """
    curve = [float(np.interp(open_frac, _OPEN_FRACS, column)) for column in _BEHIND.T]
    return np.asarray(np.interp(distance_heights, (*_HEIGHTS, _GONE_HEIGHTS), (*curve, 1.0)), np.float64)


def among_rows(inside_m: Floats, across: Floats) -> Floats:
    """Speed (n,) at the fruit as a share 0..1 of that before the first row, ``inside_m`` (n,) [m] behind it.

    ``across`` (n,) 0..1: how squarely the wind meets the rows; along them it loses nothing.
    Source: slows exponentially to what is left far inside (Belcher, Jerram & Hunt 2003; figures are stated assumptions).
    """
    return np.asarray(1.0 - across * (1.0 - LEFT_INSIDE) * -np.expm1(-inside_m / SETTLING_M), np.float64)


def left_behind_edges(points_m: Floats, edges: Sequence[Edge], rose: WindRose, convergence_deg: float = 0.0) -> Floats:
    """Share (n,) 0..1 of the drying wind that is left at points (n, 2) [m] behind tall edges.

    Each sector of the rose counts by the distance that its air travels; of several edges the one that shelters most counts.
    Source: as in ``behind_edge``.
    """
    weight, from_deg = _rays(rose, convergence_deg)
    return np.asarray(weight @ _edge_speed(points_m, edges, from_deg), np.float64)


def wind_left(
    points_m: Floats,
    bearing_deg: Floats,
    outline_m: Floats,
    edges: Sequence[Edge],
    rose: WindRose,
    convergence_deg: float = 0.0,
) -> WindLeft:
    """What is left of the drying wind at points (n, 2) [m] in a block with the outer ring ``outline_m`` (k, 2) [m].

    ``bearing_deg`` (n,) of the rows there [degrees clockwise from grid north]. Source: as in ``left_behind_edges`` and
    ``among_rows``.
    """
    weight, from_deg = _rays(rose, convergence_deg)
    edge = _edge_speed(points_m, edges, from_deg)
    inside = _upwind_m(points_m, outline_m, from_deg)
    # a point outside the outline has no row before it
    inside = np.where(np.isfinite(inside), inside, 0.0)
    rows = among_rows(inside, np.abs(np.sin(np.radians(from_deg[:, None] - bearing_deg))))
    return WindLeft(weight @ edge, weight @ rows, weight @ (edge * rows))


def _rays(rose: WindRose, convergence_deg: float) -> tuple[Floats, Floats]:
    """Weight (m,) and grid bearing (m,) [degrees] of each direction from which drying wind comes."""
    step = 360.0 / SECTORS
    spread = (np.arange(RAYS) - (RAYS - 1) / 2) * step / RAYS
    weight = np.repeat(run_shares(rose), RAYS) / RAYS
    from_deg = np.repeat(np.arange(SECTORS) * step, RAYS) + np.tile(spread, SECTORS) - convergence_deg
    return weight[weight > 0], from_deg[weight > 0]


def _edge_speed(points_m: Floats, edges: Sequence[Edge], from_deg: Floats) -> Floats:
    """Speed (m, n) as a share 0..1 of the wind in the open, by direction and point."""
    speed = np.ones((len(from_deg), len(points_m)))
    for each in edges:
        gap = np.maximum(each.line_m.min(axis=0) - points_m.max(axis=0), points_m.min(axis=0) - each.line_m.max(axis=0))
        if gap.max() < _GONE_HEIGHTS * each.height_m:
            heights = _upwind_m(points_m, each.line_m, from_deg) / each.height_m
            speed = np.minimum(speed, behind_edge(heights, each.open_frac))
    return speed


def _upwind_m(points_m: Floats, line_m: Floats, from_deg: Floats) -> Floats:
    """Distance (m, n) [m] from points to the nearest crossing of a line where the wind comes from, else infinite."""
    east, north = np.sin(np.radians(from_deg))[:, None], np.cos(np.radians(from_deg))[:, None]
    nearest = np.full((len(from_deg), len(points_m)), np.inf)
    for start, end in pairwise(line_m):
        along, to = end - start, start - points_m
        turn = east * along[1] - north * along[0]
        # wind along the line never crosses it
        turn = np.where(turn == 0.0, np.nan, turn)
        distance = (to[:, 0] * along[1] - to[:, 1] * along[0]) / turn
        share = (to[:, 0] * north - to[:, 1] * east) / turn
        meets = (distance >= 0) & (share >= 0) & (share <= 1)
        nearest = np.where(meets, np.minimum(nearest, distance), nearest)
    return nearest
