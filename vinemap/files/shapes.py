"""Shapes and values out of other formats, as RFC 7946 writes them."""

from __future__ import annotations

import math
from typing import Any

import shapely

from vinemap.files.cells import one_spelling


def geometry_of(wkb: bytes | None) -> dict[str, Any] | None:
    """The geometry that well-known binary tells, None where there is none; a kind that is not known is named as such."""
    if wkb is None or not len(wkb):
        return None
    try:
        shape = shapely.from_wkb(wkb)
    except shapely.errors.ShapelyError:
        return {"type": "a curve or damaged"}
    if isinstance(shape, shapely.GeometryCollection) and shape.geom_type == "GeometryCollection":
        return {"type": shape.geom_type}
    drawn = shapely.geometry.mapping(shape)
    return {"type": drawn["type"], "coordinates": _listed(drawn["coordinates"])}


def as_text(value: Any) -> str:
    """A value of a column as text, "" where there is none."""
    if value is None or isinstance(value, (bytes, bytearray)):
        return ""
    if isinstance(value, float):
        if not math.isfinite(value):
            return ""
        if value.is_integer() and abs(value) < 1e15:
            return str(int(value))
    return one_spelling(str(value).strip())


def _listed(coordinates: Any) -> Any:
    return [_listed(part) for part in coordinates] if isinstance(coordinates, (tuple, list)) else coordinates
