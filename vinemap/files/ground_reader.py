"""One file of features that may hold outlines, rows and stops together, or a table of shapes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from vinemap.files.geojson import LINE, POINT, POLYGON, is_drawn, read_features
from vinemap.files.outlines import OutlineDraft, outlines_of
from vinemap.files.row_lines import RowDraft, rows_of
from vinemap.files.row_tables import table_features
from vinemap.files.shapes import Mend
from vinemap.files.stop_reader import OF_POINTS, StopDraft, stops_of
from vinemap.files.text import Read
from vinemap.files.unused import unused_note

_OF_MARKS = ("name", "time")
_USED = {
    POLYGON: (
        *("block", "row_spacing_m", "vine_spacing_m", "bearing_deg", "varieties", "variety", "training", "vigour"),
        *("wall_top_m", "wall_width_m", "fruit_m", "slope_deg", "aspect_deg"),
        *_OF_MARKS,
    ),
    LINE: ("block", "row", "vine_spacing_m", "vines", *_OF_MARKS),
    POINT: OF_POINTS,
}
"""Properties that are read, by kind of feature; marks of KML and GPX also have a name and a time."""


@dataclass(frozen=True, slots=True, eq=False)
class GroundDraft:
    """What a file holds of each, before it is put on the estate's frame."""

    outlines: tuple[OutlineDraft, ...]
    rows: tuple[RowDraft, ...]
    stops: tuple[StopDraft, ...]


def read_ground(path: Path, crs: str = "", mend: Mend | None = None) -> Read[GroundDraft]:
    """Outlines, rows and stops of a file of features or a table of shapes; ``crs`` is its map system where it tells none.

    ``mend`` makes the repairs of drawn shapes that were agreed to. Raises FileError when it is no such file or holds nothing.
    """
    is_table = not is_drawn(path)
    read = table_features(path, crs) if is_table else read_features(path, crs=crs, mend=mend)
    outlines, bad_outlines = outlines_of(read.value)
    rows, bad_rows = rows_of(read.value)
    stops, bad_stops = stops_of(read.value)
    problems = (*read.problems, *bad_outlines, *bad_rows, *bad_stops)
    notes = read.notes if is_table else (*read.notes, *unused_note(Path(path).name, read.value, _USED))
    return Read(GroundDraft(tuple(outlines), tuple(rows), tuple(stops)), problems, notes)
