"""Pressure: how favourable the weather has been to powdery mildew, 0..100 (the published risk index).

Start phase, once a season: three days in a row with 6 h or more unbroken within 70..85 °F bring 20, 40, 60; a day that
fails before the third brings it back to 0. From the day after: such a day adds 20, or only 10 when 95 °F was reached for
15 minutes; any other day takes 10 away, hot or not. Always within 0..100.
Source: Gubler, Rademacher, Vasquez & Thomas 1999, doi 10.1094/APSnetFeature-1999-0199.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from vinemap.columns import Bools, Bytes, Ints, freeze
from vinemap.errors import InputError
from vinemap.units import degf_from_degc
from vinemap.vineclock.days import UNKNOWN_HOURS, Days, split_days
from vinemap.vineclock.weather import Weather

CLASS_WORDS = ("low", "moderate", "high")
CLASS_MEANS = (
    "mildew hardly grows",
    "about one generation in 15 days",
    "about one generation in 5 days",
)

# Whether the start phase is over, and the index. In the start phase the index is 20 for each day of the streak.
_State = tuple[bool, int]
_START: _State = (False, 0)


@dataclass(frozen=True, slots=True, eq=False)
class Pressure:
    """The index of each day, and the range it could have if missing hours are taken either way.

    ``days``: the n days behind it; ``date``: (n,) date ordinal; ``index``, ``low``, ``high``: (n,) 0..100;
    ``class_code``: (n,) 0 low, 1 moderate, 2 high; ``is_started``: (n,) start phase over by the end of that day;
    ``is_kept``: (n,) too many hours missing, index kept from the day before; ``budbreak``: counted from then, or None
    where it was not known and the first reading was taken.
    """

    days: Days
    date: Ints
    index: Ints
    low: Ints
    high: Ints
    class_code: Bytes
    is_started: Bools
    is_kept: Bools
    budbreak: dt.date | None

    def __post_init__(self) -> None:
        freeze(
            self,
            date=np.int32,
            index=np.int32,
            low=np.int32,
            high=np.int32,
            class_code=np.int8,
            is_started=np.bool_,
            is_kept=np.bool_,
        )

    def __len__(self) -> int:
        return len(self.date)


def risk_index(favourable: Iterable[bool], hot: Iterable[bool]) -> Ints:
    """The index (n,) 0..100 after each day, from whether each day (n,) was favourable and whether it was hot.

    Source: Gubler et al. 1999.
    """
    state, values = _START, []
    for day_favourable, day_hot in zip(favourable, hot, strict=True):
        state = _next(state, bool(day_favourable), bool(day_hot))
        values.append(state[1])
    return np.array(values, np.int32)


def class_codes(index: Ints) -> Bytes:
    """Classes (n,) of indices (n,): 0 low (0-30), 1 moderate (40-50), 2 high (60-100). Source: Gubler et al. 1999."""
    return np.digitize(index, [35, 55]).astype(np.int8)


def pressure(weather: Weather, budbreak: dt.date | None) -> Pressure:
    """Pressure on each day of the weather, counted from budbreak, or from the first reading where that is not known.

    Raises TooFewData when there is no temperature at all. Source: Gubler et al. 1999.
    """
    return pressure_of_days(split_days(weather), budbreak)


def pressure_of_days(days: Days, budbreak: dt.date | None) -> Pressure:
    """Pressure on each of the days. Source: Gubler et al. 1999; the range follows every index that is possible."""
    first = budbreak.toordinal() if budbreak else 0
    state, possible = _START, {_START}
    rows = []
    for number in range(len(days)):
        is_kept = False
        if days.date[number] >= first:
            favourable, hot = bool(days.is_favourable[number]), bool(days.is_hot[number])
            cases = {
                (one, other)
                for one in (favourable, bool(days.could_be_favourable[number]))
                for other in (hot, bool(days.could_be_hot[number]))
            }
            ends = {case: _next(state, *case) for case in cases}
            is_unsure = favourable != bool(days.could_be_favourable[number]) and len(set(ends.values())) > 1
            is_kept = is_unsure and bool(days.missing_hours[number] > UNKNOWN_HOURS)
            possible = {_next(each, *case) for each in possible for case in cases}
            state = state if is_kept else ends[favourable, hot]
        # A kept index is nobody's true one: in rare seasons it would fall just outside the possible ones.
        indices = [state[1], *(index for _, index in possible)]
        rows.append((state[1], min(indices), max(indices), state[0], is_kept))
    index, low, high, started, kept = (np.array(column) for column in zip(*rows, strict=True))
    return Pressure(days, days.date, index, low, high, class_codes(index), started, kept, budbreak)


def _next(state: _State, favourable: bool, hot: bool) -> _State:
    """The state after one more day."""
    is_started, index = state
    if not is_started:
        index = index + 20 if favourable else 0
        return index == 60, index
    change = (10 if hot else 20) if favourable else -10
    return True, min(100, max(0, index + change))


def explain(pressure: Pressure, date: dt.date) -> str:
    """Why the index is what it is on a date, in plain words. Raises InputError when there is no weather for the date."""
    number = date.toordinal() - int(pressure.date[0])
    if not 0 <= number < len(pressure):
        raise InputError(f"There is no weather for {date}.", "Choose a day within the weather readings.")
    if pressure.budbreak and date < pressure.budbreak:
        return "Before budbreak: the index is not counted yet."
    days = pressure.days
    before = int(pressure.index[number - 1]) if number else 0
    was_started = bool(pressure.is_started[number - 1]) if number else False
    now = int(pressure.index[number])
    parts = [_words_of_day(days, number)]
    if pressure.is_kept[number]:
        parts.append(f"Too many hours are missing to tell: the index stays at {now}.")
    elif not was_started:
        parts.append(_words_of_start(now))
    else:
        step = (10 if days.is_hot[number] else 20) if days.is_favourable[number] else -10
        bound = "" if before + step == now else (", never above 100" if now == 100 else ", never below 0")
        parts.append(f"{before} {'+' if step > 0 else '−'} {abs(step)} = {now}{bound}.")
    low, high = int(pressure.low[number]), int(pressure.high[number])
    if low < high:
        parts.append(f"Missing hours could make it anything from {low} to {high}.")
    code = int(pressure.class_code[number])
    parts.append(f"{CLASS_WORDS[code].capitalize()}: {CLASS_MEANS[code]}.")
    return " ".join(parts)


def _words_of_day(days: Days, number: int) -> str:
    """What the thermometer said that day."""
    missing = float(days.missing_hours[number])
    gaps = f" {missing:g} h without readings." if missing else ""
    if np.isnan(days.max_degc[number]):
        return "No readings on this day."
    run = float(days.run_hours[number])
    verdict = "enough" if days.is_favourable[number] else "6 h are needed"
    start = float(days.run_from_hours[number])
    when = f", from {_clock(start)} to {_clock(start + run)}" if run else ""
    highest = float(days.max_degc[number])
    heat = ", hot enough to slow mildew" if days.is_hot[number] else ""
    return (
        f"{run:g} h unbroken between 70 and 85 °F (21 and 29 °C){when}: {verdict}."
        f" Highest {degf_from_degc(highest):.0f} °F ({highest:.1f} °C){heat}.{gaps}"
    )


def _words_of_start(now: int) -> str:
    """Where the start phase stands at the end of a day that belongs to it."""
    if now == 0:
        return "The season’s index has not started: it needs three such days in a row. It is 0."
    if now < 60:
        return f"Day {now // 20} of the three in a row that start the season’s index: {now}."
    return "Third such day in a row: the season’s index has started at 60."


def _clock(hours: float) -> str:
    """Hours after midnight as a time of day."""
    minutes = round(hours * 60)
    return f"{minutes // 60}:{minutes % 60:02d}"
