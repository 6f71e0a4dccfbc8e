"""The patterns that tell the kinds of work apart without colour, clipped to a shape."""

from __future__ import annotations

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.sheets.marks import Dots, Mark, Strokes

_LINES = {
    "L": ((50.0,), 1.90, 0.26),
    "F": ((50.0,), 0.95, 0.40),
    "D": ((50.0, 130.0), 1.45, 0.25),
    "T": ((90.0,), 1.27, 0.38),
}
"""Slant from the row [degrees], spacing [mm] and pen [mm] of the kinds drawn with whole strokes."""

_R_GAP_MM, _R_ON_MM, _R_OFF_MM, _R_PEN_MM = 1.06, 0.62, 0.46, 0.26
_P_GAP_MM, _P_RADIUS_MM = 1.00, 0.26
_C_GAP_MM, _C_RADIUS_MM = 1.75, 0.50
_V_ON_MM, _V_OFF_MM, _V_PEN_MM = 1.60, 1.30, 0.34


def hatch(kind: str, shape: shapely.Polygon, along_deg: float, ink: str, fine: float = 1.0) -> tuple[Mark, ...]:
    """The pattern of a kind of work inside a shape [mm], set to the row's direction on the sheet.

    ``along_deg``: direction of the row, from the x axis towards y (down); ``fine``: 1 as in the legend, less in thin bands.
    """
    if shape.is_empty:
        return ()
    if kind in _LINES:
        slants, gap, pen = _LINES[kind]
        ends = [_rules(shape, along_deg + slant, gap * fine) for slant in slants]
        return _strokes(np.concatenate(ends), ink, pen * max(fine, 0.7))
    if kind == "R":
        broken = _broken(shape, along_deg + 90.0, _R_GAP_MM * fine, (_R_ON_MM * fine, _R_OFF_MM * fine))
        return _strokes(broken, ink, _R_PEN_MM)
    if kind == "V":
        middle = _broken(shape, along_deg, 1.2 * fine, (_V_ON_MM, _V_OFF_MM))
        return _strokes(middle, ink, _V_PEN_MM * max(fine, 0.7))
    if kind == "P":
        points = _lattice(shape, along_deg, _P_GAP_MM * fine, _P_RADIUS_MM * fine)
        return (Dots(points, np.full(len(points), _P_RADIUS_MM * fine), fill=ink),) if len(points) else ()
    points = _lattice(shape, along_deg, _C_GAP_MM * fine, _C_RADIUS_MM * fine)
    rings = Dots(points, np.full(len(points), _C_RADIUS_MM * fine), stroke=ink, width_mm=0.2)
    return (rings,) if len(points) else ()


def _strokes(ends: Floats, ink: str, pen_mm: float) -> tuple[Mark, ...]:
    return (Strokes(ends, ink, pen_mm),) if len(ends) else ()


def _axes(shape: shapely.Polygon, direction_deg: float) -> tuple[Floats, Floats, Floats, Floats]:
    """Middle (2,), unit vectors along and across (2,), and how far the shape reaches along and across (2,) [mm]."""
    points = shapely.get_coordinates(shape)
    middle: Floats = (points.min(axis=0) + points.max(axis=0)) / 2
    angle = float(np.radians(direction_deg))
    along = np.array([np.cos(angle), np.sin(angle)])
    across = np.array([-along[1], along[0]])
    reach: Floats = np.asarray(np.abs((points - middle) @ np.column_stack([along, across])).max(axis=0), np.float64)
    return middle, along, across, reach


def _steps(reach_mm: float, gap_mm: float) -> Floats:
    """Places a gap apart on both sides of 0, as far as a shape reaches."""
    count = int(np.ceil(reach_mm / gap_mm))
    steps: Floats = np.asarray(np.arange(-count, count + 1) * gap_mm, np.float64)
    return steps


def _clip(ends: Floats, shape: shapely.Polygon) -> Floats:
    """Straight strokes (n, 4) cut to a shape."""
    lines = shapely.linestrings(ends.reshape(-1, 2, 2))
    shapely.prepare(shape)
    parts = shapely.get_parts(shapely.intersection(lines[shapely.intersects(shape, lines)], shape))
    parts = parts[(shapely.get_type_id(parts) == 1) & (shapely.length(parts) > 0.05)]
    if not len(parts):
        return np.empty((0, 4))
    first, last = shapely.get_point(parts, 0), shapely.get_point(parts, -1)
    return np.column_stack([shapely.get_x(first), shapely.get_y(first), shapely.get_x(last), shapely.get_y(last)])


def _rules(shape: shapely.Polygon, direction_deg: float, gap_mm: float) -> Floats:
    """Whole strokes (n, 4) [mm] in a direction, a gap apart."""
    middle, along, across, reach = _axes(shape, direction_deg)
    at = middle + np.outer(_steps(reach[1], gap_mm), across)
    far = along * (reach[0] + 1.0)
    return _clip(np.hstack([at - far, at + far]), shape)


def _broken(shape: shapely.Polygon, direction_deg: float, gap_mm: float, on_off_mm: tuple[float, float]) -> Floats:
    """Broken strokes (n, 4) [mm] in a direction; every second line is shifted by half a beat."""
    middle, along, across, reach = _axes(shape, direction_deg)
    on, off = on_off_mm
    start = _grid(_steps(reach[1], gap_mm), _steps(reach[0] + on, on + off), along, across) + middle
    return _clip(np.hstack([start, start + along * on]), shape)


def _lattice(shape: shapely.Polygon, along_deg: float, gap_mm: float, radius_mm: float) -> Floats:
    """Points (n, 2) [mm] of a staggered lattice whose discs lie in the shape; in a thin shape, along its middle."""
    middle, along, across, reach = _axes(shape, along_deg)
    points = _grid(_steps(reach[1], gap_mm * 0.75), _steps(reach[0], gap_mm), along, across) + middle
    inner = shape.buffer(-radius_mm)
    if inner.is_empty:
        inner = shape.buffer(-radius_mm / 3)
    shapely.prepare(inner)
    inside: Floats = points[shapely.contains_xy(inner, points[:, 0], points[:, 1])]
    return inside


def _grid(lines: Floats, beats: Floats, along: Floats, across: Floats) -> Floats:
    """Points (n, 2) on lines across, at beats along; every second line is shifted by half a beat."""
    half = (beats[1] - beats[0]) / 2 if len(beats) > 1 else 0.0
    shift = np.where(np.arange(len(lines)) % 2 == 0, 0.0, half)
    place = lines[:, None, None] * across + (beats[None, :, None] + shift[:, None, None]) * along
    points: Floats = place.reshape(-1, 2)
    return points
