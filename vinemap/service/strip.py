"""What the season strip below the map shows: one time axis with rounds, work, pressure, events and the fruit window."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vinemap.columns import Bools, Bytes, Floats, Ints
from vinemap.season.value import Season
from vinemap.service.ledger import percent
from vinemap.service.rot_facts import rot_risk, scars_by_block
from vinemap.service.stage_facts import stage_of
from vinemap.service.weather_facts import WeatherFacts
from vinemap.vineclock.pressure import BEFORE, CLASS_WORDS, Pressure
from vinemap.vineclock.rot import CLASS_FROM, class_words
from vinemap.vineclock.stage import date_words, fruit_window
from vinemap.vineclock.weather import CLIMATE, ESTIMATED, FORECAST, READ
from vinemap.work.conditions import Stage
from vinemap.work.materials import cover_days

LEAST_DAYS, MOST_DAYS = 182, 330
"""The strip is at least half a year long; weather of other seasons is left out."""

EARLY_MONTHS = 2
"""So long before April or October the strip can begin where weather or budbreak do."""

HAND_WORDS = {
    ESTIMATED: "hours estimated from the day's extremes",
    FORECAST: "by the forecast",
    CLIMATE: "by a stand-in climate",
}


@dataclass(frozen=True, slots=True)
class RoundMark:
    """A round on the strip: number, date, clusters looked at and infected."""

    number: int
    date: dt.date
    examined: int
    infected: int


@dataclass(frozen=True, slots=True)
class WorkMark:
    """A pass (letter) or a spray (letter P, covering until ``ends``)."""

    date: dt.date
    letter: str
    ends: dt.date


@dataclass(frozen=True, slots=True)
class DayMark:
    """Something that happened on a day, in words: a primary infection, a growth stage, or a risk of bunch rot."""

    date: dt.date
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """The strip's content.

    ``pressure_day``: (n,) date ordinals, none left out; ``pressure``, ``low``, ``high``: (n,) index 0..100 and the range
    that missing hours leave; ``is_hot``: (n,) too hot for mildew; ``origin``: (n,) code of the least sure hours of the day;
    ``window``: (d,) 0..1, one a day from ``first`` to ``last``; ``today``: the last day anything is known of.
    """

    first: dt.date
    last: dt.date
    today: dt.date
    rounds: tuple[RoundMark, ...]
    work: tuple[WorkMark, ...]
    pressure_day: Ints
    pressure: Ints
    low: Ints
    high: Ints
    is_hot: Bools
    origin: Bytes
    events: tuple[DayMark, ...]
    stages: tuple[DayMark, ...]
    window: Floats
    window_words: str

    def words_on(self, date: dt.date) -> str:
        """A plain line for any date."""
        parts = [date_words(date), *self._pressure_words(date)]
        inside = (date - self.first).days
        if 0 <= inside < len(self.window):
            parts.append(f"fruit open to mildew {percent(float(self.window[inside]))}")
        parts += [mark.words for mark in (*self.stages, *self.events) if mark.date == date]
        parts += [f"round {mark.number}" for mark in self.rounds if mark.date == date]
        parts += [f"pass {mark.letter}" for mark in self.work if mark.date == date and mark.letter != "P"]
        sprays = [mark for mark in self.work if mark.date == date and mark.letter == "P"]
        if sprays:
            parts.append(f"spray, cover until about {date_words(max(mark.ends for mark in sprays))}")
        return ", ".join(parts)

    def _pressure_words(self, date: dt.date) -> list[str]:
        """Pressure of a day with its class and range, where its hours come from, and heat."""
        at = date.toordinal() - int(self.pressure_day[0]) if len(self.pressure_day) else -1
        if not 0 <= at < len(self.pressure_day):
            return []
        index, low, high = (int(column[at]) for column in (self.pressure, self.low, self.high))
        unsure = f" (hours are missing: {low} to {high})" if low < high else ""
        parts = [f"pressure {index}{unsure}", CLASS_WORDS[int(np.digitize(index, [35, 55]))]]
        if self.origin[at] != READ:
            parts.append(HAND_WORDS[int(self.origin[at])])
        return [*parts, "hot enough to slow mildew"] if self.is_hot[at] else parts


def make_strip(
    rounds: tuple[RoundMark, ...],
    work: tuple[WorkMark, ...],
    pressure: Pressure | None,
    stage: Stage,
    resists_days: float,
    year_start: dt.date,
    marks: tuple[tuple[DayMark, ...], tuple[DayMark, ...]] = ((), ()),
) -> Strip:
    """The strip of a season that begins at ``year_start`` (1 April or 1 October), or where weather or budbreak do before,
    and lasts at least six months. ``marks``: primary infections, and stages."""
    days = [mark.date for mark in rounds] + [mark.date for mark in work]
    day, index, low, high, is_hot, codes = _season_s_own(pressure, year_start)
    begins = [dt.date.fromordinal(int(each)) for each in day[:1]]
    known = [*days, *(dt.date.fromordinal(int(each)) for each in day[codes <= ESTIMATED][-1:])]
    ends = [*days, *(dt.date.fromordinal(int(each)) for each in day[-1:])]
    first = min([year_start, *days, *begins])
    last = max([year_start + dt.timedelta(days=LEAST_DAYS), *ends]) + dt.timedelta(days=1)
    window, words = _window(stage, resists_days, first, (last - first).days + 1)
    return Strip(
        first=first,
        last=last,
        today=max(known, default=first),
        rounds=rounds,
        work=work,
        pressure_day=day,
        pressure=index,
        low=low,
        high=high,
        is_hot=is_hot,
        origin=codes,
        events=tuple(mark for mark in marks[0] if first <= mark.date <= last),
        stages=tuple(mark for mark in marks[1] if first <= mark.date <= last),
        window=window,
        window_words=words,
    )


def _season_s_own(pressure: Pressure | None, year_start: dt.date) -> tuple[Ints, Ints, Ints, Ints, Bools, Bytes]:
    """Days of pressure that belong to this season, from budbreak on where it is known, and their columns."""
    if pressure is None:
        none = np.empty(0, np.int32)
        return none, none, none, none, np.empty(0, np.bool_), np.empty(0, np.int8)
    first = year_start.replace(month=year_start.month - EARLY_MONTHS)
    first = max(first, pressure.budbreak) if pressure.budbreak is not None else first
    own = (pressure.date >= first.toordinal()) & (pressure.date <= year_start.toordinal() + MOST_DAYS)
    codes = np.maximum(pressure.days.origin, READ)
    index, low, high = (column[own] for column in (pressure.index, pressure.low, pressure.high))
    return pressure.date[own], index, low, high, pressure.is_heat[own], codes[own]


def _window(stage: Stage, resists_days: float, first: dt.date, span: int) -> tuple[Floats, str]:
    """How open the fruit is on each day (span,) 0..1, and words for it."""
    if stage.bloom is None:
        return np.zeros(span), "bloom not entered"
    since_bloom = np.arange(span) - (stage.bloom - first).days
    words = f"fruit resists from about {date_words(stage.bloom + dt.timedelta(days=round(resists_days)))}"
    return fruit_window(since_bloom, resists_days, stage.veraison_days(resists_days), stage.budbreak_days()), words


def season_strip(season: Season, block: str, facts: WeatherFacts, now: dt.date) -> Strip:
    """The season strip, with the work of a block, or of all; ``now`` dates a season with nothing in it."""
    rotten = rot_marks(season, block, facts)
    facts = facts.of(block)
    rounds = tuple(
        RoundMark(each.number, each.date, int(each.stops.examined.sum()), int(each.stops.infected.sum()))
        for each in season.rounds
    )
    passes = [WorkMark(each.date, each.kind, each.date) for each in season.passes if block in ("", each.block)]
    sprays = [
        WorkMark(each.start.date(), "P", each.start.date() + dt.timedelta(days=round(cover_days(each.materials, 2))))
        for each in season.sprays
        if block in ("", each.block)
    ]
    work = tuple(sorted(set(passes + sprays), key=lambda mark: (mark.date, mark.letter)))
    pressure = facts.pressure
    day = _a_day_of(rounds + work, pressure, season, now)
    stage = stage_of(season, block, facts.days, day)
    start = year_start(day, season.estate.frame.is_southern)
    marks = infection_marks(pressure), stage_marks(season, block) + rotten
    return make_strip(rounds, work, pressure, stage, season.assumptions.fruit_resists_days, start, marks)


def infection_marks(pressure: Pressure | None) -> tuple[DayMark, ...]:
    """Primary infections by the rule that the estate goes by."""
    if pressure is None:
        return ()
    days = pressure.date[pressure.infections.is_event & (pressure.why != BEFORE)]
    return tuple(DayMark(dt.date.fromordinal(int(day)), "primary infection") for day in days)


def rot_marks(season: Season, block: str, facts: WeatherFacts) -> tuple[DayMark, ...]:
    """Days at risk of bunch rot in a block, or in the worst of all, by the class of risk."""
    worst: dict[int, tuple[float, str]] = {}
    scars = scars_by_block(season)
    for each in season.blocks:
        here = facts.of(each.name)
        if here.rot is None or block not in ("", each.name):
            continue
        risk = rot_risk(season, each, scars.get(each.name, ()), here.rot, here.days)
        for at in np.flatnonzero(risk > CLASS_FROM[0]):
            day = int(here.rot.date[at])
            worst[day] = max(worst.get(day, (0.0, "")), (float(risk[at]), each.name))
    return tuple(
        DayMark(dt.date.fromordinal(day), f"bunch rot: {class_words(index, index)} risk{'' if block else f' in {name}'}")
        for day, (index, name) in sorted(worst.items())
    )


def stage_marks(season: Season, block: str) -> tuple[DayMark, ...]:
    """What was entered of growth stages and sugar for a block and for all; each once."""
    made: dict[DayMark, None] = {}
    for dates in season.stages:
        if dates.block not in ("", block) and block:
            continue
        of = f" in {dates.block}" if dates.block and not block else ""
        for name in ("budbreak", "bloom", "veraison", "harvest"):
            date = getattr(dates, name)
            if date is not None:
                made[DayMark(date, f"{name}{of}")] = None
        made |= dict.fromkeys(DayMark(each.date, f"{each.scale} {each.number}{of}") for each in dates.seen)
        made |= dict.fromkeys(DayMark(each.date, f"{each.brix:g} Brix{of}") for each in dates.brix)
    return tuple(made)


def _a_day_of(marks: Sequence[RoundMark | WorkMark], pressure: Pressure | None, season: Season, now: dt.date) -> dt.date:
    """A day of the season: of the last round or work, else of the weather that was read, else of a stage, else now."""
    if marks:
        return max(mark.date for mark in marks)
    if pressure is not None and (read := pressure.date[pressure.days.origin == READ]).size:
        return dt.date.fromordinal(int(read[-1]))
    entered = [mark.date for mark in stage_marks(season, "")]
    return max(entered, default=now)


def year_start(date: dt.date, is_southern: bool) -> dt.date:
    """The first of April before a date, or of October in the south; of the April or October that is near, too."""
    month = 10 if is_southern else 4
    start = dt.date(date.year, month, 1)
    return start if start <= date or date.month >= month - EARLY_MONTHS else dt.date(date.year - 1, month, 1)
