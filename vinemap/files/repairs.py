"""What can be mended in features of any file, by name and only where the manager agrees: one small change for each."""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.files.cells import one_spelling
from vinemap.files.geojson import POLYGON, entry_of, feature_words, geometry_kind

CLOSE, TURN, SWAP, SPLIT = "close-ring", "turn-ring", "swap-coordinates", "split-at-date-line"
DUPLICATES, SNAP, PLACE = "drop-duplicates", "snap-to-row", "block-by-place"
REPAIRS = (CLOSE, TURN, SWAP, SPLIT, DUPLICATES, PLACE, SNAP)
NEAR_KM = 50.0
_KM_PER_DEG = 111.32
_NEAR_LINE_DEG = 150.0

Json = dict[str, Any]
Place = tuple[float, float]
"""Longitude, latitude [degrees]."""
Numbered = list[tuple[int, Any]]
"""Features, each with the number it has in its file: the two halves of a split one have the same."""
Moves = Mapping[int, tuple[Floats, str]]
"""Where Points go, by number: lon, lat (2,) [degrees], and what is said of it."""


@dataclass(frozen=True, slots=True)
class Mended:
    """One thing that a repair changed, or would change: in which file, where there, by which repair, and how."""

    file: str
    place: str
    repair: str
    what: str

    def __str__(self) -> str:
        return f"{self.file}, {self.place}: {self.what}."


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
    lat, lat_0, half_lon = (math.radians(part) for part in (lat_deg, home[1], (lon_deg - home[0]) / 2.0))
    chord = math.sin((lat - lat_0) / 2.0) ** 2 + math.cos(lat) * math.cos(lat_0) * math.sin(half_lon) ** 2
    return 2.0 * math.degrees(math.asin(math.sqrt(min(chord, 1.0)))) * _KM_PER_DEG


def is_swapped(lon_deg: float, lat_deg: float, home: Place) -> bool:
    """Whether a place is far from home as it is written and near it with its numbers the other way round."""
    return away_km(lon_deg, lat_deg, home) > NEAR_KM >= away_km(lat_deg, lon_deg, home)


def split_at_date_line(geometry: Any) -> tuple[Json, Json] | None:
    """What of a Polygon or LineString lies west of the date line, and what east of it; None where it does not cross it.

    West of the line longitudes run up to 180, east of it from -180.
    """
    first = first_position(geometry)
    # nearly every estate is far from it: one look at the first place
    if first is None or abs(first[0]) <= _NEAR_LINE_DEG:
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
    made: Json = json.loads(shapely.to_geojson(shapely.orient_polygons(geometry)))
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


def first_position(geometry: Any) -> list[Any] | None:
    """The first position of a GeoJSON geometry; None where that is no pair of numbers."""
    found = geometry.get("coordinates") if isinstance(geometry, dict) else None
    while isinstance(found, list) and found and isinstance(found[0], list):
        found = found[0]
    return found if _is_position(found) else None


def home_of(places: Iterable[Place]) -> Place | None:
    """The middle of places by medians, those that can only be the other way round turned first; None where there are none."""
    told = [(lat, lon) if abs(lat) > 90 and abs(lon) <= 90 else (lon, lat) for lon, lat in places]
    told = [(lon, lat) for lon, lat in told if abs(lon) <= 210 and abs(lat) <= 90 and (lon, lat) != (0.0, 0.0)]
    if not told:
        return None
    lon, lat = np.median(np.array(told), axis=0)
    return float(lon), float(lat)


def mend_items(file: str, numbered: Numbered, repairs: Collection[str], home: Place | None) -> tuple[Numbered, list[Mended]]:
    """Features after these repairs, and what was mended; those that were given stay as they are."""
    mended: list[Mended] = []
    made = [(number, item if isinstance(item, dict) else {}) for number, item in numbered]
    mends = [(repair, mend) for repair, mend in _geometry_repairs(home).items() if repair in repairs]
    for at, (number, item) in enumerate(made if mends else ()):
        geometry = _one_part(item)
        for repair, mend in mends:
            better = mend(geometry)
            if better is not None:
                geometry = better
                made[at] = number, {**item, "geometry": geometry}
                mended.append(mended_at(file, number, item, repair))
    if SPLIT in repairs:
        made = _split(file, made, mended)
    if DUPLICATES in repairs:
        made = _without_duplicates(file, made, mended)
    return made if mended else list(numbered), mended


def move_points(file: str, numbered: Numbered, moves: Moves) -> tuple[Numbered, list[Mended]]:
    """Features with Points moved, and what is said of that."""
    made, mended = list(numbered), []
    for at, (number, item) in enumerate(made):
        if number in moves:
            point_deg, what = moves[number]
            made[at] = number, {**item, "geometry": {"type": "Point", "coordinates": [float(part) for part in point_deg]}}
            mended.append(mended_at(file, number, item, SNAP, what))
    return made, mended


def mended_at(file: str, number: int, item: Json, repair: str, what: str = "") -> Mended:
    """What a repair did to a feature, told where it stands."""
    return Mended(file, entry_of(file, number, item).place, repair, what or DONE[repair])


def _one_part(item: Json) -> Any:
    """The geometry of a feature; one of several parts that has only one as if it were alone."""
    geometry = item.get("geometry")
    parts = geometry.get("coordinates") if isinstance(geometry, dict) else None
    kind = geometry_kind(item)
    if isinstance(geometry, dict) and kind not in ("", geometry.get("type")) and isinstance(parts, list) and len(parts) == 1:
        return {**geometry, "type": kind, "coordinates": parts[0]}
    return geometry


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
    first = first_position(geometry)
    # nearly every shape is near: one look at its first place
    if home is None or first is None or not is_swapped(first[0], first[1], home):
        return None
    if not all(is_swapped(each[0], each[1], home) for each in positions_of(geometry)):
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


def _split(file: str, numbered: Numbered, mended: list[Mended]) -> Numbered:
    """Blocks that cross the date line become a west and an east block; their rows go to the one they lie in."""
    halves = [split_at_date_line(_one_part(item)) for _, item in numbered]
    crossing = {
        _name(item) for (_, item), half in zip(numbered, halves, strict=True) if half and half[0]["type"] == POLYGON
    } - {""}
    if not crossing:
        return numbered
    made: Numbered = []
    for (number, item), half in zip(numbered, halves, strict=True):
        if _name(item) not in crossing:
            made.append((number, item))
        elif half is not None:
            mended.append(mended_at(file, number, item, SPLIT))
            made += [(number, _renamed({**item, "geometry": part}, side)) for part, side in zip(half, _SIDES, strict=True)]
        else:
            first = first_position(item.get("geometry"))
            if first is not None:
                side = _SIDES[int(np.mod(first[0], 360.0) > 180.0)]
                item = _renamed(item, side)
                mended.append(mended_at(file, number, item, SPLIT, f"was put into the {side} part of its block"))
            made.append((number, item))
    return made


_SIDES = ("west", "east")


def _name_key(item: Json) -> Any:
    """Under what a feature says the name of its block, in any case; None where it does not."""
    properties = item.get("properties")
    told = properties if isinstance(properties, dict) else {}
    keys = {str(key).strip().casefold(): key for key, value in told.items() if value}
    return keys.get("block", keys.get("name"))


def _name(item: Json) -> str:
    key = _name_key(item)
    return "" if key is None else one_spelling(str(item["properties"][key]).strip())


def _renamed(item: Json, side: str) -> Json:
    key = _name_key(item)
    return {**item, "properties": {**item["properties"], key: f"{_name(item)} {side}"}}


def _without_duplicates(file: str, numbered: Numbered, mended: list[Mended]) -> Numbered:
    # writing a feature down is slow beside a look whether another one begins at its first place
    begins = [str(first_position(item.get("geometry"))) for _, item in numbered]
    times = Counter(begins)
    first: dict[str, tuple[int, str]] = {}
    kept = []
    for (number, item), begin in zip(numbered, begins, strict=True):
        said = json.dumps([item.get("properties"), item.get("geometry")], sort_keys=True) if item and times[begin] > 1 else ""
        if said and first.setdefault(said, (number, feature_words(number, item)))[0] != number:
            mended.append(mended_at(file, number, item, DUPLICATES, f"{DONE[DUPLICATES]} {first[said][1]}"))
        else:
            kept.append((number, item))
    return kept


def places_of(items: Iterable[Any]) -> list[Place]:
    """The first position of each feature."""
    first = [first_position(item.get("geometry")) for item in items if isinstance(item, dict)]
    return [(float(each[0]), float(each[1])) for each in first if each is not None]
