"""Growth stage: how open the fruit still is to mildew, and how much opening the canopy can still do about it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from vinemap.columns import Floats
from vinemap.errors import InputError

VERAISON_DAYS = 63.0
"""Usual days from bloom to veraison (from memory; enter the date when you have seen it)."""

BUDBREAK_DAYS = -60.0
"""Usual days from bloom to budbreak, which lies before it (from memory)."""

NO_INFECTION_BRIX, COLONIES_STOP_BRIX = 8.0, 15.0
"""Sugar [degrees Brix] from which fruit takes no new infection, and from which colonies on it stop (Gubler et al. 1999)."""

LEAF_AGING_PER_DAY = 0.147
"""How fast a leaf closes to mildew as it ages [per day] (Calonnec et al. 2008, from a work that cites it)."""

# Days from half bloom, and how open the fruit is then. Shaped from Ficke et al. 2003, Gadoury et al. 2007 and
# Gubler et al. 1999; a planning aid, not a published curve. Days before bloom stretch with the days from budbreak, days after
# it with the days until berries resist.
_BEFORE = ((-75.0, 0.0), (BUDBREAK_DAYS, 0.3), (-35.0, 0.3), (-10.0, 0.6), (0.0, 1.0))
_AFTER = ((14.0, 1.0), (17.5, 0.7), (24.5, 0.35), (28.0, 0.10))
_LETS_GO_DAYS = 1.0
"""The last tenth is held until the sugar stops new infection, and let go within the day before."""
_STALK_AT_COLOUR, _STALK_HARDENS_DAYS = 0.5, 45.0

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
"""Names of the months."""


def fruit_window(
    days_since_bloom: npt.ArrayLike,
    resists_days: float = 28.0,
    closed_days: float = VERAISON_DAYS,
    budbreak_days: float = BUDBREAK_DAYS,
) -> Floats:
    """How open the fruit is to mildew (n,) 0..1, for days since half bloom (n,) [days, negative before].

    ``resists_days``: days from bloom until berries are nearly immune; ``closed_days``: days from bloom until 8 Brix, or
    colour where sugar was not measured, from when no new infection takes: the last tenth stays until then;
    ``budbreak_days``: days from bloom to budbreak, negative. NaN stays NaN. Raises InputError when these are not in order.
    Source: planning curve shaped from Ficke et al. 2003, Gadoury et al. 2007 and Gubler et al. 1999 (stated assumption).
    """
    if not 0 < resists_days < closed_days:
        raise InputError(
            "Berries must resist after bloom and before veraison.", "Correct the days until berries resist or the dates."
        )
    if not budbreak_days < 0:
        raise InputError("Bloom must come after budbreak.", "Correct one of the two dates.")
    early, late = budbreak_days / BUDBREAK_DAYS, resists_days / 28.0
    before = ((day * early, weight) for day, weight in _BEFORE)
    after = ((day * late, weight) for day, weight in _AFTER)
    held_days = max(closed_days - _LETS_GO_DAYS, (resists_days + closed_days) / 2)
    at, weight = np.array((*before, *after, (held_days, 0.10), (closed_days, 0.0))).T
    return _smooth(np.asarray(days_since_bloom, np.float64), at, weight)


def _smooth(days: Floats, at: Floats, weight: Floats) -> Floats:
    """Between knots without a jump or a corner; beyond them as at the last one."""
    piece = np.clip(np.searchsorted(at, np.nan_to_num(days), side="right") - 1, 0, len(at) - 2)
    share = np.clip((days - at[piece]) / (at[piece + 1] - at[piece]), 0.0, 1.0)
    smooth = share * share * (3.0 - 2.0 * share)
    return np.asarray(weight[piece] + (weight[piece + 1] - weight[piece]) * smooth, np.float64)


def stalk_window(
    days_since_bloom: npt.ArrayLike,
    resists_days: float = 28.0,
    colour_days: float = VERAISON_DAYS,
    budbreak_days: float = BUDBREAK_DAYS,
) -> Floats:
    """How open the stalks of the bunches are to mildew (n,) 0..1, for days since half bloom (n,) [days].

    Like the fruit until bloom, wholly open until berries resist, half at colour, nothing about six weeks after that.
    Source: stalks stay open until they harden near harvest, Gadoury et al. 2001; the figures are a stated assumption.
    """
    days = np.asarray(days_since_bloom, np.float64)
    at = np.array([0.0, resists_days, colour_days, colour_days + _STALK_HARDENS_DAYS])
    after = _smooth(days, at, np.array([1.0, 1.0, _STALK_AT_COLOUR, 0.0]))
    return np.where(days < 0, fruit_window(days, resists_days, colour_days, budbreak_days), after)


def leaf_openness(age_days: npt.ArrayLike) -> Floats:
    """How open a leaf of an age (n,) [days] is to mildew, as a share of the youngest leaf (n,) 0..1.

    Source: Calonnec et al. 2008, Plant Pathology 57:493, from a work that cites it.
    """
    return np.asarray(np.exp(-LEAF_AGING_PER_DAY * np.maximum(np.asarray(age_days, np.float64), 0.0)), np.float64)


def opening_helps(days_since_bloom: npt.ArrayLike) -> Floats:
    """How much of its effect on mildew opening the canopy still has (n,) 0..1, for days since half bloom (n,) [days].

    Full until two weeks after bloom, none from five weeks on, straight between.
    Source: Austin & Wilcox 2011, AJEV 62:193 (lower severity at two weeks, no effect at five); the line between is assumed.
    """
    return np.asarray(np.clip((35.0 - np.asarray(days_since_bloom, np.float64)) / 21.0, 0.0, 1.0), np.float64)


def date_words(date: dt.date) -> str:
    """A date as people say it: "25 June"."""
    return f"{date.day} {MONTHS[date.month - 1]}"


def stage_words(
    bloom: dt.date | None,
    on_date: dt.date,
    resists_days: float = 28.0,
    is_estimate: bool = False,
    estimated: str = "from warmth",
) -> tuple[str, ...]:
    """What the date of bloom means on a date, as plain sentences."""
    if bloom is None:
        return ("Bloom is not known yet: enter its date as soon as half of the caps are off.",)
    resists = bloom + dt.timedelta(days=round(resists_days))
    best, useless = bloom + dt.timedelta(days=14), bloom + dt.timedelta(days=35)
    source = f" (estimated {estimated}, a week either way)" if is_estimate else ""
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


def day_of_brix(dates: Sequence[dt.date], brix: Sequence[float], level: float) -> dt.date | None:
    """The day when sugar reached a level [degrees Brix], between two measurements by a straight line; None before that.

    ``dates`` ascend. What is above the level in the first measurement counts from that day on.
    """
    for index, (date, value) in enumerate(zip(dates, brix, strict=True)):
        if value >= level:
            if index == 0:
                return date
            share = (level - brix[index - 1]) / (value - brix[index - 1])
            return dates[index - 1] + dt.timedelta(days=round(share * (date - dates[index - 1]).days))
    return None


def sugar_words(dates: Sequence[dt.date], brix: Sequence[float], on_date: dt.date) -> str:
    """What the sugar measured by a date [degrees Brix] means for mildew on the fruit, as one sentence.

    Source: Gubler et al. 1999 (new infection to 8 Brix; colonies bear spores until 12 to 15).
    """
    known = [(date, value) for date, value in zip(dates, brix, strict=True) if date <= on_date]
    if not known:
        return "Above 8 Brix fruit takes no new infection, above 15 colonies on it stop: enter Brix when it is measured."
    dates, brix = zip(*known, strict=True)
    stopped, closed = (day_of_brix(dates, brix, level) for level in (COLONIES_STOP_BRIX, NO_INFECTION_BRIX))
    last = f"Brix was {brix[-1]:.1f} on {date_words(dates[-1])}"
    if stopped is not None:
        return f"{last}, above 15 since about {date_words(stopped)}: colonies on the fruit have stopped."
    if closed is not None:
        return f"{last}, above 8 since about {date_words(closed)}: no new infection of fruit; colonies there stop above 15."
    return f"{last}: until 8 the fruit can still take mildew."
