"""What lies under the pointer: block, row and vine, and the words for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from vinemap.desk.map_scene import NOT_KNOWN, BlockScene, MapScene
from vinemap.ground.vines import row_frame_m, usual_bearing_deg


@dataclass(frozen=True, slots=True)
class Spot:
    """A vine: number of its block in the scene, index of its row, index of the vine in the block."""

    block: int
    row: int
    vine: int


def find_spot(scene: MapScene, x_m: float, y_m: float) -> Spot | None:
    """The vine nearest to a place [m], or None when the place is in no block and not beside any row."""
    best: tuple[float, Spot] | None = None
    for number, block in enumerate(scene.blocks):
        found = _nearest(block, x_m, y_m)
        if found is not None and (best is None or found[0] < best[0]):
            vine = found[1]
            best = found[0], Spot(number, int(block.vines.row[vine]), vine)
    return None if best is None else best[1]


def _nearest(scene: BlockScene, x_m: float, y_m: float) -> tuple[float, int] | None:
    """Distance [m] and index of the nearest vine of a block, when it is near enough to be meant."""
    vines, reach = scene.vines, scene.block.row_spacing_m
    west, south, east, north = scene.block.outline.bounds
    if len(vines) == 0 or not (west - reach <= x_m <= east + reach and south - reach <= y_m <= north + reach):
        return None
    bearing = usual_bearing_deg(scene.block.rows)
    _, across = row_frame_m(np.array([x_m]), np.array([y_m]), bearing)
    near = np.flatnonzero(np.abs(vines.across_m - across[0]) <= reach)
    if len(near) == 0:
        return None
    away = np.hypot(vines.x_m[near] - x_m, vines.y_m[near] - y_m)
    nearest = int(np.argmin(away))
    is_meant = away[nearest] <= reach or shapely.contains_xy(scene.block.outline, x_m, y_m)
    return (float(away[nearest]), int(near[nearest])) if is_meant else None


def words_of(scene: MapScene, spot: Spot) -> tuple[str, str]:
    """Two lines about a vine: its address, and its incidence with the range."""
    block = scene.blocks[spot.block]
    address = f"{block.block.name} / {block.block.rows.labels[spot.row]} / {block.vines.ordinal[spot.vine]}"
    if not block.vines.is_living[spot.vine]:
        return address, "no vine here"
    if block.incidence is None:
        return address, ""
    share = float(block.incidence[spot.vine])
    is_lost = block.certainty is not None and block.certainty[spot.vine] == NOT_KNOWN
    if is_lost or not np.isfinite(share):
        return address, "not known here"
    words = f"{100 * share:.0f} % of clusters"
    if block.low is not None and block.high is not None:
        words += f", between {100 * block.low[spot.vine]:.0f} and {100 * block.high[spot.vine]:.0f}"
    return address, words
