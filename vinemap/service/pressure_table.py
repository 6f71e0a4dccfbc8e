"""The pressure of each day as a table, from a file of weather alone."""

from __future__ import annotations

import datetime as dt
import tempfile
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from vinemap.columns import Floats
from vinemap.errors import FileError
from vinemap.files.cell_words import in_our_words
from vinemap.files.head_units import turns_of
from vinemap.files.matching import plain
from vinemap.files.table import rename_heads, table_text, write_table
from vinemap.files.text import Read, write_text
from vinemap.files.weather_times import WeatherAsk
from vinemap.service.matched import Agreed, check_given, match_table
from vinemap.service.weather_in import read_hours
from vinemap.vineclock.days import Days, split_days
from vinemap.vineclock.infection import EVENT
from vinemap.vineclock.pressure import (
    BEFORE,
    CLASS_WORDS,
    HEAT_1999,
    WAITING,
    Pressure,
    Terms,
    pressure_of_days,
)
from vinemap.vineclock.story import explain
from vinemap.vineclock.weather import Weather

PRESSURE_COLUMNS = (
    "date",
    "index",
    "class",
    "low",
    "high",
    "hours_in_band",
    "highest_c",
    "mean_c",
    "missing_hours",
    "heat",
    "infection",
    "rain_mm",
    "wet_hours",
    "ripe_frac",
    "since_infection",
    "generations",
    "counts_from",
    "why",
)
_MIDSUMMER_DAYS = 15


@dataclass(frozen=True, slots=True)
class PressureAsk:
    """How a file of weather is told: what its ``hours`` go by; ``columns``: theirs=ours, parted by commas; ``budbreak`` and
    ``found`` where they are known; the rules."""

    hours: WeatherAsk = field(default_factory=lambda: WeatherAsk(0.0))
    columns: str = ""
    budbreak: dt.date | None = None
    found: dt.date | None = None
    heat: str = HEAT_1999
    infection: str = EVENT


def write_pressure(weather: Path, out: Path, ask: PressureAsk) -> Read[Pressure]:
    """Read hourly weather and write PRESSURE_COLUMNS for each day; what was left out of the weather."""
    read = read_named_weather(weather, ask.hours, ask.columns)
    days = split_days(read.value)
    terms = Terms(ask.heat, ask.infection, ask.found, is_southern_by(days, ask.budbreak or ask.found))
    found = pressure_of_days(days, ask.budbreak, terms)
    write_table(out, PRESSURE_COLUMNS, [_line(found, number) for number in range(len(found))])
    return Read(found, read.problems, read.notes)


def read_named_weather(path: Path, ask: WeatherAsk, columns: str = "") -> Read[Weather]:
    """Readings of one station of a file whose columns may have other names; ``columns`` says theirs=ours.

    Raises FileError where the columns are not understood, with what they seem to be, or the file holds several stations
    and none of them is asked for; InputError for columns it has not.
    """
    if columns:
        check_given((path,), columns)
    found = match_table(path, Agreed(columns))
    if found is None:
        return _one_station(path.name, read_hours(path, replace(ask, station="")), ask.station)
    if found.refused is not None:
        raise FileError(f"{path.name}: {found.refused.why}.", found.refused.do)
    text, notes = table_text(path)
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / path.name
        turns = turns_of({ours: plain(theirs)[1] for theirs, ours in found.names.items()})
        text, understood = in_our_words(path.name, rename_heads(text, found.names), turns)
        write_text(copy, text)
        read = _one_station(path.name, read_hours(copy, replace(ask, station="")), ask.station)
    return Read(read.value, read.problems, (*notes, *understood, *read.notes))


def _one_station(name: str, read: Read[tuple[Weather, ...]], station: str) -> Read[Weather]:
    """The one station of a file, or the one that is asked for. Raises FileError."""
    known = [each.station for each in read.value]
    wanted = [each for each in read.value if station in ("", each.station)]
    # a file of one station need not name it
    wanted = list(read.value) if len(known) == 1 else wanted
    if len(wanted) != 1:
        what = f"{name} holds no station {station}" if station and not wanted else f"{name} holds several stations"
        raise FileError(f"{what}: {', '.join(known)}.", "Say which one: --station NAME.")
    return Read(wanted[0], read.problems, read.notes)


def is_southern_by(days: Days, season_day: dt.date | None) -> bool:
    """Whether a file of weather is of the south: by a day of spring or summer that is known, else by its own warmth.

    It matters only where seasons turn within the file: at midwinter, where the days are colder than they are on the whole.
    """
    if season_day is not None:
        return season_day.month >= 8 or season_day.month <= 2
    for year in range(dt.date.fromordinal(int(days.date[0])).year, dt.date.fromordinal(int(days.date[-1])).year + 1):
        around = np.abs(days.date - dt.date(year, 1, 1).toordinal()) <= _MIDSUMMER_DAYS
        near, whole = _mean(days.mean_degc[around]), _mean(days.mean_degc)
        if days.date[0] < dt.date(year, 1, 1).toordinal() and near is not None and whole is not None:
            return near > whole
    return False


def _mean(values: Floats) -> float | None:
    known = values[~np.isnan(values)]
    return float(known.mean()) if len(known) else None


def _line(found: Pressure, number: int) -> tuple[str, ...]:
    days, events, counted = found.days, found.infections, found.generations
    date = dt.date.fromordinal(int(found.date[number]))
    infected = "yes" if events.is_event[number] else ("not known" if events.could_be[number] else "no")
    if found.why[number] == BEFORE:
        infected = ""
    since = int(found.counts_from[number])
    return (
        date.isoformat(),
        str(int(found.index[number])),
        CLASS_WORDS[int(found.class_code[number])],
        str(int(found.low[number])),
        str(int(found.high[number])),
        f"{days.run_hours[number]:g}",
        _figure(days.max_degc[number], 1),
        _figure(days.mean_degc[number], 1),
        f"{days.missing_hours[number]:g}",
        "yes" if found.is_heat[number] else "no",
        infected,
        _figure(days.rain_mm[number], 1),
        _figure(days.wet_hours[number], 1),
        _figure(events.mature_frac[number], 2),
        f"{counted.low[number]:.2f}" if counted.since[number] else "",
        f"{counted.all_low[number]:.2f}" if counted.first[number] else "",
        dt.date.fromordinal(since).isoformat() if found.why[number] > WAITING else "",
        explain(found, date),
    )


def _figure(value: np.float64, digits: int) -> str:
    return "" if np.isnan(value) else f"{value:.{digits}f}"
