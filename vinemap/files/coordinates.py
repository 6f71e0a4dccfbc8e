"""Coordinates of features out of any map system, turned to longitude and latitude before anything looks at them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from vinemap.columns import Floats
from vinemap.errors import FileError, InputError
from vinemap.files.projection import from_system, is_projected, system_name, to_system

LONLAT = "OGC:CRS84"
ASK_SYSTEM = "Export it in longitude and latitude on WGS 84, or name its map system by its EPSG number: --crs EPSG:NNNN."
_LARGEST = 10**15
_SAME_DEG = 1e-10
_ASTRAY = 1.0
"""Units of a map system by which a place may come back wrong: far beyond its reach longitudes wrap around."""


def known_system(crs: str) -> str:
    """The map system that was named by number, ``EPSG:32610`` or ``32610``; "" for none. Raises InputError."""
    crs = crs.strip()
    if not crs:
        return ""
    match = re.fullmatch(r"(?:EPSG:)?([0-9]{4,6})", crs, re.IGNORECASE)
    if not match:
        raise InputError(f"“{crs}” is not the number of a map system.", "Write it as EPSG and a number, such as EPSG:32610.")
    system_name(f"EPSG:{match.group(1)}")
    return f"EPSG:{match.group(1)}"


def in_degrees(name: str, items: Sequence[Any], stated: str, crs: str, asks: bool = True) -> tuple[str, ...]:
    """Turn the coordinates of features to longitude and latitude where they are not, in place; notes on what was done.

    ``stated`` is the map system that the file tells, "" for none: then ``crs`` holds, unless it is in metres and the
    numbers are degrees already. Raises FileError when a system can't be used, or none is known and the numbers are no degrees
    (with ``asks``).
    """
    positions = [each for item in items for each in _positions(item)]
    notes = (f"{name} has heights; they are left aside.",) if any(len(each) > 2 for each in positions) else ()
    usable = [each for each in positions if len(each) > 1 and _is_plain(each[0]) and _is_plain(each[1])]
    if stated == LONLAT or not usable:
        return notes
    x, y = (np.array([each[axis] for each in usable], np.float64) for axis in (0, 1))
    # numbers that are swapped degrees have a refusal of their own
    looks_metric = bool((((abs(x) > 180) | (abs(y) > 90)) & ~((abs(x) <= 90) & (abs(y) <= 180))).any())
    try:
        system = stated or known_system(crs)
        if not stated and system and is_projected(system) and not looks_metric:
            return (*notes, f"{name} does not say its map system, but its numbers are degrees; {system} was not used for it.")
        if not system:
            if looks_metric and asks:
                raise FileError(f"{name} does not say its map system, and its numbers are not degrees.", ASK_SYSTEM)
            return notes
        lon, lat = _turned(system, x, y)
        told = system_name(system)
    except InputError as error:
        raise FileError(f"{name}: {error.what}", error.do) from error
    if np.isfinite(lon).all() and max(abs(lon - x).max(), abs(lat - y).max()) < _SAME_DEG:
        return notes
    for each, at in zip(usable, zip(lon.tolist(), lat.tolist(), strict=True), strict=True):
        each[:2] = at
    lost = int((~np.isfinite(lon)).sum())
    beyond = f" {lost} position{'s lie' if lost > 1 else ' lies'} where it does not reach." if lost else ""
    return (*notes, f"{name} is in the map system {told}; it was turned to longitude and latitude.{beyond}")


def _turned(system: str, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Longitude and latitude [degrees]; infinite where the way back does not lead to the same place."""
    lon, lat = from_system(system, x, y)
    if is_projected(system):
        back_x, back_y = to_system(system, lon, lat)
        with np.errstate(invalid="ignore"):
            is_lost = ~(np.maximum(abs(back_x - x), abs(back_y - y)) < _ASTRAY)
        return np.where(is_lost, np.inf, lon), np.where(is_lost, np.inf, lat)
    # what can only be swapped is turned the right way round and stays swapped, for its refusal or a repair
    swapped = (abs(y) > 90) & (abs(x) <= 90)
    lat[swapped], lon[swapped] = from_system(system, y[swapped], x[swapped])
    return lon, lat


def _positions(item: Any) -> Iterator[list[Any]]:
    """The positions of a feature, each the very list that holds it, whatever else is wrong with it."""
    geometry = item.get("geometry") if isinstance(item, dict) else None
    waiting = [geometry.get("coordinates")] if isinstance(geometry, dict) else []
    while waiting:
        each = waiting.pop()
        if isinstance(each, list) and each:
            if isinstance(each[0], list):
                waiting.extend(each)
            else:
                yield each


def _is_plain(value: Any) -> bool:
    return type(value) is float or (type(value) is int and abs(value) < _LARGEST)
