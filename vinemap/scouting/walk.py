"""Where to stop next: some vines by rule, to be fair to the block, and some where trouble is likely."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from vinemap.columns import Bools, Floats, Ints, freeze
from vinemap.ground.block import Vines

TARGETED_SHARE = 1 / 3
MINUTES_A_STOP = 1.0
WALKING_KMH = 3.5
"""Ten clusters and ten leaves take about a minute; people walk 3 to 4 km/h between stops (common practice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Walk:
    """Stops in the order they are walked: ``vine`` (n,) index in the block; ``is_targeted`` (n,); length [m]; time [h]."""

    vine: Ints
    is_targeted: Bools
    length_m: float
    hours: float

    def __post_init__(self) -> None:
        freeze(self, vine=np.int32, is_targeted=np.bool_)


def plan_walk(vines: Vines, expected_high: Floats | None, stops: int, rng: np.random.Generator) -> Walk:
    """A walk of about ``stops`` living vines: two thirds every k-th vine from a random start, one third targeted.

    ``expected_high`` (vines,): upper end of each vine's incidence, or None before the first round (then all by rule).
    Targeted vines are taken from the highest down, none nearer to another targeted one than half the usual distance
    between stops.
    Source: a fair part and a targeted part kept apart (Madden & Hughes 1999, common practice).
    """
    living = np.flatnonzero(vines.is_living)
    if not len(living) or stops < 1:
        return Walk(np.empty(0, np.int32), np.empty(0, bool), 0.0, 0.0)
    wanted = min(stops, len(living))
    targeted_count = 0 if expected_high is None else int(wanted * TARGETED_SHARE)
    fair = _every_kth(living, wanted - targeted_count, rng)
    hot = np.empty(0, np.int64) if expected_high is None else _hottest(vines, living, fair, expected_high, targeted_count)
    chosen = np.concatenate([fair, hot])
    order = _serpentine(vines, chosen)
    path = chosen[order]
    length = _on_foot_m(vines, path)
    hours = len(path) * MINUTES_A_STOP / 60.0 + length / 1000.0 / WALKING_KMH
    return Walk(path.astype(np.int32), (np.arange(len(chosen)) >= len(fair))[order], length, hours)


def _on_foot_m(vines: Vines, path: np.ndarray) -> float:
    """Metres on foot along rows and around their nearer ends: nobody walks through a row."""
    along, across = vines.along_m[path], vines.across_m[path]
    start, stop = vines.row_start[vines.row[path]], vines.row_start[vines.row[path] + 1] - 1
    # vine 1 of the next row may stand at the other end: ends are paired by where they lie
    ends = np.sort(np.column_stack([vines.along_m[start], vines.along_m[stop]]), axis=1)
    by_end = np.abs(along[:-1, None] - ends[:-1]) + np.abs(ends[:-1] - ends[1:]) + np.abs(along[1:, None] - ends[1:])
    is_same = vines.row[path][:-1] == vines.row[path][1:]
    steps = np.where(is_same, np.abs(np.diff(along)), by_end.min(axis=1) + np.abs(np.diff(across)))
    return float(steps.sum())


def _every_kth(living: np.ndarray, count: int, rng: np.random.Generator) -> np.ndarray:
    """Evenly spaced living vines in row order, from a random start."""
    step = len(living) / count
    places = np.floor((np.arange(count) + rng.random()) * step).astype(np.int64)
    return np.asarray(living[np.minimum(places, len(living) - 1)])


def _hottest(vines: Vines, living: np.ndarray, taken: np.ndarray, expected_high: Floats, count: int) -> np.ndarray:
    """Living vines with the highest figure that are not taken already, kept apart from each other."""
    points = np.column_stack([vines.x_m, vines.y_m])
    extent = points[living].max(axis=0) - points[living].min(axis=0)
    apart = 0.5 * float(np.sqrt(max(extent[0] * extent[1], 1.0) / max(count + len(taken), 1)))
    tree = cKDTree(points)
    is_free = np.ones(len(points), bool)
    is_free[taken] = False
    chosen: list[int] = []
    for vine in living[np.argsort(-expected_high[living], kind="stable")]:
        if len(chosen) == count:
            break
        if is_free[vine]:
            chosen.append(int(vine))
            is_free[tree.query_ball_point(points[vine], apart)] = False
    return np.array(chosen, np.int64)


def _serpentine(vines: Vines, chosen: np.ndarray) -> np.ndarray:
    """Order in which to walk: row by row as they lie side by side, up one and down the next."""
    rows = np.unique(vines.row[chosen])
    middle = np.array([vines.across_m[vines.row == row].mean() for row in rows])
    rank_of_row = dict(zip(rows[np.argsort(middle, kind="stable")].tolist(), range(len(rows)), strict=True))
    rank = np.array([rank_of_row[int(row)] for row in vines.row[chosen]])
    along = np.where(rank % 2 == 0, vines.along_m[chosen], -vines.along_m[chosen])
    return np.lexsort((along, rank))
