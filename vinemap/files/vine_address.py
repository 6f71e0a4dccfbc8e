"""The vine that a file names by block, row and number."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from vinemap.errors import InputError
from vinemap.files.cells import Refused
from vinemap.ground.block import Block
from vinemap.ground.locate import vine_index

FirstVines = Mapping[str, tuple[int, int]]
"""By row label: the number in the block of the row's first vine, and how many vine places the row has."""


def first_vines(block: Block) -> FirstVines:
    """Where the rows of a block begin, to be asked for many vines."""
    count = block.rows.vine_count
    return dict(zip(block.rows.labels, zip((np.cumsum(count) - count).tolist(), count.tolist(), strict=True), strict=True))


def named_vine(block: Block, rows: FirstVines, row: str, vine: int) -> int:
    """Number in its block of a vine; ``rows`` are ``first_vines`` of the block. Raises Refused where it is not there."""
    refuse_without_rows(block)
    first, count = rows.get(row, (0, 0))
    if 1 <= vine <= count:
        return first + vine - 1
    try:
        return vine_index(block.rows.labels, block.rows.vine_count, row, vine)
    except InputError as error:
        field, shown = ("vine", str(vine)) if row in rows else ("row", row)
        raise Refused(field, shown, f"{block.name}: {error.what.rstrip('.')}", error.do) from error


def refuse_without_rows(block: Block) -> None:
    """Raise Refused for whatever should stand on a vine of a block of which only the outline is known."""
    if not len(block.rows):
        do = "Bring in its rows or make them from its outline, then bring this in again."
        raise Refused("block", block.name, "has no rows yet", do)
