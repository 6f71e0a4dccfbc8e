"""What can be mended in features and tables, by name and only where the manager agrees: one small change for each."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.files.cells import one_spelling

CLOSE, TURN, SWAP, SPLIT = "close-ring", "turn-ring", "swap-coordinates", "split-at-date-line"
DUPLICATES, SNAP = "drop-duplicates", "snap-to-row"
REPAIRS = (CLOSE, TURN, SWAP, SPLIT, DUPLICATES, SNAP)
NEAR_KM = 50.0
_KM_PER_DEG = 111.32
_NEAR_LINE_DEG = 150.0

Json = dict[str, Any]
Place = tuple[float, float]
"""Longitude, latitude [degrees]."""


@dataclass(frozen=True, slots=True)
class Mended:
    """One thing that a repair changed, or would change: in which file, where there, by which repair, and how."""

    file: str
    place: str
    repair: str
    what: str

    def __str__(self) -> str:
        return f"{self.file}, {self.place}: {self.what}."


@dataclass(frozen=True, slots=True)
class MendedText:
    """The text of a file after its repairs; ``numbers`` are those its features had before, none for a table."""

    text: str
    mended: tuple[Mended, ...]
    numbers: tuple[int, ...] = ()


def check_repairs(names: Iterable[str]) -> tuple[str, ...]:
    """The names, each once, in the order repairs are made. Raises InputError for a name that is none."""
    asked = set(names)
    unknown = sorted(asked.difference(REPAIRS))
    if unknown:
        raise InputError(f"There is no repair “{unknown[0]}”.", f"It is one of: {', '.join(REPAIRS)}.")
    return tuple(name for name in REPAIRS if name in asked)


# ---- single geometries


def closed(ring: Sequence[Any]) -> list[Any] | None:
    """A ring with its first position again at its end; None where it is closed, too short, or crosses itself then."""
    if len(ring) < 3 or ring[0] == ring[-1]:
        return None
    whole = [*ring, ring[0]]
    return whole if shapely.Polygon([position[:2] for position in whole]).is_valid else None


def turned(ring: Sequence[Any], is_outer: bool) -> list[Any] | None:
    """A closed ring the other way round; None where it runs as RFC 7946 asks: outer ones against the clock, holes with it."""
    line = shapely.LinearRing([position[:2] for position in ring])
    return None if line.is_ccw == is_outer else list(reversed(ring))


def swapped(position: Sequence[Any]) -> list[Any]:
    """A position with its first two numbers the other way round."""
    return [position[1], position[0], *position[2:]]


def away_km(lon_deg: float, lat_deg: float, home: Place) -> float:
    """How far [km] a place lies from home, over a sphere (haversine); without end where it is none on the globe."""
    if not (abs(lon_deg) <= 180 and abs(lat_deg) <= 90):
        return float("inf")
    lat, lat_0 = np.radians(lat_deg), np.radians(home[1])
    half_lon = np.radians(lon_deg - home[0]) / 2.0
    chord = np.sin((lat - lat_0) / 2.0) ** 2 + np.cos(lat) * np.cos(lat_0) * np.sin(half_lon) ** 2
    return float(2.0 * np.degrees(np.arcsin(np.sqrt(np.clip(chord, 0.0, 1.0)))) * _KM_PER_DEG)


def is_swapped(lon_deg: float, lat_deg: float, home: Place) -> bool:
    """Whether a place is far from home as it is written and near it with its numbers the other way round."""
    return away_km(lon_deg, lat_deg, home) > NEAR_KM >= away_km(lat_deg, lon_deg, home)


def split_at_date_line(geometry: Json) -> tuple[Json, Json] | None:
    """What of a Polygon or LineString lies west of the date line, and what east of it; None where it does not cross it.

    West of the line longitudes run up to 180, east of it from -180.
    """
    coordinates: Any = geometry.get("coordinates")
    while isinstance(coordinates, list) and coordinates and isinstance(coordinates[0], list):
        coordinates = coordinates[0]
    # nearly every estate is far from it: one look at the first place
    if not _is_position(coordinates) or abs(coordinates[0]) <= _NEAR_LINE_DEG:
        return None
    drawn = _unwrapped(geometry)
    if drawn is None or drawn.bounds[0] >= 180.0 or drawn.bounds[2] <= 180.0 or not drawn.is_valid:
        return None
    halves = [shapely.intersection(drawn, shapely.box(low, -90, low + 180, 90)) for low in (0.0, 180.0)]
    if any(half.geom_type != geometry["type"] for half in halves):
        return None
    west, east = halves[0], shapely.transform(halves[1], lambda points: points - [360.0, 0.0])
    return _json_of(west), _json_of(east)


def _unwrapped(geometry: Json) -> Any:
    """The geometry with longitudes 0 to 360, where it lies at the date line."""
    kind, coordinates = geometry.get("type"), geometry.get("coordinates")
    rings = coordinates if kind == "Polygon" else [coordinates]
    if (
        kind not in ("Polygon", "LineString")
        or not isinstance(rings, list)
        or not rings
        or not all(_is_line(ring) for ring in rings)
    ):
        return None
    lines = [np.array([position[:2] for position in ring], np.float64) for ring in rings]
    if not all((abs(line[:, 0]) > _NEAR_LINE_DEG).all() and (abs(line) <= [210.0, 90.0]).all() for line in lines):
        return None
    lines = [np.column_stack([np.mod(line[:, 0], 360.0), line[:, 1]]) for line in lines]
    if kind == "LineString":
        return shapely.LineString(lines[0]) if len(lines[0]) > 1 else None
    # a ring that is not closed is another repair's
    is_whole = all(len(line) > 3 and (line[0] == line[-1]).all() for line in lines)
    return shapely.Polygon(lines[0], lines[1:]) if is_whole else None


def _json_of(geometry: Any) -> Json:
    made: Json = json.loads(shapely.to_geojson(geometry))
    return made


# ---- features


def positions_of(geometry: Any) -> list[list[Any]]:
    """All positions of a GeoJSON geometry that are pairs of numbers."""
    coordinates = geometry.get("coordinates") if isinstance(geometry, dict) else None
    found: list[list[Any]] = []
    waiting: list[Any] = [coordinates]
    while waiting:
        each = waiting.pop()
        if _is_position(each):
            found.append(each)
        elif isinstance(each, list):
            waiting += reversed(each)
    return found


def home_of(places: Iterable[Place]) -> Place | None:
    """The middle of places by medians, those that can only be the other way round turned first; None where there are none."""
    told = [(lat, lon) if abs(lat) > 90 and abs(lon) <= 90 else (lon, lat) for lon, lat in places]
    told = [(lon, lat) for lon, lat in told if abs(lon) <= 210 and abs(lat) <= 90 and (lon, lat) != (0.0, 0.0)]
    if not told:
        return None
    lon, lat = np.median(np.array(told), axis=0)
    return float(lon), float(lat)


def mend_features(file: str, content: Any, repairs: Collection[str], home: Place | None) -> MendedText | None:
    """A GeoJSON file after these repairs; None where it is no collection of features, or nothing is changed."""
    found = content.get("features") if isinstance(content, dict) and content.get("type") == "FeatureCollection" else None
    if not isinstance(found, list) or not all(isinstance(item, dict) for item in found):
        return None
    numbered: list[tuple[int, Json]] = list(enumerate(found, start=1))
    mended: list[Mended] = []
    for repair, mend in _geometry_repairs(home).items():
        if repair not in repairs:
            continue
        for at, (number, item) in enumerate(numbered):
            geometry = mend(item.get("geometry"))
            if geometry is not None:
                numbered[at] = number, {**item, "geometry": geometry}
                mended.append(Mended(file, place_of(number, item), repair, DONE[repair]))
    if SPLIT in repairs:
        numbered = _split(file, numbered, mended)
    if DUPLICATES in repairs:
        numbered = _without_duplicates(file, numbered, mended)
    if not mended:
        return None
    text = json.dumps({**content, "features": [item for _, item in numbered]}, ensure_ascii=False)
    return MendedText(text, tuple(mended), tuple(number for number, _ in numbered))


DONE = {
    SWAP: "longitude and latitude were swapped",
    CLOSE: "the outline was closed",
    TURN: "the outline was turned the other way round",
    SPLIT: "was split at the date line",
    DUPLICATES: "was left out, being the same as",
}
"""What is said of a thing that was mended."""


def _geometry_repairs(home: Place | None) -> dict[str, Callable[[Any], Json | None]]:
    """What each repair makes of a geometry, in the order in which one may help the next."""
    return {SWAP: lambda each: _swap_geometry(each, home), CLOSE: _close_geometry, TURN: _turn_geometry}


def _swap_geometry(geometry: Any, home: Place | None) -> Json | None:
    positions = positions_of(geometry)
    if home is None or not positions or not all(is_swapped(each[0], each[1], home) for each in positions):
        return None

    def swap(found: Any) -> Any:
        return swapped(found) if _is_position(found) else [swap(part) for part in found]

    return {**geometry, "coordinates": swap(geometry["coordinates"])}


def _close_geometry(geometry: Any) -> Json | None:
    rings = _rings(geometry)
    made = [closed(ring) for ring in rings]
    if not any(made):
        return None
    return {**geometry, "coordinates": [new or list(old) for new, old in zip(made, rings, strict=True)]}


def _turn_geometry(geometry: Any) -> Json | None:
    rings = _rings(geometry)
    if not all(len(ring) > 3 and ring[0] == ring[-1] for ring in rings):
        return None
    if any(max(each[0] for each in ring) - min(each[0] for each in ring) > 180.0 for ring in rings):
        # it crosses the date line: its way round can't be told before it is split
        return None
    made = [turned(ring, index == 0) for index, ring in enumerate(rings)]
    if not any(made):
        return None
    return {**geometry, "coordinates": [new or list(old) for new, old in zip(made, rings, strict=True)]}


def _rings(geometry: Any) -> list[list[Any]]:
    """Rings of a Polygon whose positions are all pairs of numbers; none for anything else."""
    if not isinstance(geometry, dict) or geometry.get("type") != "Polygon":
        return []
    rings = geometry.get("coordinates")
    return rings if isinstance(rings, list) and all(_is_line(ring) for ring in rings) else []


def _is_line(found: Any) -> bool:
    return isinstance(found, list) and bool(found) and all(_is_position(each) for each in found)


def _is_position(found: Any) -> bool:
    is_pair = isinstance(found, list) and len(found) >= 2 and all(type(part) in (int, float) for part in found[:2])
    return is_pair and all(abs(part) < 1e300 for part in found[:2])


def _split(file: str, numbered: list[tuple[int, Json]], mended: list[Mended]) -> list[tuple[int, Json]]:
    """Blocks that cross the date line become a west and an east block; their rows go to the one they lie in."""
    halves = [
        split_at_date_line(item["geometry"]) if isinstance(item.get("geometry"), dict) else None for _, item in numbered
    ]
    crossing = {
        _name(item) for (_, item), half in zip(numbered, halves, strict=True) if half and half[0]["type"] == "Polygon"
    }
    made: list[tuple[int, Json]] = []
    for (number, item), half in zip(numbered, halves, strict=True):
        if half is not None and _name(item) in crossing:
            mended.append(Mended(file, place_of(number, item), SPLIT, DONE[SPLIT]))
            made += [(number, _renamed({**item, "geometry": part}, side)) for part, side in zip(half, _SIDES, strict=True)]
            continue
        places = positions_of(item.get("geometry")) if _name(item) in crossing else []
        if places:
            side = _SIDES[int(np.mod(places[0][0], 360.0) > 180.0)]
            item = _renamed(item, side)
            mended.append(Mended(file, place_of(number, item), SPLIT, f"was put into the {side} part of its block"))
        made.append((number, item))
    return made


_SIDES = ("west", "east")


def _name(item: Json) -> str:
    properties = item.get("properties")
    found = (properties.get("block") or properties.get("name")) if isinstance(properties, dict) else None
    return one_spelling(str(found).strip()) if found else ""


def _renamed(item: Json, side: str) -> Json:
    properties = dict(item["properties"])
    key = "block" if properties.get("block") else "name"
    return {**item, "properties": {**properties, key: f"{str(properties[key]).strip()} {side}"}}


def _without_duplicates(file: str, numbered: list[tuple[int, Json]], mended: list[Mended]) -> list[tuple[int, Json]]:
    first: dict[str, int] = {}
    kept = []
    for number, item in numbered:
        said = json.dumps([item.get("properties"), item.get("geometry")], sort_keys=True)
        if said in first and first[said] != number:
            mended.append(Mended(file, place_of(number, item), DUPLICATES, f"{DONE[DUPLICATES]} feature {first[said]}"))
        else:
            first[said] = number
            kept.append((number, item))
    return kept


def place_of(number: int, item: Json) -> str:
    """Where a feature stands, as its reader says it."""
    name = _name(item)
    properties = item.get("properties")
    row = str(properties.get("row") or "") if isinstance(properties, dict) else ""
    return f"feature {number}" + (f", block {name}" if name else "") + (f", row {row}" if row else "")


def places_of(content: Any) -> list[Place]:
    """The first position of each feature of a GeoJSON file."""
    found = content.get("features") if isinstance(content, dict) else None
    items = [item for item in found if isinstance(item, dict)] if isinstance(found, list) else []
    first = [positions_of(item.get("geometry"))[:1] for item in items]
    return [(float(each[0][0]), float(each[0][1])) for each in first if each]


def move_points(file: str, content: Any, moves: dict[int, tuple[Floats, str]]) -> MendedText:
    """A GeoJSON file with Points, by number, moved to another lon, lat (2,) [degrees], and what is said of each."""
    features = list(content["features"])
    mended = []
    for number, (point_deg, what) in moves.items():
        item = features[number - 1]
        features[number - 1] = {**item, "geometry": {"type": "Point", "coordinates": [float(part) for part in point_deg]}}
        mended.append(Mended(file, place_of(number, item), SNAP, what))
    return MendedText(json.dumps({**content, "features": features}, ensure_ascii=False), tuple(mended))
