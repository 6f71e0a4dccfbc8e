"""Small invented estates as files."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

HOME_DEG = (-122.70, 38.60)
SOUTH_DEG = (145.30, -38.05)
FIGURES = {"row_spacing_m": 2.5, "vine_spacing_m": 2.0, "bearing_deg": 0.0}
STOP_HEAD = ("round", "date", "scout", "block", "row", "vine", "examined", "infected")


def degrees(home: tuple[float, float], east_m: float, north_m: float) -> list[float]:
    """A place so many metres from home, on a sphere of 111.32 km to the degree."""
    lon, lat = home
    return [lon + east_m / (111_320.0 * math.cos(math.radians(lat))), lat + north_m / 111_320.0]


def outline(
    name: str,
    east_m: float = 0.0,
    size_m: tuple[float, float] = (41.0, 61.0),
    home: tuple[float, float] = HOME_DEG,
    **given: Any,
) -> dict[str, Any]:
    """A rectangle with figures to make rows from; a figure given as None is left out."""
    width, height = size_m
    corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height), (0.0, 0.0)]
    ring = [degrees(home, east_m + x, y) for x, y in corners]
    properties = {key: value for key, value in {"block": name, **FIGURES, **given}.items() if value is not None}
    return feature(properties, "Polygon", [ring])


def row(block: str, label: str, east_m: float, home: tuple[float, float] = HOME_DEG) -> dict[str, Any]:
    """A row of 58 m northwards: 30 vines every 2 m."""
    return feature({"block": block, "row": label}, "LineString", [degrees(home, east_m, 1.0), degrees(home, east_m, 59.5)])


def feature(properties: dict[str, Any], kind: str, coordinates: list[Any]) -> dict[str, Any]:
    """One GeoJSON feature."""
    return {"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": coordinates}}


def write_map(path: Path, *features: dict[str, Any]) -> Path:
    """A GeoJSON file."""
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8")
    return path


def write_lines(path: Path, head: Sequence[str], lines: Iterable[Sequence[object]]) -> Path:
    """A CSV file."""
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([head, *lines])
    return path


def write_stops(path: Path, block: str = "Long Acre", number: int = 1, infected: Sequence[int] = (), date: str = "") -> Path:
    """Stops of 20 clusters along the rows 2, 4, 6, ... of a block, four a row; ``infected`` of each, 0 where not given."""
    places = [(2 * (index // 4) + 2, 5 * (index % 4) + 3) for index in range(16)]
    counts = [*infected, *[0] * (len(places) - len(infected))]
    lines = [
        (number, date or f"2031-06-{10 + number}", "A. Scout", block, row_, vine, 20, count)
        for (row_, vine), count in zip(places, counts, strict=True)
    ]
    return write_lines(path, STOP_HEAD, lines)


def write_weather(path: Path, first_day: int = 1, days: int = 20, temp_degc: float = 24.0) -> Path:
    """Hours of even warmth in June 2031."""
    lines = [(f"2031-06-{first_day + day:02d}T{hour:02d}:00", temp_degc) for day in range(days) for hour in range(24)]
    return write_lines(path, ("time", "temp_c"), lines)


def table(path: Path) -> list[dict[str, str]]:
    """Lines of a CSV file by column name."""
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))
