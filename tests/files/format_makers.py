"""Tiny invented files of many formats, all of one block, two rows and one stop whose places are known."""

from __future__ import annotations

import json
import warnings
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import shapely
from pyogrio.raw import write

# Invented, in the open sea off no vineyard.
RING = [(-122.7, 38.28), (-122.698, 38.28), (-122.698, 38.282), (-122.7, 38.282), (-122.7, 38.28)]
HOLE = [(-122.6995, 38.2805), (-122.6995, 38.281), (-122.699, 38.281), (-122.699, 38.2805), (-122.6995, 38.2805)]
ROW = [(-122.6998, 38.2802), (-122.6998, 38.2818)]
STOP = (-122.6998, 38.281)
OUTLINE = {"block": "Läng Acre", "row_spacing_m": "2.4"}
LINE = {"block": "Läng Acre", "row": "12a"}
COUNTS = {"date": "2026-06-12", "examined": "20", "infected": "3"}


def write_gdal(
    path: Path, shapes: Sequence[Any], columns: Mapping[str, Sequence[Any]], kind: str, crs: str | None, **more: Any
) -> Path:
    """A layer written by GDAL, as most programs do."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a shapefile cuts long names; a layer without a map system
        wkb = np.array([None if each is None else shapely.to_wkb(each) for each in shapes], dtype=object)
        values = [np.array(each, dtype=object if isinstance(each[0], str) else None) for each in columns.values()]
        write(path, wkb, values, list(columns), geometry_type=kind, crs=crs, **more)
    return path


def write_shape(path: Path, shape: Any = None, crs: str | None = "EPSG:4326", **more: Any) -> Path:
    shape = shapely.Polygon(RING) if shape is None else shape
    return write_gdal(
        path, [shape], {"block": ["Läng Acre"], "row_spacing_m": [2.4]}, "Polygon", crs, driver="ESRI Shapefile", **more
    )


def zipped(path: Path, content: Mapping[str, bytes | str], method: int = zipfile.ZIP_DEFLATED) -> Path:
    with zipfile.ZipFile(path, "w", method) as archive:
        for name, data in content.items():
            archive.writestr(name, data)
    return path


def kml(*marks: str) -> str:
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="http://www.opengis.net/kml/2.3"><Document><Folder>'
        f"{''.join(marks)}</Folder></Document></kml>"
    )


def mark(name: str, geometry: str, data: Mapping[str, str] | None = None, more: str = "") -> str:
    told = "".join(f'<Data name="{key}"><value>{value}</value></Data>' for key, value in (data or {}).items())
    return f"<Placemark><name>{name}</name>{more}<ExtendedData>{told}</ExtendedData>{geometry}</Placemark>"


def kml_text(points: Sequence[tuple[float, ...]]) -> str:
    return "<coordinates>" + " ".join(",".join(map(repr, point)) for point in points) + "</coordinates>"


def kml_polygon(ring: Sequence[tuple[float, ...]], *holes: Sequence[tuple[float, ...]]) -> str:
    inner = "".join(f"<innerBoundaryIs><LinearRing>{kml_text(hole)}</LinearRing></innerBoundaryIs>" for hole in holes)
    return f"<Polygon><outerBoundaryIs><LinearRing>{kml_text(ring)}</LinearRing></outerBoundaryIs>{inner}</Polygon>"


def kml_all() -> str:
    return kml(
        mark("Läng Acre", kml_polygon(RING, HOLE), {"row_spacing_m": "2.4"}),
        mark("Läng Acre / 12a", f"<LineString>{kml_text(ROW)}</LineString>"),
        mark("a stop", f"<Point>{kml_text([STOP])}</Point>", COUNTS),
    )


def gpx(body: str) -> str:
    return (
        f'<?xml version="1.0"?>\n<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1">{body}</gpx>'
    )


def gpx_point(tag: str, place: tuple[float, float], body: str = "") -> str:
    return f'<{tag} lat="{place[1]!r}" lon="{place[0]!r}">{body}</{tag}>'


def gpx_all() -> str:
    told = "<name>a stop</name><desc>date=2026-06-12; examined=20; infected=3</desc>"
    points = "".join(gpx_point("trkpt", place, "<ele>88.5</ele>") for place in ROW)
    return gpx(f"{gpx_point('wpt', STOP, told)}<trk><name>Läng Acre / 12a</name><trkseg>{points}</trkseg></trk>")


def feature(kind: str, coordinates: Any, properties: Mapping[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "properties": dict(properties), "geometry": {"type": kind, "coordinates": coordinates}}


def features_all() -> list[dict[str, Any]]:
    return [feature("Polygon", [RING, HOLE], OUTLINE), feature("LineString", ROW, LINE), feature("Point", STOP, COUNTS)]


def collection(features: Sequence[Any], system: str | None = None) -> str:
    named = {"crs": {"type": "name", "properties": {"name": system}}} if system else {}
    return json.dumps({"type": "FeatureCollection", **named, "features": list(features)})


def workbook(path: Path, sheets: Mapping[str, Sequence[Sequence[Any]]], hidden: Sequence[str] = ()) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
        if name in hidden:
            sheet.sheet_state = "hidden"
    book.save(path)
    return path
