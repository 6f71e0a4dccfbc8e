"""A table kept as its owner wrote it, to be handed back with more columns."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

from vinemap.files.text import read_text

_SEPARATORS = (",", ";", "\t")


def read_as_written(path: Path, columns: Sequence[str]) -> tuple[list[str], list[list[str]]]:
    """Column names and cells with their own capitals and blanks, of a table whose ``columns`` are known from reading it.

    One line for each that ``read_table`` gives, where it left none out. Raises FileError as ``read_text`` does.
    """
    text, _ = read_text(path)
    lines = [f"{line}\n" for line in text.replace("\r\n", "\n").replace("\r", "\n").split("\n")]
    records: list[list[str]] = []
    for separator in _SEPARATORS:
        try:
            records = [cells for cells in csv.reader(lines, delimiter=separator) if any(cell.strip() for cell in cells)]
        except csv.Error:
            # with another separator a quote in the middle of a cell may be one that never closes
            continue
        if tuple(cell.strip().casefold() for cell in records[0]) == tuple(columns):
            break
    head, *rest = records
    return head, [cells[: len(columns)] for cells in rest]
