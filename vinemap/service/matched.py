"""Tables whose columns have other names come in under ours once the manager has said which is which."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from vinemap.errors import InputError, Problem
from vinemap.files.head_words import TABLES
from vinemap.files.matching import Proposal, is_ours, proposal_for, propose, read_given, read_heads
from vinemap.files.stop_reader import WAYS
from vinemap.files.weather_units import lacking_weather
from vinemap.ground.snapping import SNAP_M

Heads = tuple[str, ...]


def _nothing(heads: Heads) -> str:
    return ""


@dataclass(frozen=True, slots=True)
class Agreed:
    """What the manager agreed to before files come in.

    ``columns``: which column is which, as ``theirs=ours`` parted by commas, for every file that has all of theirs;
    ``columns_of`` the same for single files; ``remembered`` what was confirmed before for a table of such heads, "" for
    none; ``repairs`` by name; ``snap_m`` how far a stop may be moved [m]; ``crs`` the map system of files that tell none.
    """

    columns: str = ""
    columns_of: Mapping[Path, str] = field(default_factory=dict)
    remembered: Callable[[Heads], str] = _nothing
    repairs: tuple[str, ...] = ()
    snap_m: float = SNAP_M
    crs: str = ""


@dataclass(frozen=True, slots=True)
class Match:
    """What is done with one table: its new names by the old, or what has to be asked first."""

    heads: Heads
    names: Mapping[str, str]
    given: str = ""
    was_remembered: bool = False
    refused: Problem | None = None
    proposal: Proposal | None = None


def proposals(paths: Sequence[Path], remembered: Callable[[Heads], str] = _nothing) -> dict[Path, Proposal]:
    """What has to be asked about the columns of files, by file; none for a table confirmed before."""
    found = {path: proposal_for(path) for path in paths}
    return {path: each for path, each in found.items() if each is not None and not remembered(_lower(each.heads))}


def match(path: Path, agreed: Agreed) -> Match | None:
    """How the columns of a file are taken; None where its own names will do. Raises InputError for a wrong answer."""
    read = read_heads(path)
    if read is None:
        return None
    heads = _lower(read[0])
    text = agreed.columns_of.get(path, "")
    if not text and agreed.columns and set(read_given(agreed.columns)) <= set(heads):
        text = agreed.columns
    if text:
        return _as_given(path, heads, text)
    proposal = proposal_for(path)
    if proposal is None:
        return None
    before = agreed.remembered(heads)
    if before:
        try:
            return Match(heads, read_given(before), before, was_remembered=True)
        except InputError:
            # it was written by another program: ask again
            pass
    return Match(heads, {}, refused=_refusal(proposal), proposal=proposal)


def check_given(paths: Sequence[Path], columns: str) -> None:
    """Raises InputError when no file has the columns that were named."""
    theirs = set(read_given(columns))
    if any(read is not None and theirs <= set(_lower(read[0])) for read in map(read_heads, paths)):
        return
    raise InputError(
        f"No file has all of the columns {', '.join(sorted(theirs))}.", "Write their names as they stand in its first line."
    )


def _as_given(path: Path, heads: Heads, text: str) -> Match:
    names = read_given(text)
    unknown = [theirs for theirs in names if theirs not in heads]
    if unknown:
        raise InputError(f"{path.name} has no column “{unknown[0]}”.", f"It has: {', '.join(filter(None, heads))}.")
    renamed = [names.get(head) or ("" if head in names.values() else head) for head in heads]
    if is_ours(renamed):
        return Match(heads, names, text)
    read = read_heads(path)
    proposal = propose(path.name, *read, given=names) if read is not None else None
    if proposal is not None:
        return Match(heads, {}, refused=_refusal(proposal), proposal=proposal)
    needs = "; ".join(f"{kind} {', '.join(needed)}" for kind, (needed, _) in TABLES.items())
    why = f"with the columns named so it is no table that can be read here: {text}"
    return Match(heads, {}, refused=Problem(path.name, "", "", "", why, f"Tables need: {needs}."))


def _refusal(proposal: Proposal) -> Problem:
    told = "; ".join(f"{pair.theirs} as {pair.ours}" for pair in proposal.pairs)
    why = f"its columns have other names than ours; it looks like {proposal.kind}, with {told}"
    do = f'If that is so, say --columns "{_quoted(proposal.given)}"; if not, change it.'
    if proposal.lacking:
        why += f"; nothing was found for {', '.join(proposal.lacking)}"
        do = f'Name the rest too, after: --columns "{_quoted(proposal.given)}". A column that is not there must be added.'
    return Problem(proposal.file, "", "", "", why, do)


def _quoted(given: str) -> str:
    return given.replace('"', '\\"')


def lines_of(proposal: Proposal) -> list[str]:
    """What is proposed, one line a pair: theirs -> ours, and a value from under it; then what to say to confirm it."""
    wide = max(len(pair.theirs) for pair in proposal.pairs)
    lines = [f"{proposal.file}: its columns have other names than ours; it looks like {proposal.kind}:"]
    lines += [
        f"  {pair.theirs:<{wide}} -> {pair.ours}" + (f"   for example {pair.sample}" if pair.sample else "")
        for pair in proposal.pairs
    ]
    meant = {pair.theirs for pair in proposal.pairs}
    unused = [head for head in proposal.heads if head and head not in meant]
    if unused:
        lines.append(f"  not used: {', '.join(unused)}")
    if proposal.lacking:
        lines.append(f"  nothing found for: {', '.join(proposal.lacking)}")
    lines.append(f'  to take it so: --columns "{_quoted(proposal.given)}"')
    return lines


def is_enough(kind: str, ours: Sequence[str]) -> bool:
    """Whether these columns of ours make a whole table of a kind."""
    needed, _ = TABLES[kind]
    if kind == "weather":
        return not lacking_weather(ours)
    return set(needed) <= set(ours) and (kind != "stops" or any(set(way) <= set(ours) for way in WAYS))


def _lower(heads: Sequence[str]) -> Heads:
    return tuple(head.strip().casefold() for head in heads)
