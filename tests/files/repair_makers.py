"""The same invented features in every drawn format that is read, sound or with a defect."""

from __future__ import annotations

import json
import sqlite3
import struct
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from format_makers import gpx, gpx_point, kml, kml_polygon, kml_text, mark, write_gdal
from shapely.geometry import shape

Item = dict[str, Any]
Write = Callable[[Path, Sequence[Item]], Path]


def _texts(items: Sequence[Item]) -> dict[str, list[str]]:
    names = dict.fromkeys(name for item in items for name in item["properties"])
    return {name: [str(item["properties"].get(name, "")) for item in items] for name in names}


def geojson(folder: Path, items: Sequence[Item]) -> Path:
    path = folder / "a.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": list(items)}), encoding="utf-8")
    return path


def lines(folder: Path, items: Sequence[Item]) -> Path:
    path = folder / "a.geojsonl"
    path.write_text("".join(json.dumps(item) + "\n" for item in items), encoding="utf-8")
    return path


def single(folder: Path, items: Sequence[Item]) -> Path:
    path = folder / "one.geojson"
    path.write_text(json.dumps(items[0]), encoding="utf-8")
    return path


def shapefile(folder: Path, items: Sequence[Item]) -> Path:
    shapes = [shape(item["geometry"]) for item in items]
    return write_gdal(
        folder / "a.shp", shapes, _texts(items), shapes[0].geom_type, "EPSG:4326", driver="ESRI Shapefile", encoding="UTF-8"
    )


def zipped_shapefile(folder: Path, items: Sequence[Item]) -> Path:
    inner = folder / "parts"
    inner.mkdir()
    shapefile(inner, items)
    path = folder / "a.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for part in sorted(inner.iterdir()):
            archive.write(part, part.name)
    return path


def _kml_geometry(geometry: Item) -> str:
    if geometry["type"] == "Polygon":
        return kml_polygon(*geometry["coordinates"])
    points = [geometry["coordinates"]] if geometry["type"] == "Point" else geometry["coordinates"]
    return f"<{geometry['type']}>{kml_text(points)}</{geometry['type']}>"


def _kml(items: Sequence[Item]) -> str:
    return kml(*(mark("", _kml_geometry(item["geometry"]), _said(item)) for item in items))


def _said(item: Item) -> dict[str, str]:
    return {name: str(value) for name, value in item["properties"].items()}


def kml_file(folder: Path, items: Sequence[Item]) -> Path:
    path = folder / "a.kml"
    path.write_text(_kml(items), encoding="utf-8")
    return path


def kmz(folder: Path, items: Sequence[Item]) -> Path:
    path = folder / "a.kmz"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("doc.kml", _kml(items))
    return path


def gpx_file(folder: Path, items: Sequence[Item]) -> Path:
    made = []
    for item in items:
        told = "; ".join(f"{name}={value}" for name, value in _said(item).items())
        if item["geometry"]["type"] == "Point":
            made.append(gpx_point("wpt", item["geometry"]["coordinates"], f"<desc>{told}</desc>"))
        else:
            points = "".join(gpx_point("rtept", each) for each in item["geometry"]["coordinates"])
            made.append(f"<rte><desc>{told}</desc>{points}</rte>")
    path = folder / "a.gpx"
    path.write_text(gpx("".join(sorted(made, key=lambda each: each.startswith("<rte")))), encoding="utf-8")
    return path


def geopackage(folder: Path, items: Sequence[Item]) -> Path:
    """Written by hand, since no library writes an outline that is not closed."""
    path, texts = folder / "a.gpkg", _texts(items)
    db = sqlite3.connect(path)
    with db:
        db.execute("PRAGMA application_id = 1196444487")
        db.execute(
            "CREATE TABLE gpkg_spatial_ref_sys (srs_id INTEGER, organization TEXT, organization_coordsys_id INTEGER, "
            "definition TEXT)"
        )
        db.execute("CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, srs_id INTEGER)")
        db.execute("INSERT INTO gpkg_spatial_ref_sys VALUES (4326, 'EPSG', 4326, '')")
        db.execute("INSERT INTO gpkg_geometry_columns VALUES ('a', 'geom', 4326)")
        db.execute(f"CREATE TABLE a (fid INTEGER PRIMARY KEY, geom BLOB, {', '.join(texts)})")
        for item, *told in zip(items, *texts.values(), strict=True):
            db.execute(f"INSERT INTO a VALUES (NULL, ?{', ?' * len(told)})", [_blob(item["geometry"]), *told])
    db.close()
    return path


def _blob(geometry: Item) -> bytes:
    kind, found = geometry["type"], geometry["coordinates"]
    head = b"GP\0\1" + struct.pack("<i", 4326)
    if kind == "Point":
        return head + struct.pack("<BI2d", 1, 1, *found)
    if kind == "LineString":
        return head + struct.pack("<BI", 1, 2) + _line(found)
    # one part of a MultiPolygon, as most programs write outlines
    polygon = struct.pack("<BII", 1, 3, len(found)) + b"".join(map(_line, found))
    return head + struct.pack("<BII", 1, 6, 1) + polygon


def _line(points: Sequence[Sequence[float]]) -> bytes:
    return struct.pack("<I", len(points)) + b"".join(struct.pack("<2d", *each) for each in points)


FORMATS: dict[str, Write] = {
    "GeoJSON": geojson,
    "a feature a line": lines,
    "shapefile": shapefile,
    "zipped shapefile": zipped_shapefile,
    "GeoPackage": geopackage,
    "KML": kml_file,
    "KMZ": kmz,
    "GPX": gpx_file,
}
OUTLINES = tuple(name for name in FORMATS if name != "GPX")
CLOSED = ("shapefile", "zipped shapefile")
"""Formats whose outlines are closed by the library that reads them."""
