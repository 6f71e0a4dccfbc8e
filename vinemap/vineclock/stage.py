"""Growth stage: how open the fruit still is to mildew, and how much opening the canopy can still do about it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vinemap.columns import Floats
from vinemap.errors import InputError, TooFewData
from vinemap.vineclock.days import Days

BLOOM_DEGREE_DAYS = 1240.0
"""Sum to half bloom of a mid-season variety [degC days above 0]; varieties run from about 1210 to 1380 (from memory,
Parker et al. 2013)."""

VERAISON_DAYS = 63.0
"""Usual days from bloom to veraison (from memory; enter the date when you have seen it)."""

# Days from half bloom, and how open the fruit is then. Shaped from Ficke et al. 2003, Gadoury et al. 2007 and
# Gubler et al. 1999; a planning aid, not a published curve. Days after bloom stretch with the days until berries resist.
_BEFORE = ((-75.0, 0.0), (-60.0, 0.3), (-35.0, 0.3), (-10.0, 0.6), (0.0, 1.0))
_AFTER = ((14.0, 1.0), (17.5, 0.7), (24.5, 0.35), (28.0, 0.10))

_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def fruit_window(days_since_bloom: npt.ArrayLike, resists_days: float = 28.0, veraison_days: float = VERAISON_DAYS) -> Floats:
    """How open the fruit is to mildew (n,) 0..1, for days since half bloom (n,) [days, negative before].

    ``resists_days``: days from bloom until berries are nearly immune; ``veraison_days``: days from bloom until colour,
    from when no new infection takes. NaN stays NaN. Raises InputError when the two are not in order.
    Source: planning curve shaped from Ficke et al. 2003, Gadoury et al. 2007 and Gubler et al. 1999 (stated assumption).
    """
    if not 0 < resists_days < veraison_days:
        raise InputError(
            "Berries must resist after bloom and before veraison.", "Correct the days until berries resist or the dates."
        )
    stretch = resists_days / 28.0
    # The last tenth is held halfway to veraison, then let go.
    halfway = (resists_days + veraison_days) / 2
    knots = (*_BEFORE, *((day * stretch, weight) for day, weight in _AFTER), (halfway, 0.10), (veraison_days, 0.0))
    at, weight = np.array(knots).T
    days = np.asarray(days_since_bloom, np.float64)
    piece = np.clip(np.searchsorted(at, np.nan_to_num(days), side="right") - 1, 0, len(at) - 2)
    share = np.clip((days - at[piece]) / (at[piece + 1] - at[piece]), 0.0, 1.0)
    smooth = share * share * (3.0 - 2.0 * share)
    return np.asarray(weight[piece] + (weight[piece + 1] - weight[piece]) * smooth, np.float64)


def opening_helps(days_since_bloom: npt.ArrayLike) -> Floats:
    """How much of its effect on mildew opening the canopy still has (n,) 0..1, for days since half bloom (n,) [days].

    Full until two weeks after bloom, none from five weeks on, straight between.
    Source: Austin & Wilcox 2011, AJEV 62:193 (lower severity at two weeks, no effect at five); the line between is assumed.
    """
    return np.asarray(np.clip((35.0 - np.asarray(days_since_bloom, np.float64)) / 21.0, 0.0, 1.0), np.float64)


def date_words(date: dt.date) -> str:
    """A date as people say it: "25 June"."""
    return f"{date.day} {_MONTHS[date.month - 1]}"


def stage_words(
    bloom: dt.date | None, on_date: dt.date, resists_days: float = 28.0, is_estimate: bool = False
) -> tuple[str, ...]:
    """What the date of bloom means on a date, as plain sentences."""
    if bloom is None:
        return ("Bloom is not known yet: enter its date as soon as half of the caps are off.",)
    resists = bloom + dt.timedelta(days=round(resists_days))
    best, useless = bloom + dt.timedelta(days=14), bloom + dt.timedelta(days=35)
    source = " (estimated from warmth, a week either way)" if is_estimate else ""
    days = (on_date - bloom).days
    if days < 0:
        return (
            f"Bloom is expected about {date_words(bloom)}{source}.",
            "The fruit is most open to mildew from just before bloom to two weeks after.",
        )
    said = [f"Bloom was {date_words(bloom)}{source}, {days} {'day' if days == 1 else 'days'} ago."]
    if on_date < resists:
        said.append(f"Berries resist from about {date_words(resists)}. Stalks and young leaves stay open to mildew.")
    else:
        said.append(
            f"Berries have resisted new infection since about {date_words(resists)}. Stalks and young leaves have not."
        )
    if on_date <= best:
        said.append(f"Opening the canopy does most until {date_words(best)}.")
    elif on_date < useless:
        said.append(f"Opening the canopy does less each day, and nothing against mildew from {date_words(useless)}.")
    else:
        said.append("Opening now does nothing against mildew; it still lets spray in and dries bunches.")
    return tuple(said)


@dataclass(frozen=True, slots=True)
class BloomEstimate:
    """Bloom estimated from warmth, never seen. ``date`` is None while the sum is not reached; ``sum_degc_days`` so far or on
    that date; ``filled_days`` days without enough readings that were bridged; ``words`` says so in one sentence."""

    date: dt.date | None
    sum_degc_days: float
    filled_days: int
    words: str


def bloom_by_degree_days(days: Days, is_southern: bool, critical_sum: float = BLOOM_DEGREE_DAYS) -> BloomEstimate:
    """Half bloom estimated as the day when daily means above 0 degC add up to ``critical_sum`` [degC days].

    Counted from 1 March, south of the equator from 30 August, of the season in which the weather ends. Days with more than
    6 h missing are bridged from their neighbours and counted; more than 7 such days are refused.
    Raises TooFewData when the weather starts later than that day, or has too many gaps.
    Source: Parker, Garcia de Cortazar-Atauri, van Leeuwen & Chuine 2011, AJGWR 17:206; southern start from memory.
    """
    last = dt.date.fromordinal(int(days.date[-1]))
    month, day = (8, 30) if is_southern else (3, 1)
    start = dt.date(last.year, month, day)
    if start > last:
        start = dt.date(last.year - 1, month, day)
    first = start.toordinal() - int(days.date[0])
    if first < 0:
        raise TooFewData(
            f"Bloom can't be estimated: the weather begins after {date_words(start)}.",
            "Bring in weather from that day on, or enter the date of bloom.",
        )
    mean = (days.max_degc[first:] + days.min_degc[first:]) / 2
    good = (days.missing_hours[first:] <= 6) & ~np.isnan(mean)
    # Gaps after the last good day are not bridged: nothing is known there yet.
    end = int(np.flatnonzero(good)[-1]) + 1 if good.any() else 0
    number = np.arange(end)
    bridged = np.interp(number, number[good[:end]], mean[:end][good[:end]]) if end else np.empty(0)
    sums = np.cumsum(np.maximum(bridged, 0.0))
    reached = np.flatnonzero(sums >= critical_sum)
    used = int(reached[0]) + 1 if len(reached) else end
    filled = int((~good[:used]).sum())
    if filled > 7:
        raise TooFewData(
            f"Bloom can't be estimated: {filled} days since {date_words(start)} lack readings.", "Enter the date of bloom."
        )
    total = float(sums[used - 1]) if used else 0.0
    if not len(reached):
        words = f"Bloom is not near: {total:.0f} of {critical_sum:.0f} degree days since {date_words(start)}."
        return BloomEstimate(None, total, filled, words)
    date = start + dt.timedelta(days=used - 1)
    words = f"Bloom about {date_words(date)}, estimated from warmth, a week either way. Enter the date that you saw."
    return BloomEstimate(date, total, filled, words)
