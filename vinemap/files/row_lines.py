"""Rows as they stand in a GeoJSON file, before they are put on the estate's frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from vinemap.columns import Floats
from vinemap.errors import Problem
from vinemap.files.cells import Entry, keep_good
from vinemap.files.geojson import LINE, Feature, read_features
from vinemap.files.outlines import block_name, spacing_m, without_slash
from vinemap.files.text import Read

MOST_VINES_IN_ROW = 20_000


@dataclass(frozen=True, slots=True, eq=False)
class RowDraft:
    """A row: its line (k, 2) lon, lat [degrees] from vine 1 on; None where the file does not say."""

    entry: Entry
    block: str
    row: str
    line: Floats
    vine_spacing_m: float | None
    vines: int | None


def read_rows(path: Path) -> Read[tuple[RowDraft, ...]]:
    """Rows (LineStrings) of a GeoJSON file that may hold other features too. Raises FileError when it holds none."""
    read = read_features(path, (LINE,))
    rows, problems = rows_of(read.value)
    return Read(tuple(rows), (*read.problems, *problems), read.notes)


def rows_of(features: Sequence[Feature]) -> tuple[list[RowDraft], list[Problem]]:
    """The rows among features, and a problem for each that was refused."""
    return keep_good(((each.entry, each) for each in features if each.kind == LINE), _row)


def _row(feature: Feature) -> RowDraft:
    entry = feature.entry
    return RowDraft(
        entry,
        block_name(entry),
        row_label(entry),
        feature.parts[0],
        spacing_m(entry, "vine_spacing_m"),
        vine_count(entry),
    )


def row_label(entry: Entry) -> str:
    """The label of a row. Raises Refused."""
    return without_slash("row", entry.needed("row"))


def vine_count(entry: Entry) -> int | None:
    """How many vine places a row has, None where it is not told. Raises Refused."""
    return entry.whole("vines", 1, MOST_VINES_IN_ROW) if entry.text("vines") else None
