"""Rods passed through the fruit zone, from a table: one line for a place and day, or one for each rod."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from vinemap.canopy.rods import RodNote, read_insertions
from vinemap.errors import InputError
from vinemap.files.cells import Entry, Refused, keep_good_lines
from vinemap.files.table import read_table
from vinemap.files.text import Read
from vinemap.ground.block import Block

NEEDED = ("block", "date", "insertions")
KNOWN = ("row",)


def read_rods(path: Path, blocks: Sequence[Block] | None = None) -> Read[tuple[RodNote, ...]]:
    """Rods of a table; lines of the same block, row and day are one note. With ``blocks``, names and labels are checked.

    Raises FileError when it is not such a table.
    """
    table = read_table(path, NEEDED, KNOWN)
    kept, problems = keep_good_lines(table.value.lines, lambda line: _note(line, blocks))
    together: dict[tuple[str, str, dt.date], list[str]] = {}
    for each in kept:
        together.setdefault((each.block, each.row, each.date), []).extend(each.insertions)
    notes = tuple(RodNote(*where, tuple(insertions)) for where, insertions in together.items())
    return Read(notes, (*table.problems, *problems), table.notes)


def _note(line: Entry, blocks: Sequence[Block] | None) -> RodNote:
    name, row, written = line.needed("block"), line.text("row"), line.text("insertions")
    if blocks is not None:
        _check_place(name, row, blocks)
    try:
        return RodNote(name, row, line.date("date"), read_insertions(written))
    except InputError as error:
        raise Refused("insertions", written, error.what.rstrip("."), error.do) from error


def _check_place(name: str, row: str, blocks: Sequence[Block]) -> None:
    block = next((each for each in blocks if each.name == name), None)
    if block is None:
        do = f"The blocks are {', '.join(each.name for each in blocks) or 'none'}."
        raise Refused("block", name, "there is no block of this name", do)
    if row and row not in block.rows.labels:
        raise Refused("row", row, f"{name} has no row of this label", "Write the label as on the map.")
