"""Tables and drawn features whose columns have other names come in under ours once the manager said which is which."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vinemap.errors import InputError, Problem, VinemapError
from vinemap.files.covariate_raster import is_raster
from vinemap.files.drawn_columns import is_whole, sheets_of, under_our_names
from vinemap.files.geojson import is_drawn, read_items
from vinemap.files.head_words import DRAWN, TABLES
from vinemap.files.matching import (
    Proposal,
    Sheet,
    answers_in,
    is_ours,
    proposal_for,
    propose,
    propose_drawn,
    read_given,
    read_heads,
    written,
)
from vinemap.files.picture_reader import is_picture
from vinemap.files.point_layers import is_database, is_season
from vinemap.files.repairs import PLACE
from vinemap.files.row_blocks import names_no_block
from vinemap.files.stop_reader import WAYS
from vinemap.files.text import Read
from vinemap.files.weather_units import lacking_weather
from vinemap.ground.snapping import SNAP_M

Heads = tuple[str, ...]


def _nothing(heads: Heads) -> str:
    return ""


@dataclass(frozen=True, slots=True)
class Agreed:
    """What the manager agreed to before files come in.

    ``columns``: which column is which, as ``theirs=ours`` parted by commas, an answer a line, each for every table or kind of
    drawn feature that has all of theirs; ``columns_of`` the same for single files; ``remembered`` what was confirmed before
    for columns of such names, "" for none; ``repairs`` by name; ``snap_m`` how far a stop may be moved [m]; ``crs`` the map
    system of files that tell none; ``block`` the one that rows are in which name none.
    """

    columns: str = ""
    columns_of: Mapping[Path, str] = field(default_factory=dict)
    remembered: Callable[[Heads], str] = _nothing
    repairs: tuple[str, ...] = ()
    snap_m: float = SNAP_M
    crs: str = ""
    block: str = ""


@dataclass(frozen=True, slots=True)
class Match:
    """What is done with a table or a kind of drawn feature: its new names by the old, or what has to be asked first.

    ``kind`` is that of the features, "" for a table; ``note`` what is worth saying where nothing has to be asked.
    """

    kind: str
    heads: Heads
    names: Mapping[str, str]
    given: str = ""
    was_remembered: bool = False
    refused: Problem | None = None
    proposal: Proposal | None = None
    note: str = ""


def proposals(paths: Sequence[Path], remembered: Callable[[Heads], str] = _nothing) -> dict[Path, tuple[Proposal, ...]]:
    """What has to be asked about the columns of files, by file; nothing of what was confirmed before."""
    found: dict[Path, tuple[Proposal, ...]] = {}
    for path in paths:
        asked = [(sheet, _proposal_of(path, sheet)) for sheet in sheets_in(path)]
        to_ask = tuple(each for sheet, each in asked if each is not None and not remembered(_key(sheet)))
        if to_ask:
            found[path] = to_ask
    return found


def sheets_in(path: Path) -> tuple[Sheet, ...]:
    """The columns of a table, or of each kind of drawn feature in a file; none where it is neither."""
    items = drawn_items(path, None)
    if items is not None:
        return sheets_of(items.value)
    read = read_heads(path)
    return () if read is None else (Sheet("", *read),)


def drawn_items(path: Path, crs: str | None) -> Read[tuple[Any, ...]] | None:
    """Drawn features of a file, in longitude and latitude or with None as written; None where it is no such file, or
    can't be read."""
    try:
        if is_picture(path) or is_raster(path) or (is_database(path) and is_season(path)) or not is_drawn(path):
            return None
        return read_items(path, crs)
    except VinemapError:
        # it is refused in words where it is read
        return None


def match_table(path: Path, agreed: Agreed) -> Match | None:
    """The same as ``match`` for a table; None also where it is no table."""
    read = read_heads(path)
    return None if read is None else match(path, Sheet("", *read), agreed)


def match(path: Path, sheet: Sheet, agreed: Agreed) -> Match | None:
    """How columns of a file are taken; None where their own names will do. Raises InputError for a wrong answer."""
    heads = _lower(sheet.heads)
    text = _answer(path, sheet, agreed)
    if text:
        return _as_given(path, sheet, text)
    proposal = _proposal_of(path, sheet)
    if proposal is None:
        return None
    before = agreed.remembered(_key(sheet))
    if before:
        try:
            return Match(sheet.kind, _key(sheet), read_given(before), before, was_remembered=True)
        except InputError:
            # it was written by another program: ask again
            pass
    if sheet.kind and is_whole(sheet.kind, heads):
        return Match(sheet.kind, _key(sheet), {}, proposal=proposal, note=_hint(proposal))
    return Match(sheet.kind, _key(sheet), {}, refused=_refusal(proposal), proposal=proposal)


def check_given(paths: Sequence[Path], columns: str) -> None:
    """Raises InputError when no file has the columns that were named in one of the answers."""
    known = [set(_lower(sheet.heads)) for path in paths for sheet in sheets_in(path)]
    for answer in answers_in(columns) or [columns]:
        theirs = set(read_given(answer))
        if not any(theirs <= heads for heads in known):
            raise InputError(
                f"No file has all of the columns {', '.join(sorted(theirs))}.",
                "Write their names as they stand in its first line, or as a drawn file names what it tells of each feature.",
            )


def rows_without_block(paths: Sequence[Path], agreed: Agreed) -> list[str]:
    """Names of the files in which rows name no block, with their columns taken as agreed."""
    found = []
    for path in paths:
        items = drawn_items(path, None)
        rows = next((each for each in sheets_of(items.value) if each.kind == "rows"), None) if items is not None else None
        if items is None or rows is None:
            continue
        taken = match(path, rows, agreed)
        if taken is None or taken.refused is None:
            names = {"rows": taken.names} if taken is not None else {}
            if any(map(names_no_block, under_our_names(path.name, items.value, names)[0])):
                found.append(path.name)
    return found


def _answer(path: Path, sheet: Sheet, agreed: Agreed) -> str:
    """Which of the answers is for these columns, "" for none: one that makes them whole, and of those the longest."""
    own = answers_in(agreed.columns_of.get(path, ""))
    if own and not sheet.kind:
        return own[0]
    heads = set(_lower(sheet.heads))
    fitting = []
    for text in own or answers_in(agreed.columns):
        names = read_given(text)
        if set(names) <= heads and (not sheet.kind or set(names.values()) <= _offered(sheet.kind)):
            fitting.append((_is_enough_for(sheet, names), len(names), text))
    return max(fitting, key=lambda each: each[:2])[2] if fitting else ""


def _offered(kind: str) -> set[str]:
    needed, others = DRAWN[kind]
    return {*needed, *others}


def _is_enough_for(sheet: Sheet, names: Mapping[str, str]) -> bool:
    renamed = [names.get(head) or ("" if head in names.values() else head) for head in _lower(sheet.heads)]
    return is_whole(sheet.kind, renamed) if sheet.kind else is_ours(renamed)


def _proposal_of(path: Path, sheet: Sheet) -> Proposal | None:
    """What to ask about columns; None where they are ours, or none that could be meant."""
    if not sheet.kind:
        return proposal_for(path)
    found = propose_drawn(Path(path).name, sheet)
    if found is None:
        return None
    heads = set(_lower(sheet.heads))
    guessed = {
        pair.ours for pair in found.pairs if pair.is_guessed and (pair.ours, pair.theirs.casefold()) != ("block", "name")
    }
    if is_whole(sheet.kind, heads):
        # the spacings are what rows are made by, and a mark's name is seldom that of its block
        return found if guessed & set(_WORTH[sheet.kind]) else None
    if sheet.kind == "stops":
        # any point may be one of other figures, or a gate: only a whole match speaks against that
        return found if guessed and not found.lacking else None
    return found


_WORTH = {"outlines": ("block", "row_spacing_m", "vine_spacing_m"), "rows": ("block", "vine_spacing_m", "vines"), "stops": ()}
"""Columns that are worth a question though a kind of drawn feature can be read without them."""


def _as_given(path: Path, sheet: Sheet, text: str) -> Match:
    names, heads, key = read_given(text), _lower(sheet.heads), _key(sheet)
    unknown = [theirs for theirs in names if theirs not in heads]
    if unknown:
        raise InputError(f"{path.name} has no column “{unknown[0]}”.", f"It has: {', '.join(filter(None, heads))}.")
    if _is_enough_for(sheet, names):
        return Match(sheet.kind, key, names, text)
    if sheet.kind:
        proposal = propose_drawn(path.name, sheet, names)
    else:
        proposal = propose(path.name, sheet.heads, sheet.lines, given=names)
    if proposal is not None:
        return Match(sheet.kind, key, {}, refused=_refusal(proposal), proposal=proposal)
    needs = "; ".join(f"{kind} {', '.join(needed)}" for kind, (needed, _) in TABLES.items())
    why = f"with the columns named so it is no table that can be read here: {text}"
    return Match(sheet.kind, key, {}, refused=Problem(path.name, "", "", "", why, f"Tables need: {needs}."))


def _refusal(proposal: Proposal) -> Problem:
    told = "; ".join(f"{pair.theirs} as {pair.ours}" for pair in proposal.pairs)
    why = f"its columns have other names than ours; it looks like {proposal.kind}, with {told}"
    if proposal.is_drawn:
        why = f"its {proposal.kind} have columns of other names than ours" + (f", with {told}" if told else "")
    do = f'If that is so, say --columns "{_quoted(proposal.given)}"; if not, change it.{_block_words(proposal)}'
    if proposal.lacking:
        why += f"; nothing was found for {', '.join(proposal.lacking)}"
        do = f'Name the rest too, after: --columns "{_quoted(proposal.given)}". A column that is not there must be added.'
    if proposal.lacking and not told:
        has = ", ".join(filter(None, proposal.heads))
        do = f'Say which it is: --columns "THEIRS={proposal.lacking[0]}". There is: {has}.'
    return Problem(proposal.file, "", "", "", why, do)


def _block_words(proposal: Proposal) -> str:
    """What to say of rows that no column tells the block of."""
    if not proposal.is_drawn or proposal.kind != "rows" or "block" in [pair.ours for pair in proposal.pairs]:
        return ""
    return f" No column says their block: --block NAME for all of them, or --repair {PLACE} for each."


def _hint(proposal: Proposal) -> str:
    """What is said of columns that can be read without an answer, and may hold more."""
    guessed = [pair for pair in proposal.pairs if pair.is_guessed]
    told = "; ".join(f"{pair.theirs} may be {pair.ours}" for pair in guessed)
    given = _quoted(written([(pair.theirs, pair.ours) for pair in guessed]))
    return f'{proposal.file}, {proposal.kind}: {told}. To take it so, say --columns "{given}".'


def _quoted(given: str) -> str:
    return given.replace('"', '\\"')


def lines_of(proposal: Proposal) -> list[str]:
    """What is proposed, one line a pair: theirs -> ours, and a value from under it; then what to say to confirm it."""
    wide = max((len(pair.theirs) for pair in proposal.pairs), default=0)
    lines = [f"{proposal.file}: its columns have other names than ours; it looks like {proposal.kind}:"]
    if proposal.is_drawn:
        lines = [f"{proposal.file}: its {proposal.kind} have columns of other names than ours:"]
    lines += [
        f"  {pair.theirs:<{wide}} -> {pair.ours}" + (f"   for example {pair.example}" if pair.sample else "")
        for pair in proposal.pairs
    ]
    meant = {pair.theirs for pair in proposal.pairs}
    unused = [head for head in proposal.heads if head and head not in meant]
    if unused:
        lines.append(f"  not used: {', '.join(unused)}")
    if proposal.lacking:
        lines.append(f"  nothing found for: {', '.join(proposal.lacking)}")
    if _block_words(proposal):
        lines.append(f" {_block_words(proposal)}")
    given = proposal.given or f"THEIRS={proposal.lacking[0]}"
    lines.append(f'  to take it so: --columns "{_quoted(given)}"')
    return lines


def is_enough(proposal: Proposal, ours: Sequence[str]) -> bool:
    """Whether these columns of ours make a whole table, or a whole kind of drawn feature."""
    if proposal.is_drawn:
        return is_whole(proposal.kind, {*ours, *(head.casefold() for head in proposal.heads if head.casefold() == "name")})
    needed, _ = TABLES[proposal.kind]
    if proposal.kind == "weather":
        return not lacking_weather(ours)
    return set(needed) <= set(ours) and (proposal.kind != "stops" or any(set(way) <= set(ours) for way in WAYS))


def _key(sheet: Sheet) -> Heads:
    """Under what the answer for these columns is remembered."""
    return (*((f"drawn {sheet.kind}",) if sheet.kind else ()), *_lower(sheet.heads))


def _lower(heads: Sequence[str]) -> Heads:
    return tuple(head.strip().casefold() for head in heads)
