"""Pressure: how favourable the weather has been to powdery mildew, 0..100 (the published risk index).

Counting begins at budbreak, once a primary infection has taken place or mildew was found. Start phase, once a season: three
days in a row with 6 h or more unbroken within 70..85 °F bring 20, 40, 60; a day that fails before the third brings it back
to 0. From the day after: such a day adds 20, or only 10 on a day of heat; any other day takes 10 away, hot or not. Always
within 0..100. Heat is 95 °F for 15 minutes, or by the revision of 2013 38 degC for 2 h, here two hours on end: the paper
that we know of it does not say whether hours apart add up. Either takes 10 points off a good day and nothing off another.
Source: Gubler, Rademacher, Vasquez & Thomas 1999, doi 10.1094/APSnetFeature-1999-0199; heat of 2013: Peduto et al. 2013,
Plant Disease 97:1438.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from vinemap.columns import Bools, Bytes, Ints, freeze
from vinemap.errors import InputError
from vinemap.vineclock.days import UNKNOWN_HOURS, Days, split_days
from vinemap.vineclock.generations import Generations, count_generations, days_back
from vinemap.vineclock.infection import EVENT, Infections, find_infections
from vinemap.vineclock.weather import Weather

CLASS_WORDS = ("low", "moderate", "high")
CLASS_MEANS = (
    "mildew hardly grows",
    "about one generation in 15 days",
    "about one generation in 5 days",
)
HEAT_1999, HEAT_2013 = "1999", "2013"
HEAT_RULES = (HEAT_1999, HEAT_2013)
BEFORE, WAITING, INFECTED, FOUND, ASSUMED = range(5)
"""Why a day counts or does not: before budbreak; no infection yet; a primary infection; mildew found; infection assumed."""
SOUTHERN_YEAR_DAYS = 184
"""From 1 July to 31 December: seasons of the south begin half a year early."""

# Whether the start phase is over, and the index. In the start phase the index is 20 for each day of the streak.
_State = tuple[bool, int]
_START: _State = (False, 0)


@dataclass(frozen=True, slots=True)
class Terms:
    """What the index goes by: the ``heat`` rule, the rule of primary ``infection``, the day mildew was first ``found``
    (None where it was not), and whether seasons are those of the south (July to June)."""

    heat: str = HEAT_1999
    infection: str = EVENT
    found: dt.date | None = None
    is_southern: bool = False


USUAL = Terms()


@dataclass(frozen=True, slots=True, eq=False)
class Pressure:
    """The index of each day, and the range it could have if missing hours are taken either way. Columns are (n,).

    ``days``: the n days behind it; ``date``: date ordinal; ``index``, ``low``, ``high``: 0..100;
    ``class_code``: 0 low, 1 moderate, 2 high; ``is_started``: start phase over by the end of that day;
    ``is_kept``: too many hours missing, index kept from the day before; ``budbreak``: counted from then, or None
    where it was not known and the first reading was taken; ``is_heat``: a day of heat by the rule in ``terms``;
    ``why``: code of why the day counts; ``counts_from``: ordinal of the day the season counts from, 0 while it does not;
    ``if_present``: the index had it counted from budbreak; ``season``: the year of its season; ``infections`` and
    ``generations``: primary infections and how far they have come.
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
    terms: Terms
    is_heat: Bools
    why: Bytes
    counts_from: Ints
    if_present: Ints
    season: Ints
    infections: Infections
    generations: Generations

    def __post_init__(self) -> None:
        ints = ("date", "index", "low", "high", "counts_from", "if_present", "season")
        flags = ("is_started", "is_kept", "is_heat")
        kinds = dict.fromkeys(ints, np.int32) | dict.fromkeys(flags, np.bool_)
        freeze(self, **kinds, class_code=np.int8, why=np.int8)

    def __len__(self) -> int:
        return len(self.date)

    def at(self, date: dt.date) -> int:
        """The number of a date among the days. Raises InputError when there is no weather for it."""
        number = date.toordinal() - int(self.date[0])
        if not 0 <= number < len(self):
            raise InputError(f"There is no weather for {date}.", "Choose a day within the weather readings.")
        return number


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


def pressure(weather: Weather, budbreak: dt.date | None, terms: Terms = USUAL) -> Pressure:
    """Pressure on each day of the weather, counted from budbreak, or from the first reading where that is not known.

    Raises TooFewData when there is no temperature at all, InputError for a rule that is not known.
    Source: Gubler et al. 1999; Peduto et al. 2013.
    """
    return pressure_of_days(split_days(weather), budbreak, terms)


def pressure_of_days(days: Days, budbreak: dt.date | None, terms: Terms = USUAL) -> Pressure:
    """Pressure on each of the days. Source: Gubler et al. 1999; the range follows every index that is possible.

    Each season begins again. Counting waits for a primary infection or for mildew that was found, back to the day it must
    have come; from a day on whose rain or wetness nobody read, infection is assumed. In another year than that of its date
    budbreak is taken on the same day.
    """
    if terms.heat not in HEAT_RULES:
        raise InputError(f"“{terms.heat}” is no rule of heat.", f"Use one of {', '.join(HEAT_RULES)}.")
    season = _seasons(days, terms.is_southern)
    infections = find_infections(days, terms.infection, budbreak)
    why, counts_from = _gates(days, season, infections, budbreak, terms)
    heat, could_be_heat = (
        (days.is_hot, days.could_be_hot) if terms.heat == HEAT_1999 else (days.is_very_hot, days.could_be_very_hot)
    )
    present, state, possible = _START, _START, {_START}
    rows = []
    for number in range(len(days)):
        if number and season[number] != season[number - 1]:
            present, state, possible = _START, _START, {_START}
        is_kept = False
        favourable, hot = bool(days.is_favourable[number]), bool(heat[number])
        if why[number] > WAITING:
            cases = {
                (one, other)
                for one in (favourable, bool(days.could_be_favourable[number]))
                for other in (hot, bool(could_be_heat[number]))
            }
            ends = {case: _next(state, *case) for case in cases}
            is_unsure = favourable != bool(days.could_be_favourable[number]) and len(set(ends.values())) > 1
            is_kept = is_unsure and bool(days.missing_hours[number] > UNKNOWN_HOURS)
            possible = {_next(each, *case) for each in possible for case in cases}
            state = state if is_kept else ends[favourable, hot]
        if why[number] != BEFORE:
            present = present if is_kept else _next(present, favourable, hot)
        # A kept index is nobody's true one: in rare seasons it would fall just outside the possible ones.
        indices = [state[1], *(index for _, index in possible)]
        rows.append((state[1], min(indices), max(indices), state[0], is_kept, present[1]))
    index, low, high, started, kept, if_present = (np.array(column) for column in zip(*rows, strict=True))
    generations = count_generations(days, infections.is_event & (why != BEFORE), season)
    return Pressure(
        days, days.date, index, low, high, class_codes(index), started, kept, budbreak,
        terms, heat, why, counts_from, if_present, season, infections, generations,
    )  # fmt: skip


def _seasons(days: Days, is_southern: bool) -> Ints:
    """The year (n,) whose season each day belongs to: January to December, in the south July to June."""
    shift = SOUTHERN_YEAR_DAYS if is_southern else 0
    first, last = int(days.date[0]) + shift, int(days.date[-1]) + shift
    starts = [dt.date(year, 1, 1).toordinal() for year in range(dt.date.fromordinal(first).year, 1 + _year(last))]
    return np.asarray(np.searchsorted(starts, days.date + shift, side="right") - 1 + _year(first), np.int32)


def _year(ordinal: int) -> int:
    return dt.date.fromordinal(ordinal).year


def _gates(days: Days, season: Ints, infections: Infections, budbreak: dt.date | None, terms: Terms) -> tuple[Bytes, Ints]:
    """Code (n,) of why each day counts or does not, and ordinal (n,) of the day its season counts from, 0 while it waits."""
    why, counts_from = np.zeros(len(days), np.int8), np.zeros(len(days), np.int32)
    # what can't be excluded is assumed; so is what nobody read, be it as cold as it will
    is_unread = np.isnan(days.rain_mm if terms.infection == EVENT else days.wet_hours) | infections.could_be
    came = days_back(days, terms.found).toordinal() if terms.found else None
    for year in np.unique(season):
        inside = season == year
        buds = budbreak_in(int(year), budbreak, terms.is_southern)
        out = inside & (days.date >= (buds.toordinal() if buds else 0))
        why[out] = WAITING
        opened = {INFECTED: days.date[out & infections.is_event][:1], ASSUMED: days.date[out & is_unread][:1]}
        if came is not None:
            # mildew found in the last days of a season's weather came in that season
            found = days.date[out & (days.date >= came)][:1]
            is_its_own = terms.found is not None and season_of(terms.found, terms.is_southern) == year
            opened[FOUND] = found if is_its_own else found[:0]
        firsts = {code: int(dates[0]) for code, dates in opened.items() if len(dates)}
        if firsts:
            code = min(firsts, key=lambda each: (firsts[each], each))
            since = out & (days.date >= firsts[code])
            why[since], counts_from[since] = code, firsts[code]
    return why, counts_from


def season_of(date: dt.date, is_southern: bool) -> int:
    """The year whose season a date belongs to: that of its January, north and south."""
    return _year(date.toordinal() + (SOUTHERN_YEAR_DAYS if is_southern else 0))


def budbreak_in(year: int, budbreak: dt.date | None, is_southern: bool) -> dt.date | None:
    """Budbreak in the season of a year: as given for that one, else on the same day as in the year it was given for."""
    if budbreak is None:
        return None
    moved = budbreak.year + year - season_of(budbreak, is_southern)
    is_leap_day = (budbreak.month, budbreak.day) == (2, 29)
    return budbreak.replace(year=moved, day=28 if is_leap_day else budbreak.day) if moved != budbreak.year else budbreak


def _next(state: _State, favourable: bool, hot: bool) -> _State:
    """The state after one more day."""
    is_started, index = state
    if not is_started:
        index = index + 20 if favourable else 0
        return index == 60, index
    change = (10 if hot else 20) if favourable else -10
    return True, min(100, max(0, index + change))
