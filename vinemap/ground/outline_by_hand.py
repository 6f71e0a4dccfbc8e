"""An outline put right corner by corner."""

from __future__ import annotations

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import InputError


def corners_of(outline: shapely.Polygon) -> Floats:
    """The corners (k, 2) [m] of the outer line, corner 1 first."""
    return np.asarray(outline.exterior.coords)[:-1, :2]


def move_corner(outline: shapely.Polygon, corner: int, to_m: Floats) -> shapely.Polygon:
    """The outline with one corner (from 1) elsewhere (2,) [m]. Raises InputError when that can't be."""
    points = corners_of(outline).copy()
    points[_at(points, corner)] = to_m
    return _closed(outline, points)


def add_corner(outline: shapely.Polygon, after: int, at_m: Floats) -> shapely.Polygon:
    """The outline with one more corner (2,) [m] after another (from 1). Raises InputError as ``move_corner``."""
    points = corners_of(outline)
    return _closed(outline, np.insert(points, _at(points, after) + 1, at_m, axis=0))


def delete_corner(outline: shapely.Polygon, corner: int) -> shapely.Polygon:
    """The outline without one corner (from 1). Raises InputError when only three are left, or as ``move_corner``."""
    points = corners_of(outline)
    at = _at(points, corner)
    if len(points) <= 3:
        raise InputError("An outline needs three corners.", "Move this one instead.")
    return _closed(outline, np.delete(points, at, axis=0))


def nearest_corner(outline: shapely.Polygon, at_m: Floats) -> int:
    """Number (from 1) of the corner nearest to a place (2,) [m]."""
    step = corners_of(outline) - at_m
    return int(np.argmin(np.hypot(step[:, 0], step[:, 1]))) + 1


def _at(points: Floats, corner: int) -> int:
    if not 1 <= corner <= len(points):
        raise InputError(f"The outline has no corner {corner}.", f"Its corners are 1 to {len(points)}.")
    return corner - 1


def _closed(outline: shapely.Polygon, points: Floats) -> shapely.Polygon:
    if not np.isfinite(points).all():
        raise InputError("That is not a place.", "Give metres, or longitude and latitude.")
    made = shapely.Polygon(points, [ring.coords for ring in outline.interiors])
    if not made.is_valid or made.area <= 0.0:
        raise InputError("The outline would cross itself, or leave one of its openings.", "Move the corner another way.")
    return made
