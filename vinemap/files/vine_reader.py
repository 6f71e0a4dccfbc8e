"""Vines that differ from their block and row, from CSV."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from vinemap.errors import Problem
from vinemap.files.cells import Entry, Refused, keep_good, keep_good_lines
from vinemap.files.outlines import MOST_VARIETIES
from vinemap.files.row_lines import MOST_VINES_IN_ROW
from vinemap.files.table import read_table
from vinemap.files.text import Read
from vinemap.files.vine_address import first_vines, named_vine
from vinemap.ground.block import STATUS_WORDS, Block, VineExceptions

NEEDED = ("block", "row", "vine", "status", "variety")


@dataclass(frozen=True, slots=True, eq=False)
class VineDraft:
    """A vine and what is different about it: ``status`` code, ``variety`` name, "" for the block's first."""

    entry: Entry
    block: str
    row: str
    vine: int
    status: int
    variety: str


def read_vines(path: Path) -> Read[tuple[VineDraft, ...]]:
    """Vine exceptions of a CSV file. Raises FileError when the file is not such a table."""
    table = read_table(path, NEEDED, ())
    kept, problems = keep_good_lines(table.value.lines, _vine)
    return Read(tuple(kept), (*table.problems, *problems), table.notes)


def apply_vines(block: Block, drafts: Sequence[VineDraft]) -> Read[Block]:
    """The block with its exceptions set by the drafts that name it; earlier exceptions of other vines stay.

    A variety that the block did not list is added to its varieties. Left out with a problem: a vine that is not there or
    stands in the file twice.
    """
    entries = dict(zip(block.exceptions.vine.tolist(), _pairs(block), strict=True))
    varieties = list(block.varieties)
    seen: dict[int, Entry] = {}
    rows = first_vines(block)

    def apply(draft: VineDraft) -> None:
        vine = named_vine(block, rows, draft.row, draft.vine)
        if vine in seen:
            raise Refused("vine", str(draft.vine), f"stands at {seen[vine].place} too", "Keep one of the two.")
        if draft.variety and draft.variety not in varieties:
            if len(varieties) >= MOST_VARIETIES:
                raise Refused("variety", draft.variety, f"is one more than {MOST_VARIETIES} varieties", "Check its spelling.")
            varieties.append(draft.variety)
        seen[vine] = draft.entry
        entries[vine] = (draft.status, varieties.index(draft.variety) if draft.variety else -1)

    _, problems = keep_good(((draft.entry, draft) for draft in drafts if draft.block == block.name), apply)
    order = sorted(entries)
    exceptions = VineExceptions(
        np.array(order, np.int32),
        np.array([entries[vine][0] for vine in order], np.int8),
        np.array([entries[vine][1] for vine in order], np.int8),
    )
    added = varieties[len(block.varieties) :]
    notes = (f"{block.name}: varieties added from its vines: {', '.join(added)}.",) if added else ()
    return Read(replace(block, exceptions=exceptions, varieties=tuple(varieties)), tuple(problems), notes)


def apply_all_vines(blocks: Sequence[Block], drafts: Sequence[VineDraft]) -> Read[tuple[Block, ...]]:
    """All blocks with their exceptions; a block that no draft names is the same object. Unknown blocks are problems."""
    of_block: dict[str, list[VineDraft]] = {block.name: [] for block in blocks}
    problems: list[Problem] = []
    notes: list[str] = []
    for draft in drafts:
        if draft.block in of_block:
            of_block[draft.block].append(draft)
        else:
            do = f"The blocks are {', '.join(of_block) or 'none'}."
            problems.append(draft.entry.problem("block", draft.block, "there is no block of this name", do))
    changed = []
    for block in blocks:
        if not of_block[block.name]:
            changed.append(block)
            continue
        read = apply_vines(block, of_block[block.name])
        changed.append(read.value)
        problems.extend(read.problems)
        notes.extend(read.notes)
    return Read(tuple(changed), tuple(problems), tuple(notes))


def _vine(line: Entry) -> VineDraft:
    return VineDraft(
        line,
        line.needed("block"),
        line.needed("row"),
        line.whole("vine", 1, MOST_VINES_IN_ROW),
        STATUS_WORDS.index(line.choice("status", STATUS_WORDS, STATUS_WORDS[0])),
        line.text("variety"),
    )


def _pairs(block: Block) -> list[tuple[int, int]]:
    return list(zip(block.exceptions.status.tolist(), block.exceptions.variety.tolist(), strict=True))
