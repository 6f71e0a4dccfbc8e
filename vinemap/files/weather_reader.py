"""Weather readings from CSV: hours or finer, of one station or several, or the lowest and highest of days."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from vinemap.columns import Floats
from vinemap.errors import FileError, InputError, Problem
from vinemap.files.cells import Entry, Refused
from vinemap.files.table import Table, read_table
from vinemap.files.text import Read
from vinemap.files.weather_cells import origins, read_columns
from vinemap.files.weather_times import END, STAMPS, START, Times, WeatherAsk, read_days, read_times
from vinemap.files.weather_units import KNOWN, NEEDED, ORIGIN, READINGS, STATION, TIMES, lacking_weather, siblings
from vinemap.vineclock.from_extremes import hours_from_extremes
from vinemap.vineclock.gaps import find_gaps, find_spikes, usual_step_seconds
from vinemap.vineclock.weather import ESTIMATED, FORECAST, READ, Weather

__all__ = ["KNOWN", "NEEDED", "check_offset", "read_stations", "read_weather"]

_MOST_UNORDERED = 0.5
_MOST_GAPS_TOLD = 3
_HOUR, _DAY = 3600, 86_400
_UNIX_DAY_ONE = dt.date(1970, 1, 1).toordinal()
_AUTUMN_NORTH, _AUTUMN_SOUTH = {9, 10, 11, 12}, {2, 3, 4, 5}
"""Months within which clocks are put back from summer time, and one on either side (common practice)."""
_COLUMN_OF = {"temp_degc": "temp", "temp_max_degc": "temp_max", "wind_ms": "wind", "rain_mm": "rain"}


def read_weather(path: Path, offset_hours: float, station: str = "") -> Read[Weather]:
    """Readings of a file of one station; ``offset_hours`` [h] is local standard time minus UTC, for times without a zone.

    As ``read_stations``. Raises FileError also where the file holds several stations.
    """
    read = read_stations(path, WeatherAsk(offset_hours, station=station))
    if len(read.value) > 1:
        names = ", ".join(each.station for each in read.value)
        raise FileError(f"{Path(path).name} holds several stations: {names}.", "Keep the lines of one of them.")
    return Read(read.value[0], read.problems, read.notes)


def read_stations(path: Path, ask: WeatherAsk) -> Read[tuple[Weather, ...]]:
    """Readings of every station of a file, at least one; a table of days with their extremes is turned into hours.

    A value that can't be used is left out alone, a reading without a usable time whole, and so are the fewest readings
    whose times do not ascend. A reading that no neighbour supports becomes missing unless ``ask`` keeps it. Raises FileError
    when the file is not such a table, when a tenth of a column lies outside its bounds, when half the times do not ascend, or
    day and month can't be told apart; InputError for an offset that is not from -12 to 14 hours or a zone that is none.
    """
    check_offset(ask.offset_hours)
    if ask.stamps and ask.stamps not in STAMPS:
        raise InputError(f"Times can't stand at the “{ask.stamps}” of an interval.", "Say start or end.")
    name = Path(path).name
    table = read_table(path, (), (*READINGS, *TIMES, STATION, ORIGIN))
    columns = table.value.columns
    _check_columns(name, columns)
    problems, notes = list(table.problems), list(table.notes)
    made: list[Weather] = []
    for station, lines in _by_station(table.value, ask.station or Path(path).stem):
        read = (_read_hours if _has_hours(columns) else _read_of_days)(name, station, lines, columns, ask)
        made.append(read.value)
        problems += read.problems
        notes += read.notes
    return Read(tuple(made), tuple(problems), tuple(dict.fromkeys(notes)))


def check_offset(offset_hours: float) -> None:
    """Raises InputError unless the offset of local standard time from UTC [h] is from -12 to 14."""
    if not -12.0 <= offset_hours <= 14.0:
        raise InputError(
            f"Standard time can’t be {offset_hours:g} hours from UTC.", "Give hours from -12 to 14, for example -8."
        )


def _check_columns(name: str, columns: Sequence[str]) -> None:
    """Raises FileError where a column is lacking, or one quantity stands there in two units."""
    lacking = lacking_weather(columns)
    if lacking:
        raise FileError(
            f"{name} has no column “{lacking[0]}”; it has {', '.join(column for column in columns if column) or 'none'}.",
            f"The first line must name the columns {', '.join(NEEDED)}.",
        )
    for column in columns:
        twice = siblings(column).intersection(columns)
        if twice:
            raise FileError(
                f"{name} has the same in two units: {', '.join(sorted((column, *twice)))}.", "Keep one of these columns."
            )


def _has_hours(columns: Sequence[str]) -> bool:
    return bool({"time", "clock"}.intersection(columns))


def _by_station(table: Table, usual: str) -> list[tuple[str, list[Entry]]]:
    """Lines by their station, in the order in which each comes first."""
    if STATION not in table.columns:
        return [(usual, list(table.lines))]
    found: dict[str, list[Entry]] = {}
    for line in table.lines:
        found.setdefault(line.text(STATION) or usual, []).append(line)
    return list(found.items()) or [(usual, [])]


def _read_hours(name: str, station: str, lines: list[Entry], columns: Sequence[str], ask: WeatherAsk) -> Read[Weather]:
    lines, times, notes = _in_order(name, lines, columns, ask)
    problems: list[Problem] = []
    timed: list[tuple[Entry, int]] = []
    for line, second in zip(lines, times.seconds, strict=True):
        if isinstance(second, Refused):
            problems.append(line.problem(second.field, second.value, second.why, second.do))
        else:
            timed.append((line, second))
    seconds = [second for _, second in timed]
    kept = _ascending(seconds)
    if len(kept) < len(timed) * _MOST_UNORDERED:
        raise FileError(f"The times in {name} are not in order.", "Sort the readings from the oldest to the newest.")
    chosen = set(kept)
    at_second = {seconds[index]: timed[index][0] for index in kept}
    problems += [
        _out_of_order(line, at_second.get(second)) for index, (line, second) in enumerate(timed) if index not in chosen
    ]
    good = [timed[index][0] for index in kept]
    time_utc = np.array([seconds[index] for index in kept], np.int64)
    step = usual_step_seconds(time_utc)
    if _stands_at_end(times, ask):
        time_utc = time_utc - step
        notes += (f"{name}: times were taken as the end of each interval of {step // 60} minutes.",)
    read = read_columns(name, good, columns, step)
    problems += read.problems
    values = read.value
    origin = origins(name, good, columns, FORECAST if ask.is_forecast else READ)
    problems += origin.problems
    weather = Weather(
        station,
        ask.offset_hours,
        time_utc,
        values["temp"],
        values["rain"],
        values["wet"],
        values["rh"],
        values["wind"],
        np.mod(values["wind_from"], 360.0),
        origin.value,
        temp_max_degc=values["temp_max"],
    )
    if not ask.keeps_spikes:
        weather = _without_spikes(weather, good, columns, problems)
    notes += (*read.notes, *origin.notes, *_gap_notes(name, weather), *_clock_notes(name, times, weather, ask))
    return Read(weather, tuple(problems), notes)


def _in_order(
    name: str, lines: list[Entry], columns: Sequence[str], ask: WeatherAsk
) -> tuple[list[Entry], Times, tuple[str, ...]]:
    """Lines with the oldest first, and their times: many stations write the newest first."""
    times = read_times(name, lines, columns, ask)
    told = [second for second in times.seconds if isinstance(second, int)]
    turned = [-second for second in told]
    if len(told) > 2 and len(_ascending(turned)) > max(len(_ascending(told)), _MOST_UNORDERED * len(told)):
        lines = lines[::-1]
        times = read_times(name, lines, columns, ask)
        return lines, times, (*times.notes, f"{name} has its newest readings first; they were turned round.")
    return lines, times, times.notes


def _stands_at_end(times: Times, ask: WeatherAsk) -> bool:
    return ask.stamps == END or (ask.stamps != START and times.ends_days)


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


def _time_written(line: Entry) -> tuple[str, str]:
    """The column of a line's time, and the time as written."""
    return ("time", line.text("time")) if line.text("time") else ("clock", f"{line.text('date')} {line.text('clock')}")


def _out_of_order(line: Entry, same: Entry | None) -> Problem:
    if same is not None:
        why, do = (
            f"is the time of {same.place} too",
            "Is it daylight saving time? Use standard time all year, or name the zone.",
        )
    else:
        why, do = "is out of order", "Sort the readings by time, and check that date."
    return line.problem(*_time_written(line), why, do)


def _without_spikes(weather: Weather, lines: Sequence[Entry], columns: Sequence[str], problems: list[Problem]) -> Weather:
    """The weather with readings that no neighbour supports missing, each listed."""
    spikes = find_spikes(weather)
    kept = {name: getattr(weather, name).copy() for name in _COLUMN_OF}
    for spike in spikes:
        kept[spike.column][spike.index] = np.nan
        line = lines[spike.index]
        column = next(name for name in columns if name in READINGS and READINGS[name].quantity == _COLUMN_OF[spike.column])
        do = "It was taken as missing; if it is true, say --keep-spikes."
        problems.append(line.problem(column, line.text(column), spike.why, do))
    return replace(weather, **kept) if spikes else weather


def _gap_notes(name: str, weather: Weather) -> tuple[str, ...]:
    gaps = find_gaps(weather)
    if not gaps:
        return ()
    longest = sorted(sorted(gaps, key=lambda gap: -gap.hours)[:_MOST_GAPS_TOLD], key=lambda gap: gap.start_utc)
    told = "; ".join(
        f"{gap.hours:.3g} h from {_local(gap.start_utc, weather.offset_hours)} to {_local(gap.end_utc, weather.offset_hours)}"
        for gap in longest
    )
    if len(gaps) == 1:
        return (f"{name}: no temperature of {weather.station} for {told}.",)
    more = f", the longest {told}" if len(gaps) > len(longest) else f": {told}"
    total = sum(gap.hours for gap in gaps)
    return (f"{name}: no temperature of {weather.station} in {len(gaps)} gaps, {total:.4g} h together{more}.",)


def _local(time_utc: int, offset_hours: float) -> str:
    moment = dt.datetime.fromtimestamp(time_utc + round(offset_hours * _HOUR), dt.UTC)
    return moment.strftime("%Y-%m-%d %H:%M")


def _clock_notes(name: str, times: Times, weather: Weather, ask: WeatherAsk) -> tuple[str, ...]:
    """A word where only the manager knows whether the station's clock goes over to summer time."""
    if times.has_zone or ask.clock != "standard" or not len(weather):
        return ()
    months = {dt.datetime.fromtimestamp(second, dt.UTC).month for second in weather.time_utc[::24].tolist()}
    if (_AUTUMN_NORTH if ask.lat_deg >= 0 else _AUTUMN_SOUTH) <= months:
        # with a clock that is put back in autumn an hour would have come twice
        return ()
    return (
        f"{name}: its times carry no zone and were taken as local standard time all year. If the station’s clock goes over "
        "to summer time, bring it in again with its zone, as in --clock America/Los_Angeles.",
    )


def _read_of_days(name: str, station: str, lines: list[Entry], columns: Sequence[str], ask: WeatherAsk) -> Read[Weather]:
    """Hours estimated from the lowest and highest of days; the rain of a day is spread over its hours."""
    dates, notes = read_days(name, lines, ask.order)
    problems = [
        line.problem(date.field, date.value, date.why, date.do)
        for line, date in zip(lines, dates, strict=True)
        if isinstance(date, Refused)
    ]
    dated = [(line, date.toordinal()) for line, date in zip(lines, dates, strict=True) if isinstance(date, dt.date)]
    kept = _ascending([date for _, date in dated])
    if len(kept) < len(dated) * _MOST_UNORDERED:
        raise FileError(f"The dates in {name} are not in order.", "Sort the days from the oldest to the newest.")
    chosen = set(kept)
    for index, (line, _) in enumerate(dated):
        if index not in chosen:
            problems.append(
                line.problem("date", line.text("date"), "is out of order, or stands there twice", "Check that date.")
            )
    good = [dated[index][0] for index in kept]
    date = np.array([dated[index][1] for index in kept], np.int32)
    read = read_columns(name, good, columns, _DAY)
    problems += read.problems
    low, high = read.value["temp_min"], read.value["temp_max"]
    for index in np.flatnonzero(low > high).tolist():
        line = good[index]
        column = next(each for each in columns if each in READINGS and READINGS[each].quantity == "temp_min")
        problems.append(line.problem(column, line.text(column), "is above the highest of that day", "Check both."))
        low[index] = np.nan
    noon = 12.0 + (ask.offset_hours - ask.lon_deg / 15.0 if ask.lon_deg is not None else 0.0)
    temp_degc = hours_from_extremes(date, low, high, ask.lat_deg, noon).ravel()
    start = (date.astype(np.int64) - _UNIX_DAY_ONE) * _DAY - round(ask.offset_hours * _HOUR)
    time_utc = (start[:, None] + _HOUR * np.arange(24)).ravel()
    rain: Floats = np.repeat(read.value["rain"] / 24.0, 24)
    none = np.full(len(time_utc), np.nan)
    origin = np.full(len(time_utc), FORECAST if ask.is_forecast else ESTIMATED)
    weather = Weather(station, ask.offset_hours, time_utc, temp_degc, rain, none, none, none, none, origin)
    notes += (f"{name}: the hours of {len(date):,} days were estimated from their lowest and highest temperature.",)
    if not np.isnan(rain).all():
        notes += (f"{name}: the rain of each day was spread evenly over its hours.",)
    return Read(weather, tuple(problems), (*notes, *read.notes, *_gap_notes(name, weather)))
