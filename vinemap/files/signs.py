"""Columns by which a table is known."""

from __future__ import annotations

from collections.abc import Collection

WELL_KNOWN_TEXT = "wkt"
"""Column with the shape of a line or polygon as text (OGC 06-103r4, clause 7)."""

ENDS = (("start_lon", "start_lat", "end_lon", "end_lat"), ("start_x_m", "start_y_m", "end_x_m", "end_y_m"))
"""Where a row begins and ends, in degrees or in metres of a map system."""

SHAPES, ROW_LIST = "shapes", "row list"

SIGNS: tuple[tuple[str, set[str]], ...] = (
    ("stops", {"date", "examined", "infected"}),
    ("weather", {"time", "temp_c"}),
    ("passes", {"date", "block", "kind", "face"}),
    ("sprays", {"start", "block", "materials"}),
    ("rods", {"block", "date", "insertions"}),
    ("vines", {"block", "row", "vine", "status"}),
    ("truth", {"block", "row", "vine", "incidence_1"}),
    (SHAPES, {WELL_KNOWN_TEXT}),
    *((SHAPES, set(each)) for each in ENDS),
    (ROW_LIST, {"block", "row", "vines"}),
)


def kind_by_columns(columns: Collection[str]) -> str:
    """The kind of table that has these columns (lower case), "" where none is known by them."""
    names = set(columns)
    return next((kind for kind, signs in SIGNS if signs <= names and not (kind == ROW_LIST and "vine" in names)), "")
