"""Waypoints, routes and tracks of GPX 1.1 (and 1.0): always latitude and longitude on WGS 84."""

from __future__ import annotations

import datetime as dt
from typing import Any
from xml.etree.ElementTree import Element

from vinemap.files.told import number_or_text, told_by, with_address

_OWN = ("name", "time")
_TEXTS = ("desc", "cmt")
_STOP_WORDS = ("date", "examined", "infected", "vine")
_HOURS_PER_DEG = 1.0 / 15.0


def gpx_items(root: Element) -> tuple[list[dict[str, Any]], tuple[str, ...]]:
    """Features (RFC 7946): waypoints as Points, routes and tracks as lines, two waypoints of one row as its line."""
    notes = []
    points, dated = _with_dates([_feature(each, "Point", _position(each)) for each in root.iter("wpt")])
    if dated:
        notes.append(
            f"{dated} waypoint{'s have' if dated > 1 else ' has'} no date; it was taken from the time of the mark, "
            "by the sun's time there."
        )
    points, rows = _joined_ends(points)
    if rows:
        notes.append(f"Two waypoints of one row were taken as its ends, the first as vine 1: {', '.join(rows)}.")
    lines = [_feature(each, "LineString", [_position(point) for point in each.iter("rtept")]) for each in root.iter("rte")]
    return [*points, *lines, *(_track(each) for each in root.iter("trk"))], tuple(notes)


def _track(track: Element) -> dict[str, Any]:
    segments = [[_position(point) for point in each.iter("trkpt")] for each in track.iter("trkseg")]
    segments = [each for each in segments if each]
    if len(segments) > 1:
        return _feature(track, "MultiLineString", segments)
    return _feature(track, "LineString", segments[0] if segments else [])


def _feature(element: Element, kind: str, coordinates: list[Any]) -> dict[str, Any]:
    properties = {tag: (element.findtext(tag) or "").strip() for tag in _OWN if element.findtext(tag)}
    for tag in _TEXTS:
        properties |= told_by(element.findtext(tag) or "")
    extensions = element.find("extensions")
    if extensions is not None:
        own = [each for each in extensions.iter() if not len(each) and (each.text or "").strip()]
        properties |= {str(each.tag): (each.text or "").strip() for each in own}
    return {
        "type": "Feature",
        "properties": with_address(properties),
        "geometry": {"type": kind, "coordinates": coordinates},
    }


def _position(point: Element) -> list[Any]:
    found = [number_or_text(point.get("lon", "")), number_or_text(point.get("lat", ""))]
    height = point.findtext("ele")
    return found if height is None else [*found, number_or_text(height)]


def _with_dates(points: list[dict[str, Any]]) -> tuple[list[dict[str, Any]], int]:
    """Points that hold counts and no date, with the day of their time; by the sun, since nobody scouts at midnight."""
    count = 0
    for point in points:
        properties = point["properties"]
        lon = point["geometry"]["coordinates"][0]
        if "examined" not in properties or properties.get("date") or not isinstance(lon, float) or not abs(lon) <= 180:
            continue
        try:
            moment = dt.datetime.fromisoformat(properties.get("time", ""))
            if moment.tzinfo is None:
                continue
            moment = moment.astimezone(dt.UTC) + dt.timedelta(hours=lon * _HOURS_PER_DEG)
        except (ValueError, OverflowError):
            continue
        properties["date"] = moment.date().isoformat()
        count += 1
    return points, count


def _joined_ends(points: list[dict[str, Any]]) -> tuple[list[dict[str, Any]], list[str]]:
    """Waypoints left, and lines in place of the first of each two that name one row and no vine and no counts."""
    ends: dict[tuple[str, str], list[int]] = {}
    for index, point in enumerate(points):
        told = point["properties"]
        if told.get("block") and told.get("row") and not any(told.get(word) for word in _STOP_WORDS):
            ends.setdefault((told["block"], told["row"]), []).append(index)
    pairs = {row: (indices[0], indices[1]) for row, indices in ends.items() if len(indices) == 2}
    lines: dict[int, dict[str, Any]] = {}
    for first, last in pairs.values():
        drawn = [points[index]["geometry"]["coordinates"] for index in (first, last)]
        lines[first] = {**points[first], "geometry": {"type": "LineString", "coordinates": drawn}}
    gone = {last for _, last in pairs.values()}
    kept = [lines.get(index, point) for index, point in enumerate(points) if index not in gone]
    return kept, [f"{block} / {row}" for block, row in pairs]
