"""How far an infection has come: progress through its latent period, when it would show, and generations since."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from vinemap.columns import Bools, Floats, Ints, freeze
from vinemap.vineclock.days import Days
from vinemap.vineclock.latency import latent_days

QUICKEST_DEGC = 3.244 / (2 * 0.067)
"""Where the latent period is shortest: the bottom of the curve of Caffi et al. 2011, 24.2 degC."""
LONGEST_AHEAD_DAYS = 60
_WEEK = 7


@dataclass(frozen=True, slots=True, eq=False)
class Generations:
    """Generations of mildew since the last and the first infection. Columns are (n,), one for each day.

    ``a_day_low``, ``a_day_high``: share of a latent period that the day adds, least and most where hours are missing;
    ``since``: date ordinal of the last infection before or on the day, 0 for none; ``low``, ``high``: latent periods since
    then (its own day is not counted); ``first``: ordinal of the season's first infection, 0 for none yet; ``all_low``,
    ``all_high``: latent periods since that one.
    """

    a_day_low: Floats
    a_day_high: Floats
    since: Ints
    low: Floats
    high: Floats
    first: Ints
    all_low: Floats
    all_high: Floats

    def __post_init__(self) -> None:
        numbers = ("a_day_low", "a_day_high", "low", "high", "all_low", "all_high")
        freeze(self, since=np.int32, first=np.int32, **dict.fromkeys(numbers, np.float64))


def count_generations(days: Days, is_event: Bools, season: Ints) -> Generations:
    """Generations since the infections (n,) of the days; ``season`` (n,) tells which days belong to one season.

    Progress of a day is 1 / latent period at its mean; a new generation begins when it adds up to 1.
    Source: Caffi et al. 2011, Plant Pathology 60:522, summed by day.
    """
    low, high = _progress_of_days(days)
    sums_low, sums_high = np.cumsum(low), np.cumsum(high)
    since, first = np.zeros(len(days), np.int32), np.zeros(len(days), np.int32)
    last_at, first_at = np.full(len(days), -1), np.full(len(days), -1)
    for number in range(len(days)):
        is_new = number == 0 or season[number] != season[number - 1]
        last_at[number], first_at[number] = (-1, -1) if is_new else (last_at[number - 1], first_at[number - 1])
        if is_event[number]:
            last_at[number] = number
            first_at[number] = number if first_at[number] < 0 else first_at[number]
    for at, ordinal in ((last_at, since), (first_at, first)):
        ordinal[at >= 0] = days.date[at[at >= 0]]
    parts = [np.where(at >= 0, sums - sums[at], 0.0) for at in (last_at, first_at) for sums in (sums_low, sums_high)]
    return Generations(low, high, since, parts[0], parts[1], first, parts[2], parts[3])


def shows_from(days: Days, generations: Generations, infected: dt.date) -> tuple[dt.date | None, bool]:
    """The day from which an infection of that date would show, and whether it lies after the weather's end.

    After the weather the warmth of its last week is taken to go on. None when that never brings it out within two months.
    Source: latent period of Caffi et al. 2011; first spores and what the eye sees come together within a day or two.
    """
    number = infected.toordinal() - int(days.date[0])
    a_day = (generations.a_day_low + generations.a_day_high) / 2
    so_far = np.cumsum(a_day[number + 1 :])
    reached = np.flatnonzero(so_far >= 1.0)
    if len(reached):
        return infected + dt.timedelta(days=int(reached[0]) + 1), False
    week = float(a_day[-_WEEK:].mean())
    left = 1.0 - (float(so_far[-1]) if len(so_far) else 0.0)
    if week * LONGEST_AHEAD_DAYS < left:
        return None, True
    return dt.date.fromordinal(int(days.date[-1]) + int(np.ceil(left / week - 1e-9))), True


def days_back(days: Days, found: dt.date) -> dt.date:
    """The latest day of infection that could have shown on the day mildew was found, by the warmth of the days between.

    Where the weather begins later, its first day. Source: latent period of Caffi et al. 2011.
    """
    _, a_day = _progress_of_days(days)
    last = min(found.toordinal() - int(days.date[0]), len(days) - 1)
    if last < 0:
        return found
    back = np.flatnonzero(np.cumsum(a_day[last::-1]) >= 1.0)
    return dt.date.fromordinal(int(days.date[last]) - (int(back[0]) + 1 if len(back) else last))


def _progress_of_days(days: Days) -> tuple[Floats, Floats]:
    """Least and most (n,) that each day can add: of its mean, or of the means that missing hours allow."""
    known = ~np.isnan(days.mean_degc)
    low = np.where(known, days.mean_degc, np.nan_to_num(days.mean_low_degc, nan=-np.inf))
    high = np.where(known, days.mean_degc, np.nan_to_num(days.mean_high_degc, nan=np.inf))
    ends = [_a_day(low), _a_day(high)]
    best = _a_day(np.clip(QUICKEST_DEGC, low, high))
    return np.minimum(*ends), best


def _a_day(mean_degc: Floats) -> Floats:
    """Share of a latent period (n,) that a day of that mean (n,) [degC] adds."""
    return np.asarray(1.0 / latent_days(np.clip(mean_degc, -60.0, 60.0)), np.float64)
