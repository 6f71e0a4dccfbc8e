"""A layer: places with columns, as it is given to other programs in any format."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vinemap.errors import InputError
from vinemap.files.geojson import LINE, POINT, POLYGON

TEXT, WHOLE, NUMBER, DATE = "text", "whole", "number", "date"

Cell = str | int | float | dt.date | None


def cell_text(value: Cell) -> str:
    """A value as text, "" where there is none."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    return value.isoformat() if isinstance(value, dt.date) else str(value)


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name, ``kind`` of value (text, whole, number or date) and a value or None for each feature."""

    name: str
    kind: str
    values: Sequence[Cell]


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """Features of one kind (Polygon, LineString or Point).

    ``shapes``: (n,) geometries, lon, lat [degrees] on WGS 84; ``columns``: n values each; ``titles``: what each is called
    on a phone; ``remark``: a word about the whole, "" for none.
    """

    name: str
    kind: str
    shapes: np.ndarray
    columns: tuple[Column, ...]
    titles: tuple[str, ...]
    remark: str = ""

    def __post_init__(self) -> None:
        if self.kind not in (POLYGON, LINE, POINT):
            raise ValueError(f"layer {self.name}: kind {self.kind}")
        if {len(self.titles), *(len(each.values) for each in self.columns)} != {len(self.shapes)}:
            raise ValueError(f"layer {self.name}: columns differ in length")

    def __len__(self) -> int:
        return len(self.shapes)


MOST_NAME, MOST_TEXT_BYTES = 10, 254
"""Of a shapefile's table (dBASE III): letters of a column's name, bytes of a text."""

SHORT_NAMES = {
    "incidence_low": "inc_low",
    "incidence_high": "inc_high",
    "clusters_saved": "clusters",
    "clusters_per_hour": "per_hour",
    "fits_into_week": "this_week",
}
"""Names in a shapefile of columns whose first ten letters are those of another, or say nothing."""


def short_name(name: str) -> str:
    """The name of a column in a shapefile: its first ten letters, or another short one."""
    return SHORT_NAMES.get(name, name[:MOST_NAME])


def refuse_long_texts(layer: Layer) -> None:
    """Raise InputError where a text would be cut off in a shapefile."""
    for column in layer.columns:
        if column.kind == TEXT:
            for value in column.values:
                if isinstance(value, str) and len(value.encode()) > MOST_TEXT_BYTES:
                    what = (
                        f"“{value[:30]}…” under {column.name} is longer than the {MOST_TEXT_BYTES} bytes a shapefile takes."
                    )
                    raise InputError(what, "Let the name end in .gpkg instead.")
