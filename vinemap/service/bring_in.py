"""Bring files into a season: each kind in its turn, the good part kept, what was left out listed."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from vinemap.canopy.rods import point_quadrat, quadrat_words
from vinemap.errors import FileError, Problem, VinemapError
from vinemap.files.coordinates import known_system
from vinemap.files.diary_reader import read_passes, read_sprays
from vinemap.files.estate_reader import EstateDraft, read_estate
from vinemap.files.ground_reader import GroundDraft, read_ground
from vinemap.files.kinds import kind_of
from vinemap.files.outlines import OutlineDraft
from vinemap.files.picture_place import without_sides
from vinemap.files.projection import frame_for
from vinemap.files.rod_reader import read_rods
from vinemap.files.row_lines import RowDraft
from vinemap.files.shapes import Mend
from vinemap.files.signs import ROW_LIST
from vinemap.files.stop_placing import place_stops
from vinemap.files.stop_reader import StopDraft, read_stops
from vinemap.files.text import Read
from vinemap.files.vector_reader import without_parts
from vinemap.files.vine_reader import apply_all_vines, read_vines
from vinemap.files.weather_times import WeatherAsk
from vinemap.season import edits
from vinemap.season.typed_rods import note_rods, rods_place
from vinemap.season.value import Estate, Season
from vinemap.service.aerial_in import add_picture
from vinemap.service.columns_in import COLUMN_KINDS, add_column
from vinemap.service.edges_in import add_edges
from vinemap.service.ground_in import with_ground
from vinemap.service.report import NothingGood, Report, counted
from vinemap.service.row_list_in import with_row_list
from vinemap.service.same_walk import known_note, known_walks, overlap_notes
from vinemap.service.weather_in import add_weather

GROUND_KINDS = ("outlines", "rows", "mixed")

Reader = Callable[[Season, Path, Report], Season]
_COLUMNS = "columns"


@dataclass(slots=True)
class _Drafts:
    """What the files hold, before any of it is placed; ``ground`` file by file, with the line of the report on it."""

    estate: tuple[Path, EstateDraft] | None = None
    outlines: list[OutlineDraft] = field(default_factory=list)
    rows: list[RowDraft] = field(default_factory=list)
    ground: list[tuple[int, str, GroundDraft]] = field(default_factory=list)
    stops: list[StopDraft] = field(default_factory=list)
    later: dict[str, list[Path]] = field(default_factory=dict)


def bring_in(
    paths: Sequence[Path],
    season: Season | None,
    name: str,
    columns: Mapping[Path, str] | None = None,
    crs: str = "",
    pictures: Collection[Path] = (),
    mend: Mend | None = None,
    weather: WeatherAsk | None = None,
) -> tuple[Season, Report]:
    """The season with the files in it, and the report. ``name`` is the estate's where no file says.

    ``columns``: files of which one column is to be taken and nothing else, whatever they hold, and its name.
    ``crs``: the map system of files that do not say in which one they are. ``pictures``: files that a person calls pictures.
    ``mend``: makes the repairs of shapes that were agreed to. ``weather``: how files of weather are to be understood.
    Raises NothingGood when nothing can be brought in at all; whatever is merely partly bad is reported.
    """
    report = Report()
    columns = columns or {}
    named = dict.fromkeys(columns, _COLUMNS) | dict.fromkeys(pictures, "picture")
    drafts = _read_drafts(without_sides(without_parts(paths)), named, report, known_system(crs), mend)
    given = season
    is_new = season is None
    season = season or _begin(drafts, name, report)
    if drafts.estate is not None:
        season = _with_estate(season, drafts.estate[1], is_new, report)
    if drafts.outlines or drafts.rows:
        season = _with_ground(season, drafts, report)
    if not season.blocks:
        do = "Mend the outlines and bring them in again."
        raise NothingGood("No block could be brought in.", do, report.problems, report.notes)
    if drafts.estate is not None:
        season = _with_dates(season, *drafts.estate, report)
    season = _read_later(_BEFORE_STOPS, season, drafts, report)
    if drafts.stops:
        season = _with_stops(season, drafts.stops, report)
    season = _read_later({"weather": partial(add_weather, ask=weather), **_READERS}, season, drafts, report)
    season = _read_later({"edges": partial(add_edges, crs=crs, mend=mend)}, season, drafts, report)
    for path in drafts.later.get("picture", []):
        season = _guarded(partial(add_picture, crs=crs), season, path, report)
    for path in drafts.later.get(_COLUMNS, []):
        season = _guarded(partial(add_column, column=columns.get(path, ""), crs=crs, mend=mend), season, path, report)
    if season is given:
        report.nothing_new()
    return season, report


def _read_drafts(paths: Sequence[Path], named: Mapping[Path, str], report: Report, crs: str, mend: Mend | None) -> _Drafts:
    drafts = _Drafts()
    for path in paths:
        try:
            if path in named:
                drafts.later.setdefault(named[path], []).append(path)
            else:
                _read_one(path, drafts, report, crs, mend)
        except VinemapError as error:
            report.refuse(path, error)
    if not (drafts.estate or drafts.outlines or drafts.rows or drafts.stops or drafts.later):
        what = " ".join(["Nothing could be brought in.", *report.notes])
        do = "" if report.problems else "Name a file of the estate."
        raise NothingGood(what, do, report.problems, report.notes)
    return drafts


def _read_one(path: Path, drafts: _Drafts, report: Report, crs: str, mend: Mend | None) -> None:
    kind = kind_of(path)
    if kind == "season":
        raise FileError(f"{path.name} is a season file.", "Open it instead, or bring in the files it was made from.")
    if kind == "estate":
        if drafts.estate is not None:
            raise FileError(f"{path.name} is a second estate, after {drafts.estate[0].name}.", "Name one of them only.")
        read = read_estate(path)
        report.took(read, f"{path.name}: the estate {read.value.name}")
        drafts.estate = path, read.value
    elif kind in GROUND_KINDS:
        ground: Read[GroundDraft] = read_ground(path, crs, mend)
        found = ground.value
        # how many of them come in is told once they are placed
        drafts.ground.append((len(report.kept), path.name, found))
        report.took(ground, _ground_words(path.name, found, ()))
        drafts.outlines += found.outlines
        drafts.rows += found.rows
        drafts.stops += found.stops
    elif kind == "stops":
        stops = read_stops(path, crs, mend)
        report.took(stops, f"{path.name}: {counted(len(stops.value), 'stop')}")
        drafts.stops += stops.value
    elif kind == "truth":
        report.notes.append(
            f"{path.name} holds what is true in an invented estate: it is there to judge maps, not to be read."
        )
    else:
        drafts.later.setdefault(_COLUMNS if kind in COLUMN_KINDS else kind, []).append(path)


def _read_later(readers: Mapping[str, Reader], season: Season, drafts: _Drafts, report: Report) -> Season:
    for kind, reader in readers.items():
        for path in drafts.later.get(kind, []):
            season = _guarded(reader, season, path, report)
    return season


def _with_ground(season: Season, drafts: _Drafts, report: Report) -> Season:
    """The season with outlines and rows, and in the report how many of each file came in."""
    season, came = with_ground(season, drafts.outlines, drafts.rows, report)
    for line, file, found in drafts.ground:
        report.kept[line] = _ground_words(file, found, came.words(file, len(found.outlines), len(found.rows)))
    return season


def _ground_words(file: str, found: GroundDraft, ground: Sequence[str]) -> str:
    stops = (counted(len(found.stops), "stop"),) if found.stops else ()
    return f"{file}: {', '.join((*ground, *stops)) or 'nothing that can be used'}"


def _guarded(reader: Reader, season: Season, path: Path, report: Report) -> Season:
    """The season after one file, or as it was with a problem when the file is of no use."""
    try:
        return reader(season, path, report)
    except VinemapError as error:
        report.refuse(path, error)
        return season


def _begin(drafts: _Drafts, name: str, report: Report) -> Season:
    """A new season on the frame of the first outlines or rows."""
    lines = [draft.rings[0] for draft in drafts.outlines] or [draft.line for draft in drafts.rows]
    if not lines:
        do = "Bring in the outlines of the blocks first, or with it."
        raise NothingGood("There is no block to put this on.", do, report.problems, report.notes)
    points = np.vstack(lines)
    # a median between two places would lie on neither: the first of the nearest points does not
    away = np.round(abs(points - np.median(points, axis=0)).sum(axis=1), 6)
    lon, lat = (float(part) for part in points[np.argmin(away)])
    draft = drafts.estate[1] if drafts.estate else None
    frame = frame_for(lon, lat, draft.crs if draft else "")
    if draft is not None:
        return Season(Estate(draft.name, frame, draft.offset_hours, draft.is_invented))
    offset = float(round(lon / 15.0))
    report.notes.append(f"Standard time is taken as UTC{offset:+.0f} h, from the longitude: correct it if the law says else.")
    return Season(Estate(name, frame, offset))


def _with_estate(season: Season, draft: EstateDraft, is_new: bool, report: Report) -> Season:
    """The season with the name and the standard time of the estate; what that changes in a season that was there is noted."""
    was = season.estate
    now = replace(was, name=draft.name, offset_hours=draft.offset_hours, is_invented=draft.is_invented)
    if is_new or now == was:
        return season
    if now.name != was.name:
        report.notes.append(f"The estate was called {was.name}; it is now called {now.name}.")
    if now.offset_hours != was.offset_hours:
        again = " Bring in the weather again, it was read by the old one." if season.weather is not None else ""
        report.notes.append(f"Standard time was UTC{was.offset_hours:+g} h; it is now UTC{now.offset_hours:+g} h.{again}")
    return edits.with_estate(season, now)


def _with_dates(season: Season, path: Path, draft: EstateDraft, report: Report) -> Season:
    """The season with the dates of growth of the file, each in place of those for the same block."""
    dates = {each.block: each for each in season.stages}
    seen: set[str] = set()
    for each in draft.stages:
        known = season.block(each.block) is not None or not each.block
        why = "there is no block of this name" if not known else "has dates twice" if each.block in seen else ""
        if why:
            do = "Bring in its outline, or correct the name." if not known else "Keep one of the two."
            report.problems.append(Problem(path.name, f"block {each.block}", "stages", "", why, do))
            continue
        seen.add(each.block)
        before = dates.get(each.block, each)
        # what was seen in the season is no date that the file would have to repeat
        dates[each.block] = replace(each, seen=each.seen or before.seen, brix=each.brix or before.brix)
    return edits.with_stages(season, dates.values())


def _with_stops(season: Season, drafts: Sequence[StopDraft], report: Report) -> Season:
    """The season with the rounds of all stops together: two scouts may have walked one round."""
    taken = [each.number for each in season.rounds]
    placed = place_stops(drafts, season.blocks, season.estate.frame, taken)
    known = known_walks(placed.value, {draft.number for draft in drafts}, season.rounds)
    # a window shows the first notes only, and these matter most
    first: list[str] = [known_note(date, old) for date, old in known.items()]
    if known:
        rest = [draft for draft in drafts if draft.number or draft.date not in known]
        again = place_stops(rest, season.blocks, season.estate.frame, taken)
        placed = Read(again.value, placed.problems, again.notes)
    report.notes[:0] = [*first, *overlap_notes(placed.value, season.rounds)]
    total = sum(len(each.stops) for each in placed.value)
    report.took(placed, f"placed {counted(total, 'stop')} in {counted(len(placed.value), 'round')}")
    for scouted in placed.value:
        season = edits.with_round(season, scouted)
    return season


def _add_vines(season: Season, path: Path, report: Report) -> Season:
    read = read_vines(path)
    placed = apply_all_vines(season.blocks, read.value)
    report.problems.extend(read.problems)
    report.notes.extend(read.notes)
    count = len(read.value) - len(placed.problems)
    report.took(placed, f"{path.name}: {counted(count, 'vine')} not as usual")
    return edits.with_blocks(season, placed.value)


def _add_passes(season: Season, path: Path, report: Report) -> Season:
    read = read_passes(path, season.blocks)
    new = [each for each in read.value if each not in season.passes]
    _took_new(report, read, path, len(new), "pass", "passes")
    return edits.with_passes(season, (*season.passes, *new))


def _add_sprays(season: Season, path: Path, report: Report) -> Season:
    read = read_sprays(path, season.blocks)
    new = [each for each in read.value if each not in season.sprays]
    _took_new(report, read, path, len(new), "spray", "sprays")
    return edits.with_sprays(season, (*season.sprays, *new))


def _add_rods(season: Season, path: Path, report: Report) -> Season:
    read = read_rods(path, season.blocks)
    new = [each for each in read.value if each not in season.rods]
    _took_new(report, read, path, len(new), "place with rods", "places with rods")
    for each in new:
        report.notes.append(f"{rods_place(each)}: {quadrat_words(point_quadrat(each.insertions))}.")
        season = note_rods(season, each)
    return season


def _took_new(report: Report, read: Read[Any], path: Path, new: int, one: str, many: str) -> None:
    report.took(read, f"{path.name}: {counted(new, one, many)}")
    if len(read.value) > new:
        report.notes.append(f"{path.name}: {len(read.value) - new} were in the season already.")


_BEFORE_STOPS: dict[str, Reader] = {ROW_LIST: with_row_list, "vines": _add_vines}
_READERS: dict[str, Reader] = {
    "passes": _add_passes,
    "sprays": _add_sprays,
    "rods": _add_rods,
}
