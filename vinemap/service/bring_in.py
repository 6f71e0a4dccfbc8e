"""Bring files into a season: each kind in its turn, the good part kept, what was left out listed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from vinemap.errors import FileError, InputError, Problem, VinemapError
from vinemap.files.cells import Entry
from vinemap.files.diary_reader import read_passes, read_sprays
from vinemap.files.estate_reader import EstateDraft, read_estate
from vinemap.files.ground_reader import GroundDraft, read_ground
from vinemap.files.kinds import kind_of
from vinemap.files.outlines import OutlineDraft
from vinemap.files.placing import place_blocks
from vinemap.files.projection import frame_for, to_lonlat
from vinemap.files.row_lines import RowDraft
from vinemap.files.stop_placing import place_stops
from vinemap.files.stop_reader import StopDraft, read_stops
from vinemap.files.text import Read
from vinemap.files.vine_reader import apply_all_vines, read_vines
from vinemap.files.weather_reader import read_weather
from vinemap.ground.block import Block
from vinemap.season import edits
from vinemap.season.value import Estate, Season

GROUND_KINDS = ("outlines", "rows", "mixed")


@dataclass(slots=True)
class Report:
    """What came in, file by file, what was left out and why, and how things were understood."""

    kept: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def took(self, read: Read[Any], what: str) -> None:
        """Write down what a reader gave."""
        self.kept.append(what)
        self.problems.extend(read.problems)
        self.notes.extend(read.notes)


Reader = Callable[[Season, Path, Report], Season]


@dataclass(slots=True)
class _Drafts:
    """What the files hold, before any of it is placed."""

    estate: EstateDraft | None = None
    outlines: list[OutlineDraft] = field(default_factory=list)
    rows: list[RowDraft] = field(default_factory=list)
    stops: list[StopDraft] = field(default_factory=list)
    later: dict[str, list[Path]] = field(default_factory=dict)


def bring_in(paths: Sequence[Path], season: Season | None, name: str) -> tuple[Season, Report]:
    """The season with the files in it, and the report. ``name`` is the estate's where no file says.

    Raises FileError or InputError when nothing can be brought in at all; whatever is merely partly bad is reported.
    """
    report = Report()
    drafts = _read_drafts(paths, report)
    season = season or _begin(drafts, name, report)
    if drafts.estate is not None:
        season = _with_estate_dates(season, drafts.estate)
    if drafts.outlines or drafts.rows:
        season = _with_ground(season, drafts, report)
    for kind in ("vines", "stops", "weather", "passes", "sprays"):
        for path in drafts.later.get(kind, []):
            season = _guarded(_READERS[kind], season, path, report)
    if drafts.stops:
        season = _with_stops(season, drafts.stops, "stops in the map files", report)
    return season, report


def check(paths: Sequence[Path]) -> list[str]:
    """One line for each problem in the files, read together as one estate; empty when all is good."""
    lines: list[str] = []
    ours = [path for path in paths if path.suffix != ".vinemap"]
    for path in paths:
        if path.suffix == ".vinemap":
            lines += _check_season(path)
    if ours:
        try:
            _, report = bring_in(ours, None, "check")
            lines += [str(problem) for problem in report.problems]
        except VinemapError as error:
            lines.append(str(error))
    return lines


def _check_season(path: Path) -> list[str]:
    from vinemap.files.season_file import read_season

    try:
        read_season(path)
    except VinemapError as error:
        return [str(error)]
    return []


def _read_drafts(paths: Sequence[Path], report: Report) -> _Drafts:
    drafts = _Drafts()
    for path in paths:
        try:
            _read_one(path, drafts, report)
        except VinemapError as error:
            report.problems.append(_as_problem(path, error))
    if not (drafts.estate or drafts.outlines or drafts.rows or drafts.stops or drafts.later):
        raise InputError(
            "Nothing could be brought in. " + " ".join(str(problem) for problem in report.problems[:5]),
            "" if report.problems else "Name at least one file.",
        )
    return drafts


def _read_one(path: Path, drafts: _Drafts, report: Report) -> None:
    kind = kind_of(path)
    if kind == "season":
        raise FileError(f"{path.name} is a season file.", "Open it instead, or bring in the files it was made from.")
    if kind == "estate":
        read = read_estate(path)
        report.took(read, f"{path.name}: the estate {read.value.name}")
        drafts.estate = read.value
    elif kind in GROUND_KINDS:
        ground: Read[GroundDraft] = read_ground(path)
        found = ground.value
        report.took(ground, f"{path.name}: {len(found.outlines)} outlines, {len(found.rows)} rows, {len(found.stops)} stops")
        drafts.outlines += found.outlines
        drafts.rows += found.rows
        drafts.stops += found.stops
    elif kind == "truth":
        report.notes.append(
            f"{path.name} holds what is true in an invented estate: it is there to judge maps, not to be read."
        )
    else:
        drafts.later.setdefault(kind, []).append(path)


def _as_problem(path: Path, error: VinemapError) -> Problem:
    what = error.what.removeprefix(path.name).strip(" ,:").rstrip(".")
    return Problem(path.name, "", "", "", what, error.do)


def _guarded(reader: Reader, season: Season, path: Path, report: Report) -> Season:
    """The season after one file, or as it was with a problem when the file is of no use."""
    try:
        return reader(season, path, report)
    except VinemapError as error:
        report.problems.append(_as_problem(path, error))
        return season


def _begin(drafts: _Drafts, name: str, report: Report) -> Season:
    """A new season on the frame of the first outlines or rows."""
    points = [draft.rings[0] for draft in drafts.outlines] or [draft.line for draft in drafts.rows]
    if not points:
        problems = " ".join(str(problem) for problem in report.problems[:5])
        raise InputError(
            f"There is no block to put this on. {problems}".strip(), "Bring in the outlines of the blocks first, or with it."
        )
    lon, lat = np.median(np.vstack(points), axis=0)
    estate = drafts.estate
    frame = frame_for(float(lon), float(lat), estate.crs if estate else "")
    if estate is not None:
        return Season(Estate(estate.name, frame, estate.offset_hours, estate.is_invented))
    offset = float(round(lon / 15.0))
    report.notes.append(f"Standard time is taken as UTC{offset:+.0f} h, from the longitude: correct it if the law says else.")
    return Season(Estate(name, frame, offset))


def _with_estate_dates(season: Season, draft: EstateDraft) -> Season:
    changed = replace(season.estate, name=draft.name, offset_hours=draft.offset_hours, is_invented=draft.is_invented)
    season = edits.with_estate(season, changed) if changed != season.estate else season
    return replace(season, stages=draft.stages)


def _with_ground(season: Season, drafts: _Drafts, report: Report) -> Season:
    """The season with new blocks, and with rows for blocks that had none of their own."""
    known = {block.name: block for block in season.blocks}
    new = [draft for draft in drafts.outlines if draft.block not in known]
    for draft in drafts.outlines:
        if draft.block in known:
            why = "a block of this name is already in the season"
            report.problems.append(
                draft.entry.problem("block", draft.block, why, "Give it another name, or remove the old one.")
            )
    waiting = {row.block for row in drafts.rows} & set(known)
    free = {name for name in waiting if _may_change_rows(season, known[name])}
    for name in sorted(waiting - free):
        rows = [row for row in drafts.rows if row.block == name]
        why = "the block already has stops or marked vines, which stand on its present rows"
        report.problems.append(
            rows[0].entry.problem("block", name, why, f"{len(rows)} rows were left out. Begin a new season for them.")
        )
    outlines = new + [_draft_of(season, known[name], drafts.rows) for name in sorted(free)]
    rows = [row for row in drafts.rows if row.block not in waiting - free]
    placed = place_blocks(outlines, rows, season.estate.frame)
    report.problems.extend(placed.problems)
    report.notes.extend(placed.notes)
    made = {block.name: block for block in placed.value}
    kept = [made.pop(block.name, block) for block in season.blocks]
    return edits.with_blocks(season, [*kept, *made.values()])


def _may_change_rows(season: Season, block: Block) -> bool:
    has_stops = any(len(each.stops.of_block(block.name)) for each in season.rounds)
    return not has_stops and not len(block.exceptions.vine)


def _draft_of(season: Season, block: Block, rows: Sequence[RowDraft]) -> OutlineDraft:
    """The outline of a block as if it had just been read, to place rows in it."""
    outline: shapely.Polygon = block.outline
    rings = tuple(
        np.column_stack(to_lonlat(season.estate.frame, *np.array(ring.coords).T))
        for ring in (outline.exterior, *outline.interiors)
    )
    entry = Entry(rows[0].entry.file, f"block {block.name}", {})
    return OutlineDraft(
        entry,
        block.name,
        rings,
        block.row_spacing_m,
        block.vine_spacing_m,
        None,
        block.varieties,
        block.training,
        block.vigour,
    )


def _with_stops(season: Season, drafts: Sequence[StopDraft], what: str, report: Report) -> Season:
    placed = place_stops(drafts, season.blocks, season.estate.frame, [each.number for each in season.rounds])
    total = sum(len(each.stops) for each in placed.value)
    report.took(placed, f"{what}: {total} stops in {len(placed.value)} rounds")
    for scouted in placed.value:
        season = edits.with_round(season, scouted)
    return season


def _add_stops(season: Season, path: Path, report: Report) -> Season:
    read = read_stops(path)
    report.problems.extend(read.problems)
    report.notes.extend(read.notes)
    return _with_stops(season, read.value, path.name, report)


def _add_vines(season: Season, path: Path, report: Report) -> Season:
    read = read_vines(path)
    placed = apply_all_vines(season.blocks, read.value)
    report.problems.extend(read.problems)
    report.took(placed, f"{path.name}: {len(read.value)} vines that differ")
    return edits.with_blocks(season, placed.value)


def _add_weather(season: Season, path: Path, report: Report) -> Season:
    read = read_weather(path, season.estate.offset_hours)
    report.took(read, f"{path.name}: {len(read.value)} readings")
    if season.weather is not None:
        report.notes.append(f"{path.name} takes the place of the weather that was there.")
    return edits.with_weather(season, read.value)


def _add_passes(season: Season, path: Path, report: Report) -> Season:
    read = read_passes(path, season.blocks)
    new = [each for each in read.value if each not in season.passes]
    report.took(read, f"{path.name}: {len(new)} passes")
    return edits.with_passes(season, (*season.passes, *new))


def _add_sprays(season: Season, path: Path, report: Report) -> Season:
    read = read_sprays(path, season.blocks)
    new = [each for each in read.value if each not in season.sprays]
    report.took(read, f"{path.name}: {len(new)} sprays")
    return edits.with_sprays(season, (*season.sprays, *new))


_READERS: dict[str, Reader] = {
    "stops": _add_stops,
    "vines": _add_vines,
    "weather": _add_weather,
    "passes": _add_passes,
    "sprays": _add_sprays,
}
