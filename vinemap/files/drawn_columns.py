"""Columns of drawn features, by kind of geometry, and features whose columns have other names brought under ours."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any

from vinemap.files.cell_words import Tally, Understood, readers_of
from vinemap.files.geojson import LINE, POINT, POLYGON, geometry_kind, property_texts
from vinemap.files.head_units import turns_of
from vinemap.files.head_words import DRAWN
from vinemap.files.matching import Sheet, plain
from vinemap.files.repairs import positions_of

KIND_OF = {POLYGON: "outlines", LINE: "rows", POINT: "stops"}
GEOMETRY_OF = {kind: geometry for geometry, kind in KIND_OF.items()}
_LINES_LOOKED_AT = 50
_OF_MARKS = frozenset(("fid",))
_TALL = "height_m"
"""What has a height is a hedge or a house, no row or block."""
_BARE = {
    "outlines": ({"block"}, {"name"}),
    "rows": ({"row"},),
    "stops": (set(DRAWN["stops"][0]),),
}
"""Of each kind the columns of ours that are enough to read it; one of the sets."""


def sheets_of(items: Sequence[Any]) -> tuple[Sheet, ...]:
    """The columns of each kind of feature there is, with the values of the first; none for kinds that tell nothing."""
    heads: dict[str, dict[str, str]] = {}
    first: dict[str, list[dict[str, str]]] = {}
    for item in items:
        kind = KIND_OF.get(geometry_kind(item), "")
        told = item.get("properties") if kind else None
        if not isinstance(told, dict):
            continue
        known = heads.setdefault(kind, {})
        for key in told:
            if key not in known:
                known[key] = str(key).strip()
        if len(first.setdefault(kind, [])) < _LINES_LOOKED_AT:
            first[kind].append(property_texts(told))
    made = []
    for kind in KIND_OF.values():
        names = tuple({name.casefold(): name for name in heads.get(kind, {}).values()}.values())
        names = tuple(name for name in names if name.casefold() not in _OF_MARKS)
        if names and _TALL not in map(str.casefold, names):
            lines = [[told.get(name.casefold(), "") for name in names] for told in first[kind]]
            made.append(Sheet(kind, names, lines))
    return tuple(made)


def is_whole(kind: str, names: Collection[str]) -> bool:
    """Whether columns of ours, in lower case, are enough to read features of a kind."""
    return any(each <= set(names) for each in _BARE[kind])


def under_our_names(
    file: str, items: Sequence[Any], names_of: Mapping[str, Mapping[str, str]]
) -> tuple[list[Any], tuple[str, ...]]:
    """Features with our names, units and words, and notes on what was understood; those that were given stay as they are.

    ``names_of``: for a kind of feature, ours by theirs in lower case.
    """
    tally, made = Tally(), list(items)
    renamers = {kind: _renamer(names, tally) for kind, names in names_of.items()}
    for at, item in enumerate(made):
        rename = renamers.get(KIND_OF.get(geometry_kind(item), ""))
        told = item.get("properties") if rename else None
        if rename and isinstance(told, dict):
            made[at] = {**item, "properties": rename(told)}
    return made, tally.notes(file)


def _renamer(names: Mapping[str, str], tally: Tally) -> Callable[[Mapping[str, Any]], dict[str, str]]:
    turns = turns_of({ours: plain(theirs)[1] for theirs, ours in names.items()})
    readers = readers_of(sorted(set(names.values())), turns)
    taken = set(names.values())

    def rename(told: Mapping[str, Any]) -> dict[str, str]:
        texts = property_texts(told)
        # of two of one name the one that was not asked for steps aside
        now = {f"{key} (theirs)" if key in taken and key not in names else names.get(key, key): texts[key] for key in texts}
        for ours, read in readers.items():
            value = now.get(ours, "")
            found: Understood | None = read(value) if value else None
            tally.see(ours, value, found)
            if found is not None:
                now[ours] = found.value
        return now

    return rename


def drawn_text(items: Sequence[Any], is_lonlat: bool) -> str:
    """Features as GeoJSON; ``is_lonlat`` where they are in longitude and latitude for sure. Heights are left aside."""
    for item in items:
        for position in positions_of(item.get("geometry") if isinstance(item, dict) else None):
            del position[2:]
    content: dict[str, Any] = {"type": "FeatureCollection", "features": list(items)}
    if is_lonlat:
        content["crs"] = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    return json.dumps(content, ensure_ascii=False)
