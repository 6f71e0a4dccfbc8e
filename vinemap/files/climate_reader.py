"""Typical years as a stand-in climate: hours of EPW and TMY3 files, set on the dates of a season."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from vinemap.errors import FileError, Problem, VinemapError
from vinemap.files.cells import Entry, Refused
from vinemap.files.text import Read, decoded, first_bytes, read_text
from vinemap.vineclock.weather import CLIMATE, READING_COLUMNS, Weather

_EPW_SIGN, _TMY3_SIGN = "LOCATION,", "Date (MM/DD/YYYY),Time (HH:MM),"
_EPW_HEAD_LINES, _TMY3_HEAD_LINES = 8, 2
_EPW_PLACES = {"month": 1, "day": 2, "hour": 3, "temp": 6, "rh": 8, "wind_from": 20, "wind": 21, "rain": 33}
"""Places of the fields of a line, from 0 (EnergyPlus Auxiliary Programs, weather file format; from memory)."""
_TMY3_COLUMNS = {
    "temp": "Dry-bulb (C)",
    "rh": "RHum (%)",
    "wind_from": "Wdir (degrees)",
    "wind": "Wspd (m/s)",
    "rain": "Lprecip depth (mm)",
}
"""Names of the columns (Wilcox & Marion 2008, Users Manual for TMY3 Data Sets)."""
_BOUNDS = {"temp": (-60.0, 60.0), "rh": (0.0, 110.0), "wind_from": (0.0, 360.0), "wind": (0.0, 75.0), "rain": (0.0, 500.0)}
_HOUR = 3600
_LONGEST_TOLD = 40
_HARVEST_YEAR_FROM = 7


def is_climate(path: Path) -> bool:
    """Whether a file is a typical year, by its first lines."""
    try:
        data = first_bytes(path)
        head, _ = decoded(Path(path).name, data)
    except VinemapError:
        # it is refused in words where it is read
        return False
    lines = head.splitlines()
    return head.startswith(_EPW_SIGN) or (len(lines) > 1 and lines[1].startswith(_TMY3_SIGN))


def read_climate(path: Path, year: int, is_southern: bool = False) -> Read[Weather]:
    """Hours of a typical year as those of ``year``; in the south of the twelve months from July of the year before.

    Hour 1 of such a file is the first hour of the day, in local standard time. 29 February takes the hours of the 28th where
    the file has none. Raises FileError when it is no such file.
    """
    name = Path(path).name
    text, notes = read_text(path)
    lines = text.splitlines()
    is_epw = text.startswith(_EPW_SIGN)
    station, offset_hours = _place(name, lines[0], is_epw)
    problems: list[Problem] = []
    hours: dict[tuple[int, int, int], tuple[float, ...]] = {}
    for entry, key in _entries(name, lines, is_epw):
        try:
            hours[_hour(entry, key)] = tuple(_figure(entry, what, problems) for what in _BOUNDS)
        except Refused as refused:
            problems.append(entry.problem(refused.field, refused.value, refused.why, refused.do))
    if not hours:
        raise FileError(f"{name} holds no hours.", "Save it again from where it came.")
    first = dt.datetime(year - 1, _HARVEST_YEAR_FROM, 1) if is_southern else dt.datetime(year, 1, 1)
    count = (first.replace(year=first.year + 1) - first).days * 24
    moments = [first + dt.timedelta(hours=hour) for hour in range(count)]
    found = np.array([_typical(hours, moment) for moment in moments])
    temp, rh, wind_from, wind, rain = found.T
    start = int(first.replace(tzinfo=dt.UTC).timestamp() - offset_hours * _HOUR)
    columns = dict(
        zip(
            READING_COLUMNS,
            (temp, rain, np.full(count, np.nan), np.minimum(rh / 100.0, 1.0), wind, wind_from % 360.0),
            strict=True,
        )
    )
    weather = Weather(station, offset_hours, start + _HOUR * np.arange(count), **columns, origin=np.full(count, CLIMATE))
    dates = f"{moments[0]:%Y-%m-%d} to {moments[-1]:%Y-%m-%d}"
    notes += (f"{name} is a typical year, a stand-in for weather; its hours were set on {dates}.",)
    return Read(weather, tuple(problems), notes)


def _place(name: str, line: str, is_epw: bool) -> tuple[str, float]:
    """The station and its standard time [h from UTC] from the first line."""
    cells = _cells(line)
    at = (1, 8) if is_epw else (1, 3)
    try:
        station, offset = cells[at[0]], float(cells[at[1]])
    except (IndexError, ValueError) as error:
        raise FileError(f"The first line of {name} does not say where it is and in which time.", "Get it again.") from error
    if not -12.0 <= offset <= 14.0:
        raise FileError(f"The first line of {name} says a time of {offset:g} hours from UTC.", "Get it again.")
    return station or Path(name).stem, offset


def _entries(name: str, lines: list[str], is_epw: bool) -> Iterator[tuple[Entry, str]]:
    skipped = _EPW_HEAD_LINES if is_epw else _TMY3_HEAD_LINES
    heads = [] if is_epw else _cells(lines[1])
    for number, line in enumerate(lines[skipped:], start=skipped + 1):
        cells = _cells(line)
        if not any(cells):
            continue
        if is_epw:
            values = {what: cells[at] for what, at in _EPW_PLACES.items() if at < len(cells)}
            key = ""
        else:
            named = dict(zip(heads, cells, strict=False))
            values = {what: named.get(column, "") for what, column in _TMY3_COLUMNS.items()}
            key = f"{cells[0]} {cells[1]}" if len(cells) > 1 else cells[0]
        yield Entry(name, f"line {number}", values), key


def _cells(line: str) -> list[str]:
    """The cells of one line: a quote that is never closed must not take the hours after it along."""
    try:
        return [cell.strip() for cell in next(csv.reader([line]), [])]
    except csv.Error:
        # a cell without end: what is left says in the report which line it was
        return [line[:_LONGEST_TOLD]]


def _hour(entry: Entry, key: str) -> tuple[int, int, int]:
    """Month, day and hour 0..23 of the beginning. Raises Refused."""
    if key:
        try:
            date, clock = key.split()
            month, day, _ = (int(part) for part in date.split("/"))
            hour = int(clock.split(":")[0])
        except ValueError as error:
            raise Refused("time", key, "is not a date and time", "Get the file again.") from error
    else:
        month, day, hour = entry.whole("month", 1, 12), entry.whole("day", 1, 31), entry.whole("hour", 1, 24)
    try:
        dt.date(2024, month, day)
    except (ValueError, OverflowError) as error:
        raise Refused("day", f"{month}/{day}", "is not in the calendar", "Get the file again.") from error
    if not 1 <= hour <= 24:
        raise Refused("hour", str(hour), "must be from 1 to 24", "Get the file again.")
    return month, day, hour - 1


def _figure(entry: Entry, what: str, problems: list[Problem]) -> float:
    """A figure, NaN where it is missing: such files write 99, 999 or -9900 there."""
    low, high = _BOUNDS[what]
    try:
        value = entry.number_or_none(what, float("-inf"), float("inf"))
    except Refused as refused:
        problems.append(entry.problem(refused.field, refused.value, refused.why, refused.do))
        return float("nan")
    return value if value is not None and low <= value <= high else float("nan")


def _typical(hours: dict[tuple[int, int, int], tuple[float, ...]], moment: dt.datetime) -> tuple[float, ...]:
    found = hours.get((moment.month, moment.day, moment.hour))
    if found is None and (moment.month, moment.day) == (2, 29):
        found = hours.get((2, 28, moment.hour))
    return found or (float("nan"),) * len(_BOUNDS)
