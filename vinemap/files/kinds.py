"""What kind of file it is, from its content."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Any

from vinemap.errors import FileError
from vinemap.files.climate_reader import is_climate
from vinemap.files.covariate_raster import is_raster
from vinemap.files.covariate_reader import PLACE_COLUMNS
from vinemap.files.edge_reader import are_edges
from vinemap.files.geojson import LINE, POINT, POLYGON, geometry_kind, is_drawn, property_texts, read_items, whole_json
from vinemap.files.picture_reader import is_picture
from vinemap.files.point_layers import is_database, is_season
from vinemap.files.row_tables import shape_kinds
from vinemap.files.signs import ROW_LIST, SHAPES, SIGNS, kind_by_columns
from vinemap.files.stop_reader import KNOWN, NEEDED, says_where
from vinemap.files.table import read_header
from vinemap.files.weather_units import lacking_weather

KINDS = (
    *("outlines", "rows", "stops", "mixed", "weather", "passes", "sprays", "rods", "vines", "readings", "raster", "picture"),
    *("truth", "estate", "season", "edges", ROW_LIST),
)
_KIND_OF_GEOMETRY = {POLYGON: "outlines", LINE: "rows", POINT: "stops"}
_MOST_TOLD = 30
_OF_OTHERS = {"variety"}.union(*(signs for kind, signs in SIGNS if kind not in (SHAPES, ROW_LIST))).difference(PLACE_COLUMNS)
"""A column of these tells that a table is meant as something else, and lacks another column."""


def kind_of(path: Path) -> str:
    """One of ``KINDS``, by geometry or column names and never by the file's name.

    Raises FileError when it can't be opened or is nothing that is read here.
    """
    path = Path(path)
    # before all others: a picture may be far larger than what they read
    if is_picture(path):
        return "picture"
    if is_database(path) and is_season(path):
        return "season"
    if is_raster(path):
        return "raster"
    if is_drawn(path):
        return _kind_of_drawn(path)
    if is_climate(path):
        return "weather"
    columns = set(read_header(path))
    kind = kind_by_columns(columns)
    if kind != "stops" and not lacking_weather(columns):
        kind = "weather"
    if kind == SHAPES:
        drawn = shape_kinds(path)
        # a table of figures may have the shape of each point as well as where it is
        is_ground = drawn - {POINT} or not (drawn or says_where(columns))
        kind = (_kind_of_ground(drawn) or "rows") if is_ground else ""
    if kind:
        return kind
    if says_where(columns) and columns.difference(PLACE_COLUMNS, ("",)) and not columns & _OF_OTHERS:
        return "readings"
    raise FileError(
        f"{path.name} is not a table that can be read here; its columns are {_told(columns - {''})}.",
        "Stops need date, examined and infected; weather needs time and temp_c; passes date, block, kind and face; "
        "sprays start, block and materials; rods block, date and insertions; vines block, row, vine and status; "
        "other figures block, row, vine or lon, lat; "
        "a list of rows block, row and vines. Outlines and rows come as drawn files (GeoJSON, GeoPackage, shapefile, KML or "
        "GPX), or in a table with their shape under WKT, or rows with start_lon, start_lat, end_lon and end_lat.",
    )


def _told(columns: Collection[str]) -> str:
    """Names of columns in a line that can be read: a logger writes hundreds."""
    names = sorted(columns)
    more = f" and {len(names) - _MOST_TOLD:,} more" if len(names) > _MOST_TOLD else ""
    return (", ".join(names[:_MOST_TOLD]) or "none") + more


def _kind_of_drawn(path: Path) -> str:
    content = whole_json(path)
    if isinstance(content, dict) and "estate" in content:
        return "estate"
    features: Sequence[Any]
    if content is None:
        features = read_items(path, None).value
    else:
        listed = content.get("features", [content]) if isinstance(content, dict) else []
        features = listed if isinstance(listed, list) else []
    found = {geometry_kind(item) for item in features} - {""}
    if is_database(path) and found <= {POINT} and (not found or _hold_figures(features)):
        return "readings"
    if not found:
        raise FileError(
            f"{path.name} holds neither an estate nor outlines, rows or stops.", "Export outlines, rows or stops as GeoJSON."
        )
    if found == {POINT} and _hold_figures(features):
        return "readings"
    return "edges" if are_edges(features) else _kind_of_ground(found)


def _kind_of_ground(found: Collection[str]) -> str:
    """The kind of a file with these kinds of geometry, "" for none."""
    kinds = [_KIND_OF_GEOMETRY[kind] for kind in found]
    return kinds[0] if len(kinds) == 1 else "mixed" if kinds else ""


def _hold_figures(features: Sequence[Any]) -> bool:
    """True where no feature has anything that a stop has, and one has something besides its place."""
    listed = [item.get("properties") for item in features if isinstance(item, dict)]
    names = {name for each in listed if isinstance(each, dict) for name in property_texts(each)}
    return not names & set(NEEDED) and bool(names.difference(KNOWN))
