"""Rows that name no block: all of them in one that is told, or each in the one whose outline it lies in."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely

from vinemap.files.geojson import LINE, POLYGON, geometry_kind, property_texts
from vinemap.files.repairs import PLACE, Mended, Numbered, mended_at, positions_of

Outline = tuple[str, Any]
"""The name of a block, and its outline in longitude and latitude [degrees]."""
_EDGE_M = 1.0
"""How far [m] a row may stick out of the outline it lies in, as lines drawn by hand do."""
_M_PER_DEG = 111_320.0


def names_no_block(item: Any) -> bool:
    """Whether a feature is a row that does not name its block."""
    told = item.get("properties") if geometry_kind(item) == LINE else None
    # nearly every row names it so: one look before the slower question
    return isinstance(told, dict) and not told.get("block") and not property_texts(told).get("block")


def outlines_in(items: Iterable[Any]) -> list[Outline]:
    """The outlines among features that have a name and can be used."""
    found = []
    for item in items:
        if geometry_kind(item) != POLYGON or not isinstance(item.get("properties"), dict):
            continue
        told, geometry = property_texts(item["properties"]), item["geometry"]
        name = told.get("block") or told.get("name")
        try:
            outline = shapely.from_geojson(json.dumps(geometry)) if name else None
        except (shapely.errors.ShapelyError, TypeError, ValueError):
            continue
        if outline is not None and outline.is_valid and not outline.is_empty:
            found.append((str(name), outline))
    return found


def in_one_block(numbered: Numbered, block: str) -> tuple[Numbered, int]:
    """Features whose rows without a block are in this one, and how many these are."""
    made, count = list(numbered), 0
    for at, (number, item) in enumerate(numbered):
        if names_no_block(item):
            made[at] = number, _put_into(item, block)
            count += 1
    return made, count


def in_blocks_by_place(file: str, numbered: Numbered, outlines: Sequence[Outline]) -> tuple[Numbered, list[Mended]]:
    """Features whose rows without a block are in the one whose outline they wholly lie in, and what was done.

    A row in no outline, or within a metre of lying in two, stays as it is.
    """
    asked = [
        (at, line) for at, (_, item) in enumerate(numbered) if names_no_block(item) and (line := _line(item)) is not None
    ]
    if not asked or not outlines:
        return list(numbered), []
    lines = np.array([line for _, line in asked])
    grown = [_grown(outline) for _, outline in outlines]
    which, where = shapely.STRtree(grown).query(lines, predicate="covered_by")
    found: dict[int, set[str]] = {}
    for index, outline in zip(which.tolist(), where.tolist(), strict=True):
        found.setdefault(index, set()).add(outlines[outline][0])
    made, said = list(numbered), []
    for index, names in sorted(found.items()):
        if len(names) == 1:
            (name,) = names
            at = asked[index][0]
            number, item = numbered[at]
            made[at] = number, _put_into(item, name)
            said.append(mended_at(file, number, item, PLACE, f"was put into {name}, in whose outline it lies"))
    return made, said


def _put_into(item: Any, block: str) -> Any:
    told = {key: value for key, value in item["properties"].items() if str(key).strip().casefold() != "block"}
    return {**item, "properties": {**told, "block": block}}


def _line(item: Any) -> Any:
    places = positions_of(item.get("geometry"))
    return shapely.LineString([place[:2] for place in places]) if len(places) > 1 else None


def _grown(outline: Any) -> Any:
    """An outline that is a metre larger all around."""
    narrow = math.cos(math.radians(outline.centroid.y))
    even = shapely.transform(outline, lambda points: points * [narrow, 1.0])
    wide = shapely.buffer(even, _EDGE_M / _M_PER_DEG)
    return shapely.transform(wide, lambda points: points / [narrow, 1.0])
