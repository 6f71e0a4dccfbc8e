"""Where each vine goes when blocks and rows are put right, so that its marks and everything that names it can follow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vinemap.columns import Bools, Bytes, Floats, Ints, freeze
from vinemap.ground.block import LIVING, Block, RowTable, VineExceptions, no_exceptions
from vinemap.ground.vines import row_starts, whole_codes

GONE = -1


@dataclass(frozen=True, slots=True, eq=False)
class Went:
    """Where the vines of one block went, in the order of its vines.

    ``block``: (n,) index of the new block; ``row``: (n,) index of the row there, -1 where the vine is gone; ``vine``: (n,)
    ordinal from 1.
    """

    block: Ints
    row: Ints
    vine: Ints

    def __post_init__(self) -> None:
        freeze(self, block=np.int32, row=np.int32, vine=np.int32)


@dataclass(frozen=True, slots=True, eq=False)
class Reshaped:
    """Blocks as they are now, in place of others, and where the vines of each of those went."""

    blocks: tuple[Block, ...]
    went: tuple[Went, ...]


def lines_of(rows: RowTable) -> list[Floats]:
    """The line (k, 2) [m] of every row."""
    return [rows.line_m(row) for row in range(len(rows))]


def table_of(labels: Sequence[str], lines_m: Sequence[Floats], spacing_m: Sequence[float], count: Sequence[int]) -> RowTable:
    """Rows from one line (k, 2) [m], vine spacing [m] and number of vines each."""
    start = np.concatenate([[0], np.cumsum([len(line) for line in lines_m])]).astype(np.int32)
    xy = np.concatenate(lines_m) if lines_m else np.empty((0, 2))
    return RowTable(tuple(labels), xy, start, np.asarray(spacing_m, np.float64), np.asarray(count, np.int32))


def stayed(rows: RowTable) -> Went:
    """Every vine where it was."""
    starts = row_starts(rows)
    row = np.repeat(np.arange(len(rows), dtype=np.int32), rows.vine_count)
    return Went(np.zeros(len(row), np.int32), row, np.arange(len(row), dtype=np.int32) - starts[row] + 1)


def marked(block: Block, status: Bytes, variety: Bytes) -> Block:
    """The block with these codes (n,) for its vines; only what differs from the usual is kept."""
    differs: Bools = (status != LIVING) | (variety > 0)
    vine = np.flatnonzero(differs).astype(np.int32)
    named = np.where(variety[vine] > 0, variety[vine], -1).astype(np.int8)
    return replace(block, exceptions=VineExceptions(vine, status[vine], named))


def carried(olds: Sequence[Block], news: Sequence[Block], went: Sequence[Went]) -> Reshaped:
    """The new blocks with the marks of the vines that went there. Raises ValueError for a variety that none of them lists."""
    made = []
    for number, new in enumerate(news):
        starts = row_starts(new.rows)
        status, variety = whole_codes(replace(new, exceptions=no_exceptions()))
        for old, path in zip(olds, went, strict=True):
            here = (path.block == number) & (path.row >= 0)
            at = starts[path.row[here]] + path.vine[here] - 1
            was_status, was_variety = whole_codes(old)
            code = np.array([new.varieties.index(name) if name in new.varieties else -1 for name in old.varieties], np.int8)
            named = code[was_variety[here]]
            if (named < 0).any():
                raise ValueError("a variety is not listed by the new block")
            status[at], variety[at] = was_status[here], named
        made.append(marked(new, status, variety))
    return Reshaped(tuple(made), tuple(went))
