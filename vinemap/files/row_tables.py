"""Outlines and rows in tables: their shape as well-known text, or the two ends of each row."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from vinemap.errors import FileError, Problem
from vinemap.files.cells import Entry, Refused, keep_good, keep_good_lines
from vinemap.files.coordinates import ASK_SYSTEM, LONLAT, in_degrees
from vinemap.files.geojson import LINE, Feature, geometry_kind, sound_geometry
from vinemap.files.place_text import with_places
from vinemap.files.signs import ENDS, WELL_KNOWN_TEXT
from vinemap.files.stop_reader import read_where
from vinemap.files.table import read_table
from vinemap.files.text import Read

_OF_OUTLINES = (
    *("name", "row_spacing_m", "bearing_deg", "varieties", "variety", "training", "vigour"),
    *("wall_top_m", "wall_width_m", "fruit_m", "slope_deg", "aspect_deg"),
)
_KNOWN = ("block", "row", "vine_spacing_m", "vines", *_OF_OUTLINES, WELL_KNOWN_TEXT, *ENDS[0], *ENDS[1])
_SHAPE = re.compile(
    r"(?:SRID=([0-9]{4,6});)?\s*((?:MULTI)?(?:POLYGON|LINESTRING|POINT))\s*(?:ZM|Z|M)?\s*(\(.*\))", re.IGNORECASE | re.DOTALL
)
_POSITION = re.compile(r"[-+.0-9eE]+(?:\s+[-+.0-9eE]+)+")
_KINDS = {kind.upper(): kind for one in ("Polygon", "LineString", "Point") for kind in (one, f"Multi{one}")}
_DO = "Write it as LINESTRING (lon lat, lon lat) or POLYGON ((lon lat, ...))."


def table_features(path: Path, crs: str = "") -> Read[tuple[Feature, ...]]:
    """Outlines and rows of a table as features, each with its line; ``crs`` is the map system where the table tells none.

    Raises FileError when it is no table of shapes, or its map system is needed and not known.
    Source of the text: OGC 06-103r4, clause 7.
    """
    path = Path(path)
    table = read_table(path, (), _KNOWN)
    if WELL_KNOWN_TEXT in table.value.columns:
        drawn = _from_text(path.name, table.value.lines, crs)
    else:
        drawn = _from_ends(path.name, table.value.lines, table.value.columns, crs)
    features, refused = keep_good(((entry, (entry, item)) for entry, item in drawn.value), _feature)
    return Read(tuple(features), (*table.problems, *drawn.problems, *refused), (*table.notes, *drawn.notes))


def shape_kinds(path: Path) -> set[str]:
    """Kinds of geometry in a table: Polygon, LineString, Point; none where none can be read. Raises FileError."""
    table = read_table(Path(path), (), _KNOWN)
    if WELL_KNOWN_TEXT not in table.value.columns:
        return {LINE}
    shapes, _ = keep_good_lines(table.value.lines, lambda entry: shape_of(entry.text(WELL_KNOWN_TEXT))[0])
    return {geometry_kind({"geometry": shape}) for shape in shapes} - {""}


def shape_of(text: str) -> tuple[dict[str, Any], str]:
    """The geometry of well-known text as RFC 7946 writes it, and the map system before it, "" for none. Raises Refused."""
    match = _SHAPE.fullmatch(text.strip())
    if match is None:
        raise Refused(WELL_KNOWN_TEXT, text, "is not a shape that can be read" if text else "there is nothing here", _DO)
    system, kind, body = match.groups()
    try:
        listed = json.loads(_POSITION.sub(_as_json, body).replace("(", "[").replace(")", "]"))
    except (ValueError, RecursionError):
        raise Refused(WELL_KNOWN_TEXT, text, "is not a shape that can be read", _DO) from None
    name = _KINDS[kind.upper()]
    # a point alone has one pair of brackets, and a position none in RFC 7946
    return {"type": name, "coordinates": listed[0] if name == "Point" else listed}, f"EPSG:{system}" if system else ""


def _as_json(position: re.Match[str]) -> str:
    return f"[{','.join(repr(float(number)) for number in position[0].split())}]"


_Drawn = Read[list[tuple[Entry, dict[str, Any]]]]


def _feature(drawn: tuple[Entry, dict[str, Any]]) -> Feature:
    entry, item = drawn
    return Feature(entry, *sound_geometry(item))


def _from_text(name: str, lines: Sequence[Entry], crs: str) -> _Drawn:
    kept, problems = keep_good_lines(lines, lambda entry: (entry, *shape_of(entry.text(WELL_KNOWN_TEXT))))
    systems = {system for _, _, system in kept}
    if len(systems) > 1:
        raise FileError(f"{name} has shapes in several map systems.", "Keep those of each system in a file of their own.")
    items = [{"geometry": shape} for _, shape, _ in kept]
    stated = next(iter(systems), "")
    notes = in_degrees(name, items, LONLAT if stated == "EPSG:4326" else stated, crs)
    return Read([(entry, item) for (entry, _, _), item in zip(kept, items, strict=True)], tuple(problems), notes)


def _from_ends(name: str, lines: Sequence[Entry], columns: Sequence[str], crs: str) -> _Drawn:
    is_in_degrees = set(ENDS[0]) <= set(columns)
    if not is_in_degrees and not crs:
        raise FileError(f"{name} has the ends of rows in metres and does not say in which map system.", ASK_SYSTEM)
    problems: list[Problem] = []
    notes: dict[str, None] = {}
    ends: list[dict[str, tuple[float, float]]] = []
    for end in ("start", "end"):
        read = _end(lines, end, "" if is_in_degrees else crs)
        problems += [each for each in read.problems if each not in problems]
        notes |= dict.fromkeys(read.notes)
        ends.append(read.value)
    drawn = [
        (line, {"geometry": {"type": LINE, "coordinates": [list(each[line.place]) for each in ends]}})
        for line in lines
        if all(line.place in each for each in ends)
    ]
    return Read(drawn, tuple(problems), tuple(notes))


def _end(lines: Sequence[Entry], end: str, crs: str) -> Read[dict[str, tuple[float, float]]]:
    """Longitude and latitude [degrees] of one end of each row, by the place of its line."""
    names = {name.removeprefix(f"{end}_"): name for way in ENDS for name in way if name.startswith(f"{end}_")}
    at_end = [replace(line, values={short: line.text(name) for short, name in names.items()}) for line in lines]
    placed = with_places(at_end, crs)
    found, refused = keep_good_lines(placed.value, lambda line: (line.place, _lonlat(line)))
    problems = [
        replace(each, field=", ".join(names.get(part, part) for part in each.field.split(", ") if part))
        for each in (*placed.problems, *refused)
    ]
    return Read(dict(found), tuple(problems), placed.notes)


def _lonlat(line: Entry) -> tuple[float, float]:
    if not any(line.values.values()):
        raise Refused("", "", "does not say where the row begins and ends", "Fill in both ends of the row.")
    _, _, lonlat_deg, _ = read_where(line)
    if lonlat_deg is None:
        raise Refused("x_m, y_m", "", "lies where the map system does not reach", "Check the figures and the map system.")
    return lonlat_deg
