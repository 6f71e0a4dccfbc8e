"""A day told in words with its numbers: why the pressure is what it is, and how far infections have come."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from vinemap.columns import Bools, Bytes, Floats, freeze
from vinemap.units import degf_from_degc
from vinemap.vineclock.days import BAND_HIGH_DEGC, BAND_LOW_DEGC, EDGE_DEGC, HOT_DEGC, VERY_HOT_DEGC
from vinemap.vineclock.generations import shows_from
from vinemap.vineclock.infection import EVENT
from vinemap.vineclock.pressure import (
    ASSUMED,
    BEFORE,
    CLASS_MEANS,
    CLASS_WORDS,
    FOUND,
    HEAT_1999,
    INFECTED,
    WAITING,
    Pressure,
    budbreak_in,
)
from vinemap.vineclock.stage import date_words
from vinemap.vineclock.weather import ORIGIN_WORDS, READ

HEAT_WORDS = {"1999": "95 °F (35 °C) for a quarter of an hour", "2013": "38 °C (100 °F) for two hours on end"}
_LOOKED_BACK_DAYS = 40
_MOST_TOLD = 2


@dataclass(frozen=True, slots=True, eq=False)
class DayStory:
    """One day of the index, told: ``lines`` are whole sentences, in order; the hours are (m,) steps from midnight.

    ``before``, ``change``, ``index``, ``low``, ``high``: of the index, 0..100; ``class_code``: 0 low, 1 moderate, 2 high;
    ``step_hours`` [h]; ``hour``: start of each step [h after midnight]; ``temp_degc`` [degC], ``rain_mm`` [mm],
    ``wet_frac`` 0..1: NaN where not read; ``origin``: code of where each comes from, -1 not read; ``is_in_band``: within
    70..85 °F; ``is_in_run``: within the longest unbroken run of those; ``is_hot``: warm enough for the heat rule.
    """

    date: dt.date
    lines: tuple[str, ...]
    before: int
    change: int
    index: int
    low: int
    high: int
    class_code: int
    step_hours: float
    hour: Floats
    temp_degc: Floats
    rain_mm: Floats
    wet_frac: Floats
    origin: Bytes
    is_in_band: Bools
    is_in_run: Bools
    is_hot: Bools

    def __post_init__(self) -> None:
        numbers = ("hour", "temp_degc", "rain_mm", "wet_frac")
        flags = ("is_in_band", "is_in_run", "is_hot")
        freeze(self, **dict.fromkeys(numbers, np.float64), **dict.fromkeys(flags, np.bool_), origin=np.int8)


def day_story(pressure: Pressure, date: dt.date) -> DayStory:
    """One day of the index with its hours and its words. Raises InputError when there is no weather for the date.

    Source: Gubler et al. 1999; infections and latent period as in ``infection`` and ``generations``.
    """
    number = pressure.at(date)
    slots, days = pressure.days.slots[number], pressure.days
    hour = np.asarray(np.arange(len(slots)) * slots.step_hours, np.float64)
    run_from, run = float(days.run_from_hours[number]), float(days.run_hours[number])
    heat_degc = HOT_DEGC if pressure.terms.heat == HEAT_1999 else VERY_HOT_DEGC
    before, index = _before(pressure, number), int(pressure.index[number])
    return DayStory(
        date=date,
        lines=_lines(pressure, number, date),
        before=before,
        change=index - before,
        index=index,
        low=int(pressure.low[number]),
        high=int(pressure.high[number]),
        class_code=int(pressure.class_code[number]),
        step_hours=slots.step_hours,
        hour=hour,
        temp_degc=slots.temp_degc,
        rain_mm=slots.rain_mm,
        wet_frac=slots.wet_frac,
        origin=slots.origin,
        is_in_band=(slots.low_degc >= BAND_LOW_DEGC - EDGE_DEGC) & (slots.high_degc <= BAND_HIGH_DEGC + EDGE_DEGC),
        is_in_run=(hour >= run_from - 1e-9) & (hour < run_from + run - 1e-9),
        is_hot=(slots.top_degc if pressure.terms.heat == HEAT_1999 else slots.low_degc) >= heat_degc - 1e-6,
    )


def explain(pressure: Pressure, date: dt.date) -> str:
    """Why the index is what it is on a date, in plain words. Raises InputError when there is no weather for the date."""
    return " ".join(_lines(pressure, pressure.at(date), date))


def _lines(pressure: Pressure, number: int, date: dt.date) -> tuple[str, ...]:
    if pressure.why[number] == BEFORE:
        return ("Before budbreak: the index is not counted yet.",)
    low, high = int(pressure.low[number]), int(pressure.high[number])
    code = int(pressure.class_code[number])
    return tuple(
        line
        for line in (
            _words_of_day(pressure, number),
            _words_of_change(pressure, number),
            f"Missing hours could make it anything from {low} to {high}." if low < high else "",
            f"{CLASS_WORDS[code].capitalize()}: {CLASS_MEANS[code]}." if pressure.why[number] != WAITING else "",
            _words_of_counting(pressure, number, date),
            _words_of_water(pressure, number),
            *_words_of_infections(pressure, number),
        )
        if line
    )


def _before(pressure: Pressure, number: int) -> int:
    """The index of the day before; 0 where a season begins."""
    return int(pressure.index[number - 1]) if number and pressure.season[number] == pressure.season[number - 1] else 0


def _words_of_day(pressure: Pressure, number: int) -> str:
    """What the thermometer said that day."""
    days = pressure.days
    missing = float(days.missing_hours[number])
    gaps = f" {missing:g} h without readings." if missing else ""
    if np.isnan(days.max_degc[number]):
        return "No readings on this day."
    run, start = float(days.run_hours[number]), float(days.run_from_hours[number])
    verdict = "enough" if days.is_favourable[number] else "6 h are needed"
    when = f", from {_clock(start)} to {_clock(start + run)}" if run else ""
    highest = float(days.max_degc[number])
    heat = f", hot enough to slow mildew ({HEAT_WORDS[pressure.terms.heat]})" if pressure.is_heat[number] else ""
    kill = " So hot that colonies in the open die." if days.is_killing[number] else ""
    which = "Highest reading" if missing else "Highest"
    origin = int(days.origin[number])
    source = f" These hours are {origin_words(origin)}." if origin > READ else ""
    return (
        f"{run:g} h unbroken between 70 and 85 °F (21 and 29 °C){when}: {verdict}."
        f" {which} {degf_from_degc(highest):.0f} °F ({highest:.1f} °C){heat}.{kill}{gaps}{source}"
    )


def origin_words(origin: int) -> str:
    """Where hours come from, by code, as the end of a sentence."""
    words = ORIGIN_WORDS[origin]
    return {"forecast": "from a forecast", "stand-in climate": "of a stand-in climate"}.get(words, words)


def _words_of_change(pressure: Pressure, number: int) -> str:
    """How the index got from the day before to this one."""
    days, now, before = pressure.days, int(pressure.index[number]), _before(pressure, number)
    if pressure.why[number] == WAITING:
        return ""
    if pressure.is_kept[number]:
        return f"Too many hours are missing to tell: the index stays at {now}."
    is_same = number > 0 and pressure.season[number] == pressure.season[number - 1]
    if not (is_same and pressure.is_started[number - 1]):
        return _words_of_start(now)
    step = (10 if pressure.is_heat[number] else 20) if days.is_favourable[number] else -10
    bound = "" if before + step == now else (", never above 100" if now == 100 else ", never below 0")
    return f"{before} {'+' if step > 0 else '−'} {abs(step)} = {now}{bound}."


def _words_of_start(now: int) -> str:
    """Where the start phase stands at the end of a day that belongs to it."""
    if now == 0:
        return "The season’s index has not started: it needs three such days in a row. It is 0."
    if now < 60:
        return f"Day {now // 20} of the three in a row that start the season’s index: {now}."
    return "Third such day in a row: the season’s index has started at 60."


def _words_of_counting(pressure: Pressure, number: int, date: dt.date) -> str:
    """What the counting waits for or began with."""
    why, rule = int(pressure.why[number]), pressure.terms.infection
    buds = budbreak_in(int(pressure.season[number]), pressure.budbreak, pressure.terms.is_southern)
    moved = ""
    if buds is not None and pressure.budbreak is not None and buds != pressure.budbreak:
        moved = f" Budbreak is taken on {date_words(buds)}, as in {pressure.budbreak.year}."
    if why == WAITING:
        present = int(pressure.if_present[number])
        return (
            f"Waiting: no primary infection yet by the rule “{rule}”, and no mildew was found. The index stays at 0;"
            f" had mildew wintered in the buds, it would be {present}.{moved}"
        )
    since = dt.date.fromordinal(int(pressure.counts_from[number]))
    if why == INFECTED:
        return f"Counted since the infection of {date_words(since)}.{moved}"
    if why == FOUND and pressure.terms.found is not None:
        found = date_words(pressure.terms.found)
        return f"Counted since {date_words(since)}: mildew was found on {found} and must have come by then.{moved}"
    assert why == ASSUMED
    at = since.toordinal() - int(pressure.date[0])
    rain, wet = pressure.days.rain_unread_hours[at], pressure.days.wet_unread_hours[at]
    lacking = "warmth" if (rain if rule == EVENT else wet) == 0 else "rain" if rule == EVENT else "leaf wetness"
    return f"Infection is assumed since {date_words(since)}, because {lacking} was not read then.{moved}"


def _words_of_water(pressure: Pressure, number: int) -> str:
    """Rain and wetness of the day, and whether they made a primary infection."""
    found, days = pressure.infections, pressure.days
    rain = float(days.rain_least_mm[number])
    is_event, could_be = bool(found.is_event[number]), bool(found.could_be[number])
    if is_event:
        said = f"{float(found.rain_mm[number]):.1f} mm of rain at a mean of {float(found.mean_degc[number]):.1f} °C"
        if found.rule != EVENT:
            wet = float(found.wet_hours[number])
            said = f"{wet:g} h of wet leaves at a mean of {float(found.mean_degc[number]):.1f} °C"
        return f"{said}: primary infection.{_words_of_spores(pressure, number)}"
    if could_be and days.rain_unread_hours[number] + days.wet_unread_hours[number] < 48:
        return "Whether there was an infection is not known: hours are missing."
    if rain >= 0.1:
        return f"{rain:.1f} mm of rain: no primary infection."
    return ""


def _words_of_spores(pressure: Pressure, number: int) -> str:
    ripe, let_go = float(pressure.infections.mature_frac[number]), float(pressure.infections.discharge_frac[number])
    if np.isnan(ripe):
        return ""
    gone = "" if np.isnan(let_go) else f", and this rain let {let_go:.0%} of the ripe ones go"
    return f" Of the year’s first spores {ripe:.0%} are ripe{gone}.".replace("%", " %")


def _words_of_infections(pressure: Pressure, number: int) -> tuple[str, ...]:
    """How far the last infections before the day have come, and the generations since the first."""
    counted, date = pressure.generations, pressure.date
    if not counted.first[number]:
        return ()
    first = pressure.date[0]
    lines = []
    events = np.flatnonzero(pressure.infections.is_event[:number] & (date[:number] >= counted.first[number]))
    for at in events[events >= number - _LOOKED_BACK_DAYS][-_MOST_TOLD:]:
        low = float(counted.a_day_low[at + 1 : number + 1].sum())
        high = float(counted.a_day_high[at + 1 : number + 1].sum())
        yesterday = float(counted.a_day_high[at + 1 : number].sum())
        if yesterday < 1.0:
            lines.append(_words_of_progress(pressure, dt.date.fromordinal(int(first + at)), low, high))
    since_first = _many(float(counted.all_low[number]), float(counted.all_high[number]))
    if counted.all_high[number] >= 1.0:
        line = f"{since_first} generations since the first infection, of {_on(counted.first[number])}"
        if counted.since[number] != counted.first[number]:
            since_last = _many(float(counted.low[number]), float(counted.high[number]))
            line += f", {since_last} since the last, of {_on(counted.since[number])}"
        lines.append(f"{line}, as far as warmth goes.")
    return tuple(lines)


def _many(low: float, high: float) -> str:
    """A figure, or its range."""
    return f"{low:.1f}" if high - low < 0.05 else f"{low:.1f} to {high:.1f}"


def _on(ordinal: np.int32) -> str:
    return date_words(dt.date.fromordinal(int(ordinal)))


def _words_of_progress(pressure: Pressure, infected: dt.date, low: float, high: float) -> str:
    shows, is_ahead = shows_from(pressure.days, pressure.generations, infected)
    # rounded down: 99.7 % is not there yet
    least, most = int(low * 100 + 1e-9), int(high * 100 + 1e-9)
    share = f"{least} %" if least == most else f"{least} to {most} %"
    if low >= 1.0:
        return f"The infection of {date_words(infected)} bears spores from today: look for it."
    when = "would not show at this warmth" if shows is None else f"would show from about {date_words(shows)}"
    more = ", if the last week’s warmth goes on" if is_ahead and shows is not None else ""
    return f"The infection of {date_words(infected)} {when}{more}: {share} of the way."


def _clock(hours: float) -> str:
    """Hours after midnight as a time of day."""
    minutes = round(hours * 60)
    return f"{minutes // 60}:{minutes % 60:02d}"
