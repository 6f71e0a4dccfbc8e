"""The season file's face to any map program: a GeoPackage with the layers ``blocks``, ``rows`` and ``stops``.

The layers are copies for others to read; the season itself is kept in tables of our own beside them.
Source: OGC 12-128, GeoPackage Encoding Standard, 1.3.
"""

from __future__ import annotations

import datetime as dt
import sqlite3
import struct
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely

from vinemap.ground.block import Block
from vinemap.ground.frame import Frame
from vinemap.scouting.rounds import Round
from vinemap.season.value import Season

APPLICATION_ID = 0x47504B47  # "GPKG", requirement 2
USER_VERSION = 10300  # 1.3.0, requirement 2
LON_LAT = 4326
"""EPSG number of the layers' system. x is longitude and y latitude, whatever the register says (clause 1.1.2.1.1)."""

_WGS_84 = (
    'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],'
    'AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],'
    'UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]]'
)

_TABLES = (
    """CREATE TABLE gpkg_spatial_ref_sys (
        srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
        organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT)""",
    """CREATE TABLE gpkg_contents (
        table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '',
        last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
        min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
        CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id))""",
    """CREATE TABLE gpkg_geometry_columns (
        table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL,
        z TINYINT NOT NULL, m TINYINT NOT NULL, CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
        CONSTRAINT uk_gc_table_name UNIQUE (table_name),
        CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
        CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id))""",
)

_SYSTEMS = (
    ("WGS 84 geodetic", LON_LAT, "EPSG", LON_LAT, _WGS_84, "longitude/latitude coordinates in decimal degrees"),
    ("Undefined cartesian", -1, "NONE", -1, "undefined", "undefined cartesian coordinate reference system"),
    ("Undefined geographic", 0, "NONE", 0, "undefined", "undefined geographic coordinate reference system"),
)

_LAYERS = (
    (
        "blocks",
        "POLYGON",
        "block TEXT, varieties TEXT, training TEXT, row_spacing_m DOUBLE, vine_spacing_m DOUBLE, vigour DOUBLE, "
        "row_count MEDIUMINT, vine_count MEDIUMINT",
    ),
    ("rows", "LINESTRING", "block TEXT, row TEXT, vine_spacing_m DOUBLE, vine_count MEDIUMINT"),
    (
        "stops",
        "POINT",
        "round MEDIUMINT, date DATE, block TEXT, row TEXT, vine MEDIUMINT, examined MEDIUMINT, infected MEDIUMINT, "
        "leaves_examined MEDIUMINT, leaves_infected MEDIUMINT, is_targeted BOOLEAN",
    ),
)


def make_geopackage(db: sqlite3.Connection) -> None:
    """Turn an empty database into a GeoPackage with three empty layers."""
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute(f"PRAGMA user_version = {USER_VERSION}")
    for table in _TABLES:
        db.execute(table)
    db.executemany("INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?)", _SYSTEMS)
    for name, kind, columns in _LAYERS:
        db.execute(f"CREATE TABLE {name} (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom {kind}, {columns})")
        db.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES (?, 'features', ?, ?)",
            (name, name, LON_LAT),
        )
        db.execute("INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 0, 0)", (name, kind, LON_LAT))
    # deletions and insertions go by these
    db.execute("CREATE INDEX vinemap_rows_by_block ON rows (block)")
    db.execute("CREATE INDEX vinemap_stops_by_round ON stops (round)")


def list_table(db: sqlite3.Connection, name: str, description: str) -> None:
    """List a table without geometry, so that a map program shows it and leaves the unlisted ones alone."""
    db.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description) VALUES (?, 'attributes', ?, ?)",
        (name, name, description),
    )


def blobs_of(shapes: np.ndarray) -> list[bytes]:
    """Geometries (n,) in longitude and latitude as GeoPackage blobs (clause 2.1.3): header, envelope, WKB.

    Points and empty geometries go without an envelope, as the standard allows.
    """
    blobs = []
    empty = shapely.is_empty(shapes)
    boxed = ~empty & (shapely.get_type_id(shapes) != shapely.GeometryType.POINT.value)
    flags = 0b1 | (boxed << 1) | (empty << 4)
    columns = (shapely.to_wkb(shapes, byte_order=1), flags.tolist(), boxed.tolist(), shapely.bounds(shapes).tolist())
    for wkb, flag, has_box, (west, south, east, north) in zip(*columns, strict=True):
        header = struct.pack("<2sBBi", b"GP", 0, flag, LON_LAT)
        box = struct.pack("<4d", west, east, south, north) if has_box else b""
        blobs.append(header + box + wkb)
    return blobs


def update_layers(db: sqlite3.Connection, before: Season | None, after: Season, when_utc: int) -> None:
    """Bring the layers from one season to the next; only blocks and rounds that are not the same object are written."""
    same_place = before is not None and before.estate.frame == after.estate.frame
    old_blocks, old_rounds = (before.blocks, before.rounds) if before is not None else ((), ())
    gone, new = _only_in(old_blocks, after.blocks, same_place), _only_in(after.blocks, old_blocks, same_place)
    # marking vines makes a new block around the same rows
    same_rows = {block.name: block.rows for block in gone} if same_place else {}
    kept = {block.name for block in new if same_rows.get(block.name) is block.rows}
    for block in gone:
        db.execute("DELETE FROM blocks WHERE block = ?", (block.name,))
        if block.name not in kept:
            db.execute("DELETE FROM rows WHERE block = ?", (block.name,))
    for block in new:
        _write_block(db, after.estate.frame, block)
        if block.name not in kept:
            _write_rows(db, after.estate.frame, block)
    gone_rounds, new_rounds = _only_in(old_rounds, after.rounds, same_place), _only_in(after.rounds, old_rounds, same_place)
    for each in gone_rounds:
        db.execute("DELETE FROM stops WHERE round = ?", (each.number,))
    for each in new_rounds:
        _write_round(db, after.estate.frame, each)
    touched = ["blocks", "rows"] * bool(gone or new) + ["stops"] * bool(gone_rounds or new_rounds)
    if before is None or before.estate is not after.estate:
        invented = " (invented for demonstration)" if after.estate.is_invented else ""
        db.execute("UPDATE gpkg_contents SET description = ?", (after.estate.name + invented,))
    stamp = dt.datetime.fromtimestamp(when_utc, dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
    db.executemany("UPDATE gpkg_contents SET last_change = ? WHERE table_name = ?", [(stamp, name) for name in touched])


def _only_in(some: Sequence[Any], others: Iterable[Any], same_place: bool) -> list[Any]:
    known = {id(other) for other in others} if same_place else set()
    return [each for each in some if id(each) not in known]


def _in_lonlat(frame: Frame, shapes: np.ndarray) -> np.ndarray:
    """Shapes (n,) in metres as shapes (n,) in longitude and latitude."""
    from vinemap.files.projection import to_lonlat

    moved: np.ndarray = shapely.transform(shapes, lambda xy: np.column_stack(to_lonlat(frame, xy[:, 0], xy[:, 1])))
    return moved


def _insert(db: sqlite3.Connection, layer: str, shapes: np.ndarray, records: Iterable[tuple[Any, ...]]) -> None:
    blobs = blobs_of(shapes)
    width = next(columns.count(",") + 1 for name, _, columns in _LAYERS if name == layer)
    marks = ", ".join("?" * (width + 1))
    db.executemany(
        f"INSERT INTO {layer} VALUES (NULL, {marks})",
        ((blob, *record) for blob, record in zip(blobs, records, strict=True)),
    )


def _write_block(db: sqlite3.Connection, frame: Frame, block: Block) -> None:
    rows = block.rows
    record = (
        block.name,
        ", ".join(block.varieties),
        block.training,
        block.row_spacing_m,
        block.vine_spacing_m,
        block.vigour,
        len(rows),
        int(rows.vine_count.sum()),
    )
    _insert(db, "blocks", _in_lonlat(frame, np.array([block.outline])), [record])


def _write_rows(db: sqlite3.Connection, frame: Frame, block: Block) -> None:
    rows = block.rows
    if len(rows):
        which = np.repeat(np.arange(len(rows)), np.diff(rows.start))
        lines = shapely.linestrings(rows.xy_m, indices=which)
        spacing, count = rows.vine_spacing_m.tolist(), rows.vine_count.tolist()
        records = zip([block.name] * len(rows), rows.labels, spacing, count, strict=True)
        _insert(db, "rows", _in_lonlat(frame, lines), records)


def _write_round(db: sqlite3.Connection, frame: Frame, each: Round) -> None:
    stops = each.stops
    if not len(stops):
        return
    number, date = each.number, each.date.isoformat()
    columns = (
        [stops.blocks[index] for index in stops.block],
        stops.rows,
        stops.vine.tolist(),
        stops.examined.tolist(),
        stops.infected.tolist(),
        stops.leaves_examined.tolist(),
        stops.leaves_infected.tolist(),
        stops.is_targeted.tolist(),
    )
    records = ((number, date, *record) for record in zip(*columns, strict=True))
    _insert(db, "stops", _in_lonlat(frame, shapely.points(stops.x_m, stops.y_m)), records)
