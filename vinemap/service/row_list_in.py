"""Lists of rows as they stand on paper, put on the rows of blocks that are in the season."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from vinemap.canopy.faces import compass_word
from vinemap.files.cells import Refused
from vinemap.files.row_list import ListedRow, read_row_list, with_listed_rows
from vinemap.files.text import Read
from vinemap.ground.block import Block
from vinemap.season import edits
from vinemap.season.ground_edits import what_stands_on
from vinemap.season.value import Season
from vinemap.service.ground_in import share_of
from vinemap.service.report import Report, counted


def with_row_list(season: Season, path: Path, report: Report) -> Season:
    """The season with the labels and vines of a list of rows, where nothing stands on the rows yet. Raises FileError."""
    read = read_row_list(path)
    by_block: dict[str, list[ListedRow]] = {}
    for each in read.value:
        by_block.setdefault(each.block, []).append(each)
    report.problems.extend(read.problems)
    came, notes = 0, list(read.notes)
    for name, listed in by_block.items():
        try:
            made = _listed_block(season, name, listed)
        except Refused as refused:
            report.problems.append(listed[0].entry.problem(refused.field, refused.value, refused.why, refused.do))
            continue
        season = edits.with_block(season, made.value)
        report.problems.extend(made.problems)
        notes.append(_order_note(path.name, made.value))
        came += len(listed)
    report.kept.append(f"{path.name}: {share_of(came, len(read.value), 'listed row')}")
    report.notes.extend(notes)
    return season


def _listed_block(season: Season, name: str, listed: Sequence[ListedRow]) -> Read[Block]:
    block = season.block(name)
    if block is None:
        do = f"The blocks are {', '.join(each.name for each in season.blocks) or 'none'}."
        raise Refused("block", name, f"there is no block of this name; {counted(len(listed), 'row')} left out", do)
    stands = what_stands_on(season, block)
    if stands:
        why = f"the block already has {stands}, which stand on its present rows; {counted(len(listed), 'row')} left out"
        raise Refused("block", name, why, "Put its rows right one by one.")
    return with_listed_rows(block, listed)


def _order_note(file: str, block: Block) -> str:
    """What was done with a list, and at which side its first row now stands, so that it can be looked at outdoors."""
    rows = block.rows
    told = f"{block.name}: {counted(len(rows), 'row')} with {int(rows.vine_count.sum()):,} vines, as listed in {file}"
    if len(rows) == 1:
        return f"{told}."
    first, last = (rows.line_m(row).mean(axis=0) for row in (0, len(rows) - 1))
    side = compass_word(float(np.degrees(np.arctan2(*(first - last)))) % 360.0)
    return f"{told}; row {rows.labels[0]} is the first from the {side}."
