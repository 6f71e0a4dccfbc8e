"""A plain number kriged from one table of points to another, so that anybody can check the arithmetic."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

from vinemap.columns import Floats
from vinemap.errors import FileError, InputError, Problem, TooFewData
from vinemap.files.cells import Entry, one_spelling
from vinemap.files.table import read_header
from vinemap.service.asked_variogram import variogram_words
from vinemap.service.points import PointTables, read_points, write_points
from vinemap.service.threads import one_thread
from vinemap.surface.fit import LEAST_STOPS, fit_variogram
from vinemap.surface.kriging import Kriged, krige
from vinemap.surface.variogram import KINDS, SAME_PLACE_M, Variogram

VALUE_COLUMNS = ("value", "variance")
LARGEST = 1e100
"""Squares of larger numbers can't be reckoned with."""


@dataclass(frozen=True, slots=True)
class ValuesDone:
    """What was made: ``points`` written; ``values`` read, their mean and variance; the variogram, None without a pattern."""

    points: int
    values: int
    mean: float
    variance: float
    variogram: Variogram | None
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]


def krige_values(
    stops: Path, at: Path, out: Path, column: str, variogram: Variogram | None, bearing_deg: float, threads: int = 1
) -> ValuesDone:
    """Read a column of exact numbers at stops, krige it to the points and write them with VALUE_COLUMNS.

    ``variance`` is that of a new value at the point, nugget included. Without ``variogram`` one is fitted, its sill the
    sample variance, its longer axis along or across ``bearing_deg`` [degrees].

    Raises FileError or InputError when a file is of no use, or two values stand at one place; TooFewData for one value
    without a variogram.
    """
    name = _column(stops, column)
    tables = read_points(stops, at, (name,), lambda line: _value(line, name), VALUE_COLUMNS)
    _refuse_twins(stops, tables)
    values = tables.figures[:, 0]
    sill = float(values.var(ddof=1)) if len(values) > 1 else float("nan")
    if variogram is None and len(values) == 1:
        raise TooFewData("One value does not tell how much values vary.", "Add more of them, or give a variogram.")
    with one_thread():
        kriged, curve, note = _kriged(tables, values, sill, variogram, bearing_deg, threads)
    pairs = zip(kriged.mean.tolist(), kriged.variance.tolist(), strict=True)
    cells = [tuple(f"{figure:.12g}" for figure in pair) for pair in pairs]
    write_points(out, at, tables.columns, VALUE_COLUMNS, cells)
    counts = len(cells), len(values)
    return ValuesDone(*counts, float(values.mean()), sill, curve, tables.problems, (*tables.notes, note))


def _column(stops: Path, column: str) -> str:
    """The name of the column as a table gives it, however its accents are written."""
    wanted = one_spelling(column.strip()).casefold()
    columns = read_header(stops)
    for name in columns:
        if name and one_spelling(name) == wanted:
            return name
    has = ", ".join(name for name in columns if name) or "none"
    raise FileError(f"{stops.name} has no column “{column}”; it has {has}.", "Write the name that stands above the numbers.")


def _value(line: Entry, name: str) -> tuple[float]:
    return (line.number(name, -LARGEST, LARGEST),)


def _refuse_twins(stops: Path, tables: PointTables) -> None:
    for first, second in sorted(cKDTree(tables.stops_m).query_pairs(SAME_PLACE_M)):
        lines = f"{tables.places[first]} and {tables.places[second]}"
        raise InputError(f"{stops.name}, {lines}: two exact values stand at one place.", "Keep one of them.")


def _kriged(
    tables: PointTables, values: Floats, sill: float, variogram: Variogram | None, bearing_deg: float, threads: int
) -> tuple[Kriged, Variogram | None, str]:
    """The values at the points, the variogram they were kriged with, and what to say of it."""
    exact = np.zeros(len(values))
    curve = variogram
    if curve is not None:
        note = f"Kriged with the given variogram: {variogram_words(curve)}."
    elif not sill > 0.0:
        steady = np.full(len(tables.at_m), values[0])
        words = f"All values are {values[0]:g}: it is given everywhere, and how much other places differ is not known."
        return Kriged(steady, 0.0 * steady, 0.0 * steady), None, words
    elif (curve := fit_variogram(tables.stops_m, values, exact, sill, bearing_deg)) is not None:
        note = f"Kriged with a variogram found from the values: {variogram_words(curve)}."
    else:
        few = f"{len(values)} values are too few to see one" if len(values) < LEAST_STOPS else "near values are no more alike"
        note = f"No pattern found: {few}. The mean and the variance of a new value are given, but for the values themselves."
    # without a pattern nothing but the nugget is left
    used = curve or Variogram(KINDS[0], sill, sill, 1.0 + float(np.ptp(tables.stops_m, axis=0).max()))
    return krige(tables.stops_m, values, exact, used, tables.at_m, threads=threads), curve, note
