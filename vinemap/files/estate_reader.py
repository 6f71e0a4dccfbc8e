"""The estate's own facts from ``estate.json``."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from vinemap.errors import FileError, InputError, Problem
from vinemap.files.cells import Entry, Refused, keep_good_lines
from vinemap.files.geojson import property_texts, read_json
from vinemap.files.text import Read
from vinemap.season.value import BrixSeen, StageDates, StageSeen
from vinemap.vineclock.scales import SCALES, check_stage

_STAGES = ("budbreak", "bloom", "veraison", "harvest")
_KNOWN = ("estate", "invented", "time_offset_hours", "crs", "stages", "seen", "brix", *_STAGES)
_MOST_NUMBER, _MOST_BRIX = 99, 45.0
_Seen = TypeVar("_Seen", StageSeen, BrixSeen)


@dataclass(frozen=True, slots=True)
class EstateDraft:
    """An estate before it has a frame: ``offset_hours`` [h] is standard time minus UTC, ``crs`` "" for its UTM zone."""

    name: str
    is_invented: bool
    offset_hours: float
    crs: str
    stages: tuple[StageDates, ...]


def read_estate(path: Path) -> Read[EstateDraft]:
    """The estate of a JSON file. Dates that can't be used are left out.

    Raises FileError when it is not such a file or its name or time offset can't be used.
    """
    name = Path(path).name
    content, notes = read_json(path)
    if not isinstance(content, dict) or "estate" not in content:
        raise FileError(f"{name} does not describe an estate.", "It needs at least “estate” and “time_offset_hours”.")
    entry = Entry(name, "", property_texts(content))
    try:
        estate = entry.needed("estate")
        offset_hours = entry.number(
            "time_offset_hours", -12.0, 14.0, "Give standard time minus UTC in hours, for example -8."
        )
    except Refused as refused:
        raise FileError(f"{name}: {refused.field} {refused.value} {refused.why}.".replace("  ", " "), refused.do) from refused
    problems: list[Problem] = []
    stages = [_stage_dates(entry, content, "", problems)]
    listed = content.get("stages", [])
    for number, item in enumerate(listed if isinstance(listed, list) else [], start=1):
        values: Mapping[str, str] = property_texts(item) if isinstance(item, dict) else {}
        place = f"stage {number}"
        block = values.get("block", "")
        if not block:
            problems.append(Problem(name, place, "block", "", "names no block", "Add “block”, or put the dates above."))
            continue
        stages.append(_stage_dates(Entry(name, f"{place}, block {block}", values), item, block, problems))
    unknown = [str(key) for key in content if str(key).strip().casefold() not in _KNOWN]
    if unknown:
        notes += (f"Not used in {name}: {', '.join(unknown)}.",)
    is_invented = entry.text("invented").casefold() == "true"
    given = tuple(stage for stage in stages if any(getattr(stage, field) for field in (*_STAGES, "seen", "brix")))
    return Read(EstateDraft(estate, is_invented, offset_hours, entry.text("crs"), given), tuple(problems), notes)


def _stage_dates(entry: Entry, item: Mapping[Any, Any], block: str, problems: list[Problem]) -> StageDates:
    dates: dict[str, Any] = {}
    before = ""
    for stage in _STAGES:
        try:
            date = entry.date_or_none(stage)
            if date and before and date <= dates[before]:
                raise Refused(stage, entry.text(stage), f"is not after {before}, {dates[before]}", "Check both dates.")
        except Refused as refused:
            problems.append(entry.problem(refused.field, refused.value, refused.why, refused.do))
            continue
        if date:
            dates[stage], before = date, stage
    seen = _listed(entry, item, "seen", problems, _stage_seen)
    return StageDates(block, **dates, seen=seen, brix=_listed(entry, item, "brix", problems, _brix_seen))


def _listed(
    entry: Entry, item: Mapping[Any, Any], name: str, problems: list[Problem], read_one: Callable[[Entry], _Seen]
) -> tuple[_Seen, ...]:
    """What was seen on some days, in their order; a problem for each that can't be used."""
    found = {str(key).strip().casefold(): value for key, value in item.items()}.get(name)
    lines = [
        Entry(
            entry.file, f"{entry.place}, {name} {number}".lstrip(", "), property_texts(each if isinstance(each, dict) else {})
        )
        for number, each in enumerate(found if isinstance(found, list) else [], start=1)
    ]
    kept, refused = keep_good_lines(lines, read_one)
    problems.extend(refused)
    return tuple(sorted(kept, key=lambda each: each.date))


def _stage_seen(line: Entry) -> StageSeen:
    seen = StageSeen(line.date("date"), line.choice("scale", SCALES), line.whole("number", 0, _MOST_NUMBER))
    try:
        check_stage(seen.scale, seen.number)
    except InputError as error:
        raise Refused("number", line.text("number"), error.what.rstrip("."), error.do) from error
    return seen


def _brix_seen(line: Entry) -> BrixSeen:
    return BrixSeen(line.date("date"), line.number("brix", 0.0, _MOST_BRIX, "Give degrees Brix."))
