"""Placemarks of KML 2.3 (OGC 12-007r2): always longitude, latitude on WGS 84."""

from __future__ import annotations

from typing import Any
from xml.etree.ElementTree import Element

from vinemap.files.told import number_or_text, told_by, with_address

_SINGLE = {"Point": "Point", "LineString": "LineString", "LinearRing": "LineString", "Polygon": "Polygon"}
_UNUSED = ("Model", "Track", "MultiTrack")


def kml_items(root: Element) -> tuple[list[dict[str, Any]], tuple[str, ...]]:
    """Placemarks as features (RFC 7946), and notes on what is left aside."""
    items = [
        {"type": "Feature", "properties": _properties(mark), "geometry": _geometry(mark)} for mark in root.iter("Placemark")
    ]
    links = sum(1 for _ in root.iter("NetworkLink"))
    overlays = sum(1 for _ in root.iter("GroundOverlay"))
    notes = []
    if links:
        notes.append(f"It points to {links} other file{'s' if links > 1 else ''} elsewhere; what is there was not fetched.")
    if overlays:
        notes.append("Pictures laid on the ground are left aside.")
    return items, tuple(notes)


def _properties(mark: Element) -> dict[str, str]:
    found = {}
    name = (mark.findtext("name") or "").strip()
    if name:
        found["name"] = name
    found |= told_by(mark.findtext("description") or "")
    for data in mark.iter("Data"):
        found[data.get("name", "")] = (data.findtext("value") or "").strip()
    for data in mark.iter("SimpleData"):
        found[data.get("name", "")] = (data.text or "").strip()
    return with_address(found)


def _geometry(mark: Element) -> dict[str, Any] | None:
    """The geometry of a placemark; one inside a collection by itself is as good as alone."""
    # the ring of a polygon is no line of its own
    rings = {id(ring) for polygon in mark.iter("Polygon") for ring in polygon.iter("LinearRing")}
    parts = [_single(each) for each in mark.iter() if each.tag in _SINGLE and id(each) not in rings]
    if any(True for each in mark.iter() if each.tag in _UNUSED):
        return {"type": "Model or Track"}
    if len(parts) <= 1:
        return parts[0] if parts else None
    kinds = {part["type"] for part in parts}
    if len(kinds) > 1:
        return {"type": "GeometryCollection", "geometries": parts}
    return {"type": f"Multi{kinds.pop()}", "coordinates": [part["coordinates"] for part in parts]}


def _single(element: Element) -> dict[str, Any]:
    kind = _SINGLE[element.tag]
    if kind == "Polygon":
        outer = [_positions(ring) for each in element.findall("outerBoundaryIs") for ring in each.findall("LinearRing")]
        inner = [_positions(ring) for each in element.findall("innerBoundaryIs") for ring in each.findall("LinearRing")]
        return {"type": kind, "coordinates": [*outer[:1], *inner] if outer else []}
    positions = _positions(element)
    if kind == "LineString":
        return {"type": kind, "coordinates": positions}
    return {"type": kind, "coordinates": positions[0] if len(positions) == 1 else []}


def _positions(element: Element) -> list[list[Any]]:
    """Tuples ``lon,lat`` or ``lon,lat,height`` parted by blanks; a text that is no number stays for the refusal to show."""
    return [[number_or_text(part) for part in group.split(",")] for group in (element.findtext("coordinates") or "").split()]
