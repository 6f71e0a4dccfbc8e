"""What the season strip below the map shows: one time axis with rounds, work, pressure and the fruit window."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from vinemap.columns import Floats, Ints
from vinemap.vineclock.pressure import Pressure
from vinemap.vineclock.stage import date_words, fruit_window
from vinemap.work.conditions import Stage


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


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """The strip's content. ``pressure_day``, ``pressure``: (n,) date ordinals and index 0..100; ``window``: (d,) 0..1, one a
    day from ``first`` to ``last``; ``today``: the last day anything is known of."""

    first: dt.date
    last: dt.date
    today: dt.date
    rounds: tuple[RoundMark, ...]
    work: tuple[WorkMark, ...]
    pressure_day: Ints
    pressure: Ints
    window: Floats
    window_words: str

    def words_on(self, date: dt.date) -> str:
        """A plain line for any date."""
        parts = [date_words(date)]
        if len(self.pressure_day) and self.pressure_day[0] <= date.toordinal() <= self.pressure_day[-1]:
            parts.append(f"pressure {int(self.pressure[date.toordinal() - int(self.pressure_day[0])])}")
        inside = (date - self.first).days
        if 0 <= inside < len(self.window):
            parts.append(f"fruit open to mildew {self.window[inside]:.0%}".replace("%", " %"))
        parts += [f"round {mark.number}" for mark in self.rounds if mark.date == date]
        parts += [f"{'spray' if mark.letter == 'P' else 'pass ' + mark.letter}" for mark in self.work if mark.date == date]
        return ", ".join(parts)


def make_strip(
    rounds: tuple[RoundMark, ...],
    work: tuple[WorkMark, ...],
    pressure: Pressure | None,
    stage: Stage,
    resists_days: float,
    year_start: dt.date,
) -> Strip:
    """The strip of a season that begins at ``year_start`` (1 April or 1 October) and lasts at least six months."""
    days = [mark.date for mark in rounds] + [mark.date for mark in work]
    if pressure is not None and len(pressure.date):
        days.append(dt.date.fromordinal(int(pressure.date[-1])))
    first = min([year_start, *days])
    last = max([year_start + dt.timedelta(days=182), *days]) + dt.timedelta(days=1)
    span = (last - first).days + 1
    window = np.zeros(span)
    words = "bloom not entered"
    if stage.bloom is not None:
        since_bloom = np.arange(span) - (stage.bloom - first).days
        window = fruit_window(since_bloom, resists_days, stage.veraison_days(resists_days))
        words = f"fruit resists from about {date_words(stage.bloom + dt.timedelta(days=round(resists_days)))}"
    return Strip(
        first=first,
        last=last,
        today=max(days, default=first),
        rounds=rounds,
        work=work,
        pressure_day=pressure.date if pressure is not None else np.empty(0, np.int32),
        pressure=pressure.index if pressure is not None else np.empty(0, np.int32),
        window=window,
        window_words=words,
    )
