"""Why the pressure is what it is: the days before, the hours of one day, and what they count, in figures and in words."""

from __future__ import annotations

import datetime as dt

import numpy as np

from vinemap.canopy.faces import SunClock
from vinemap.columns import Floats
from vinemap.season.value import Season
from vinemap.service.ledger import Fact, Page
from vinemap.service.strip import HAND_WORDS, season_strip
from vinemap.service.weather_facts import WeatherFacts
from vinemap.sheets.day_curve import DayHours
from vinemap.sheets.season_sheet import SeasonPlan
from vinemap.sheets.weather_sheet import TableRow, WeatherPlan
from vinemap.sheets.words import day_words
from vinemap.vineclock.days import HOT_DEGC, VERY_HOT_DEGC, Days, reach_of
from vinemap.vineclock.pressure import BEFORE, CLASS_WORDS, HEAT_1999, Pressure
from vinemap.vineclock.story import DayStory, day_story
from vinemap.vineclock.weather import CLIMATE, ESTIMATED, FORECAST, READ

TITLE = "Why is the pressure what it is?"
NO_WEATHER = "There is no weather yet. Bring in the hours of your station first."
FORTNIGHT = 14
SHORT_WORDS = {READ: "read", ESTIMATED: "estim.", FORECAST: "forecast", CLIMATE: "stand-in"}
NOT_KNOWN = "?"


def day_to_show(pressure: Pressure, wanted: dt.date) -> dt.date:
    """The day that is wanted, or the nearest that has weather."""
    first, last = int(pressure.date[0]), int(pressure.date[-1])
    return dt.date.fromordinal(min(max(wanted.toordinal(), first), last))


def weather_page(facts: WeatherFacts, season: Season, date: dt.date) -> Page:
    """The ledger's page of a day: its figures, and why the index is what it is; there must be pressure."""
    pressure = facts.pressure
    assert pressure is not None
    number, story = pressure.at(date), day_story(pressure, date)
    told = [_pressure_fact(pressure, number)]
    told.append(Fact("hours", _hours_words(pressure.days, number)))
    words = f"{day_words(date).english}, {station_of(facts, season)}"
    return Page(TITLE, words, facts=tuple(told), note=" ".join(story.lines))


def _is_counted(pressure: Pressure, number: int) -> bool:
    """From budbreak on."""
    return bool(pressure.why[number] != BEFORE)


def _pressure_fact(pressure: Pressure, number: int) -> Fact:
    if not _is_counted(pressure, number):
        return Fact("pressure", "not counted yet")
    low, high = int(pressure.low[number]), int(pressure.high[number])
    spread = f", {low} to {high}" if low < high else ""
    return Fact(f"pressure, {CLASS_WORDS[int(pressure.class_code[number])]}", f"{int(pressure.index[number])}{spread}", True)


def _hours_words(days: Days, number: int) -> str:
    missing = float(days.missing_hours[number])
    if np.isnan(days.max_degc[number]):
        return "all missing"
    origin = int(days.origin[number])
    how = "read" if origin <= READ else HAND_WORDS[origin].removeprefix("hours ")
    return f"{how}, {missing:g} h missing" if missing else how


def station_of(facts: WeatherFacts, season: Season) -> str:
    """The station in words."""
    name = facts.station or (season.weather.station if season.weather is not None else "")
    return f"station {name}" if name else "the station"


def weather_plan(
    facts: WeatherFacts,
    season: Season,
    place: str,
    date: dt.date,
    printed: dt.datetime,
    clock: tuple[str, SunClock] | None = None,
) -> WeatherPlan:
    """All that the sheet shows of a day and the fortnight around it, on the screen and on paper; there must be pressure."""
    pressure = facts.pressure
    assert pressure is not None
    number, story = pressure.at(date), day_story(pressure, date)
    stop = len(pressure) if len(pressure) - number <= FORTNIGHT else number + 1
    shown = np.arange(max(stop - FORTNIGHT, 0), stop)
    return WeatherPlan(
        days=tuple(dt.date.fromordinal(int(pressure.date[each])) for each in shown),
        rows=_rows(pressure, shown),
        is_other_hand=tuple(bool(pressure.days.origin[each] > READ) for each in shown),
        chosen=int(number - shown[0]),
        day_words=day_words(date).english,
        hours=day_hours(pressure, number, story),
        words=story.lines,
        rose=facts.rose,
        clock=clock,
        place=place,
        estate=season.estate.name,
        station=station_of(facts, season),
        printed=printed,
        north_deg=-season.estate.frame.convergence_deg,
        is_invented=season.estate.is_invented,
    )


def season_plan(facts: WeatherFacts, season: Season, block: str, date: dt.date, printed: dt.datetime) -> SeasonPlan:
    """The season on one sheet: what the strip shows of a block, "" for all; ``date`` dates a season with nothing in it."""
    strip = season_strip(season, block, facts, date)
    told = [(mark.date, mark.words) for mark in (*strip.stages, *strip.events)]
    told += [(mark.date, f"round {mark.number}: {mark.infected} of {mark.examined} clusters") for mark in strip.rounds]
    told += [(mark.date, "spray" if mark.letter == "P" else f"pass {mark.letter}") for mark in strip.work]
    return SeasonPlan(
        first=strip.first,
        last=strip.last,
        rounds=tuple((mark.date, mark.number) for mark in strip.rounds),
        work=tuple((mark.date, mark.letter, mark.ends) for mark in strip.work),
        day=strip.pressure_day.astype(np.float64),
        index=strip.pressure.astype(np.float64),
        low=strip.low.astype(np.float64),
        high=strip.high.astype(np.float64),
        is_hot=strip.is_hot,
        is_read=strip.origin == READ,
        window=strip.window,
        told=tuple(told),
        place=block or season.estate.name,
        estate=season.estate.name,
        station=station_of(facts.of(block), season),
        printed=printed,
        is_invented=season.estate.is_invented,
    )


def day_hours(pressure: Pressure, number: int, story: DayStory) -> DayHours | None:
    """The readings of one day and what each counts; None without any."""
    if np.isnan(story.temp_degc).all():
        return None
    low, high = reach_of(pressure.days, number)
    return DayHours(
        step_hours=story.step_hours,
        temp_degc=story.temp_degc,
        low_degc=low,
        high_degc=high,
        rain_mm=story.rain_mm,
        wet_frac=story.wet_frac,
        origin=np.maximum(story.origin, READ),
        is_inside=story.is_in_band,
        is_counted=story.is_in_run,
        is_hot=story.is_hot,
        heat_degc=HOT_DEGC if pressure.terms.heat == HEAT_1999 else VERY_HOT_DEGC,
    )


def _rows(pressure: Pressure, shown: np.ndarray) -> tuple[TableRow, ...]:
    """The table of days; what is the same on all of them is left out."""
    days = pressure.days
    counted = [_is_counted(pressure, each) for each in shown]
    rows = [
        TableRow("longest run in the band, h", _cells(np.where(np.isnan(days.max_degc), np.nan, days.run_hours)[shown], 1)),
        TableRow("highest, °C", _cells(days.max_degc[shown], 1)),
        TableRow("rain, mm", _least_cells(days.rain_mm[shown], days.rain_least_mm[shown])),
        TableRow("leaves wet, h", _least_cells(days.wet_hours[shown], days.wet_least_hours[shown])),
    ]
    if (days.missing_hours[shown] > 0).any() or (days.origin[shown] > READ).any():
        rows.append(TableRow("hours", tuple(_short_hours(days, each) for each in shown)))
    rows.append(
        TableRow(
            "change", tuple(_change(pressure, each) if is_on else "" for each, is_on in zip(shown, counted, strict=True))
        )
    )
    index = tuple(str(int(pressure.index[each])) if is_on else "" for each, is_on in zip(shown, counted, strict=True))
    rows.append(TableRow("pressure", index, True))
    if (pressure.low[shown] < pressure.high[shown]).any():
        rows.append(TableRow("it can be", tuple(_spread(pressure, each) for each in shown)))
    return tuple(rows)


def _short_hours(days: Days, number: int) -> str:
    """Where the hours of a day come from, or how many lack."""
    missing = float(days.missing_hours[number])
    return f"{missing:g} h lack" if missing else SHORT_WORDS[max(int(days.origin[number]), READ)]


def _cells(values: Floats, digits: int) -> tuple[str, ...]:
    return tuple(NOT_KNOWN if np.isnan(value) else f"{round(value, digits):g}" for value in values.tolist())


def _least_cells(values: Floats, least: Floats) -> tuple[str, ...]:
    """Sums of days; "3+" where more may have fallen in hours that are missing."""
    return tuple(
        f"{round(value, 1):g}" if not np.isnan(value) else (f"{round(some, 1):g}+" if some > 0 else NOT_KNOWN)
        for value, some in zip(values.tolist(), least.tolist(), strict=True)
    )


def _change(pressure: Pressure, number: int) -> str:
    if pressure.is_kept[number]:
        return "kept"
    same = number > 0 and pressure.season[number] == pressure.season[number - 1]
    change = int(pressure.index[number]) - (int(pressure.index[number - 1]) if same else 0)
    return f"+{change}" if change > 0 else (f"−{-change}" if change < 0 else "0")


def _spread(pressure: Pressure, number: int) -> str:
    low, high = int(pressure.low[number]), int(pressure.high[number])
    return f"{low}–{high}" if low < high else ""
