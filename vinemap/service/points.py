"""A field from a table of stops to a table of points, without a season."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from vinemap.columns import Floats
from vinemap.errors import FileError, InputError, Problem
from vinemap.files.as_written import read_as_written
from vinemap.files.cells import Entry, keep_good_lines
from vinemap.files.projection import frame_for, to_local
from vinemap.files.stop_reader import read_counts
from vinemap.files.table import read_header, read_table, write_table
from vinemap.service.tables import FIELD_COLUMNS, field_cells
from vinemap.service.threads import one_thread
from vinemap.surface.field import Field, FieldOptions, field_at

METRES, DEGREES = ("x_m", "y_m"), ("lon", "lat")
MOST_LOGIT_VARIANCE = 100.0
"""Beyond it a share is 0 or 1 as far as anybody can count, and the counts' own errors drown in rounding."""


@dataclass(frozen=True, slots=True)
class PointsDone:
    """What was made: the field at the points, and what had to be left out and noted."""

    field: Field
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class PointTables:
    """Stops and points on one frame.

    ``stops_m`` (n, 2), ``at_m`` (m, 2) [m]; ``figures`` (n, k): what was read of each stop; ``places``: where in its file
    each stop stands; ``columns``: of the points' table, as read; ``problems``: stops left out.
    """

    stops_m: Floats
    figures: Floats
    places: tuple[str, ...]
    at_m: Floats
    columns: tuple[str, ...]
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]


def field_of_points(stops: Path, at: Path, out: Path, options: FieldOptions) -> PointsDone:
    """Read stops and points, make the field and write the points with it, in their order and with all their columns.

    Raises FileError or InputError when a file is of no use; a bad stop is left out and listed, a bad point is refused
    because every point must be answered.
    """
    if options.variogram is not None and options.variogram.sill > MOST_LOGIT_VARIANCE:
        what = f"The sill, {options.variogram.sill:g}, is too large for the logits of shares."
        raise InputError(what, f"It is seldom above 4; {MOST_LOGIT_VARIANCE:g} is the most.")
    tables = read_points(stops, at, ("examined", "infected"), _counts, FIELD_COLUMNS)
    with one_thread():
        field = field_at(tables.stops_m, tables.figures[:, 0], tables.figures[:, 1], tables.at_m, options)
    write_points(out, at, tables.columns, FIELD_COLUMNS, field_cells(field))
    return PointsDone(field, tables.problems, tables.notes)


def read_points(
    stops: Path, at: Path, needed: Sequence[str], read_one: Callable[[Entry], tuple[float, ...]], results: Sequence[str]
) -> PointTables:
    """Read both tables; ``read_one`` reads the figures of a stop, ``results`` names the columns that will be added.

    Raises FileError or InputError as ``field_of_points`` does.
    """
    stop_table = read_table(stops, needed, METRES + DEGREES)
    at_table = read_table(at, (), read_header(at))
    _refuse_same_columns(at, at_table.value.columns, results)
    way = _way(stops, stop_table.value.columns, at, at_table.value.columns)
    kept, bad = keep_good_lines(stop_table.value.lines, lambda line: (line.place, _place(line, way), read_one(line)))
    targets, refused = keep_good_lines(at_table.value.lines, lambda line: _place(line, way))
    refused = [*at_table.problems, *refused]
    if refused:
        count = "1 point" if len(refused) == 1 else f"{len(refused)} points"
        raise InputError(f"{count} can't be read. {refused[0]}", "Every point must have two numbers.")
    if not kept:
        first = f" {bad[0]}" if bad else ""
        raise InputError(f"{stops.name} has no usable stop.{first}", "" if bad else "Write one line for each stop.")
    if not targets:
        raise InputError(f"{at.name} has no point.", "Write one line for each point.")
    places, where, figures = zip(*kept, strict=True)
    stops_m, at_m = _metres(np.array(where), np.array(targets), way)
    return PointTables(
        stops_m,
        np.array(figures),
        places,
        at_m,
        at_table.value.columns,
        (*stop_table.problems, *bad),
        (*stop_table.notes, *at_table.notes),
    )


def write_points(out: Path, at: Path, columns: Sequence[str], results: Sequence[str], cells: Sequence[Sequence[str]]) -> None:
    """Write the points' table as its owner wrote it, with the ``results`` and their ``cells`` for each point behind."""
    head, lines = read_as_written(at, columns)
    rows = ([*line, *cells[index]] for index, line in enumerate(lines))
    write_table(out, (*head, *results), rows)


def _way(stops: Path, stop_columns: Sequence[str], at: Path, at_columns: Sequence[str]) -> tuple[str, str]:
    """Metres or degrees: the columns that both files have."""
    for way in (METRES, DEGREES):
        if set(way) <= set(stop_columns) and set(way) <= set(at_columns):
            return way
    for path, columns in ((stops, stop_columns), (at, at_columns)):
        if not any(set(way) <= set(columns) for way in (METRES, DEGREES)):
            raise FileError(f"{path.name} does not say where its points are.", "Add the columns x_m, y_m or lon, lat.")
    raise FileError(
        f"{stops.name} and {at.name} place their points in different ways.", "Use x_m, y_m in both, or lon, lat in both."
    )


def _place(line: Entry, way: tuple[str, str]) -> tuple[float, float]:
    bounds = ((-1e8, 1e8), (-1e8, 1e8)) if way == METRES else ((-180.0, 180.0), (-90.0, 90.0))
    return line.number(way[0], *bounds[0]), line.number(way[1], *bounds[1])


def _counts(line: Entry) -> tuple[float, float]:
    examined, infected = read_counts(line)
    return float(examined), float(infected)


def _metres(stops: Floats, targets: Floats, way: tuple[str, str]) -> tuple[Floats, Floats]:
    """Both in metres on one frame."""
    if way == METRES:
        origin = np.median(stops, axis=0)
        return stops - origin, targets - origin
    lon, lat = np.median(stops, axis=0)
    frame = frame_for(float(lon), float(lat))
    placed = [np.column_stack(to_local(frame, points[:, 0], points[:, 1])) for points in (stops, targets)]
    return placed[0], placed[1]


def _refuse_same_columns(at: Path, columns: Sequence[str], results: Sequence[str]) -> None:
    same = [name for name in results if name in columns]
    if same:
        raise InputError(
            f"{at.name} already has a column “{same[0]}”, which is the name of a result.", "Rename or remove that column."
        )
