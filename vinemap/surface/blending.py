"""Cut many stops into overlapping patches whose answers are blended, so that a map has no seams."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from vinemap.columns import Floats

Indices = npt.NDArray[np.int64]

PATCH_POINTS = 200
"""A patch with more points is cut in two."""
MARGIN = 3.0
"""Depth of the points that a half borrows from the other, about so many spacings between points."""
BLENDED = 1.0 / 3.0
"""Part of that depth over which the two answers pass into each other."""
RIM_SITES, RIM_NEAREST = 8, 6
"""Of so many sites along each side of a patch the nearest points are added: few points far off beside many close by."""


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """``points`` (p,), ``places`` (q,): which ones; ``weight`` (q,): the patch's part in each place, 0..1; ``box`` (2, 2):
    lowest and highest corner of where it answers.
    """

    points: Indices
    places: Indices
    weight: Floats
    box: Floats


def patches(points: Floats, places: Floats) -> Iterator[Patch]:
    """Patches of ``points`` (n, 2) and of the ``places`` (m, 2) that they answer for, both in ranges.

    Points are halved across their longer side until a patch has few enough; each half also takes the nearest points beyond
    the cut. The weights of a place add up to 1 and pass smoothly from half to half, wherever the points crowd.

    Source: partition of unity, Wendland 2005, Scattered Data Approximation, section 15.4; the cuts are a choice.
    """
    tree = cKDTree(points)
    box = np.stack([points.min(axis=0), points.max(axis=0)])
    waiting = [Patch(np.arange(len(points)), np.arange(len(places)), np.ones(len(places)), box)]
    while waiting:
        patch = waiting.pop()
        if len(patch.places) == 0:
            continue
        spot = points[patch.points]
        axis, cut = _cut_across(spot)
        if cut is None:
            around = tree.query(_rim(patch.box), np.arange(1, min(RIM_NEAREST, len(points)) + 1))[1]
            yield replace(patch, points=np.union1d(patch.points, around))
            continue
        low, middle, high = cut
        first, last = middle - BLENDED * (middle - low), middle + BLENDED * (high - middle)
        along = places[patch.places, axis]
        rise = np.clip((along - first) / (last - first), 0.0, 1.0)
        rise *= rise * (3.0 - 2.0 * rise)
        upper, lower = patch.box.copy(), patch.box.copy()
        upper[0, axis], lower[1, axis] = first, last
        waiting.append(_half(patch, spot[:, axis] >= low, rise, upper))
        waiting.append(_half(patch, spot[:, axis] <= high, 1.0 - rise, lower))


def _rim(box: Floats) -> Floats:
    """Sites (s, 2) along the sides of ``box`` (2, 2)."""
    x, y = np.linspace(box[0], box[1], RIM_SITES).T
    sides = [np.column_stack([x, np.full(RIM_SITES, edge)]) for edge in box[:, 1]]
    sides += [np.column_stack([np.full(RIM_SITES, edge), y]) for edge in box[:, 0]]
    return np.vstack(sides)


def _cut_across(spot: Floats) -> tuple[int, tuple[float, float, float] | None]:
    """Axis and place of the cut of points (n, 2): the longer side if it can be; None when they are few or at one place."""
    axis = int(np.argmax(np.ptp(spot, axis=0)))
    if len(spot) <= PATCH_POINTS:
        return axis, None
    cut = _cut(np.sort(spot[:, axis]))
    if cut is None:
        axis = 1 - axis
        cut = _cut(np.sort(spot[:, axis]))
    return axis, cut


def _cut(along: Floats) -> tuple[float, float, float] | None:
    """Where to cut sorted coordinates (n,): the lowest that the upper half keeps, the cut, the highest of the lower half."""
    steps = np.flatnonzero(along[1:] > along[:-1]) + 1
    if len(steps) == 0:
        return None
    count = len(along)
    at = int(steps[np.argmin(np.abs(steps - count // 2))])
    deep = int(MARGIN * np.sqrt(count))
    low, high = along[max(at - deep, 0)], along[min(at - 1 + deep, count - 1)]
    if low == along[0] or high == along[-1]:
        # half of the points stand on one line across: a half would be as large as the whole
        return None
    return float(low), float(0.5 * (along[at - 1] + along[at])), float(high)


def _half(patch: Patch, points: npt.NDArray[np.bool_], weight: Floats, box: Floats) -> Patch:
    kept = weight > 0.0
    return Patch(patch.points[points], patch.places[kept], patch.weight[kept] * weight[kept], box)
