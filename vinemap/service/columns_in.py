"""Columns of figures that may help the map, from tables, points and rasters, put into a season."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from vinemap.errors import FileError, VinemapError
from vinemap.files.cells import one_spelling
from vinemap.files.covariate_raster import is_raster, read_raster
from vinemap.files.covariate_reader import columns_of, place_readings, read_readings
from vinemap.files.kinds import kind_of
from vinemap.files.shapes import Mend
from vinemap.season import edits
from vinemap.season.value import Season
from vinemap.service.report import Report, counted

COLUMN_KINDS = ("readings", "raster")


def columns_to_ask(paths: Sequence[Path]) -> dict[Path, tuple[str, ...]]:
    """Files that hold several columns of figures and nothing else that is read here, and their columns."""
    asked: dict[Path, tuple[str, ...]] = {}
    for path in paths:
        try:
            if kind_of(path) == "readings" and len(columns := columns_of(path)) > 1:
                asked[path] = columns
        except VinemapError:
            # it is refused in words when it is read
            continue
    return asked


def add_column(season: Season, path: Path, report: Report, column: str, crs: str = "", mend: Mend | None = None) -> Season:
    """The season with one column of a file; ``column`` is its name there, or what to call the figures of a raster.

    Empty, it is the only column of a table, or for a raster the name of the file. ``crs`` is the map system of places where a
    table or points tell none; ``mend`` makes the repairs of points that were agreed to. Raises FileError or InputError.
    """
    if is_raster(path):
        name = one_spelling(column.strip()) or " ".join(one_spelling(path.stem).split())
        raster = read_raster(path, season.blocks, season.estate.frame, name)
        found, problems, notes = raster.value, raster.problems, raster.notes
    else:
        column = column or _only_column(path)
        name = " ".join(one_spelling(column).casefold().split())
        read = read_readings(path, column, crs, mend)
        placed = place_readings(read.value, season.blocks, season.estate.frame, name, path.name)
        problems, notes = (*read.problems, *placed.problems), (*read.notes, *placed.notes)
        if placed.value is None:
            report.problems.extend(problems)
            report.notes.extend((*notes, f"{path.name}: no figure of {name} could be put on a vine."))
            return season
        found = placed.value
    old = season.covariate(name)
    season = edits.add_covariate(season, found)
    report.kept.append(f"{path.name}: column {name}, at {counted(len(found), 'vine')}")
    report.problems.extend(problems)
    report.notes.extend(notes)
    if old is not None:
        report.notes.append(f"It takes the place of the column {old.name} from {old.source}.")
    if found.values.min() == found.values.max():
        report.notes.append(f"The column {name} is {found.values[0]:g} at every vine: it can't tell vines apart.")
    return season


def _only_column(path: Path) -> str:
    columns = columns_of(path)
    if len(columns) != 1:
        has = f"has several columns: {', '.join(columns)}" if columns else "has no column of figures"
        raise FileError(f"{path.name} {has}.", "Say which one to take." if columns else "Add one, with a name above it.")
    return columns[0]
