"""What kind of file it is, from its content."""

from __future__ import annotations

from pathlib import Path

from vinemap.errors import FileError
from vinemap.files.geojson import LINE, POINT, POLYGON, geometry_kind, is_json, read_json
from vinemap.files.table import read_header
from vinemap.files.text import read_bytes

KINDS = ("outlines", "rows", "stops", "mixed", "weather", "passes", "sprays", "vines", "truth", "estate", "season")
_KIND_OF_GEOMETRY = {POLYGON: "outlines", LINE: "rows", POINT: "stops"}
_SIGNS = (
    ("stops", {"date", "examined", "infected"}),
    ("weather", {"time", "temp_c"}),
    ("passes", {"date", "block", "kind", "face"}),
    ("sprays", {"start", "block", "materials"}),
    ("vines", {"block", "row", "vine", "status"}),
    ("truth", {"block", "row", "vine", "incidence_1"}),
)
_DATABASE = b"SQLite format 3\0"


def kind_of(path: Path) -> str:
    """One of ``KINDS``, by geometry or column names and never by the file's name.

    Raises FileError when it can't be opened or is nothing that is read here.
    """
    path = Path(path)
    if read_bytes(path).startswith(_DATABASE):
        return "season"
    if is_json(path):
        return _kind_of_json(path)
    columns = set(read_header(path))
    for kind, signs in _SIGNS:
        if signs <= columns:
            return kind
    raise FileError(
        f"{path.name} is not a table that can be read here; its columns are {', '.join(sorted(columns - {''})) or 'none'}.",
        "Stops need date, examined and infected; weather needs time and temp_c; passes date, block, kind and face; "
        "sprays start, block and materials; vines block, row, vine and status.",
    )


def _kind_of_json(path: Path) -> str:
    content, _ = read_json(path)
    if isinstance(content, dict) and "estate" in content:
        return "estate"
    features = content.get("features", [content]) if isinstance(content, dict) else []
    found = {geometry_kind(item) for item in features} - {""} if isinstance(features, list) else set()
    if not found:
        raise FileError(
            f"{path.name} holds neither an estate nor outlines, rows or stops.", "Export outlines, rows or stops as GeoJSON."
        )
    return _KIND_OF_GEOMETRY[found.pop()] if len(found) == 1 else "mixed"
