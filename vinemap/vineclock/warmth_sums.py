"""Sums of warmth: bloom and colour by degree days, and how warm the season is."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from vinemap.columns import Bools, Floats, Ints, freeze
from vinemap.errors import TooFewData
from vinemap.vineclock.days import Days
from vinemap.vineclock.stage import date_words

BLOOM_DEGREE_DAYS, COLOUR_DEGREE_DAYS = 1240.0, 2600.0
"""Sums to half bloom and to half colour of a mid-season variety [degC days above 0]; varieties run from about 1210 to 1380
and from 2340 to 2800 (from memory, Parker et al. 2011 and 2013)."""

MOST_MISSING_HOURS = 3.0
"""Hours that a day's mean may lack (stated assumption); a day that lacks more is bridged from its neighbours."""
MOST_BRIDGED_DAYS = 7
RECENT_DAYS, LONGEST_AHEAD_DAYS = 14, 45
"""What is to come is taken as warm as the last fortnight, and for no more than six weeks (stated assumption)."""

WINKLER_BASE_DEGC = 10.0
_WINKLER = ((1500, "Ia"), (2000, "Ib"), (2500, "II"), (3000, "III"), (3500, "IV"), (4000, "V"))


def season_bounds(date: dt.date, is_southern: bool) -> tuple[dt.date, dt.date]:
    """First and last day of the growing season that a date lies in: the year, south of the equator 1 July to 30 June."""
    if not is_southern:
        return dt.date(date.year, 1, 1), dt.date(date.year, 12, 31)
    year = date.year - (date.month < 7)
    return dt.date(year, 7, 1), dt.date(year + 1, 6, 30)


def sum_start(date: dt.date, is_southern: bool) -> dt.date:
    """The day from which warmth is summed in the season of a date: 1 March, south of the equator 30 August.

    Source: Parker, Garcia de Cortazar-Atauri, van Leeuwen & Chuine 2011, AJGWR 17:206; southern start from memory.
    """
    first, _ = season_bounds(date, is_southern)
    return dt.date(first.year, *((8, 30) if is_southern else (3, 1)))


@dataclass(frozen=True, slots=True, eq=False)
class WarmthSum:
    """Warmth from a first day on, a day a line, until the last day that was read.

    ``date``: (n,) ordinal; ``mean_degc``: (n,) mean of the day's hours [degC]; ``is_bridged``: (n,) taken from the days
    around; ``sum_degc_days``: (n,) [degC days above ``base_degc``] until that day's end.
    """

    base_degc: float
    date: Ints
    mean_degc: Floats
    is_bridged: Bools
    sum_degc_days: Floats

    def __post_init__(self) -> None:
        freeze(self, date=np.int32, mean_degc=np.float64, is_bridged=np.bool_, sum_degc_days=np.float64)

    def reached(self, critical: float) -> int | None:
        """Index of the first day when the sum is at least ``critical`` [degC days], or None."""
        found = np.flatnonzero(self.sum_degc_days >= critical)
        return int(found[0]) if len(found) else None


def warmth_sum(days: Days, first: dt.date, last: dt.date, base_degc: float = 0.0) -> WarmthSum:
    """Warmth above a base summed from one day to another, or to the last day that was read.

    A day's warmth is the mean of its hours. Raises TooFewData when the weather starts later than the first day.
    Source: Parker et al. 2011 (base 0 degC).
    """
    start = first.toordinal() - int(days.date[0])
    if start < 0:
        raise TooFewData(f"The weather begins after {date_words(first)}.", "Bring in weather from that day on.")
    stop = max(min(last.toordinal() - int(days.date[0]) + 1, len(days)), start)
    mean = days.mean_degc[start:stop]
    good = (days.missing_hours[start:stop] <= MOST_MISSING_HOURS) & ~np.isnan(mean)
    # days after the last good one are not bridged: nothing is known there yet
    end = int(np.flatnonzero(good)[-1]) + 1 if good.any() else 0
    number = np.arange(end)
    mean = np.interp(number, number[good[:end]], mean[:end][good[:end]]) if end else np.empty(0)
    sums = np.cumsum(np.maximum(mean - base_degc, 0.0))
    return WarmthSum(base_degc, np.asarray(first.toordinal() + number, np.int32), mean, ~good[:end], sums)


@dataclass(frozen=True, slots=True)
class StageByWarmth:
    """A stage dated by warmth, never seen.

    ``date``: when the sum was reached, else when it will be if it stays as warm as in the last fortnight, None where that is
    too far off; ``is_reached``; ``sum_degc_days``: on that date, or so far; ``filled_days``: days without enough readings
    that were bridged; ``words`` says so in one sentence.
    """

    date: dt.date | None
    is_reached: bool
    sum_degc_days: float
    filled_days: int
    words: str


def stage_by_warmth(days: Days, on_date: dt.date, is_southern: bool, critical: float, name: str = "Bloom") -> StageByWarmth:
    """The day when daily means above 0 degC add up to ``critical`` [degC days], in the season of a date.

    ``name`` is what the words call it. Raises TooFewData when the weather starts too late or has too many gaps.
    Source: Parker, Garcia de Cortazar-Atauri, van Leeuwen & Chuine 2011, AJGWR 17:206.
    """
    first, last = sum_start(on_date, is_southern), season_bounds(on_date, is_southern)[1]
    enter = f"Enter the date of {name.lower()}."
    try:
        warmth = warmth_sum(days, first, last)
    except TooFewData as error:
        raise TooFewData(f"{name} can't be estimated: the weather begins after {date_words(first)}.", enter) from error
    at = warmth.reached(critical)
    used = len(warmth.date) if at is None else at + 1
    filled = int(warmth.is_bridged[:used].sum())
    if filled > MOST_BRIDGED_DAYS:
        raise TooFewData(f"{name} can't be estimated: {filled} days since {date_words(first)} lack readings.", enter)
    total = float(warmth.sum_degc_days[used - 1]) if used else 0.0
    if at is not None:
        date = first + dt.timedelta(days=at)
        words = f"{name} about {date_words(date)}, estimated from warmth, a week either way. Enter the date that you saw."
        return StageByWarmth(date, True, total, filled, words)
    so_far = f"{total:.0f} of {critical:.0f} degree days since {date_words(first)}"
    recent = float(warmth.mean_degc[-RECENT_DAYS:].mean()) if used >= RECENT_DAYS else 0.0
    left = np.ceil((critical - total) / recent) if recent > 0 else np.inf
    if left > LONGEST_AHEAD_DAYS:
        return StageByWarmth(None, False, total, filled, f"{name} is not near: {so_far}.")
    date = dt.date.fromordinal(int(warmth.date[-1])) + dt.timedelta(days=int(left))
    words = f"{name} about {date_words(date)} if it stays as warm as in the last two weeks: {so_far}."
    return StageByWarmth(date, False, total, filled, words)


def winkler(max_degc: Floats, min_degc: Floats) -> float:
    """Winkler's sum [degF days] of days' extremes (n,) [degC]; days that lack one count nothing.

    Source: Amerine & Winkler 1944, Hilgardia 15:493: the middle of the day's extremes above 50 degF.
    """
    above = np.maximum((np.asarray(max_degc) + np.asarray(min_degc)) / 2 - WINKLER_BASE_DEGC, 0.0)
    return float(np.nansum(above)) * 1.8


def winkler_region(sum_degf_days: float) -> str:
    """Winkler's region, "Ia" to "V", of a whole season's sum [degF days].

    Source: Amerine & Winkler 1944; Ia and Ib, and the bounds, from memory.
    """
    if sum_degf_days < 1500:
        return "below I"
    return next((name for bound, name in reversed(_WINKLER) if sum_degf_days > bound), "Ia")


@dataclass(frozen=True, slots=True)
class WinklerSum:
    """Winkler's sum [degF days] from 1 April (1 October) until ``last``; ``missing_days`` could not be counted."""

    sum_degf_days: float
    last: dt.date
    is_whole: bool
    missing_days: int


def winkler_of_season(days: Days, on_date: dt.date, is_southern: bool) -> WinklerSum:
    """Winkler's sum of the season that a date lies in, until the last day that was read.

    Counted from 1 April to 31 October, south of the equator from 1 October to 30 April. Raises TooFewData when the weather
    begins later. Source: Amerine & Winkler 1944, Hilgardia 15:493.
    """
    year = season_bounds(on_date, is_southern)[0].year
    first, last = (
        (dt.date(year, 10, 1), dt.date(year + 1, 4, 30)) if is_southern else (dt.date(year, 4, 1), dt.date(year, 10, 31))
    )
    start, stop = (each.toordinal() - int(days.date[0]) for each in (first, last + dt.timedelta(days=1)))
    if not 0 <= start < len(days):
        raise TooFewData(f"The weather does not hold {date_words(first)}.", "Bring in weather from that day on.")
    chosen = slice(start, min(stop, len(days)))
    high, low = days.max_degc[chosen], days.min_degc[chosen]
    lacking = (days.missing_hours[chosen] > MOST_MISSING_HOURS) | np.isnan(high + low)
    total = winkler(np.where(lacking, np.nan, high), low)
    end = first + dt.timedelta(days=len(high) - 1)
    return WinklerSum(total, end, end == last, int(lacking.sum()))
