"""The varieties of a field blend, vine by vine, from a list as it stands in a notebook."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from vinemap.columns import Bytes
from vinemap.errors import InputError, Problem
from vinemap.ground.block import Block
from vinemap.ground.follow import marked
from vinemap.ground.partition import MOST_VARIETIES
from vinemap.ground.vines import row_starts, whole_codes
from vinemap.season.edits import with_block
from vinemap.season.ground_edits import block_named
from vinemap.season.value import Season
from vinemap.work.varieties import plain_name

EXAMPLE = "12: Carignane 1-14, Zinfandel 15-44; 13: Zinfandel"
_RANGE = r"(\d{1,6})(?:\s*(?:-|–|to)\s*(\d{1,6}))?"
_HEADS = ("row", "rows")


class _Refused(Exception):
    """One item can't be used: the value, why, and what to do."""


def with_variety_list(season: Season, name: str, text: str) -> tuple[Season, tuple[str, ...], tuple[Problem, ...]]:
    """The season with the varieties of a list in a block, what there is to say of it, and a problem for each item left out.

    One row a line, or parted by semicolons: the row, then a colon, a tab or a comma, then varieties with their vines, for
    example ``12: Carignane 1-14, Zinfandel 15-44``; or row and vines, then one variety: ``12 1-14`` tab ``Carignane``.
    Without vines a variety is that of the whole row. Names are matched without case and accents; a variety that the block did
    not list is added. Raises InputError when nothing can be used.
    """
    block = block_named(season, name)
    reading = _Reading(block)
    for number, line in enumerate(re.split(r"[\n;]", text), start=1):
        if line.strip():
            reading.line(number, line.strip())
    if not reading.vines:
        first = f" {reading.problems[0]}" if reading.problems else ""
        raise InputError(f"No vine got a variety.{first}", f"Write rows and vines, for example “{EXAMPLE}”.")
    changed = replace(marked(replace(block, varieties=tuple(reading.varieties)), reading.status, reading.codes))
    said = [f"{name}: {reading.vines:,} vines got their variety from the list."]
    added = reading.varieties[len(block.varieties) :]
    if added:
        said.append(f"Varieties added: {', '.join(added)}.")
    same = changed.varieties == block.varieties and all(
        np.array_equal(a, b) for a, b in zip(whole_codes(changed), whole_codes(block), strict=True)
    )
    return (season if same else with_block(season, changed)), tuple(said), tuple(reading.problems)


class _Reading:
    """What has been read so far."""

    def __init__(self, block: Block) -> None:
        self.block = block
        self.varieties = list(block.varieties)
        self.status: Bytes
        self.status, codes = whole_codes(block)
        self.codes = codes.copy()
        self.seen: dict[int, int] = {}
        self.problems: list[Problem] = []
        self.vines = 0

    def line(self, number: int, line: str) -> None:
        """Read one line."""
        try:
            row, vines, rest = self._row_of(line)
        except _Refused as refused:
            self._refuse(number, refused)
            return
        if rest is None:
            return
        items = [rest] if vines is not None else [item.strip() for item in rest.split(",")]
        variety = ""
        for item in items:
            if not item:
                continue
            try:
                named, run = (item, vines) if vines is not None else _item(item)
                variety = named or variety
                if not variety:
                    raise _Refused(item, "names no variety", f"Write it as in “{EXAMPLE}”.")
                self._set(number, row, variety, run)
            except _Refused as refused:
                self._refuse(number, refused)

    def _row_of(self, line: str) -> tuple[int, tuple[int, int] | None, str | None]:
        """The row, vines where they stand beside it, and what is left; None for a line of column names."""
        parts = re.split(r"\s*[:\t]\s*", line, maxsplit=1)
        if len(parts) < 2:
            parts = re.split(r"\s*,\s*|\s+", line, maxsplit=1)
        head, rest = parts[0].strip(), parts[1].strip() if len(parts) > 1 else ""
        if plain_name(head) in _HEADS:
            return 0, None, None
        head = re.sub(r"^rows?\s+", "", head, flags=re.IGNORECASE)
        labels = self.block.rows.labels
        if head in labels:
            if not rest:
                raise _Refused(line, "names no variety", f"Write it as in “{EXAMPLE}”.")
            return labels.index(head), None, rest
        found = re.fullmatch(rf"(.+?)\s*[\s/,]\s*(?:vines?\s*)?{_RANGE}", head)
        if found and found[1] in labels:
            return labels.index(found[1]), (int(found[2]), int(found[3] or found[2])), rest
        raise _Refused(head, f"there is no such row in {self.block.name}", "Use row labels as they stand on the map.")

    def _set(self, number: int, row: int, variety: str, run: tuple[int, int] | None) -> None:
        label, count = self.block.rows.labels[row], int(self.block.rows.vine_count[row])
        first, last = run or (1, count)
        if not 1 <= first <= last <= count:
            raise _Refused(f"{first}-{last}", f"row {label} has vines 1 to {count}", "Correct the vines.")
        start = int(row_starts(self.block.rows)[row])
        vines = range(start + first - 1, start + last)
        twice = next((vine for vine in vines if vine in self.seen), None)
        if twice is not None:
            why = f"vine {twice - start + 1} of row {label} has its variety from line {self.seen[twice]} already"
            raise _Refused(variety, why, "Keep one of the two.")
        known = [plain_name(each) for each in self.varieties]
        if plain_name(variety) not in known:
            if not variety.isprintable() or len(variety) > 60 or not any(map(str.isalpha, variety)):
                raise _Refused(variety[:60], "is no name of a variety", f"Write it as in “{EXAMPLE}”.")
            if len(known) >= MOST_VARIETIES:
                raise _Refused(variety, f"is one more than {MOST_VARIETIES} varieties", "Check its spelling.")
            self.varieties.append(variety)
            known.append(plain_name(variety))
        self.codes[vines.start : vines.stop] = known.index(plain_name(variety))
        self.seen.update(dict.fromkeys(vines, number))
        self.vines += len(vines)

    def _refuse(self, number: int, refused: _Refused) -> None:
        value, why, do = refused.args
        self.problems.append(Problem("", f"line {number}", "", f"“{value}”", why, do))


def _item(item: str) -> tuple[str, tuple[int, int] | None]:
    """The variety, "" where none is named, and its vines, None where none are."""
    after = re.fullmatch(rf"(.*?)\s*(?:\bvines?\s+)?\b{_RANGE}", item)
    if after:
        return after[1].strip(" :"), (int(after[2]), int(after[3] or after[2]))
    before = re.fullmatch(rf"(?:vines?\s+)?{_RANGE}\s+(.+)", item)
    if before:
        return before[3].strip(), (int(before[1]), int(before[2] or before[1]))
    return item, None
