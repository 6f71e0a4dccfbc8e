"""What a manager can change: each edit is a function from a season to the next one.

Parts that an edit does not touch stay the same objects. An edit that changes nothing gives back the same season.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import fields, replace
from itertools import pairwise

import numpy as np

from vinemap.errors import InputError
from vinemap.ground.block import LIVING, STATUS_WORDS, Block, VineExceptions
from vinemap.ground.covariates import Covariate
from vinemap.scouting.rounds import Round
from vinemap.season.value import Aerial, Estate, Season, StageDates
from vinemap.vineclock.weather import Weather
from vinemap.work.assumptions import Assumptions
from vinemap.work.diary import KINDS, Pass, Spray


def with_estate(season: Season, estate: Estate) -> Season:
    """The season with another estate record. Raises InputError when that would move blocks or stops on the map."""
    if estate.frame != season.estate.frame and (season.blocks or season.rounds or season.covariates):
        raise InputError(
            "The map frame can't change once there are blocks, rounds or columns.",
            "Begin a new season to use another map frame.",
        )
    if not estate.name.strip():
        raise InputError("The estate has no name.", "Give it one; it is printed on every map.")
    return season if estate == season.estate else replace(season, estate=estate)


def with_blocks(season: Season, blocks: Sequence[Block]) -> Season:
    """The season with these blocks instead of those it had.

    Raises InputError when two have one name, or when one that rounds or work refer to is gone.
    """
    _refuse_twice([block.name for block in blocks], "block", "Rename one of them.")
    if any(not block.name.strip() for block in blocks):
        raise InputError("A block has no name.", "Give it one; work and stops are written against it.")
    for block in blocks:
        _refuse_twice(block.rows.labels, f"row of block {block.name}", "Relabel one of them.")
    names = {block.name for block in blocks}
    for what, named in _named_blocks(season):
        if not named <= names:
            raise InputError(
                f"Block {sorted(named - names)[0]} is still named by {what}.", "Keep the block, or remove that first."
            )
    return season if _all_same(blocks, season.blocks) else replace(season, blocks=tuple(blocks))


def with_block(season: Season, block: Block) -> Season:
    """The season with one block added, or put in place of the block of the same name. Raises InputError."""
    if season.block(block.name) is None:
        return with_blocks(season, (*season.blocks, block))
    return with_blocks(season, [block if each.name == block.name else each for each in season.blocks])


def without_block(season: Season, name: str) -> Season:
    """The season without one block. Raises InputError when it is not there, or rounds or work refer to it."""
    gone = _block(season, name)
    return with_blocks(season, [each for each in season.blocks if each is not gone])


def with_round(season: Season, scouted: Round) -> Season:
    """The season with one round added, or put in place of the round of the same number; rounds are kept by number.

    Raises InputError for a number below 1, counts that can't be, or stops in a block that is not there.
    """
    stops, number = scouted.stops, scouted.number
    if number < 1:
        raise InputError(f"{number} is not the number of a round.", "Rounds are numbered from 1.")
    pairs = ((stops.examined, stops.infected), (stops.leaves_examined, stops.leaves_infected))
    wrong = np.logical_or.reduce([(infected < 0) | (infected > examined) for examined, infected in pairs])
    if wrong.any():
        place = int(np.flatnonzero(wrong)[0])
        vine = f"{stops.blocks[stops.block[place]]} / {stops.rows[place]} / {stops.vine[place]}"
        raise InputError(f"At the stop {vine} more is infected than was examined.", "Correct the counts of that stop.")
    _refuse_unknown(season, f"round {number}", (stops.blocks[index] for index in np.unique(stops.block)))
    if season.round(number) is scouted:
        return season
    others = [each for each in season.rounds if each.number != number]
    return replace(season, rounds=tuple(sorted([*others, scouted], key=lambda each: each.number)))


def without_round(season: Season, number: int) -> Season:
    """The season without one round. Raises InputError when there is none of that number."""
    if season.round(number) is None:
        raise InputError(f"There is no round {number}.", "Choose one of the rounds on the season strip.")
    return replace(season, rounds=tuple(each for each in season.rounds if each.number != number))


def with_weather(season: Season, weather: Weather | None) -> Season:
    """The season with other weather, or none. Raises InputError when the hours are not in order."""
    if weather is not None and (np.diff(weather.time_utc) <= 0).any():
        raise InputError("The weather hours are not in order of time.", "Sort them, and keep one line for each hour.")
    return season if weather is season.weather else replace(season, weather=weather)


def with_passes(season: Season, passes: Iterable[Pass]) -> Season:
    """The season with these passes instead of those it had. Raises InputError for one that can't be."""
    passes = tuple(passes)
    for each in passes:
        what = f"the pass of {each.date.isoformat()} in block {each.block}"
        _refuse_unknown(season, what, [each.block], each.rows)
        if each.kind not in KINDS:
            raise InputError(f"“{each.kind}” in {what} is not a kind of work.", f"Use one of {', '.join(KINDS)}.")
        if each.people < 1 or not _is_amount(each.hours):
            raise InputError(f"The people or hours of {what} can't be.", "Give at least one person, and hours from 0 up.")
    return season if passes == season.passes else replace(season, passes=passes)


def with_sprays(season: Season, sprays: Iterable[Spray]) -> Season:
    """The season with these sprays instead of those it had. Raises InputError for one that can't be."""
    sprays = tuple(sprays)
    for each in sprays:
        what = f"the spray of {each.start.date().isoformat()} in block {each.block}"
        _refuse_unknown(season, what, [each.block], each.rows)
        if each.end < each.start:
            raise InputError(f"T{what[1:]} ends before it starts.", "Correct its times.")
        if not each.materials:
            raise InputError(f"T{what[1:]} names no material.", "Write what was sprayed; the record needs it.")
        if not _is_amount(each.rate_kg_per_ha) or not _is_amount(each.water_l_per_ha):
            raise InputError(f"The rate or water of {what} can't be.", "Give figures from 0 up.")
    return season if sprays == season.sprays else replace(season, sprays=sprays)


def with_stages(season: Season, stages: Iterable[StageDates]) -> Season:
    """The season with these dates of growth instead of those it had. Raises InputError when they are out of order."""
    stages = tuple(stages)
    _refuse_twice([each.block for each in stages], "set of dates for block", "Keep one set for each block.")
    for each in stages:
        about = f"block {each.block}" if each.block else "all blocks"
        _refuse_unknown(season, "the dates of growth", [each.block] if each.block else [])
        seen = [day for day in (each.budbreak, each.bloom, each.veraison, each.harvest) if day is not None]
        if any(later <= earlier for earlier, later in pairwise(seen)):
            raise InputError(f"The dates of growth for {about} are out of order.", "Budbreak, bloom, veraison, then harvest.")
    return season if stages == season.stages else replace(season, stages=stages)


_SHARES = ("threshold", "opening_effect", "spray_effect", "spread_share", "productive_share", "sprayer_efficiency")
_MAY_BE_NOTHING = ("growth_per_day", "opening_effect", "spray_effect", "spread_share", "threshold")


def with_assumptions(season: Season, assumptions: Assumptions) -> Season:
    """The season with other figures for the gain of work. Raises InputError for one that can't be."""
    for field in fields(assumptions):
        figure = getattr(assumptions, field.name)
        low = figure >= 0 if field.name in _MAY_BE_NOTHING else figure > 0
        if not (np.isfinite(figure) and low and (field.name not in _SHARES or figure <= 1)):
            span = "a share from 0 to 100 %" if field.name in _SHARES else "a figure above 0"
            raise InputError(f"{figure:g} can't be used for “{field.name.replace('_', ' ')}”.", f"Give {span}.")
    return season if assumptions == season.assumptions else replace(season, assumptions=assumptions)


MOST_COVARIATES = 12
"""Columns that a season takes: more than a round's stops could tell apart (a choice)."""
_LONGEST_NAME = 60


def add_covariate(season: Season, covariate: Covariate) -> Season:
    """The season with one covariate added, or put in place of the one of the same name in any case.

    Raises InputError when it has no name or no value, or there are too many.
    """
    name = covariate.name
    if not name.strip() or name != name.strip() or len(name) > _LONGEST_NAME or not name.isprintable():
        raise InputError(
            f"“{name[:_LONGEST_NAME]}” can't be the name of a column.", f"Use 1 to {_LONGEST_NAME} letters, in one line."
        )
    if not len(covariate):
        raise InputError(f"The column {name} has no value at any vine.", "Look whether it belongs to this estate.")
    old = season.covariate(name)
    if old is covariate:
        return season
    if old is not None:
        return replace(season, covariates=tuple(covariate if each is old else each for each in season.covariates))
    if len(season.covariates) >= MOST_COVARIATES:
        raise InputError(f"There are {MOST_COVARIATES} columns already.", "Remove one that does not help first.")
    return replace(season, covariates=(*season.covariates, covariate))


def drop_covariate(season: Season, name: str) -> Season:
    """The season without one covariate. Raises InputError when there is none of that name."""
    gone = season.covariate(name)
    if gone is None:
        has = ", ".join(each.name for each in season.covariates)
        raise InputError(f"There is no column {name}.", f"There are: {has}." if has else "None has been brought in.")
    return replace(season, covariates=tuple(each for each in season.covariates if each is not gone))


def with_aerial(season: Season, aerial: Aerial | None) -> Season:
    """The season with another aerial picture below the map, or none."""
    return season if aerial == season.aerial else replace(season, aerial=aerial)


def mark_vines(season: Season, block: str, row: str, first: int, last: int, status: int) -> Season:
    """The season with vines ``first`` to ``last`` (from 1, both included) of a row marked living, missing, dead or replant.

    Raises InputError when the vines are not there.
    """
    if not 0 <= status < len(STATUS_WORDS):
        raise InputError("That is not how a vine can be.", f"Use one of {', '.join(STATUS_WORDS)}.")
    return _mark(season, block, row, (first, last), status=status)


def mark_variety(season: Season, block: str, row: str, first: int, last: int, variety: str) -> Season:
    """The season with vines ``first`` to ``last`` (from 1, both included) of a row marked as one of the block's varieties.

    Raises InputError when the vines are not there, or the block does not list the variety.
    """
    listed = _block(season, block).varieties
    if variety not in listed:
        raise InputError(f"Block {block} does not list {variety}.", f"It lists {', '.join(listed)}; add the variety first.")
    index = listed.index(variety)
    return _mark(season, block, row, (first, last), variety=index if index > 0 else -1)


def _mark(season: Season, name: str, label: str, span: tuple[int, int], **codes: int) -> Season:
    block = _block(season, name)
    rows = block.rows
    if label not in rows.labels:
        raise InputError(f"Block {name} has no row {label}.", "Choose one of its rows.")
    row = rows.labels.index(label)
    first, last = span
    count = int(rows.vine_count[row])
    if not 1 <= first <= last <= count:
        raise InputError(f"Row {label} of block {name} has no vines {first} to {last}.", f"Its vines are 1 to {count}.")
    before = int(rows.vine_count[:row].sum())
    differs = block.exceptions
    vine = np.union1d(differs.vine, np.arange(before + first - 1, before + last, dtype=np.int32)).astype(np.int32)
    columns = {"status": np.full(len(vine), LIVING, np.int8), "variety": np.full(len(vine), -1, np.int8)}
    was = np.searchsorted(vine, differs.vine)
    columns["status"][was], columns["variety"][was] = differs.status, differs.variety
    for column, code in codes.items():
        columns[column][(vine >= before + first - 1) & (vine < before + last)] = code
    kept = (columns["status"] != LIVING) | (columns["variety"] >= 0)
    marked = VineExceptions(vine[kept], columns["status"][kept], columns["variety"][kept])
    if all(np.array_equal(getattr(marked, each), getattr(differs, each)) for each in ("vine", "status", "variety")):
        return season
    return with_block(season, replace(block, exceptions=marked))


def _block(season: Season, name: str) -> Block:
    block = season.block(name)
    if block is None:
        raise InputError(f"There is no block {name}.", "Choose one of the blocks of this season.")
    return block


def _named_blocks(season: Season) -> list[tuple[str, set[str]]]:
    """Who names blocks, and which."""
    rounds = [
        (f"round {each.number}", {each.stops.blocks[index] for index in np.unique(each.stops.block)})
        for each in season.rounds
    ]
    passes = [(f"the pass of {each.date.isoformat()}", {each.block}) for each in season.passes]
    sprays = [(f"the spray of {each.start.date().isoformat()}", {each.block}) for each in season.sprays]
    stages = [("the dates of growth", {each.block}) for each in season.stages if each.block]
    rods = [(f"the rods of {each.date.isoformat()}", {each.block}) for each in season.rods]
    return rounds + passes + sprays + stages + rods


def _refuse_unknown(season: Season, what: str, blocks: Iterable[str], rows: Sequence[str] = ()) -> None:
    for name in blocks:
        block = season.block(name)
        if block is None:
            raise InputError(
                f"Block {name}, named by {what}, is not in this season.", "Read its outline first, or correct the name."
            )
        unknown = [label for label in rows if label not in block.rows.labels]
        if unknown:
            raise InputError(f"Row {unknown[0]}, named by {what}, is not in block {name}.", "Correct the row.")


def _refuse_twice(names: Sequence[str], what: str, do: str) -> None:
    twice = {name for name in names if names.count(name) > 1} if len(set(names)) < len(names) else set()
    if twice:
        raise InputError(f"There is more than one {what} {min(twice)}.".replace("  ", " "), do)


def _is_amount(figure: float) -> bool:
    return bool(np.isfinite(figure) and figure >= 0)


def _all_same(some: Sequence[object], others: Sequence[object]) -> bool:
    return len(some) == len(others) and all(one is other for one, other in zip(some, others, strict=True))
