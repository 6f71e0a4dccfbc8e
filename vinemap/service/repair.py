"""Files come in as the manager agreed, and what was mended is told line by line. The files themselves are never changed.

Shapes are mended while they are read; of a table a copy is read, gone afterwards.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import InputError, Problem, VinemapError
from vinemap.files.cell_words import in_our_words
from vinemap.files.covariate_raster import is_raster
from vinemap.files.drawn_columns import GEOMETRY_OF, drawn_text, sheets_of, under_our_names
from vinemap.files.geojson import geometry_kind, is_drawn, is_json
from vinemap.files.head_units import turns_of
from vinemap.files.matching import Proposal, plain
from vinemap.files.mending import Mending
from vinemap.files.picture_place import without_sides
from vinemap.files.picture_reader import is_picture
from vinemap.files.projection import to_lonlat
from vinemap.files.repairs import REPAIRS, SNAP, TURN, Mended, Place, check_repairs, home_of, places_of
from vinemap.files.row_blocks import Outline, names_no_block, outlines_in
from vinemap.files.shapes import Mend
from vinemap.files.table import rename_heads, table_text
from vinemap.files.table_repairs import MendedText, mend_table, table_places
from vinemap.files.text import Read, write_text
from vinemap.files.vector_reader import without_parts
from vinemap.ground.snapping import MOST_SNAP_M
from vinemap.season.value import Season
from vinemap.service.matched import Agreed, Heads, Match, drawn_items, match, match_table
from vinemap.service.report import NothingGood, Report, counted
from vinemap.service.snapping import points_to_move, stops_to_move, table_with_moves

Take = Callable[[Sequence[Path], Season | None, Mapping[Path, str], Mend], tuple[Season, Report]]
"""Brings files into a season: those of which one column is to be taken, and what mends the shapes of all."""

Items = Read[tuple[Any, ...]]

_WORDS = {
    "close-ring": ("outline is not closed", "outlines are not closed", "Close {}?"),
    "turn-ring": (
        "outline runs with the clock, which does no harm",
        "outlines run with the clock, which does no harm",
        "Turn {}?",
    ),
    "swap-coordinates": ("place has latitude before longitude", "places have latitude before longitude", "Swap {}?"),
    "split-at-date-line": ("shape lies across the date line", "shapes lie across the date line", "Split {}?"),
    "block-by-place": (
        "row names no block, and lies in the outline of one",
        "rows name no block, and each lies in the outline of one",
        "Put {} there?",
    ),
    "drop-duplicates": ("line or feature stands there again", "lines or features stand there again", "Leave {} out?"),
    "snap-to-row": ("stop lies a little beside its row", "stops lie a little beside their rows", "Move {} to the row?"),
}


@dataclass(frozen=True, slots=True)
class Offer:
    """A repair that nobody agreed to yet, and how many things it would mend."""

    repair: str
    count: int

    def __str__(self) -> str:
        asked = _WORDS[self.repair][2].format("it" if self.count == 1 else "them")
        return f"{self.statement}. {asked}"

    @property
    def would_help(self) -> bool:
        """Whether it would bring in something that is left out, or take out what came in twice."""
        return self.repair != TURN

    @property
    def statement(self) -> str:
        """How many things there are to mend, without the question."""
        one, many, _ = _WORDS[self.repair]
        return f"1 {one}" if self.count == 1 else f"{self.count:,} {many}"


@dataclass(slots=True)
class Given:
    """The files to read, each itself or a copy of a table, what mends shapes, and what is to be told about that."""

    folder: Path
    mend: Mending
    paths: dict[Path, Path] = field(default_factory=dict)
    made: int = 0
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    mended: list[Mended] = field(default_factory=list)
    confirmed: dict[Heads, str] = field(default_factory=dict)
    proposals: dict[Problem, Proposal] = field(default_factory=dict)

    def write(self, path: Path, text: str) -> Path:
        """Let a text stand for a file, under its name; where it is."""
        self.made += 1
        copy = self.folder / str(self.made) / path.name
        copy.parent.mkdir()
        write_text(copy, text)
        self.paths[path] = copy
        return copy

    def put(self, path: Path, text: MendedText) -> None:
        """Let a mended text stand for a table, and keep what is told about it."""
        self.write(path, text.text)
        self.mended += text.mended

    def all_mended(self) -> tuple[Mended, ...]:
        """What was mended in tables, and in shapes so far as they were read."""
        return (*self.mended, *(each for some in self.mend.mended.values() for each in some))

    def tell(self, report: Report) -> None:
        """Put what is told into a report."""
        report.problems[:] = [*self.problems, *report.problems]
        report.notes.extend(self.notes)
        for path, count in self.mend.placed.items():
            if count:
                rows = counted(count, "row")
                report.notes.append(f"{path.name}: {rows} without a block taken to be in {self.mend.block}, as was said.")
        if self.mend.block and not any(self.mend.placed.values()):
            report.notes.append(f"No row lacks its block: {self.mend.block} was not used.")


@dataclass(frozen=True, slots=True)
class Outcome:
    """A season with files in it, or why there is none; the report, what was mended, and what could be.

    ``confirmed``: columns that came in under other names, by the heads of their table.
    """

    season: Season | None
    report: Report
    mended: tuple[Mended, ...]
    offers: tuple[Offer, ...]
    confirmed: Mapping[Heads, str]
    error: NothingGood | None = None

    @property
    def asks(self) -> bool:
        """Whether a repair is worth a question."""
        return any(offer.would_help for offer in self.offers)


def bring_in_agreed(
    paths: Sequence[Path], season: Season | None, take: Take, agreed: Agreed, columns: Mapping[Path, str] | None = None
) -> Outcome:
    """Bring files in with the columns and repairs that were agreed to; ``columns`` as for ``take``.

    Raises InputError for a repair that is none, or a column that is not there.
    """
    columns = columns or {}
    repairs = check_repairs(agreed.repairs)
    with given_as_agreed(paths, season, agreed, columns) as given:

        def bring() -> tuple[Season | None, Report, NothingGood | None]:
            here = list(given.paths.values())
            asked = {given.paths[path]: column for path, column in columns.items() if path in given.paths}
            try:
                made, report = take(here, season, asked, given.mend)
            except NothingGood as error:
                return None, Report(problems=list(error.problems), notes=list(error.notes)), error
            return made, report, None

        made, report, error = bring()
        moved = 0
        if made is not None:
            moved = _snap(given, made, agreed, report.problems, SNAP in repairs)
            if SNAP in repairs and moved:
                made, report, error = bring()
        given.tell(report)
        if error is not None:
            # what was left out before it was read says what to do
            error = NothingGood(error.what, "" if given.problems else error.do, report.problems, error.notes)
        offers = (*offers_for(given, agreed), *([Offer(SNAP, moved)] if moved and SNAP not in repairs else []))
        return Outcome(made, report, given.all_mended(), offers, given.confirmed, error)


def made_of(outcome: Outcome) -> Season:
    """The season that came of it. Raises NothingGood where none did."""
    if outcome.season is None:
        raise outcome.error or NothingGood("Nothing could be brought in.", "", outcome.report.problems)
    return outcome.season


@contextmanager
def given_as_agreed(
    paths: Sequence[Path], season: Season | None, agreed: Agreed, columns: Mapping[Path, str] | None = None
) -> Iterator[Given]:
    """The files with the columns of tables under our names, tables mended, and what mends shapes, all as agreed.

    Copies of tables are gone when the ``with`` ends.
    """
    if not 0.0 < agreed.snap_m <= MOST_SNAP_M:
        raise InputError(f"A stop can't be moved {agreed.snap_m:g} m.", f"Give more than 0 and at most {MOST_SNAP_M:g} m.")
    with TemporaryDirectory(prefix="vinemap-") as folder:
        given = Given(Path(folder), Mending(agreed.repairs, block=agreed.block.strip()))
        places: list[Place] = []
        drawn: list[Sequence[Any]] = []
        for path in without_sides(without_parts(paths)):
            given.paths[path] = path
            items = drawn_items(path, agreed.crs)
            if path not in (columns or {}):
                items = _match(path, items, agreed, given)
            if items is not None:
                places += places_of(items.value)
                drawn.append(items.value)
            elif path in given.paths:
                places += _table_places(given.paths[path])
        home = given.mend.home = home_of(places) if season is None else _home(season)
        if not given.mend.block and any(names_no_block(item) for items_ in drawn for item in items_):
            given.mend.outlines = [*_outlines_of(season), *(each for some in drawn for each in outlines_in(some))]
        for path, stand in list(given.paths.items()):
            text = _mended_table(stand, agreed.repairs, home) if agreed.repairs else None
            if text is not None:
                given.put(path, text)
        yield given


def offers_for(
    given: Given, agreed: Agreed, season: Season | None = None, problems: Sequence[Problem] = ()
) -> tuple[Offer, ...]:
    """Repairs that nobody agreed to yet; those of shapes once they were read, and of stops only with the season they would
    be in, and what was left out of it."""
    tables = [_mended_table(stand, REPAIRS, given.mend.home) for stand in given.paths.values()]
    counts = Counter(each.repair for text in tables if text is not None for each in text.mended)
    counts += Counter(each.repair for some in given.mend.could.values() for each in some)
    if season is not None:
        counts[SNAP] = _snap(given, season, agreed, problems, False)
    return tuple(Offer(name, counts[name]) for name in REPAIRS if counts[name] and name not in agreed.repairs)


def _home(season: Season) -> Place:
    return season.estate.frame.lon_deg, season.estate.frame.lat_deg


def _outlines_of(season: Season | None) -> list[Outline]:
    """Outlines of the blocks of a season [degrees]."""
    if season is None:
        return []
    frame = season.estate.frame

    def turned(points_m: Floats) -> Floats:
        return np.column_stack(to_lonlat(frame, points_m[:, 0], points_m[:, 1]))

    return [(block.name, shapely.transform(block.outline, turned)) for block in season.blocks]


def _match(path: Path, items: Items | None, agreed: Agreed, given: Given) -> Items | None:
    """Let a copy with our column names stand for a file; take out, with a problem, what has to be asked about.

    The drawn features that are left, None where there are none.
    """
    if items is None:
        _match_table(path, agreed, given)
        return None
    names: dict[str, Mapping[str, str]] = {}
    aside: set[str] = set()
    sheets = sheets_of(items.value)
    for sheet in sheets:
        found = match(path, sheet, agreed)
        if found is None:
            continue
        _tell(path, found, given)
        if found.refused is not None:
            aside.add(GEOMETRY_OF[sheet.kind])
        elif found.names:
            names[sheet.kind] = found.names
    if names:
        value, understood = under_our_names(path.name, items.value, names)
        given.notes += [*items.notes, *understood]
        items = Read(tuple(value), items.problems, ())
        is_lonlat = bool(agreed.crs) or not is_json(path)
        copy = given.write(path, drawn_text(value, is_lonlat))
        if not is_json(path):
            given.mend.others.add(copy)
    if aside:
        given.mend.left_aside[given.paths[path]] = aside
        kept = tuple(item for item in items.value if geometry_kind(item) not in aside)
        if not any(geometry_kind(item) for item in kept):
            del given.paths[path]
            return None
        return Read(kept)
    return items


def _match_table(path: Path, agreed: Agreed, given: Given) -> None:
    found = match_table(path, agreed)
    if found is None:
        return
    _tell(path, found, given)
    if found.refused is not None:
        del given.paths[path]
        return
    text, notes = table_text(path)
    given.notes += notes
    turns = turns_of({ours: plain(theirs)[1] for theirs, ours in found.names.items()})
    text, understood = in_our_words(path.name, rename_heads(text, found.names), turns)
    given.notes += understood
    given.write(path, text)


def _tell(path: Path, found: Match, given: Given) -> None:
    """Keep what is to be told about how columns are taken."""
    if found.refused is not None:
        given.problems.append(found.refused)
        if found.proposal is not None:
            given.proposals[found.refused] = found.proposal
        return
    if found.given:
        given.confirmed[found.heads] = found.given
    if found.was_remembered:
        given.notes.append(f"{path.name}: columns were taken as confirmed before: {found.given}.")
    if found.note:
        given.notes.append(found.note)


def _mended_table(path: Path, repairs: Sequence[str], home: Place | None) -> MendedText | None:
    """A table after repairs; None where it is another kind of file, can't be read, or needs none."""
    try:
        return mend_table(path.name, table_text(path)[0], repairs, home) if _is_table(path) else None
    except VinemapError:
        # it is refused in words where it is read
        return None


def _table_places(path: Path) -> list[Place]:
    try:
        return table_places(table_text(path)[0]) if _is_table(path) else []
    except VinemapError:
        return []


def _is_table(path: Path) -> bool:
    return not (is_picture(path) or is_raster(path) or is_drawn(path))


def _snap(given: Given, season: Season, agreed: Agreed, problems: Sequence[Problem], makes: bool) -> int:
    """How many stops can be moved to their row, of those that were left out or name a row; with ``makes`` they are."""
    left_out: dict[str, set[str]] = {}
    for problem in problems:
        left_out.setdefault(problem.file, set()).add(problem.place)
    count = 0
    for path, stand in list(given.paths.items()):
        moves = stops_to_move(stand, season, agreed, left_out.get(path.name, set()), given.mend)
        if stand in given.mend.row_named:
            points = points_to_move(moves, season, given.mend.before.get(stand, {}))
            count += len(points)
            if makes:
                given.mend.moves[stand] = points
        elif moves and (text := table_with_moves(stand, moves, season, agreed.crs)) is not None:
            count += len(text.mended)
            if makes:
                given.put(path, text)
    return count
