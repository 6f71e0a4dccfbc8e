"""Layers as KML 2.3 (OGC 12-007r2) and, for a phone, as waypoints in GPX 1.1. Elements in the order of their schemas."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import shapely

from vinemap.errors import InputError
from vinemap.files.geojson import LINE, POINT
from vinemap.files.layer import Layer, cell_text
from vinemap.files.text import write_text

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
KML_SPACE = "http://www.opengis.net/kml/2.2"
"""Version 2.3 keeps the name of 2.2 and says itself by an attribute."""
GPX_SPACE = "http://www.topografix.com/GPX/1/1"
_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_SIGNS = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "\r": "&#13;"}
_IN_ATTRIBUTE = {**_SIGNS, "\n": "&#10;", "\t": "&#9;"}


def xml_text(text: str, signs: dict[str, str] = _SIGNS) -> str:
    """Text as it stands between tags. Raises InputError where it holds a sign that XML 1.0 has no way to write."""
    if _FORBIDDEN.search(text):
        shown = _FORBIDDEN.sub("?", text)
        raise InputError(f"“{shown}” holds a sign that can't stand in such a file.", "Rename it, or choose .gpkg or .csv.")
    return "".join(signs.get(sign, sign) for sign in text)


def xml_attributes(values: Iterable[tuple[str, object]]) -> str:
    """Attributes of an element, each with a blank before it. Raises InputError as ``xml_text`` does."""
    return "".join(f' {name}="{xml_text(str(value), _IN_ATTRIBUTE)}"' for name, value in values)


def write_kml(path: Path, layer: Layer) -> None:
    """Write a layer as placemarks with all their columns. Raises InputError, FileError."""
    lines = [HEAD, f'<kml xmlns="{KML_SPACE}" version="2.3">\n<Document>\n<name>{xml_text(layer.name)}</name>\n']
    if layer.remark:
        lines.append(f"<description>{xml_text(layer.remark)}</description>\n")
    for index, shape in enumerate(shapely.orient_polygons(layer.shapes)):
        values = ((each.name, cell_text(each.values[index])) for each in layer.columns)
        data = "".join(f'<Data name="{name}"><value>{xml_text(value)}</value></Data>' for name, value in values if value)
        lines.append(
            f"<Placemark><name>{xml_text(layer.titles[index])}</name><ExtendedData>{data}</ExtendedData>"
            f"{_kml_shape(layer.kind, shape)}</Placemark>\n"
        )
    lines.append("</Document>\n</kml>\n")
    write_text(path, "".join(lines))


def write_gpx(path: Path, layer: Layer) -> None:
    """Write points as waypoints that a phone can lead to. Raises InputError for lines and polygons, FileError."""
    if layer.kind != POINT:
        raise InputError(f"GPX can't hold {layer.name}, only places to go to.", "Let the name end in .kml instead.")
    about = f"<metadata><name>{xml_text(layer.name)}</name>"
    about += f"<desc>{xml_text(layer.remark)}</desc></metadata>\n" if layer.remark else "</metadata>\n"
    lines = [HEAD, f'<gpx xmlns="{GPX_SPACE}" version="1.1" creator="Vinemap">\n', about]
    told = [each for each in layer.columns if each.name not in ("block", "row", "vine")]
    for index, (lon, lat) in enumerate(shapely.get_coordinates(layer.shapes).tolist()):
        words = ((each.name.replace("_", " "), cell_text(each.values[index])) for each in told)
        desc = ", ".join(f"{name} {value}" for name, value in words if value)
        lines.append(
            f'<wpt lat="{lat:.7f}" lon="{lon:.7f}"><name>{xml_text(layer.titles[index])}</name>'
            + (f"<desc>{xml_text(desc)}</desc>" if desc else "")
            + "</wpt>\n"
        )
    lines.append("</gpx>\n")
    write_text(path, "".join(lines))


def _kml_shape(kind: str, shape: shapely.Geometry) -> str:
    if kind == POINT:
        return f"<Point>{_coordinates(shape)}</Point>"
    if kind == LINE:
        return f"<LineString>{_coordinates(shape)}</LineString>"
    rings = [("outer", shape.exterior), *(("inner", ring) for ring in shape.interiors)]
    edges = (f"<{side}BoundaryIs><LinearRing>{_coordinates(ring)}</LinearRing></{side}BoundaryIs>" for side, ring in rings)
    return f"<Polygon>{''.join(edges)}</Polygon>"


def _coordinates(shape: shapely.Geometry) -> str:
    points: np.ndarray = shapely.get_coordinates(shape)
    return f"<coordinates>{' '.join(f'{lon:.7f},{lat:.7f}' for lon, lat in points.tolist())}</coordinates>"
