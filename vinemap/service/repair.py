"""Files come in as the manager agreed: mended copies are read in their stead, and what was mended is told line by line.

The files themselves are never changed.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from vinemap.errors import InputError, Problem, VinemapError
from vinemap.files.covariate_raster import is_raster
from vinemap.files.geojson import is_json, read_json
from vinemap.files.matching import read_heads
from vinemap.files.picture_place import without_sides
from vinemap.files.picture_reader import is_picture
from vinemap.files.point_layers import is_database
from vinemap.files.repairs import (
    REPAIRS,
    SNAP,
    TURN,
    Mended,
    MendedText,
    Place,
    check_repairs,
    home_of,
    mend_features,
    places_of,
)
from vinemap.files.table import rename_heads, table_text
from vinemap.files.table_repairs import mend_table, table_places
from vinemap.files.text import write_text
from vinemap.ground.snapping import MOST_SNAP_M
from vinemap.season.value import Season
from vinemap.service.matched import Agreed, Heads, match
from vinemap.service.report import NothingGood, Report
from vinemap.service.snapping import snapped

Take = Callable[[Sequence[Path], Season | None, Mapping[Path, str]], tuple[Season, Report]]
"""Brings files into a season; the last are those of which one column is to be taken."""

_WORDS = {
    "close-ring": ("outline is not closed", "outlines are not closed", "Close {}?"),
    "turn-ring": (
        "outline runs with the clock, which does no harm",
        "outlines run with the clock, which does no harm",
        "Turn {}?",
    ),
    "swap-coordinates": ("place has latitude before longitude", "places have latitude before longitude", "Swap {}?"),
    "split-at-date-line": ("shape lies across the date line", "shapes lie across the date line", "Split {}?"),
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
class Copies:
    """The files to read, each itself or a mended copy of it, and what is to be told about that."""

    folder: Path
    paths: dict[Path, Path] = field(default_factory=dict)
    made: int = 0
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    mended: list[Mended] = field(default_factory=list)
    confirmed: dict[Heads, str] = field(default_factory=dict)
    numbers: dict[str, tuple[int, ...]] = field(default_factory=dict)
    home: Place | None = None

    def write(self, path: Path, text: str) -> None:
        """Let a text stand for a file, under its name."""
        self.made += 1
        copy = self.folder / str(self.made) / path.name
        copy.parent.mkdir()
        write_text(copy, text)
        self.paths[path] = copy

    def put(self, path: Path, text: MendedText) -> None:
        """Let a mended text stand for a file, and keep what is told about it."""
        self.write(path, text.text)
        self.mended += [replace(each, place=self._numbered(path.name, each.place)) for each in text.mended]
        if text.numbers:
            self.numbers[path.name] = text.numbers

    def told(self, problems: Sequence[Problem]) -> list[Problem]:
        """All problems, those of copies with the feature numbers of the file."""
        return [*self.problems, *(self._told(each) for each in problems)]

    def tell(self, report: Report) -> None:
        """Put what is told into a report."""
        report.problems[:] = self.told(report.problems)
        report.notes.extend(self.notes)

    def _told(self, problem: Problem) -> Problem:
        place, why = (self._numbered(problem.file, text) for text in (problem.place, problem.why))
        return replace(problem, place=place, why=why)

    def _numbered(self, file: str, text: str) -> str:
        """A text about a copy with the feature numbers of the file."""
        numbers = self.numbers.get(file, ())
        return re.sub(r"\bfeature ([0-9]+)", lambda found: f"feature {numbers[int(found[1]) - 1]}", text) if numbers else text


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
    with mended_copies(paths, season, agreed, columns) as copies:

        def bring() -> tuple[Season | None, Report, NothingGood | None]:
            here = list(copies.paths.values())
            asked = {copies.paths[path]: column for path, column in columns.items() if path in copies.paths}
            try:
                made, report = take(here, season, asked)
            except NothingGood as error:
                return None, Report(problems=list(error.problems)), error
            return made, report, None

        made, report, error = bring()
        counts = Counter(each.repair for each in _could_mend(copies))
        if made is not None:
            moved = _snap(copies, made, agreed.snap_m, report.problems)
            if SNAP in repairs and moved:
                for path, text in moved.items():
                    copies.put(path, text)
                made, report, error = bring()
            else:
                counts[SNAP] = sum(len(each.mended) for each in moved.values())
        copies.tell(report)
        if error is not None:
            error = NothingGood(error.what, error.do, report.problems)
        offers = tuple(Offer(name, counts[name]) for name in REPAIRS if counts[name] and name not in repairs)
        return Outcome(made, report, tuple(copies.mended), offers, copies.confirmed, error)


def made_of(outcome: Outcome) -> Season:
    """The season that came of it. Raises NothingGood where none did."""
    if outcome.season is None:
        raise outcome.error or NothingGood("Nothing could be brought in.", "", outcome.report.problems)
    return outcome.season


@contextmanager
def mended_copies(
    paths: Sequence[Path], season: Season | None, agreed: Agreed, columns: Mapping[Path, str] | None = None
) -> Iterator[Copies]:
    """The files with their columns under our names and their shapes mended, as agreed; gone when the ``with`` ends."""
    if not 0.0 < agreed.snap_m <= MOST_SNAP_M:
        raise InputError(f"A stop can't be moved {agreed.snap_m:g} m.", f"Give more than 0 and at most {MOST_SNAP_M:g} m.")
    with TemporaryDirectory(prefix="vinemap-") as folder:
        copies = Copies(Path(folder))
        for path in without_sides(paths):
            copies.paths[path] = path
            if path not in (columns or {}):
                _match(path, agreed, copies)
        home = copies.home = home_for(copies, season)
        for path, stand in list(copies.paths.items()):
            text = _mended(stand, agreed.repairs, home) if agreed.repairs else None
            if text is not None:
                copies.put(path, text)
        yield copies


def offers_for(copies: Copies, agreed: Agreed) -> tuple[Offer, ...]:
    """Repairs of single files that nobody agreed to yet."""
    counts = Counter(each.repair for each in _could_mend(copies))
    return tuple(Offer(name, counts[name]) for name in REPAIRS if counts[name] and name not in agreed.repairs)


def home_for(copies: Copies, season: Season | None) -> Place | None:
    """Where the rest lies [degrees]: the estate of the season, or else the middle of all files."""
    if season is not None:
        return season.estate.frame.lon_deg, season.estate.frame.lat_deg
    return home_of([place for stand in copies.paths.values() for place in _places(stand)])


def _match(path: Path, agreed: Agreed, copies: Copies) -> None:
    """Let a copy with our column names stand for a table; take it out, with a problem, where it has to be asked about."""
    found = match(path, agreed)
    if found is None:
        return
    if found.refused is not None:
        copies.problems.append(found.refused)
        del copies.paths[path]
        return
    text, notes = table_text(path)
    copies.notes += notes
    copies.confirmed[found.heads] = found.given
    if found.was_remembered:
        copies.notes.append(f"{path.name}: columns were taken as confirmed before: {found.given}.")
    copies.write(path, rename_heads(text, found.names))


def _could_mend(copies: Copies) -> list[Mended]:
    texts = [_mended(stand, REPAIRS, copies.home) for stand in copies.paths.values()]
    return [each for text in texts if text is not None for each in text.mended]


def _mended(path: Path, repairs: Sequence[str], home: Place | None) -> MendedText | None:
    """A file after repairs; None where it is of another kind, can't be read, or needs none."""
    try:
        if is_picture(path) or is_database(path) or is_raster(path):
            return None
        if is_json(path):
            return mend_features(path.name, read_json(path)[0], repairs, home)
        return mend_table(path.name, table_text(path)[0], repairs, home)
    except (VinemapError, RecursionError):
        # it is refused in words where it is read
        return None


def _places(path: Path) -> list[Place]:
    try:
        if is_picture(path) or is_database(path) or is_raster(path):
            return []
        return places_of(read_json(path)[0]) if is_json(path) else table_places(table_text(path)[0])
    except VinemapError:
        return []


def _snap(copies: Copies, season: Season, most_m: float, problems: Sequence[Problem]) -> dict[Path, MendedText]:
    """Files with stops that can be moved to their row, of those that were left out or name a row."""
    left_out: dict[str, set[str]] = {}
    for problem in problems:
        left_out.setdefault(problem.file, set()).add(problem.place)
    found = {}
    for path, stand in copies.paths.items():
        if read_heads(stand) is None and not _is_json(stand):
            continue
        text = snapped(stand, season, most_m, left_out.get(path.name, set()))
        if text is not None:
            found[path] = text
    return found


def _is_json(path: Path) -> bool:
    try:
        return is_json(path)
    except VinemapError:
        return False
