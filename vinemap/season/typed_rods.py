"""Rods as they are written: “rods in row 12 of Dogleg on 2026-06-10: LCL G L LL”."""

from __future__ import annotations

import datetime as dt
import re

from vinemap.canopy.rods import RodNote, point_quadrat, quadrat_words, read_insertions
from vinemap.errors import InputError
from vinemap.ground.block import Block
from vinemap.season.typed_words import about_block, plain_text, row_named
from vinemap.season.value import Season
from vinemap.season.weather_edits import with_rods

SIGN = r"^(?:(?:add|note) )?rods?\b.*:|^(?:delete|remove) (?:the )?rods\b"
_WRITTEN = re.compile(r"(?:(?:add|note) )?rods?\b(?P<where>[^:]*):(?P<rods>.*)", re.IGNORECASE)
_GONE = re.compile(r"(?:delete|remove) (?:the )?rods\b(?P<where>[^:]*)", re.IGNORECASE)
_DATED = re.compile(r"(?:\bon )?\b(?P<date>\d{4}-\d{2}-\d{2})\b")
_EXAMPLE = "Write for example “rods in row 12 of Dogleg on 2026-06-10: LCL G L LL”."


def typed(season: Season, text: str) -> tuple[Season, str] | None:
    """The season with the rods that a text tells, or without those it takes away, and what is said; None for another text.

    Raises InputError.
    """
    written, gone = _WRITTEN.fullmatch(text), _GONE.fullmatch(text)
    if written is not None:
        block, row, date = _where(season, written["where"])
        note = RodNote(block, row, date, read_insertions(written["rods"]))
        return note_rods(season, note), f"{rods_place(note)}: {quadrat_words(point_quadrat(note.insertions))}."
    if gone is None:
        return None
    where = _where(season, gone["where"])
    kept = [each for each in season.rods if (each.block, each.row, each.date) != where]
    place = rods_place(RodNote(*where, ()))
    if len(kept) == len(season.rods):
        raise InputError(f"There are no rods of {place}.")
    return with_rods(season, kept), f"The rods of {place} are deleted."


def note_rods(season: Season, note: RodNote) -> Season:
    """The season with the rods of one place and day, instead of what was noted there that day. Raises InputError."""
    where = (note.block, note.row, note.date)
    kept = [each for each in season.rods if (each.block, each.row, each.date) != where]
    return season if note in season.rods else with_rods(season, (*kept, note))


def rods_place(note: RodNote) -> str:
    """Where and when rods were passed through, in words."""
    return f"{note.block}{f', row {note.row}' if note.row else ''}, {note.date.isoformat()}"


def _where(season: Season, text: str) -> tuple[str, str, dt.date]:
    """Block, row ("" for all of it) and day as written. Raises InputError."""
    dated = _DATED.search(text)
    if dated is None:
        raise InputError("It is not said on which day.", _EXAMPLE)
    try:
        date = dt.date.fromisoformat(dated["date"])
    except ValueError:
        raise InputError(f"{dated['date']} is not in the calendar.", "Write year-month-day.") from None
    block, rest = about_block(season, " ".join(f"{text[: dated.start()]} {text[dated.end() :]}".split()).strip(" ,"))
    block = block or _only_block(season)
    rest = re.sub(r"^(?:in|of)\b", "", rest.strip(" ,"), flags=re.IGNORECASE).strip(" ,")
    named = re.fullmatch(r"row (?P<row>\S+)", plain_text(rest))
    if rest and named is None:
        raise InputError(f"“{rest}” is no row.", _EXAMPLE)
    return block.name, row_named(block, rest[named.start("row") :]) if named else "", date


def _only_block(season: Season) -> Block:
    if len(season.blocks) != 1:
        names = ", ".join(block.name for block in season.blocks) or "none yet"
        raise InputError(f"It is not said which block. There are: {names}.", _EXAMPLE)
    return season.blocks[0]
