"""Botrytis bunch rot: infection by how long and how warm bunches were wet, and by what makes them prone to it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vinemap.columns import Bools, Floats, Ints, Seconds, freeze
from vinemap.vineclock.scales import CLOSING
from vinemap.vineclock.stage import date_words
from vinemap.vineclock.weather import Weather
from vinemap.vineclock.wetness import WetTime, wet_events, wet_time

_A, _B, _C, _D = -2.647866, -0.374927, 0.061601, -0.001511
COLDEST_DEGC, WARMEST_DEGC, TOO_HOT_DEGC, LEAST_WET_HOURS = 12.0, 32.0, 40.0, 4.0
NONE, LOW, MODERATE, HIGH = range(4)
CLASS_WORDS = ("none", "low", "moderate", "high")
CLASS_FROM = (0.0, 0.5, 1.0)
"""Index above which risk is low, and from which it is moderate and high."""

SCARRED_ADDS, PRONE_ADDS, TIGHT_ADDS = 1.0, 0.5, 0.25
"""What is added to the index where every cluster carries mildew (in share where fewer do), for a variety that is prone to rot
and for tight bunches. That they rot more is known (Gadoury et al. 2007; Panitrur-De la Fuente et al. 2018; Vail et al. 1998);
how much is a stated assumption: half a point is one class."""
PRONE_RATING, TIGHT_DENSITY = 3, 7
FLOWER_WINDOW, RIPE_WINDOW = (12.0, 29.0), (33.0, 38.0)
"""Numbers of the modified E-L scale between which bunches catch rot (Gonzalez-Dominguez et al. 2015)."""

_FAR_BEYOND = 5.0
"""Index from which all berries are taken as infected: 99 % by the model."""
_DAY = 86_400
_UNIX_DAY_ONE = dt.date(1970, 1, 1).toordinal()


def rot_index(wet_hours: npt.ArrayLike, temp_degc: npt.ArrayLike) -> Floats:
    """Index of infection (n,) of wet events (n,) [h] at their mean temperature (n,) [degC]; -inf where there can be none.

    Below 12 degC as at 12, from 32 to 40 degC as at 32; none at 40 degC and above, or with less than 4 h.
    Source: Broome, English, Marois, Latorre & Aviles 1995, Phytopathology 85:97, with the handling used since. Limits: fitted
    on detached ripe berries, 4 to 20 h, 12 to 30 degC.
    """
    hours, degc = np.asarray(wet_hours, np.float64), np.asarray(temp_degc, np.float64)
    used = np.clip(degc, COLDEST_DEGC, WARMEST_DEGC)
    index = _A + hours * (_B + _C * used + _D * used * used)
    return np.asarray(np.where((hours < LEAST_WET_HOURS - 1e-9) | (degc >= TOO_HOT_DEGC), -np.inf, index), np.float64)


def infection_of(index: npt.ArrayLike) -> Floats:
    """Share of berries infected (n,) 0..1 of an index (n,). Source: Broome et al. 1995."""
    with np.errstate(over="ignore"):
        return np.asarray(1.0 / (1.0 + np.exp(-np.asarray(index, np.float64))), np.float64)


def hours_to_index(index: float, temp_degc: float) -> float:
    """Wet hours [h] after which an event at a temperature [degC] reaches an index.

    Source: Broome et al. 1995, turned round.
    """
    used = min(max(temp_degc, COLDEST_DEGC), WARMEST_DEGC)
    return (index - _A) / (_B + _C * used + _D * used * used)


def class_of(index: npt.ArrayLike) -> Ints:
    """Class of risk (n,), ``NONE`` to ``HIGH``, of an index (n,): above 0 low, from 0.5 moderate, from 1 high."""
    value = np.asarray(index, np.float64)
    return np.asarray(
        (value > CLASS_FROM[0]).astype(np.int32) + (value >= CLASS_FROM[1]) + (value >= CLASS_FROM[2]), np.int32
    )


@dataclass(frozen=True, slots=True, eq=False)
class RotDays:
    """Risk of rot by day, (n,) a column.

    ``date``: ordinal; ``wet_hours``: wet on that day [h], ``estimated_hours`` of these not by a sensor, ``unread_hours``:
    nothing tells whether wet [h]; ``event_from``: when the event of that day began that had gone furthest [s of local
    standard time since 1970], -1 without one; ``event_hours``, ``event_degc``: how long it had been wet by then [h] and its
    mean [degC]; ``index``: what it had reached, -inf without one; ``index_high``: if it was wet where nothing tells it.
    """

    date: Ints
    wet_hours: Floats
    estimated_hours: Floats
    unread_hours: Floats
    event_from: Seconds
    event_hours: Floats
    event_degc: Floats
    index: Floats
    index_high: Floats

    def __post_init__(self) -> None:
        hours = ("wet_hours", "estimated_hours", "unread_hours", "event_hours", "event_degc", "index", "index_high")
        freeze(self, date=np.int32, event_from=np.int64, **dict.fromkeys(hours, np.float64))

    def __len__(self) -> int:
        return len(self.date)


def rot_days(weather: Weather) -> RotDays:
    """Risk of rot on each day of a station, in local standard time.

    An event goes on over midnight: each day shows what had been reached by its end. Raises TooFewData when nothing tells
    when it was wet, or no temperature was read. Source: Broome et al. 1995.
    """
    time = wet_time(weather)
    day = time.start_local // _DAY
    first = int(day[0])
    number, count = (day - first).astype(np.int64), int(day[-1]) - first + 1
    unread = np.isnan(time.wet_frac)
    wet = np.nan_to_num(time.wet_frac)

    def hours(share: Floats) -> Floats:
        return np.asarray(np.bincount(number, share * time.step_hours, minlength=count), np.float64)

    step, hours_so_far, mean, index = _furthest(time, wet, number, count)
    high = index if not unread.any() else _furthest(time, np.where(unread, 1.0, wet), number, count)[3]
    return RotDays(
        date=_UNIX_DAY_ONE + first + np.arange(count, dtype=np.int32),
        wet_hours=hours(wet),
        estimated_hours=hours(wet * time.is_estimated),
        unread_hours=hours(unread.astype(np.float64)),
        event_from=np.where(step >= 0, time.start_local[np.maximum(step, 0)], -1),
        event_hours=hours_so_far,
        event_degc=mean,
        index=index,
        index_high=np.maximum(high, index),
    )


def _furthest(time: WetTime, wet: Floats, number: Seconds, count: int) -> tuple[Seconds, Floats, Floats, Floats]:
    """Of each day (count,): first step of the event that got furthest, its wet hours, mean temperature and index by then."""
    event = wet_events(wet, time.start_local, time.step_hours)
    at = np.flatnonzero(event >= 0)
    begin, so_far, mean = np.full(count, -1, np.int64), np.zeros(count), np.full(count, np.nan)
    index = np.full(count, -np.inf)
    if not len(at):
        return begin, so_far, mean, index
    # hours too hot for infection add nothing
    share = wet[at] * (time.temp_degc[at] < TOO_HOT_DEGC) * time.step_hours[at]
    starts = np.flatnonzero(np.diff(event[at], prepend=-1))
    of = event[at]
    hours, warmth = (_cumulated(values, starts, of) for values in (share, share * time.temp_degc[at]))
    degc = warmth / np.maximum(hours, 1e-12)
    reached = rot_index(hours, degc)
    # of one day the step that got furthest, and of equal ones the last
    order = np.lexsort((hours, reached, number[at]))
    last = np.flatnonzero(np.diff(number[at][order], append=-1))
    best = order[last]
    days = number[at][best]
    begin[days], so_far[days], mean[days] = at[starts][of[best]], hours[best], degc[best]
    index[days] = reached[best]
    return begin, so_far, mean, index


def _cumulated(values: Floats, starts: Seconds, of: Ints) -> Floats:
    """Sum within each event so far."""
    total = np.cumsum(values)
    before = np.concatenate([[0.0], total])[starts]
    return np.asarray(total - before[of], np.float64)


@dataclass(frozen=True, slots=True)
class Prone:
    """What makes the bunches of a block prone to rot.

    ``variety``: its name; ``rating``: 1 low to 3 high; ``density``: of its bunches, OIV 204 note 1..9; ``scarred_frac``:
    share of clusters that carried mildew in the last round, None where none was walked; ``scarred_on``: its date.
    """

    variety: str = ""
    rating: int = 2
    density: int = 5
    scarred_frac: float | None = None
    scarred_on: dt.date | None = None


def raised_by(prone: Prone, modified: float | None = None) -> tuple[float, tuple[str, ...]]:
    """What is added to the index at a stage (number of the modified E-L scale, None where not known), and why.

    Only from the closing of bunches on: scars and tight bunches matter when berries press on one another and ripen.
    Source: that they rot more, Gadoury et al. 2007, Panitrur-De la Fuente et al. 2018, Vail et al. 1998; the amounts are a
    stated assumption.
    """
    if modified is not None and modified < CLOSING:
        return 0.0, ()
    added, reasons = 0.0, []
    if prone.rating >= PRONE_RATING:
        added += PRONE_ADDS
        reasons.append(f"{prone.variety or 'the variety'} is prone to rot (+{PRONE_ADDS:g})")
    if prone.density >= TIGHT_DENSITY:
        added += TIGHT_ADDS
        reasons.append(f"its bunches are tight (+{TIGHT_ADDS:g})")
    if prone.scarred_frac:
        scars = SCARRED_ADDS * prone.scarred_frac
        added += scars
        when = f" on {date_words(prone.scarred_on)}" if prone.scarred_on else ""
        reasons.append(
            f"{100 * prone.scarred_frac:.0f} % of clusters carried mildew{when}, and scarred berries crack (+{scars:.2f})"
        )
    return added, tuple(reasons)


def class_words(low: float, high: float) -> str:
    """The class of an index, or from which to which it may be: “low”, “none to high”."""
    first, last = (CLASS_WORDS[int(class_of(each))] for each in (low, high))
    return first if first == last else f"{first} to {last}"


def explain_rot(days: RotDays, number: int, prone: Prone, modified: float | None = None) -> str:
    """One day in words, with the figures that its class rests on."""
    parts = [_wet_words(days, number)]
    index, high = float(days.index[number]), float(days.index_high[number])
    if np.isfinite(index):
        hours, degc = float(days.event_hours[number]), float(days.event_degc[number])
        parts.append(
            f"Since {_moment(int(days.event_from[number]))} wet for {hours:.1f} h at {degc:.1f} °C: "
            f"index {index:.2f}, {100 * float(infection_of(index)):.0f} % of ripe berries would take it."
        )
    elif days.wet_hours[number] > 0:
        parts.append("No event of 4 hours yet: no infection.")
    if high > index:
        # far beyond the hours it was fitted on an index says no more than its class
        reached = f"index up to {high:.2f}" if high < _FAR_BEYOND else f"{CLASS_WORDS[HIGH]} risk"
        parts.append(f"If it was wet in the hours that were not read: {reached}.")
    added, reasons = raised_by(prone, modified)
    if reasons and np.isfinite(high):
        to = f" to {max(index, high) + added:.2f}" if high < _FAR_BEYOND else ""
        parts.append(f"Raised by {added:.2f}{to}: {'; '.join(reasons)}. How much is assumed.")
    if modified is not None and max(index, high) + added > CLASS_FROM[0]:
        parts += [_window_words(modified)]
    return " ".join(part for part in parts if part)


def _wet_words(days: RotDays, number: int) -> str:
    wet, estimated, unread = (float(column[number]) for column in (days.wet_hours, days.estimated_hours, days.unread_hours))
    said = f"Wet {wet:.1f} h" if wet > 0 else "Dry"
    if estimated > 0:
        part = "" if estimated >= wet - 1e-9 else f" {estimated:.1f} h of it"
        said += f",{part} estimated from rain and humidity"
    if unread >= 24:
        return "Nothing was read."
    return f"{said}." + (f" {unread:.1f} h not read." if unread > 0 else "")


def has_bunches(modified: npt.ArrayLike) -> Bools:
    """Whether flowers or bunches hang at stages (n,) of the modified E-L scale; NaN, a stage that is not known, counts so."""
    number = np.asarray(modified, np.float64)
    return np.asarray(~((number < FLOWER_WINDOW[0]) | (number > RIPE_WINDOW[1])), np.bool_)


def _window_words(modified: float) -> str:
    if not has_bunches(modified):
        return "There are no flowers yet to catch it." if modified < FLOWER_WINDOW[0] else "The bunches are picked by then."
    if FLOWER_WINDOW[0] <= modified <= FLOWER_WINDOW[1]:
        return "Flowers and small berries catch it, and it rests there until they ripen."
    if RIPE_WINDOW[0] <= modified <= RIPE_WINDOW[1]:
        return "Ripening bunches catch it."
    return "Bunches hardly catch it at this stage."


def _moment(local: int) -> str:
    at = dt.datetime(1970, 1, 1) + dt.timedelta(seconds=local)
    return f"{date_words(at.date())} {at:%H:%M}"
