"""A field from a table of stops to a table of points, without a season."""

from __future__ import annotations

from collections.abc import Sequence
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
from vinemap.surface.field import Field, FieldOptions, field_at

METRES, DEGREES = ("x_m", "y_m"), ("lon", "lat")


@dataclass(frozen=True, slots=True)
class PointsDone:
    """What was written: points, and what had to be left out and noted."""

    points: int
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]


def field_of_points(stops: Path, at: Path, out: Path, options: FieldOptions) -> PointsDone:
    """Read stops and points, make the field and write the points with it, in their order and with all their columns.

    Raises FileError or InputError when a file is of no use; a bad stop is left out and listed, a bad point is refused
    because every point must be answered.
    """
    stop_table = read_table(stops, ("examined", "infected"), METRES + DEGREES)
    at_table = read_table(at, (), read_header(at))
    _refuse_same_columns(at, at_table.value.columns)
    way = _way(stops, stop_table.value.columns, at, at_table.value.columns)
    counts, bad = keep_good_lines(stop_table.value.lines, lambda line: _stop(line, way))
    targets, refused = keep_good_lines(at_table.value.lines, lambda line: _place(line, way))
    refused = [*at_table.problems, *refused]
    if refused:
        count = "1 point" if len(refused) == 1 else f"{len(refused)} points"
        raise InputError(f"{count} can't be read. {refused[0]}", "Every point must have two numbers.")
    if not counts:
        first = f" {bad[0]}" if bad else ""
        raise InputError(f"{stops.name} has no usable stop.{first}", "" if bad else "Write one line for each stop.")
    if not targets:
        raise InputError(f"{at.name} has no point.", "Write one line for each point.")
    figures = np.array(counts)
    stops_m, at_m = _metres(figures[:, :2], np.array(targets), way)
    field = field_at(stops_m, figures[:, 2], figures[:, 3], at_m, options)
    _write(out, at, at_table.value.columns, field)
    notes = (*stop_table.notes, *at_table.notes, *field.recipe.notes)
    return PointsDone(len(targets), (*stop_table.problems, *bad), notes)


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


def _stop(line: Entry, way: tuple[str, str]) -> tuple[float, float, float, float]:
    examined, infected = read_counts(line)
    return *_place(line, way), float(examined), float(infected)


def _metres(stops: Floats, targets: Floats, way: tuple[str, str]) -> tuple[Floats, Floats]:
    """Both in metres on one frame."""
    if way == METRES:
        origin = np.median(stops, axis=0)
        return stops - origin, targets - origin
    lon, lat = np.median(stops, axis=0)
    frame = frame_for(float(lon), float(lat))
    placed = [np.column_stack(to_local(frame, points[:, 0], points[:, 1])) for points in (stops, targets)]
    return placed[0], placed[1]


def _refuse_same_columns(at: Path, columns: Sequence[str]) -> None:
    same = [name for name in FIELD_COLUMNS if name in columns]
    if same:
        raise InputError(
            f"{at.name} already has a column “{same[0]}”, which is the name of a result.", "Rename or remove that column."
        )


def _write(out: Path, at: Path, columns: Sequence[str], field: Field) -> None:
    head, lines = read_as_written(at, columns)
    cells = field_cells(field)
    rows = ([*line, *cells[index]] for index, line in enumerate(lines))
    write_table(out, (*head, *FIELD_COLUMNS), rows)
