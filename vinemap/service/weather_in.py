"""Weather brought into a season: which station it is of, and what it takes the place of."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from vinemap.columns import Bools, Seconds
from vinemap.errors import InputError
from vinemap.files.climate_reader import is_climate, read_climate
from vinemap.files.text import Read
from vinemap.files.weather_reader import read_stations
from vinemap.files.weather_times import WeatherAsk
from vinemap.season.value import Season
from vinemap.season.weather_edits import with_station
from vinemap.service.report import Report, counted
from vinemap.vineclock.gaps import usual_step_seconds
from vinemap.vineclock.weather import ALL_COLUMNS, CLIMATE, ESTIMATED, FORECAST, READ, Weather

_SAYS_NOTHING = frozenset(("", "weather", "data", "export", "readings", "hours", "hourly", "station", "download", "history"))
"""Names of files that do not tell one station from another."""
_DATE = r"(?:19|20)[0-9]{2}(?:[-_.]?[0-9]{2}){0,2}"
_DATED = re.compile(rf"[ _.-]*\(?{_DATE}(?:[-_.](?:to[-_.])?{_DATE})?\)?$")
_COPIED = re.compile(r"[ _-]*(?:\([0-9]+\)|- copy)$", re.IGNORECASE)
_RANK = {READ: 3, ESTIMATED: 2, FORECAST: 1, CLIMATE: 0}
_STRETCH = 1.5
_ANY_YEAR = 2001


@dataclass(frozen=True, slots=True)
class Joined:
    """Two series of one station in one, and how many readings each lost to the other."""

    weather: Weather
    old_replaced: int
    new_left: int


def read_hours(path: Path, ask: WeatherAsk | None = None) -> Read[tuple[Weather, ...]]:
    """The weather of a file by itself, of whatever kind. Raises FileError or InputError."""
    if is_climate(path):
        climate = read_climate(path, _ANY_YEAR)
        return Read((climate.value,), climate.problems, climate.notes)
    return read_stations(path, ask or WeatherAsk(0.0))


def add_weather(season: Season, path: Path, report: Report, ask: WeatherAsk | None = None) -> Season:
    """The season with the weather of a file, by station: joined to the same one, else beside the others.

    ``ask``: how the file is to be understood; its offset and place are those of the estate. Raises FileError or InputError.
    """
    frame = season.estate.frame
    ask = replace(
        ask or WeatherAsk(0.0), offset_hours=season.estate.offset_hours, lat_deg=frame.lat_deg, lon_deg=frame.lon_deg
    )
    if is_climate(path):
        return _add_climate(season, path, report, ask)
    read = read_stations(path, ask)
    total = sum(len(each) for each in read.value)
    kind = " of a forecast" if ask.is_forecast else ""
    report.took(read, f"{path.name}: {counted(total, 'reading')}{kind}")
    for weather in read.value:
        if not len(weather):
            continue
        is_told = bool(ask.station) or weather.station != path.stem
        name = weather.station if is_told else _station_by_name(season, path)
        season = _with_readings(season, replace(weather, station=name), path, report, is_told)
    return season


def join(old: Weather, new: Weather) -> Joined:
    """Both series of one station in one.

    Where both have readings the better origin stays: read before estimated before forecast before climate; of the same origin
    the new ones take the place of the old. What falls into a gap of the one is filled by the other.
    """
    new_step, old_step = usual_step_seconds(new.time_utc), usual_step_seconds(old.time_utc)
    drop_old = np.zeros(len(old), bool)
    drop_new = np.zeros(len(new), bool)
    for rank in sorted(set(_RANK.values())):
        at_least = np.isin(new.origin, [code for code, each in _RANK.items() if each >= rank])
        mine = np.isin(old.origin, [code for code, each in _RANK.items() if each == rank])
        drop_old |= mine & _covered(old.time_utc, new.time_utc[at_least], new_step)
        above = np.isin(old.origin, [code for code, each in _RANK.items() if each > rank])
        mine = np.isin(new.origin, [code for code, each in _RANK.items() if each == rank])
        drop_new |= mine & _covered(new.time_utc, old.time_utc[above], old_step)
    kept: dict[str, Any] = {
        name: np.concatenate([getattr(old, name)[~drop_old], getattr(new, name)[~drop_new]]) for name in ALL_COLUMNS
    }
    order = np.argsort(kept["time_utc"], kind="stable")
    place = new.at_m or old.at_m
    joined = replace(new, at_m=place, **{name: column[order] for name, column in kept.items()})
    return Joined(joined, int(drop_old.sum()), int(drop_new.sum()))


def _covered(time_utc: Seconds, others: Seconds, step: int) -> Bools:
    """Whether each instant falls into a stretch of other readings without a gap."""
    if not len(others):
        return np.zeros(len(time_utc), bool)
    after = np.searchsorted(others, time_utc, side="right")
    before_at = others[np.maximum(after - 1, 0)]
    after_at = others[np.minimum(after, len(others) - 1)]
    # a reading speaks for its whole interval; stamps may wander a little
    near_before = (after > 0) & (time_utc - before_at < step * 3 // 4)
    near_after = (after < len(others)) & (after_at - time_utc <= step // 2)
    within = (after > 0) & (after < len(others)) & (after_at - before_at <= _STRETCH * step)
    covered: Bools = near_before | near_after | within
    return covered


def _station_by_name(season: Season, path: Path) -> str:
    """The station a file's name tells: one of the season, else a new one. Raises InputError where it says nothing."""
    plain = _plain(path.stem)
    stations = [each for each in season.all_stations if not _is_climate(each)]
    for each in stations:
        if _plain(each.station) == plain or each.station == path.stem:
            return each.station
    if plain not in _SAYS_NOTHING or not stations:
        return _undated(path.stem) or path.stem
    if len(stations) > 1:
        names = ", ".join(each.station for each in stations)
        raise InputError(f"{path.name} does not say which station it is of; there are {names}.", "Say --station NAME.")
    return stations[0].station


def _undated(stem: str) -> str:
    """A file's name without the dates and the mark of a copy at its end: hill_2026-06 (1) is of the hill."""
    before = None
    while before != stem:
        before = stem
        stem = _DATED.sub("", _COPIED.sub("", stem))
    return stem.strip(" _.-")


def _plain(name: str) -> str:
    return re.sub(r"[ _.-]+", " ", _undated(name)).strip().casefold()


def _with_readings(season: Season, weather: Weather, path: Path, report: Report, is_told: bool) -> Season:
    old = next((each for each in season.all_stations if each.station == weather.station), None)
    if old is None and season.weather and _is_climate(season.weather) and not _is_climate(weather):
        report.notes.append(
            f"{path.name} takes the place of the typical year, which stays beside as {season.weather.station}."
        )
        return replace(season, weather=weather, stations=(season.weather, *season.stations))
    if old is None:
        if season.weather is not None and not _is_climate(weather):
            first = season.weather.station
            report.notes.append(
                f"{path.name} stands beside as station {weather.station}; blocks go by {first} until you write for example "
                f"“{_a_block(season)} goes by station {weather.station}”."
                + ("" if is_told else f" If it is more of {first}, bring it in with --station “{first}”.")
            )
        return with_station(season, weather)
    joined = join(old, weather)
    if _holds_the_same(joined.weather, old):
        if joined.new_left:
            left = counted(joined.new_left, "reading")
            why = f"the {left} of it were left aside, for better ones of station {old.station} are there already"
        else:
            why = f"all of it was in the season already, as station {old.station}"
        report.notes.append(f"{path.name}: {why}.")
        return season
    stay = len(old) - joined.old_replaced
    told = f"{path.name} was joined to the weather that was there, station {old.station}: {counted(stay, 'reading')} of that"
    told += " stays" if stay == 1 else " stay"
    if joined.old_replaced:
        told += f", {counted(joined.old_replaced, 'reading')} gave way to new ones"
    report.notes.append(f"{told}.")
    if joined.new_left:
        report.notes.append(
            f"{path.name}: {counted(joined.new_left, 'reading')} of it were left aside, for better ones are there already."
        )
    if joined.weather.offset_hours != old.offset_hours:
        report.notes.append(f"Station {old.station} is told in UTC{joined.weather.offset_hours:+g} h now.")
    return with_station(season, joined.weather)


def _holds_the_same(one: Weather, other: Weather) -> bool:
    if (one.offset_hours, one.at_m) != (other.offset_hours, other.at_m):
        return False
    return all(np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True) for name in ALL_COLUMNS)


def _a_block(season: Season) -> str:
    return season.blocks[0].name if season.blocks else "a block"


def _add_climate(season: Season, path: Path, report: Report, ask: WeatherAsk) -> Season:
    """The season with a typical year beside its stations, on the dates of the season."""
    year = _year_of(season)
    read: Read[Weather] = read_climate(path, year, season.estate.frame.is_southern)
    weather = replace(read.value, station=ask.station or read.value.station)
    report.took(read, f"{path.name}: {counted(len(weather), 'hour')} of a typical year")
    if any(not _is_climate(each) for each in season.all_stations):
        report.notes.append(f"{path.name} is no weather of this year: no block goes by it until you choose it.")
    return _with_readings(season, weather, path, report, True)


def _is_climate(weather: Weather) -> bool:
    return bool((weather.origin == CLIMATE).all())


def _year_of(season: Season) -> int:
    """The year of harvest of a season, from its readings, its rounds or its dates. Raises InputError."""
    days = [each.date for each in season.rounds]
    for stage in season.stages:
        days += [day for day in (stage.budbreak, stage.bloom, stage.harvest) if day]
    ends = [int(each.time_utc[-1]) for each in season.all_stations if len(each)]
    days += [dt.datetime.fromtimestamp(end, dt.UTC).date() for end in ends]
    if not days:
        raise InputError(
            "It is not known which year the season is of.", "Bring in a round, a date of growth or some weather first."
        )
    latest = max(days)
    return latest.year + (season.estate.frame.is_southern and latest.month >= 7)
