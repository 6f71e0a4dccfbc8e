"""Shapes and values out of other formats, as RFC 7946 writes them."""

from __future__ import annotations

import math
import struct
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from vinemap.files.cells import one_spelling

Mend = Callable[[Path, Sequence[Any]], Sequence[tuple[int, Any]]]
"""What is made of the features of a file before they are looked at, each with the number that it has there."""

_POLYGONS = {3: 2, 1003: 3, 2003: 3, 3003: 4}
"""Codes of a Polygon, and how many numbers a position has: with height, measure, or both."""
_SEVERAL_POLYGONS = (6, 1006, 2006, 3006)


def geometry_of(wkb: bytes | None) -> dict[str, Any] | None:
    """The geometry that well-known binary tells, None where there is none; a kind that is not known is named as such."""
    if wkb is None or not len(wkb):
        return None
    try:
        shape = shapely.from_wkb(wkb)
    except shapely.errors.ShapelyError:
        return _open_outline(bytes(wkb)) or {"type": "a curve or damaged"}
    if isinstance(shape, shapely.GeometryCollection) and shape.geom_type == "GeometryCollection":
        return {"type": shape.geom_type}
    drawn = shapely.geometry.mapping(shape)
    return {"type": drawn["type"], "coordinates": _listed(drawn["coordinates"])}


def _open_outline(wkb: bytes) -> dict[str, Any] | None:
    """A Polygon, or the only one of several, with a ring that is not closed, which shapely does not take; None for all else.

    Source: OGC 06-103r4, 8.2, Simple Feature Access, for the binary.
    """
    try:
        order = "<" if wkb[0] else ">"
        start = 9 if struct.unpack_from(order + "II", wkb, 1) in {(kind, 1) for kind in _SEVERAL_POLYGONS} else 0
        kind, count = struct.unpack_from(order + "II", wkb, start + 1)
        numbers, rings, at = _POLYGONS.get(kind, 0), [], start + 9
        for _ in range(count if numbers else 0):
            (length,) = struct.unpack_from(order + "I", wkb, at)
            rings.append(np.frombuffer(wkb, order + "f8", length * numbers, at + 4).reshape(length, numbers).tolist())
            at += 4 + 8 * length * numbers
    except (IndexError, ValueError, struct.error):
        return None
    is_open = any(ring and ring[0] != ring[-1] for ring in rings)
    return {"type": "Polygon", "coordinates": rings} if is_open else None


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
