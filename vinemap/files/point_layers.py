"""Layers of a GeoPackage, and the points of one of them. Source: OGC 12-128, GeoPackage Encoding Standard, 1.3."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from vinemap.errors import FileError, InputError, Problem
from vinemap.files.cells import Entry, one_spelling
from vinemap.files.projection import from_system
from vinemap.files.shapes import Mend, as_text, geometry_of
from vinemap.files.text import Read, first_bytes

_DATABASE = b"SQLite format 3\0"
_ENVELOPE_BYTES = (0, 32, 48, 48, 64)  # clause 2.1.3, by the envelope's code
_MOST_POINTS = 2_000_000
# what a damaged database says of itself may be no text
_BROKEN = (sqlite3.Error, UnicodeDecodeError)
_Layer = tuple[str, str, int]
"""Table, its column of geometry, and the number of its map system."""


def is_database(path: Path) -> bool:
    """True where the file is an SQLite database, as a GeoPackage and a season file are. Raises FileError."""
    return first_bytes(path).startswith(_DATABASE)


def is_season(path: Path) -> bool:
    """True where a database has the tables of a season file. Raises FileError when it can't be read far enough to tell."""
    try:
        with closing(_opened(path)) as db:
            return bool(db.execute("SELECT 1 FROM sqlite_master WHERE name = 'vinemap_meta'").fetchall())
    except _BROKEN as error:
        raise FileError(
            f"{Path(path).name} is a season file or a GeoPackage, and it is damaged.", "Use your last copy of it."
        ) from error


def point_columns(path: Path) -> tuple[str, ...]:
    """Columns of all layers of a GeoPackage, in lower case. Raises FileError."""
    with _in_plain_words(path), closing(_opened(path)) as db:
        return _named(_layers(db))


def read_point_layer(path: Path, column: str, mend: Mend | None = None) -> Read[tuple[Entry, ...]]:
    """Points of the only layer that has ``column`` (in lower case), with lon and lat [degrees] among their values.

    ``mend`` makes the repairs that were agreed to.
    Left out with a problem: a feature that is no point, or lies where its map system does not reach. Raises FileError.
    """
    with _in_plain_words(path), closing(_opened(path)) as db:
        return _read_layer(db, path, column, mend)


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """A layer: its map system as PROJ knows it, "" where none is told, and its (geometry, values by name)."""

    name: str
    system: str
    features: tuple[tuple[dict[str, Any] | None, dict[str, str]], ...]


def read_layers(path: Path) -> tuple[Layer, ...]:
    """Every layer with a geometry that holds anything, of any kind. Raises FileError."""
    path = Path(path)
    with _in_plain_words(path), closing(_opened(path)) as db:
        layers = [_whole_layer(db, path.name, layer, columns) for layer, columns in _layers(db)]
    return tuple(layer for layer in layers if layer.features)


def _whole_layer(db: sqlite3.Connection, name: str, layer: _Layer, columns: dict[str, str]) -> Layer:
    table, geometry, number = layer
    names, rows = _values(db, name, table, geometry, columns)
    system = _told_system(db, number)
    texts = (dict(zip(names, map(as_text, row[1:]), strict=True)) for row in rows)
    return Layer(table, system, tuple((_shape(row[0]), told) for row, told in zip(rows, texts, strict=True)))


def _shape(blob: Any) -> dict[str, Any] | None:
    """The geometry of a blob, as RFC 7946 writes it; damaged where it is no such blob."""
    if blob is None:
        return None
    wkb = _wkb(blob)
    return {"type": "a curve or damaged"} if wkb is None else geometry_of(wkb)


def _values(
    db: sqlite3.Connection, name: str, table: str, geometry: str, columns: dict[str, str]
) -> tuple[list[str], list[tuple[Any, ...]]]:
    """Lower-case names of the columns beside the geometry; and the lines, the geometry first."""
    places = {lower: written for lower, written in columns.items() if written != geometry}
    wanted = ", ".join(_quoted(each) for each in (geometry, *places.values()))
    rows = db.execute(f"SELECT {wanted} FROM {_quoted(table)} LIMIT {_MOST_POINTS + 1}").fetchall()
    if len(rows) > _MOST_POINTS:
        raise FileError(f"{name} has more than {_MOST_POINTS:,} points.", "Keep those in the blocks, or thin them.")
    return list(places), rows


@contextmanager
def _in_plain_words(path: Path) -> Iterator[None]:
    try:
        yield
    except _BROKEN as error:
        raise FileError(
            f"{path.name} is no GeoPackage that can be read, or it is damaged.", "Export it as a GeoPackage again."
        ) from error
    except InputError as error:
        raise FileError(f"{path.name}: {error.what}", error.do) from error


def _opened(path: Path) -> sqlite3.Connection:
    path = Path(path).resolve()
    db = sqlite3.connect(f"{path.as_uri()}?mode=ro&immutable=1", uri=True, isolation_level=None)
    try:
        db.execute("PRAGMA trusted_schema = OFF")
        (count,), (size,) = (db.execute(f"PRAGMA page_{what}").fetchone() for what in ("count", "size"))
        # SQLite itself reads what was cut off the last page as zeros
        if path.stat().st_size < count * size or path.stat().st_size % size:
            raise sqlite3.DatabaseError("cut off")
        db.text_factory = lambda data: data.decode("utf-8", "replace")
    except _BROKEN:
        db.close()
        raise
    return db


def _read_layer(db: sqlite3.Connection, path: Path, column: str, mend: Mend | None) -> Read[tuple[Entry, ...]]:
    name = path.name
    layers = _layers(db)
    with_column = [(layer, columns) for layer, columns in layers if column in columns]
    if not with_column:
        raise FileError(f"{name} has no column “{column}”.", f"It has: {', '.join(_named(layers)) or 'none'}.")
    if len(with_column) > 1:
        names = ", ".join(table for (table, _, _), _ in with_column)
        raise FileError(f"{name} has a column “{column}” in several layers: {names}.", "Export the one you mean by itself.")
    (layer, columns) = with_column[0]
    items = _point_items(db, name, layer, columns)
    return _entries(name, enumerate(items, start=1) if mend is None else mend(path, items))


def _layers(db: sqlite3.Connection) -> list[tuple[_Layer, dict[str, str]]]:
    """Layers with a geometry, and their columns."""
    found = db.execute("SELECT table_name, column_name, srs_id FROM gpkg_geometry_columns").fetchall()
    layers = [(str(table), str(geometry), system if isinstance(system, int) else -1) for table, geometry, system in found]
    return [(layer, _columns(db, layer[0])) for layer in layers]


def _named(layers: Sequence[tuple[_Layer, dict[str, str]]]) -> tuple[str, ...]:
    return tuple(
        dict.fromkeys(lower for (_, geometry, _), columns in layers for lower, name in columns.items() if name != geometry)
    )


def _columns(db: sqlite3.Connection, table: str) -> dict[str, str]:
    """Names of a table's columns as written, by their lower-case names; its key only numbers the lines (clause 2.1.6.1)."""
    listed = db.execute("SELECT name FROM pragma_table_info(?) WHERE pk = 0", (table,)).fetchall()
    return {one_spelling(str(name).strip()).casefold(): str(name) for (name,) in listed}


def _point_items(db: sqlite3.Connection, name: str, layer: _Layer, columns: dict[str, str]) -> list[dict[str, Any]]:
    """The points of a layer as features (RFC 7946), without a geometry where there is no place."""
    table, geometry, system = layer
    places, rows = _values(db, name, table, geometry, columns)
    if not rows:
        raise FileError(f"The layer {table} of {name} is empty.", "Export it again.")
    shapes = [_point(row[0]) for row in rows]
    x = np.array([np.nan if point is None else point.x for point in shapes])
    y = np.array([np.nan if point is None else point.y for point in shapes])
    lon, lat = from_system(_system(db, name, system), x, y)
    items = []
    for row, at in zip(rows, np.column_stack([lon, lat]).tolist(), strict=True):
        texts = {each: as_text(value) for each, value in zip(places, row[1:], strict=True)}
        point = {"type": "Point", "coordinates": at} if np.isfinite(at).all() else None
        items.append({"type": "Feature", "properties": texts, "geometry": point})
    return items


def _entries(name: str, numbered: Iterable[tuple[int, Any]]) -> Read[tuple[Entry, ...]]:
    entries: list[Entry] = []
    problems: list[Problem] = []
    for number, item in numbered:
        texts = item["properties"]
        if item["geometry"] is not None:
            texts = texts | dict(zip(("lon", "lat"), map(repr, item["geometry"]["coordinates"]), strict=True))
        elif not (texts.get("row") and texts.get("vine")):
            why = "is not a point that can be placed"
            problems.append(Problem(name, f"feature {number}", "geometry", "", why, "Place it, or delete it."))
            continue
        entries.append(Entry(name, f"feature {number}", texts))
    return Read(tuple(entries), tuple(problems))


def _system(db: sqlite3.Connection, name: str, number: int) -> str:
    """What PROJ knows the map system by. Raises FileError where none is told."""
    system = _told_system(db, number)
    if not system:
        raise FileError(f"{name} does not say in which map system its points are.", "Export it in longitude and latitude.")
    return system


def _told_system(db: sqlite3.Connection, number: int) -> str:
    """What PROJ knows the map system by: its register's number, else its definition; "" where none is told."""
    found = db.execute(
        "SELECT organization, organization_coordsys_id, definition FROM gpkg_spatial_ref_sys WHERE srs_id = ?", (number,)
    ).fetchone()
    if number in (-1, 0) or found is None:
        return ""
    organization, code, definition = found
    return f"EPSG:{code}" if str(organization).upper() == "EPSG" else str(definition)


def _wkb(blob: Any) -> bytes | None:
    """The well-known binary in a GeoPackage blob (clause 2.1.3), or None."""
    if not isinstance(blob, bytes) or len(blob) < 8 or blob[:2] != b"GP":
        return None
    envelope = blob[3] >> 1 & 0b111
    return blob[8 + _ENVELOPE_BYTES[envelope] :] if envelope < len(_ENVELOPE_BYTES) else None


def _point(blob: Any) -> shapely.Point | None:
    """The point of a GeoPackage blob, or None."""
    wkb = _wkb(blob)
    try:
        shape = None if wkb is None else shapely.from_wkb(wkb)
    except shapely.errors.ShapelyError:
        return None
    if isinstance(shape, shapely.MultiPoint) and len(shape.geoms) == 1:
        shape = shape.geoms[0]
    return shape if isinstance(shape, shapely.Point) and not shape.is_empty else None


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'
