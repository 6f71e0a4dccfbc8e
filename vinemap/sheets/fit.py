"""From metres on the ground to millimetres on the sheet, at a scale with a round name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import InputError

_FIRST = (1.0, 1.1, 1.2, 1.25, 1.4, 1.5, 1.6, 1.75, 2.0, 2.25, 2.5, 2.75, 3.0, 3.5, 4.0, 4.5, 5.0, 6.0, 7.0, 8.0, 9.0)
SCALES = tuple(first * 10**power for power in (2, 3, 4) for first in _FIRST)
"""The n of 1 : n that a scale may have."""

TURN_GAIN = 1.25
"""North stays up unless turning the block makes it larger by this much."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on the sheet [mm], y downwards."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    @property
    def right_mm(self) -> float:
        """Its right edge [mm]."""
        return self.x_mm + self.width_mm

    @property
    def bottom_mm(self) -> float:
        """Its lower edge [mm]."""
        return self.y_mm + self.height_mm

    def overflow_mm(self, inner: Box) -> Floats:
        """By how much another rectangle sticks out at the left, top, right and bottom (4,) [mm], 0 where it does not."""
        out = [
            self.x_mm - inner.x_mm,
            self.y_mm - inner.y_mm,
            inner.right_mm - self.right_mm,
            inner.bottom_mm - self.bottom_mm,
        ]
        over: Floats = np.maximum(np.array(out), 0.0)
        return over

    def polygon(self, pad_mm: float = 0.0) -> shapely.Polygon:
        """The rectangle as a polygon, larger by a pad [mm]."""
        return shapely.box(self.x_mm - pad_mm, self.y_mm - pad_mm, self.right_mm + pad_mm, self.bottom_mm + pad_mm)

    def shrunk(self, left_mm: float, top_mm: float, right_mm: float, bottom_mm: float) -> Box:
        """The rectangle less a margin on each side [mm]."""
        return Box(
            self.x_mm + left_mm,
            self.y_mm + top_mm,
            self.width_mm - left_mm - right_mm,
            self.height_mm - top_mm - bottom_mm,
        )


@dataclass(frozen=True, slots=True)
class Fit:
    """Metres to millimetres: the map is turned clockwise by ``turn_deg`` and drawn at 1 : ``scale``."""

    scale: float
    turn_deg: float
    east_m: float
    north_m: float
    x_mm: float
    y_mm: float

    @property
    def mm_per_m(self) -> float:
        """Millimetres on the sheet for a metre on the ground."""
        return 1000.0 / self.scale

    def place(self, xy_m: Floats) -> Floats:
        """Points (n, 2) east, north [m] as (n, 2) x, y [mm] on the sheet, y downwards."""
        turned = _turn(np.asarray(xy_m, np.float64) - (self.east_m, self.north_m), self.turn_deg)
        placed: Floats = (self.x_mm, self.y_mm) + turned * (self.mm_per_m, -self.mm_per_m)
        return placed


def _turn(xy_m: Floats, turn_deg: float) -> Floats:
    """Points turned clockwise, in axes east and north."""
    sin, cos = np.sin(np.radians(turn_deg)), np.cos(np.radians(turn_deg))
    turned: Floats = np.column_stack([xy_m[:, 0] * cos + xy_m[:, 1] * sin, xy_m[:, 1] * cos - xy_m[:, 0] * sin])
    return turned


def fit_block(outline_m: shapely.Polygon, box: Box, turn_deg: float | None = None) -> Fit:
    """The largest round scale at which an outline [m] lies in a box [mm], centred, north up unless turning gains much.

    ``turn_deg``: a turn already chosen. Raises InputError when the outline is empty or too large for any scale.
    """
    if outline_m.is_empty or box.width_mm <= 0 or box.height_mm <= 0:
        raise InputError("This block has no outline to draw.", "Draw its outline on the Ground step, or read it again.")
    points = shapely.get_coordinates(outline_m.exterior)
    if turn_deg is None:
        laid = _turn_to_lie(outline_m, box)
        turn_deg = laid if _tightest(points, 0.0, box) > TURN_GAIN * _tightest(points, laid, box) else 0.0
    tight = _tightest(points, turn_deg, box)
    scale = next((each for each in SCALES if each >= tight * 0.9999), None)
    if scale is None:
        raise InputError("This block is too large for one sheet.", "Split it into smaller blocks.")
    around = _turn(points, turn_deg)
    middle = (around.min(axis=0) + around.max(axis=0)) / 2
    east, north = _turn(middle[None, :], -turn_deg)[0]
    return Fit(scale, turn_deg, float(east), float(north), box.x_mm + box.width_mm / 2, box.y_mm + box.height_mm / 2)


def _tightest(points_m: Floats, turn_deg: float, box: Box) -> float:
    """The n of 1 : n at which points just fit after a turn."""
    width_m, height_m = np.ptp(_turn(points_m, turn_deg), axis=0)
    return float(max(1000 * width_m / box.width_mm, 1000 * height_m / box.height_mm, 1e-6))


def _turn_to_lie(outline_m: shapely.Polygon, box: Box) -> float:
    """Degrees clockwise, -90..90, that lay the outline's long side along the box's."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(outline_m))
    if len(corners) < 5:
        return 0.0
    sides = np.diff(corners, axis=0)
    east, north = sides[np.argmax(np.hypot(sides[:, 0], sides[:, 1]))]
    turn = np.degrees(np.arctan2(north, east)) - (90.0 if box.height_mm > box.width_mm else 0.0)
    return float((turn + 90.0) % 180.0 - 90.0)


def free_place(
    box: Box, size_mm: tuple[float, float], taken: shapely.Geometry, step_mm: float = 4.0, from_top: bool = False
) -> Box | None:
    """Where a thing of a size (width, height) [mm] fits in the box clear of what is taken; None where it does not.

    Looks along the lower edge first (or the upper one), from the right to the left.
    """
    width, height = size_mm
    xs = np.arange(box.right_mm - width, box.x_mm - 1e-9, -step_mm)
    ys = np.arange(box.bottom_mm - height, box.y_mm - 1e-9, -step_mm)
    if from_top:
        xs = np.arange(box.x_mm, box.right_mm - width + 1e-9, step_mm)
        ys = np.arange(box.y_mm, box.bottom_mm - height + 1e-9, step_mm)
    if not len(xs) or not len(ys):
        return None
    x, y = (each.ravel() for each in np.meshgrid(xs, ys))
    shapely.prepare(taken)
    clear = ~shapely.intersects(taken, shapely.box(x, y, x + width, y + height))
    if not clear.any():
        return None
    first = int(np.argmax(clear))
    return Box(float(x[first]), float(y[first]), width, height)


def near_place(box: Box, size_mm: tuple[float, float], taken: shapely.Geometry, x_mm: float, y_mm: float) -> Box | None:
    """The clear place for a thing of a size [mm] whose middle is nearest to a point [mm]; None where there is none."""
    width, height = size_mm
    xs = np.unique([*np.arange(box.x_mm, box.right_mm - width, 2.0), x_mm - width / 2])
    ys = np.unique([*np.arange(box.y_mm, box.bottom_mm - height, 2.0), y_mm - height / 2])
    x, y = (each.ravel() for each in np.meshgrid(xs, ys))
    inside = (x >= box.x_mm) & (x + width <= box.right_mm) & (y >= box.y_mm) & (y + height <= box.bottom_mm)
    x, y = x[inside], y[inside]
    shapely.prepare(taken)
    away = np.hypot(x + width / 2 - x_mm, y + height / 2 - y_mm)
    away[shapely.intersects(taken, shapely.box(x, y, x + width, y + height))] = np.inf
    if not len(away) or not np.isfinite(away.min()):
        return None
    best = int(np.argmin(away))
    return Box(float(x[best]), float(y[best]), width, height)


def all_taken(shapes: Sequence[shapely.Geometry]) -> shapely.Geometry:
    """What is taken on the sheet, as one shape."""
    return shapely.union_all(np.array(list(shapes), dtype=object))
