"""Growth stages of the vine in three scales, whose numbers look alike and do not mean the same."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vinemap.columns import Floats
from vinemap.errors import InputError

BBCH, MODIFIED, ORIGINAL = "BBCH", "modified E-L", "E-L 1977"
SCALES = (BBCH, MODIFIED, ORIGINAL)
"""Lorenz et al. 1995; Eichhorn and Lorenz as modified by Coombe 1995; Eichhorn and Lorenz 1977."""

GREEN_TIP, FIRST_CAPS, HALF_BLOOM, FRUIT_SET, CLOSING, SOFTENING, COLOUR, RIPE = 4, 19, 23, 27, 32, 34, 35, 38
"""Numbers of the modified E-L scale."""


@dataclass(frozen=True, slots=True)
class Event:
    """One stage by name with its number in each scale (None where a scale has none), and the usual days from half bloom."""

    name: str
    bbch: int
    modified: int
    original: int | None
    days_from_bloom: float


# BBCH: Lorenz et al. 1995. Modified E-L: Coombe 1995, from memory but for 29, 33 and 35. E-L 1977: from memory but for 5, 12
# and 33. Days from bloom: from memory of a temperate season, fitted to what the fruit window takes them for.
EVENTS = (
    Event("woolly bud", 5, 3, 3, -68),
    Event("budbreak", 9, GREEN_TIP, 5, -60),
    Event("first leaf unfolded", 11, 7, 7, -52),
    Event("five leaves, flower clusters visible", 53, 12, 12, -35),
    Event("flower clusters swelling", 55, 15, 15, -22),
    Event("flowers separating", 57, 17, 17, -10),
    Event("first caps off", 60, FIRST_CAPS, 19, -5),
    Event("one cap in ten off", 61, 20, None, -4),
    Event("half of the caps off", 65, HALF_BLOOM, 23, 0),
    Event("four caps in five off", 68, 25, 25, 3),
    Event("end of bloom", 69, 26, None, 5),
    Event("fruit set", 71, FRUIT_SET, 27, 8),
    Event("berries of 4 mm", 73, 29, 29, 14),
    Event("berries of pea size", 75, 31, 31, 21),
    Event("bunches begin to close", 77, CLOSING, 33, 35),
    Event("berries hard and green", 79, 33, None, 45),
    Event("berries begin to soften", 85, SOFTENING, None, 58),
    Event("berries take colour", 81, COLOUR, 35, 63),
    Event("ripe", 89, RIPE, 38, 110),
    Event("leaves fallen", 97, 47, 47, 180),
)
_MODIFIED = np.array([each.modified for each in EVENTS], np.float64)
_DAYS = np.array([each.days_from_bloom for each in EVENTS], np.float64)
# Softening (85) comes before colour (81) on the vine: only its own number is read so. Five leaves is 15 as well as 53.
_BY_BBCH = sorted([(each.bbch, each.modified) for each in EVENTS if each.modified != SOFTENING] + [(15, 12)])
_NUMBERS = {
    BBCH: (range(0, 20), range(51, 70), range(71, 80), range(81, 90), range(91, 100)),
    MODIFIED: (range(1, 48),),
    ORIGINAL: (range(1, 48),),
}


def check_stage(scale: str, number: int) -> None:
    """Raises InputError when the scale is not known, or has no such number."""
    if scale not in SCALES:
        raise InputError(f"“{scale}” is no scale of growth stages.", f"Use one of {', '.join(SCALES)}.")
    if not any(number in each for each in _NUMBERS[scale]):
        spans = ", ".join(f"{each[0]:02d} to {each[-1]}" for each in _NUMBERS[scale])
        raise InputError(f"{scale} {number} is no stage of the vine.", f"The scale has {spans}.")


def modified_of(scale: str, number: int) -> int:
    """The number in the modified E-L scale of a stage in any scale; between two stages the last number that is reached.

    Raises InputError. Source: Lorenz et al. 1995, Coombe 1995; what lies between two listed stages is interpolated.
    """
    check_stage(scale, number)
    if scale == BBCH:
        if number == 85:
            return SOFTENING
        at, reads = zip(*_BY_BBCH, strict=True)
        return int(np.interp(number, at, reads))
    if scale == ORIGINAL:
        return {each.original: each.modified for each in EVENTS if each.original is not None}.get(number, number)
    return number


def event_of(modified: float) -> Event | None:
    """The last listed stage that a number of the modified E-L scale has reached, None before the first."""
    index = int(np.searchsorted(_MODIFIED, modified + 1e-9, side="right")) - 1
    return EVENTS[index] if index >= 0 else None


def usual_days(modified: float) -> float:
    """Usual days from half bloom [days] of a number in the modified E-L scale, negative before; from memory."""
    return float(np.interp(modified, _MODIFIED, _DAYS))


def modified_on(days_from_bloom: float) -> float:
    """The number in the modified E-L scale usual so many days [days] from half bloom; from memory."""
    return float(np.interp(days_from_bloom, _DAYS, _MODIFIED))


def stage_text(scale: str, number: int) -> str:
    """A stage with its scale and what it is: “modified E-L 27 (fruit set)”."""
    found = event_of(modified_of(scale, number))
    code = f"{number:02d}" if scale == BBCH else f"{number}"
    if found is None:
        return f"{scale} {code}"
    is_that = modified_of(scale, number) == found.modified
    return f"{scale} {code} ({'' if is_that else 'past '}{found.name})"


def trap_words(scale: str, number: int) -> str:
    """What to say where the two E-L scales have one number for two stages, else ""."""
    if scale == BBCH or number not in (GREEN_TIP, 5, CLOSING, 33):
        return ""
    if scale == ORIGINAL:
        return f"In the modified scale that is {modified_of(scale, number)}." if number in (5, 33) else ""
    if number in (GREEN_TIP, 5):
        return "In the scale of 1977 budbreak is 5, in the modified one 4. Write “E-L 1977 5” if that is meant."
    return (
        "In the scale of 1977 bunches begin to close at 33, in the modified one at 32; there 33 is hard and green berries. "
        "Write “E-L 1977 33” if that is meant."
    )


def modified_by_day(known: Sequence[tuple[int, dt.date]], ordinal: npt.ArrayLike) -> Floats:
    """The number in the modified E-L scale on each day (n,) [ordinal], from the dates of some numbers; at least one.

    Between two of them, and beyond, stages follow each other as they usually do. Of those that contradict each other the
    earlier in ``known`` counts. Source: usual days from memory.
    """
    kept: list[tuple[int, int]] = []
    for number, date in known:
        day = date.toordinal()
        if all((number - other) * (day - then) > 0 for other, then in kept):
            kept.append((number, day))
    kept.sort()
    at = np.array([day for _, day in kept], np.float64)
    usual = np.array([usual_days(number) for number, _ in kept])
    days = np.asarray(ordinal, np.float64)
    inside = np.interp(days, at, usual)
    beyond = np.minimum(days - at[0], 0.0) + np.maximum(days - at[-1], 0.0)
    return np.asarray(np.interp(inside + beyond, _DAYS, _MODIFIED, left=1.0), np.float64)
