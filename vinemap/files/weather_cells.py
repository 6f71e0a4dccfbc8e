"""The figures under the columns of a table of weather, in our own units; what can't be is left out and listed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vinemap.columns import Bytes, Floats
from vinemap.errors import FileError, Problem
from vinemap.files.cells import Entry, Refused
from vinemap.files.text import Read
from vinemap.files.weather_units import BOUNDS, NO_READING, ORIGIN, READINGS, TRACES, WET_SECONDS
from vinemap.vineclock.weather import ORIGIN_WORDS

_MOST_OUTSIDE = 0.1
_NUMBER_MARKS = frozenset((-99.0, -99.9, -999.0, -999.9, -9999.0, -99.99, -6999.0, 999.9, 9999.0, 99999.0))
"""What stations write where they have no reading (common practice); a number only where it can be no reading."""
_HOTTEST_MEDIAN_DEGC = {"temp": 42.0, "temp_min": 42.0, "temp_max": 50.0}
_WINDIEST_MEDIAN_MS = 12.0
"""No place with vines is so hot or so windy half of the time: a choice."""
_MOST_ALIKE = 5
_RAINS = frozenset(column for column, each in READINGS.items() if each.quantity == "rain")
_ASKS = {
    "temp_c": "Is it in Fahrenheit? Degrees Celsius are wanted.",
    "temp_f": "Is it in Celsius? Degrees Fahrenheit are wanted.",
    "rain_mm": "Is it in hundredths? Millimetres in the interval are wanted.",
    "wet_frac": "Is it in percent or minutes? A share from 0 to 1 is wanted.",
    "wet_min": "Is it longer than the interval? Wet minutes of each interval are wanted.",
    "wet_hours": "Is it longer than the interval? Wet hours of each interval are wanted.",
    "rh_frac": "Is it in percent? A share from 0 to 1 is wanted.",
    "wind_ms": "Is it in km/h or miles an hour? Metres a second are wanted.",
    "wind_from_deg": "Degrees clockwise from north are wanted, where the wind comes from.",
}


def read_columns(name: str, lines: Sequence[Entry], columns: Sequence[str], step_seconds: int) -> Read[dict[str, Floats]]:
    """The figures of each quantity, one a line, in our own units; NaN where there are none.

    Raises FileError where a tenth of a column lies outside its bounds, or half of it can be no such reading.
    """
    problems: list[Problem] = []
    notes: list[str] = []
    found: dict[str, Floats] = {each.quantity: np.full(len(lines), np.nan) for each in READINGS.values()}
    for column in columns:
        if column in READINGS:
            left_out: list[Problem] = []
            values, marks = _column(name, lines, column, step_seconds, left_out)
            found[READINGS[column].quantity] = values
            problems += _gathered(left_out)
            traces = sum(line.text(column).casefold() in TRACES for line in lines) if column in _RAINS else 0
            if traces:
                notes.append(f"{name}: {traces:,} values of {column} are a trace, T, and were taken as 0.")
            if marks:
                shown = ", ".join(dict.fromkeys(marks))
                notes.append(f"{name}: {len(marks):,} of {len(lines):,} values of {column} are written {shown}: no reading.")
    _check_plausible(name, found, notes)
    return Read(found, tuple(problems), tuple(notes))


def _column(
    name: str, lines: Sequence[Entry], column: str, step_seconds: int, problems: list[Problem]
) -> tuple[Floats, list[str]]:
    meaning = READINGS[column]
    low, high = BOUNDS[column]
    if column in WET_SECONDS:
        high = step_seconds / WET_SECONDS[column]
    ask = _ASKS.get(column, f"It is wanted in {meaning.unit}.")
    values = np.full(len(lines), np.nan)
    marks: list[str] = []
    outside = 0
    for index, line in enumerate(lines):
        written = line.text(column)
        if column in _RAINS and written.casefold() in TRACES:
            values[index] = 0.0
            continue
        if not written or written.casefold() in NO_READING:
            marks += [written] if written else []
            continue
        try:
            value = line.number(column, low, high, ask)
        except Refused as refused:
            if refused.do == ask and _as_number(line, column) in _NUMBER_MARKS:
                marks.append(written)
                continue
            problems.append(line.problem(refused.field, refused.value, refused.why, refused.do))
            outside += refused.do == ask
        else:
            values[index] = value / high if column in WET_SECONDS else meaning.to_ours(value)
    if outside > _MOST_OUTSIDE * len(lines) and outside > 1:
        raise FileError(f"{outside} of {len(lines)} values of {column} in {name} are not from {low:g} to {high:g}.", ask)
    return values, marks


def _gathered(problems: Sequence[Problem]) -> list[Problem]:
    """Problems with one value and one reason told once where there are many of them."""
    alike: dict[tuple[str, str], list[Problem]] = {}
    for each in problems:
        alike.setdefault((each.value, each.why), []).append(each)
    made = []
    for some in alike.values():
        if len(some) > _MOST_ALIKE:
            made.append(replace(some[0], place=f"{some[0].place} and {len(some) - 1:,} more"))
        else:
            made += some
    return made


def _as_number(line: Entry, column: str) -> float:
    return line.number(column, float("-inf"), float("inf"))


def _check_plausible(name: str, found: dict[str, Floats], notes: list[str]) -> None:
    for quantity, hottest in _HOTTEST_MEDIAN_DEGC.items():
        temp = found[quantity][~np.isnan(found[quantity])]
        if len(temp) and np.median(temp) > hottest:
            do = "Are they in Fahrenheit? Say so in the name of the column: temp_f, temp_max_f, temp_min_f."
            raise FileError(f"Half of the temperatures in {name} are above {np.median(temp) - 1:.0f} °C.", do)
    wind = found["wind"][~np.isnan(found["wind"])]
    if len(wind) and np.median(wind) > _WINDIEST_MEDIAN_MS:
        notes.append(f"{name}: half of the winds are above {np.median(wind):.0f} m/s. Is that their unit?")


def origins(name: str, lines: Sequence[Entry], columns: Sequence[str], usual: int) -> Read[Bytes]:
    """Where each reading comes from, by code, as the column says it; ``usual`` where it says nothing.

    A column that holds none of our words means something else, and is not used.
    """
    made = np.full(len(lines), usual, np.int8)
    if ORIGIN not in columns:
        return Read(made)
    written = [line.text(ORIGIN).casefold() for line in lines]
    if any(written) and not set(written) & set(ORIGIN_WORDS):
        return Read(made, (), (f"Column not used in {name}: {ORIGIN}, for it says none of: {', '.join(ORIGIN_WORDS)}.",))
    problems = []
    do = f"Write one of: {', '.join(ORIGIN_WORDS)}."
    for index, (line, word) in enumerate(zip(lines, written, strict=True)):
        if word in ORIGIN_WORDS:
            made[index] = ORIGIN_WORDS.index(word)
        elif word:
            problems.append(line.problem(ORIGIN, line.text(ORIGIN), "is not a word used here", do))
    return Read(made, tuple(_gathered(problems)))
