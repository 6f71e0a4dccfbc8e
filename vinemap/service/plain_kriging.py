"""A plain number kriged from one table of points to another, so that anybody can check the arithmetic."""

from __future__ import annotations

from dataclasses import dataclass, replace
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
from vinemap.surface.kriging import krige
from vinemap.surface.variogram import SAME_PLACE_M, Variogram

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
    """Read a column of numbers at stops, krige it to the points and write them with VALUE_COLUMNS.

    ``variance`` is that of a new value at the point, nugget included, also where a value stands. Without ``variogram`` one is
    fitted, its sill the sample variance, its longer axis along or across ``bearing_deg`` [degrees].

    Raises FileError or InputError when a file is of no use, or two values stand at one place and no nugget is given;
    TooFewData for one value without a variogram.
    """
    name = _column(stops, column)
    tables = read_points(stops, at, (name,), lambda line: _value(line, name), VALUE_COLUMNS)
    if variogram is None or variogram.nugget == 0.0:
        _refuse_twins(stops, tables)
    values = tables.figures[:, 0]
    if variogram is None and len(values) == 1:
        raise TooFewData("One value does not tell how much values vary.", "Add more of them, or give a variogram.")
    sill = float(values.var(ddof=1)) if len(values) > 1 else float("nan")
    if np.ptp(values) == 0.0 and len(values) > 1:
        # rounding makes a little variance out of nothing
        sill = 0.0
    with one_thread():
        told, curve, note = _kriged(tables, values, sill, variogram, bearing_deg, threads)
    cells = [tuple(f"{figure:.12g}" for figure in pair) for pair in told.T.tolist()]
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
) -> tuple[Floats, Variogram | None, str]:
    """Value and variance (2, m) at the points, the variogram they were kriged with, and what to say of it."""
    curve = variogram
    if curve is None and sill > 0.0:
        curve = fit_variogram(tables.stops_m, values, np.zeros(len(values)), sill, bearing_deg)
    if curve is not None:
        which = "the given variogram" if variogram else "a variogram found from the values"
        told = _new_values(tables, values, curve, threads)
        return told, curve, f"Kriged with {which}: {variogram_words(curve)}."
    told = _patternless(tables, values, sill)
    if not sill > 0.0:
        note = f"All values are {values[0]:g}: it is given everywhere, and how much other places differ is not known."
        return told, None, note
    few = f"{len(values)} values are too few to see one" if len(values) < LEAST_STOPS else "near values are no more alike"
    note = f"No pattern found: {few}. The mean and the variance of a new value are given everywhere."
    return told, None, note


def _new_values(tables: PointTables, values: Floats, curve: Variogram, threads: int) -> Floats:
    """Mean and variance (2, m) of a new value at each point, one taken where a value stands included.

    The nugget is what two values at one place differ by. It counts as the error of every value, so that the map has no spikes
    where values stand, and is added to the variance of a new one.
    """
    if not curve.structured_sill > 0.0:
        return _patternless(tables, values, curve.sill)
    smooth = replace(curve, nugget=0.0, sill=curve.structured_sill)
    error_var = np.full(len(values), curve.nugget)
    kriged = krige(tables.stops_m, values, error_var, smooth, tables.at_m, threads=threads)
    return np.stack([kriged.mean, kriged.variance + curve.nugget])


def _patternless(tables: PointTables, values: Floats, sill: float) -> Floats:
    """Mean and variance (2, m) of a new value about it."""
    middle = values.mean() if sill > 0.0 else values[0]
    places = len(tables.at_m)
    return np.stack([np.full(places, middle), np.full(places, sill * (1.0 + 1.0 / len(values)))])
