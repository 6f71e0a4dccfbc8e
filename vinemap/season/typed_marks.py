"""Vines marked by a typed edit: dead, missing, replanted, living, or of a variety."""

from __future__ import annotations

import re
from dataclasses import dataclass

from vinemap.errors import InputError
from vinemap.ground.block import DEAD, LIVING, MISSING, REPLANT, Block
from vinemap.season.edits import mark_variety, mark_vines
from vinemap.season.typed_words import plain_text, row_named
from vinemap.season.value import Season
from vinemap.work.varieties import plain_name

_STATUS = {
    "dead": DEAD,
    "missing": MISSING,
    "gone": MISSING,
    "replant": REPLANT,
    "replants": REPLANT,
    "replanted": REPLANT,
    "living": LIVING,
    "alive": LIVING,
}
_SAID = {LIVING: "living", MISSING: "missing", DEAD: "dead", REPLANT: "replanted"}
_RUN = r"\d{1,6}(?: ?(?:to|through|-|–) ?\d{1,6})?"
_RUNS = rf"{_RUN}(?:(?: ?, ?and | ?, ?| and | ?& ?)(?:vines? )?{_RUN})*"
_FILLERS = {"mark", "set", "change", "as", "are", "is", "be", "was", "were", "the", "of", "in", "on", "from", "with"}
_FILLERS |= {"all", "whole", "every", "now", "row", "vine", "vines", "variety"}


@dataclass(frozen=True, slots=True)
class Mark:
    """Vines of a row, as runs (first, last), none for the whole row, and what they are said to be."""

    row: str
    runs: tuple[tuple[int, int], ...]
    what: str


def read_mark(text: str) -> Mark | None:
    """The mark that a text without its block asks for, or None where it asks for none."""
    plain = plain_text(text)
    address = re.match(rf"(?:row )?(?P<row>[^\s/]+) ?/ ?(?:vines? )?(?P<runs>{_RUNS})(?![\d])", plain)
    if address:
        row, runs, rest = text[address.start("row") : address.end("row")], address["runs"], text[address.end() :]
    else:
        named = re.search(r"\brow (?P<row>[^\s,:;]+)", plain)
        if not named:
            return None
        row = text[named.start("row") : named.end("row")]
        # blanks keep the places of what is left
        rest = text[: named.start()] + " " * (named.end() - named.start()) + text[named.end() :]
        vines = re.search(rf"\bvines? (?P<runs>{_RUNS})", plain_text(rest))
        runs = vines["runs"] if vines else ""
        rest = rest[: vines.start()] + " , " + rest[vines.end() :] if vines else rest
    # “set vines 3 to dead” is plain, “vines 3 to dead” has lost a number
    fillers = _FILLERS | {"to"} if re.match(r"(?:set|change) ", plain) else _FILLERS
    words = [word for word in re.split(r"[\s,:;]+", rest) if word and plain_text(word) not in fillers]
    if not words:
        return None
    numbers = [re.findall(r"\d+", run) for run in re.findall(_RUN, runs)]
    return Mark(row, tuple((int(each[0]), int(each[-1])) for each in numbers), " ".join(words))


def with_mark(season: Season, block: Block, mark: Mark, text: str) -> tuple[Season, str]:
    """The season with the mark, and what there is to say. Raises InputError."""
    row = row_named(block, mark.row)
    count = int(block.rows.vine_count[block.rows.labels.index(row)])
    status = _STATUS.get(plain_text(mark.what))
    if status is None and any(map(str.isdigit, mark.what)):
        raise InputError(f"“{mark.what}” in “{text}” is not understood.", "Write for example “row 12, vines 30 to 44 dead”.")
    made = season
    runs = mark.runs or ((1, count),)
    for first, last in runs:
        if status is not None:
            made = mark_vines(made, block.name, row, first, last, status)
        else:
            made = mark_variety(made, block.name, row, first, last, _variety(block, mark.what))
    what = _SAID[status] if status is not None else _variety(block, mark.what)
    vines = ", ".join(f"{first}" if first == last else f"{first} to {last}" for first, last in runs)
    total = sum(last - first + 1 for first, last in runs)
    is_one = total == 1
    return made, f"{block.name} / {row}: vine{'' if is_one else 's'} {vines} {'is' if is_one else 'are'} {what} now."


def _variety(block: Block, name: str) -> str:
    found = next((each for each in block.varieties if plain_name(each) == plain_name(name)), None)
    if found is None:
        raise InputError(
            f"Block {block.name} does not list {name}.",
            f"It lists {', '.join(block.varieties)}. For a new one write “add variety {name} to {block.name}” first.",
        )
    return found
