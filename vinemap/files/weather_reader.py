"""Weather readings from CSV."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from vinemap.errors import FileError, InputError, Problem
from vinemap.files.cells import Entry, Refused, keep_good_lines
from vinemap.files.table import read_table
from vinemap.files.text import Read
from vinemap.vineclock.weather import Weather

NEEDED = ("time", "temp_c")
_LIMITS = {
    "temp_c": (-60.0, 60.0, "Is it in Fahrenheit? Degrees Celsius are wanted."),
    "rain_mm": (0.0, 500.0, "Is it in hundredths? Millimetres in the interval are wanted."),
    "wet_frac": (0.0, 1.0, "Is it in percent or minutes? A share from 0 to 1 is wanted."),
    "rh_frac": (0.0, 1.0, "Is it in percent? A share from 0 to 1 is wanted."),
    "wind_ms": (0.0, 75.0, "Is it in km/h or miles an hour? Metres a second are wanted."),
    "wind_from_deg": (0.0, 360.0, "Degrees clockwise from north are wanted, where the wind comes from."),
}
KNOWN = tuple(name for name in _LIMITS if name not in NEEDED)
_MOST_OUTSIDE = 0.1
_MOST_UNORDERED = 0.5


def read_weather(path: Path, offset_hours: float, station: str = "") -> Read[Weather]:
    """Readings of one station; ``offset_hours`` [h] is local standard time minus UTC, for times without a zone.

    A value that can't be used is left out alone, a reading without a usable time whole, and so are the fewest readings
    whose times do not ascend. Raises FileError when the file is not such a table, when a tenth of a column lies outside
    its bounds or when half the times do not ascend; InputError for an offset that is not from -12 to 14 hours.
    """
    check_offset(offset_hours)
    name = Path(path).name
    table = read_table(path, NEEDED, KNOWN)
    timed, late = keep_good_lines(table.value.lines, lambda line: (line, _seconds_utc(line, offset_hours)))
    problems = [*table.problems, *late]
    seconds = [second for _, second in timed]
    kept = set(_ascending(seconds))
    if len(kept) < len(timed) * _MOST_UNORDERED:
        raise FileError(f"The times in {name} are not in order.", "Sort the readings from the oldest to the newest.")
    at_second = {seconds[index]: timed[index][0] for index in kept}
    for index, (line, second) in enumerate(timed):
        if index not in kept:
            problems.append(_out_of_order(line, at_second.get(second)))
    lines = [timed[index][0] for index in sorted(kept)]
    columns = {column: _column(name, lines, column, problems) for column in _LIMITS}
    weather = Weather(
        station or Path(path).stem,
        offset_hours,
        np.array([seconds[index] for index in sorted(kept)], np.int64),
        columns["temp_c"],
        columns["rain_mm"],
        columns["wet_frac"],
        columns["rh_frac"],
        columns["wind_ms"],
        columns["wind_from_deg"] % 360.0,
    )
    return Read(weather, tuple(problems), table.notes)


def check_offset(offset_hours: float) -> None:
    """Raises InputError unless the offset of local standard time from UTC [h] is from -12 to 14."""
    if not -12.0 <= offset_hours <= 14.0:
        raise InputError(
            f"Standard time can’t be {offset_hours:g} hours from UTC.", "Give hours from -12 to 14, for example -8."
        )


def _seconds_utc(line: Entry, offset_hours: float) -> int:
    moment = line.moment("time")
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=dt.timezone(dt.timedelta(hours=offset_hours)))
    return int(moment.timestamp())


def _ascending(seconds: Sequence[int]) -> list[int]:
    """Indices of a longest strictly ascending run (Schensted 1961), so that one wild time does not cost the rest."""
    ends: list[int] = []
    end_at: list[int] = []
    before: list[int] = []
    for index, second in enumerate(seconds):
        length = bisect_left(ends, second)
        before.append(end_at[length - 1] if length else -1)
        ends[length : length + 1] = [second]
        end_at[length : length + 1] = [index]
    chain: list[int] = []
    index = end_at[-1] if end_at else -1
    while index >= 0:
        chain.append(index)
        index = before[index]
    return chain[::-1]


def _out_of_order(line: Entry, same: Entry | None) -> Problem:
    if same is not None:
        why, do = f"is the time of {same.place} too", "Is it daylight saving time? Use standard time all year."
    else:
        why, do = "is out of order", "Sort the readings by time, and check that date."
    return line.problem("time", line.text("time"), why, do)


def _column(name: str, lines: Sequence[Entry], column: str, problems: list[Problem]) -> np.ndarray:
    low, high, ask = _LIMITS[column]
    values = np.full(len(lines), np.nan)
    outside = 0
    for index, line in enumerate(lines):
        try:
            value = line.number_or_none(column, low, high, ask)
        except Refused as refused:
            problems.append(line.problem(refused.field, refused.value, refused.why, refused.do))
            outside += refused.do == ask
        else:
            values[index] = np.nan if value is None else value
    if outside > _MOST_OUTSIDE * len(lines) and outside > 1:
        raise FileError(f"{outside} of {len(lines)} values of {column} in {name} are not from {low:g} to {high:g}.", ask)
    return values
