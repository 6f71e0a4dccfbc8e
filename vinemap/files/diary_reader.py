"""Passes and sprays that have been made, from CSV."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

from vinemap.errors import InputError
from vinemap.files.cells import Entry, Refused, keep_good_lines
from vinemap.files.table import read_table
from vinemap.files.text import Read
from vinemap.ground.address import row_order
from vinemap.ground.block import Block
from vinemap.work.diary import KINDS, Pass, Spray

Made = TypeVar("Made")

PASS_NEEDED = ("date", "block", "rows", "kind", "face", "people", "hours")
SPRAY_NEEDED = ("start", "end", "block", "rows", "materials", "rate_kg_per_ha", "water_l_per_ha")
FACES = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west", "both")
PASS_KINDS = tuple(kind for kind in KINDS if kind != "P")
_FACE_KINDS = ("L", "F", "R")
_LONGEST_SPRAY = dt.timedelta(days=3)


def read_passes(path: Path, blocks: Sequence[Block] | None = None) -> Read[tuple[Pass, ...]]:
    """Passes of a CSV file. With ``blocks``, names are checked and rows such as 1-12;15 become labels of the block.

    Without them rows stay as written. Raises FileError when the file is not such a table.
    """
    return _read(path, PASS_NEEDED, lambda line: _pass(line, blocks))


def read_sprays(path: Path, blocks: Sequence[Block] | None = None) -> Read[tuple[Spray, ...]]:
    """Sprays of a CSV file; blocks and rows as in ``read_passes``. Raises FileError when the file is not such a table."""
    return _read(path, SPRAY_NEEDED, lambda line: _spray(line, blocks))


def expand_rows(parts: Sequence[str], labels: Sequence[str]) -> tuple[str, ...]:
    """Row labels meant by parts such as ``1-12`` and ``15``, in the order people count, each once.

    A range takes every label between its ends in that order: 1-3 holds 2a. Raises InputError when a row is not there.
    """
    order = [labels[index] for index in row_order(labels)]
    meant: set[str] = set()
    for part in parts:
        if part in order:
            meant.add(part)
            continue
        cuts = [at for at, sign in enumerate(part) if sign in "-–"]
        ends = [(part[:at].strip(), part[at + 1 :].strip()) for at in cuts]
        found = [(first, last) for first, last in ends if first in order and last in order]
        if not found:
            raise InputError(f"There is no row {part}.", "Write labels as on the map, for example 1-12;15.")
        low, high = sorted(order.index(end) for end in found[0])
        meant.update(order[low : high + 1])
    return tuple(label for label in order if label in meant)


def _read(path: Path, needed: Sequence[str], read_one: Callable[[Entry], Made]) -> Read[tuple[Made, ...]]:
    table = read_table(path, needed, ())
    kept, problems = keep_good_lines(table.value.lines, read_one)
    return Read(tuple(kept), (*table.problems, *problems), table.notes)


def _where(line: Entry, blocks: Sequence[Block] | None) -> tuple[str, tuple[str, ...]]:
    name, parts = line.needed("block"), line.listed("rows")
    if blocks is None:
        return name, parts
    block = next((each for each in blocks if each.name == name), None)
    if block is None:
        do = f"The blocks are {', '.join(each.name for each in blocks) or 'none'}."
        raise Refused("block", name, "there is no block of this name", do)
    try:
        return name, expand_rows(parts, block.rows.labels)
    except InputError as error:
        raise Refused("rows", line.text("rows"), f"{name}: {error.what.rstrip('.')}", error.do) from error


def _pass(line: Entry, blocks: Sequence[Block] | None) -> Pass:
    block, rows = _where(line, blocks)
    kind = line.choice("kind", PASS_KINDS)
    face = line.choice("face", FACES, "" if kind in _FACE_KINDS else "both")
    return Pass(line.date("date"), block, rows, kind, face, line.whole("people", 1, 1000), _above_zero(line, "hours", 1000.0))


def _spray(line: Entry, blocks: Sequence[Block] | None) -> Spray:
    block, rows = _where(line, blocks)
    start, end = _local_time(line, "start"), _local_time(line, "end")
    if end < start:
        raise Refused("end", line.text("end"), "is before the start", "Check both times.")
    if end - start > _LONGEST_SPRAY:
        raise Refused("end", line.text("end"), "is more than three days after the start", "Write one line for each day.")
    materials = line.listed("materials")
    if not materials:
        raise Refused("materials", "", "there is nothing here", "Name the active ingredient.")
    rate_kg_per_ha = _above_zero(line, "rate_kg_per_ha", 1000.0)
    return Spray(start, end, block, rows, materials, rate_kg_per_ha, line.number("water_l_per_ha", 0.0, 10_000.0))


def _above_zero(line: Entry, name: str, high: float) -> float:
    number = line.number(name, 0.0, high)
    if number == 0.0:
        raise Refused(name, line.text(name), "must be more than 0", "Fill in what it was.")
    return number


def _local_time(line: Entry, name: str) -> dt.datetime:
    moment = line.moment(name)
    if moment.tzinfo is not None:
        raise Refused(name, line.text(name), "names a time zone", "Write local standard time without a zone.")
    return moment
