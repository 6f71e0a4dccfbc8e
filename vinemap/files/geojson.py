"""Features as GeoJSON has them (RFC 7946), from any kind of file: longitude, latitude in degrees on WGS 84."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import FileError, Problem
from vinemap.files.cells import Entry, Refused, one_spelling
from vinemap.files.coordinates import ASK_SYSTEM, LONLAT, in_degrees
from vinemap.files.json_lines import is_json_lines, json_text, read_json_lines
from vinemap.files.shapes import Mend
from vinemap.files.text import Read, first_bytes, write_text
from vinemap.files.vector_reader import IN_LAYER, is_vector, read_vector

POLYGON, LINE, POINT = "Polygon", "LineString", "Point"
KINDS = (POLYGON, LINE, POINT)
_KIND_WORDS = {POLYGON: "outlines (Polygons)", LINE: "rows (LineStrings)", POINT: "stops (Points)"}
_SEVERAL = {f"Multi{kind}": kind for kind in KINDS}
_DECIMALS = 7
_NUMBERS = (int, float)
_NOWHERE = 1e-6
"""Degrees from zero, zero within which no position was recorded."""
_SWAP = "Put longitude first, then latitude."
_BEYOND_DATE_LINE = 185.0
"""Degrees of longitude up to which a number is a place across the date line rather than metres."""
_CUT = "Cut it at longitude 180 into one feature for each side."


@dataclass(frozen=True, slots=True, eq=False)
class Feature:
    """A feature: ``kind`` and its ``parts`` (rings, one line or one point), each (k, 2) lon, lat [degrees]."""

    entry: Entry
    kind: str
    parts: tuple[Floats, ...]


def is_json(path: Path) -> bool:
    """True where the file begins as JSON does. Raises FileError when it can't be opened."""
    return first_bytes(path).lstrip(b"\xef\xbb\xbf \t\r\n")[:1] in (b"{", b"[", b"\x1e")


def read_json(path: Path) -> tuple[Any, tuple[str, ...]]:
    """The JSON value of a file, and notes on its encoding. Raises FileError with line and column when it is not JSON."""
    text, notes = json_text(path)
    return _parsed(Path(path).name, text), notes


def _parsed(name: str, text: str) -> Any:
    try:
        return json.loads(text)
    except json.JSONDecodeError as error:
        raise FileError(
            f"{name} is not JSON: {error.msg} at line {error.lineno}, column {error.colno}.",
            "It may be cut off or edited by hand; save it again from where it came.",
        ) from error
    except (RecursionError, ValueError) as error:
        raise FileError(f"{name} is not usable JSON: its lists or numbers have no end.", "Save it again.") from error


def is_drawn(path: Path) -> bool:
    """True where the file is JSON or another kind of file of drawn features. Raises FileError when it can't be opened."""
    return is_json(path) or is_vector(path)


def whole_json(path: Path) -> Any:
    """The value of a JSON file, None where it is another kind of file or has a feature a line. Raises FileError."""
    if not is_json(path):
        return None
    text, _ = json_text(path)
    return None if is_json_lines(text) else _parsed(Path(path).name, text)


def read_items(path: Path, crs: str | None = "") -> Read[tuple[Any, ...]]:
    """Features as they are written, in longitude and latitude; ``crs`` is the map system where the file tells none.

    With None their coordinates stay as they are. Raises FileError when it holds no features, or its system can't be used.
    """
    path = Path(path)
    if not is_json(path) and is_vector(path):
        return read_vector(path, crs)
    text, notes = json_text(path)
    problems: tuple[Problem, ...] = ()
    stated = ""
    if is_json_lines(text):
        listed, problems = read_json_lines(path.name, text)
    else:
        content = _parsed(path.name, text)
        listed = _feature_list(path.name, content)
        stated = _stated_system(path.name, content)
    if crs is not None:
        notes += in_degrees(path.name, listed, stated, crs, asks=False)
    return Read(tuple(listed), problems, notes)


def read_features(
    path: Path, kinds: Sequence[str] = KINDS, crs: str = "", mend: Mend | None = None
) -> Read[tuple[Feature, ...]]:
    """Features of these kinds in a file, where their geometry is sound; other kinds are left to other readers.

    ``crs`` is the map system where the file tells none; ``mend`` makes the repairs that were agreed to. Raises FileError when
    it is no such file or holds none of these.
    """
    path = Path(path)
    name = path.name
    read = read_items(path, crs)
    numbered = enumerate(read.value, start=1) if mend is None else mend(path, read.value)
    features: list[Feature] = []
    problems: list[Problem] = list(read.problems)
    others = set(KINDS).difference(kinds)
    for number, item in numbered:
        if geometry_kind(item) in others:
            continue
        entry = entry_of(name, number, item)
        try:
            kind, parts = sound_geometry(item)
            features.append(Feature(entry, kind, parts))
        except Refused as refused:
            problems.append(entry.problem(refused.field, refused.value, refused.why, refused.do))
    if not features and not problems:
        raise FileError(
            f"{name} holds no {' or '.join(_KIND_WORDS[kind] for kind in kinds)}.", "Draw at least one and save it again."
        )
    return Read(tuple(features), tuple(problems), read.notes)


def geometry_kind(item: Any) -> str:
    """Kind of geometry of a feature, one part or several alike; "" where it has none that is used here."""
    geometry = item.get("geometry") if isinstance(item, dict) else None
    kind = geometry.get("type") if isinstance(geometry, dict) else None
    kind = _SEVERAL.get(kind, kind) if isinstance(kind, str) else ""
    return kind if kind in KINDS else ""


def write_features(path: Path, features: Iterable[tuple[Any, Mapping[str, object]]]) -> None:
    """Write (geometry in lon, lat [degrees]; properties) as GeoJSON, 7 decimals, outer rings counter-clockwise.

    Raises FileError when it can't be written.
    """
    lines = []
    for geometry, properties in features:
        drawn = shapely.geometry.mapping(shapely.orient_polygons(geometry))
        feature = {"type": "Feature", "properties": dict(properties), "geometry": _rounded(drawn)}
        lines.append(json.dumps(feature, ensure_ascii=False, allow_nan=False))
    body = ",\n".join(lines)
    write_text(path, f'{{"type": "FeatureCollection", "features": [\n{body}\n]}}\n')


def ring_problem(polygon: shapely.Polygon) -> str:
    """What is wrong with an outline, "" when nothing is."""
    if polygon.is_valid and polygon.area > 0:
        return ""
    shell = shapely.Polygon(polygon.exterior)
    holes = [shapely.Polygon(hole) for hole in polygon.interiors]
    for words, ring in (("the outline", shell), *(("a hole", hole) for hole in holes)):
        if not ring.is_valid:
            reason = shapely.is_valid_reason(ring)
            return f"{words} crosses itself near {reason[reason.find('[') + 1 : -1].replace(' ', ', ')}"
    if any(not shell.intersects(hole) for hole in holes):
        return "a hole lies outside the outline"
    return "holes touch or cover each other or the outline"


def property_texts(properties: Mapping[str, Any]) -> dict[str, str]:
    """Properties as text by lower-case name; a list becomes ``A;B``."""
    return {str(key).strip().casefold(): _as_text(value) for key, value in properties.items()}


def _feature_list(name: str, content: Any) -> list[Any]:
    if not isinstance(content, dict) or content.get("type") not in ("FeatureCollection", "Feature"):
        raise FileError(f"{name} is JSON but not a GeoJSON collection of features.", "Export it as GeoJSON.")
    found = content.get("features") if content["type"] == "FeatureCollection" else [content]
    if not isinstance(found, list):
        raise FileError(f"{name} has no list of features.", "Export it as GeoJSON again.")
    return found


def _stated_system(name: str, content: Any) -> str:
    """The map system of a ``crs`` member, as files from before RFC 7946 have it; "" without one. Raises FileError."""
    system = content.get("crs")
    if not system:
        return ""
    named = system.get("properties") if isinstance(system, dict) else None
    called = str(named.get("name", "")) if isinstance(named, dict) else ""
    if re.search(r"CRS84|\b4326$", called):
        return LONLAT
    number = re.fullmatch(r"(?:urn:ogc:def:crs:)?EPSG:(?:[0-9.]*:)?([0-9]{4,6})", called, re.IGNORECASE)
    if number is None:
        raise FileError(
            f"{name} says that it is in another map system than longitude and latitude, and names none that is known here.",
            "Export it in longitude and latitude on WGS 84, as GeoJSON asks for.",
        )
    return f"EPSG:{number.group(1)}"


def entry_of(name: str, number: int, item: Any) -> Entry:
    """What a feature tells, and where it stands in its file."""
    properties = item.get("properties") if isinstance(item, dict) else None
    values = property_texts(properties) if isinstance(properties, dict) else {}
    called = values.get("name")
    block = values.get("block") or (called if geometry_kind(item) != POINT else "")
    row = values.get("row")
    # the name of a mark at a point is that of a gate or a tap as often as that of a block
    which = f", block {block}" if block else f", “{called}”" if called else ""
    place = f"{feature_words(number, item)}{which}" + (f", row {row}" if row else "")
    return Entry(name, place, values)


def feature_words(number: int, item: Any) -> str:
    """Which feature it is: its number in its file, or in its layer where a file has several."""
    layer = item.get(IN_LAYER) if isinstance(item, dict) else None
    if isinstance(layer, list) and len(layer) == 2 and isinstance(layer[1], int):
        return f"{layer[0]}, feature {number - layer[1]}"
    return f"feature {number}"


def _as_text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, list):
        return ";".join(one_spelling(str(part).strip()) for part in value if isinstance(part, (str, int, float)))
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return "" if isinstance(value, dict) else one_spelling(str(value).strip())


def sound_geometry(item: Any) -> tuple[str, tuple[Floats, ...]]:
    """Kind and parts of a feature's geometry, each (k, 2) lon, lat [degrees]. Raises Refused where it is not sound."""
    geometry = item.get("geometry") if isinstance(item, dict) else None
    if not isinstance(geometry, dict):
        raise Refused("geometry", "", "there is no geometry", "Draw it, or delete the feature.")
    kind, coordinates = geometry.get("type"), geometry.get("coordinates")
    if isinstance(kind, str) and kind in _SEVERAL and isinstance(coordinates, list):
        if len(coordinates) > 1:
            why = f"has {len(coordinates)} separate parts"
            raise Refused("geometry", str(kind), why, "Split it into one feature for each part, each with its own name.")
        kind, coordinates = _SEVERAL[kind], (coordinates[0] if coordinates else [])
    if kind not in KINDS:
        do = "Outlines are Polygons, rows are LineStrings and stops are Points."
        raise Refused("geometry", str(kind), "is not a kind of geometry used here", do)
    if not isinstance(coordinates, list) or not coordinates:
        raise Refused("geometry", kind, "is empty", "Draw it, or delete the feature.")
    if kind == POLYGON:
        rings = tuple(_positions(ring) for ring in coordinates)
        _refuse_date_line(kind, np.concatenate(rings))
        _check_rings(rings)
        return kind, rings
    points = _positions(coordinates if kind == LINE else [coordinates])
    # of few points numbers are compared faster than columns
    places = points.tolist()
    if kind == LINE and all(place == places[0] for place in places):
        raise Refused("geometry", kind, "is a single point", "Draw a row from its first vine to its last.")
    _refuse_date_line(kind, points)
    return kind, (points,)


def _positions(found: Any) -> Floats:
    """Positions (k, 2) [degrees]; heights are left aside. Raises Refused."""
    if not isinstance(found, list) or not found:
        raise Refused("geometry", "", "is empty", "Draw it, or delete the feature.")
    pairs = [position[:2] if isinstance(position, list) else [] for position in found]
    if not all(len(pair) == 2 and type(pair[0]) in _NUMBERS and type(pair[1]) in _NUMBERS for pair in pairs):
        raise Refused("geometry", "", "a position is not a pair of numbers", "Each is [longitude, latitude].")
    # what nearly all positions are is found out before the slower questions
    if all(_NOWHERE <= abs(lon) <= 180 and abs(lat) <= 90 for lon, lat in pairs):
        return np.array(pairs, dtype=np.float64)
    try:
        points = np.array(pairs, dtype=np.float64)
    except OverflowError:
        points = np.full((1, 2), np.inf)
    if not np.isfinite(points).all():
        raise Refused("geometry", "", "a position is not a finite number", "Each is [longitude, latitude].")
    for lon, lat in points[((abs(points[:, 0]) > 180) | (abs(points[:, 1]) > 90))]:
        if abs(lon) <= 90 and abs(lat) <= 180:
            raise Refused("geometry", f"[{lon:.7g}, {lat:.7g}]", "latitude and longitude seem to be swapped", _SWAP)
        if abs(lon) <= _BEYOND_DATE_LINE and abs(lat) <= 90:
            why = "lies beyond the date line"
            raise Refused("geometry", f"[{lon:.9g}, {lat:.9g}]", why, _CUT)
        why = "is not longitude and latitude; it looks like metres on a map grid"
        raise Refused("geometry", f"[{lon:.9g}, {lat:.9g}]", why, ASK_SYSTEM)
    if (abs(points) < _NOWHERE).all(axis=1).any():
        raise Refused("geometry", "[0, 0]", "a position is zero, zero: none was recorded there", "Place it, or remove it.")
    return points


def _refuse_date_line(kind: str, points: Floats) -> None:
    """RFC 7946, section 3.1.9: what crosses the antimeridian is cut there. Raises Refused."""
    lon = points[:, 0].tolist()
    if max(lon) - min(lon) > 180.0:
        raise Refused("geometry", kind, "crosses the date line, or reaches around the world", _CUT)


def _check_rings(rings: tuple[Floats, ...]) -> None:
    for ring in rings:
        if not (ring[0] == ring[-1]).all():
            raise Refused("geometry", POLYGON, "the outline is not closed", "Make its last point the same as its first.")
        if len(ring) < 4:
            raise Refused("geometry", POLYGON, "the outline has fewer than three corners", "Draw it again.")
    wrong = ring_problem(shapely.Polygon(rings[0], rings[1:]))
    if wrong:
        raise Refused("geometry", POLYGON, wrong, "Move the points so that the line runs once around the block.")


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [_rounded(part) for part in value]
    if isinstance(value, float) and math.isfinite(value):
        return round(value, _DECIMALS)
    return value
