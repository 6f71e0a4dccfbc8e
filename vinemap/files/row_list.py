"""A list of rows as it stands on paper: their labels and how many vines each has, without where they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

from vinemap.errors import Problem
from vinemap.files.cells import Entry, Refused, keep_good_lines
from vinemap.files.outlines import block_name, spacing_m
from vinemap.files.placing import spacing_and_count
from vinemap.files.row_lines import row_label, vine_count
from vinemap.files.table import read_table
from vinemap.files.text import Read
from vinemap.ground.block import Block

_NEEDED = ("block", "row", "vines")
_KNOWN = ("vine_spacing_m",)


@dataclass(frozen=True, slots=True)
class ListedRow:
    """A line of the list; None where it does not say."""

    entry: Entry
    block: str
    row: str
    vines: int | None
    vine_spacing_m: float | None


def read_row_list(path: Path) -> Read[tuple[ListedRow, ...]]:
    """Rows of a list, in its order. Raises FileError when it is no such list."""
    table = read_table(path, _NEEDED, _KNOWN)
    rows, refused = keep_good_lines(table.value.lines, _listed)
    return Read(tuple(rows), (*table.problems, *refused), table.notes)


def _listed(line: Entry) -> ListedRow:
    return ListedRow(line, block_name(line), row_label(line), vine_count(line), spacing_m(line, "vine_spacing_m"))


def with_listed_rows(block: Block, listed: Sequence[ListedRow]) -> Read[Block]:
    """The block with the labels and vines of a list: of the rows of the same labels, or else of its rows in their order.

    A count that does not fit leaves the row as it was, with a problem. Raises Refused where the number of rows differs, or a
    label comes twice.
    """
    rows = block.rows
    labels = tuple(each.row for each in listed)
    twice = next((each for each in listed if labels.count(each.row) > 1), None)
    if twice is not None:
        raise Refused("row", twice.row, "the list has this row twice", "Give each row of a block its own label.")
    if not len(rows):
        do = "Make them first: Make rows on step Ground, or vinemap rows. Then bring in the list again."
        raise Refused("block", block.name, f"the list has {len(listed)} rows, but the block has none yet", do)
    if len(listed) != len(rows):
        why = f"the list has {len(listed)} rows, the block {len(rows)} at {block.row_spacing_m:g} m"
        raise Refused("block", block.name, why, "Make its rows again with another spacing, or correct the list.")
    if set(labels) == set(rows.labels):
        listed, labels = [listed[labels.index(label)] for label in rows.labels], rows.labels
    spacings, counts = rows.vine_spacing_m.copy(), rows.vine_count.copy()
    problems: list[Problem] = []
    for row, line in enumerate(listed):
        if line.vines is None and line.vine_spacing_m is None:
            continue
        length_m = float(shapely.length(shapely.LineString(rows.line_m(row))))
        spacing = line.vine_spacing_m or float(spacings[row])
        try:
            spacings[row], counts[row] = spacing_and_count(spacing, line.vines, length_m)
        except Refused as refused:
            do = "The row keeps the vines that it had. Correct the count or the spacing, or make the rows again."
            problems.append(line.entry.problem(refused.field, refused.value, refused.why, do))
    usual = float(np.median(spacings)) if any(each.vine_spacing_m for each in listed) else block.vine_spacing_m
    made = replace(rows, labels=labels, vine_spacing_m=spacings, vine_count=counts)
    return Read(replace(block, rows=made, vine_spacing_m=usual), tuple(problems))
