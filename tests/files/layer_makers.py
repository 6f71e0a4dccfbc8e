"""Tiny invented GeoPackages of points, written by hand after OGC 12-128."""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Sequence
from pathlib import Path

import shapely

WGS_84 = (4326, "EPSG", 4326, "undefined")


def blob(x: float, y: float, envelope: int = 0) -> bytes:
    """A point as clause 2.1.3 has it, with an envelope of code 0 (none) or 1 (x and y)."""
    box = struct.pack("<4d", x, x, y, y) if envelope else b""
    return struct.pack("<2sBBi", b"GP", 0, 1 | envelope << 1, 4326) + box + shapely.to_wkb(shapely.Point(x, y), byte_order=1)


def write_layers(
    path: Path,
    layers: dict[str, Sequence[tuple[object, ...]]],
    columns: str = "vigour DOUBLE",
    system: tuple[int, str, int, str] = WGS_84,
) -> Path:
    """Layers of (blob, figures...) in one map system: (number, organisation, its number, definition)."""
    path.unlink(missing_ok=True)
    db = sqlite3.connect(path)
    with db:
        db.execute("PRAGMA application_id = 1196444487")
        db.execute(
            "CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT, srs_id INTEGER, organization TEXT, "
            "organization_coordsys_id INTEGER, definition TEXT)"
        )
        db.execute("CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, srs_id INTEGER)")
        db.execute("INSERT INTO gpkg_spatial_ref_sys VALUES ('invented', ?, ?, ?, ?)", system)
        for name, lines in layers.items():
            quoted = name.replace('"', '""')
            db.execute(f'CREATE TABLE "{quoted}" (fid INTEGER PRIMARY KEY, geom POINT, {columns})')
            db.execute("INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?)", (name, system[0]))
            for line in lines:
                db.execute(f'INSERT INTO "{quoted}" VALUES (NULL, {", ".join("?" * len(line))})', line)
    db.close()
    return path
