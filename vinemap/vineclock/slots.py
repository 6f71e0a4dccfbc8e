"""Readings put on even steps of each day of local standard time, however unevenly a station stamps them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from vinemap.columns import Bytes, Floats, Seconds, freeze
from vinemap.vineclock.weather import Weather

DAY_SECONDS = 86_400
STEPS_SECONDS = (60, 120, 180, 240, 300, 360, 600, 720, 900, 1200, 1800, 3600)
"""Steps that divide an hour. What is sparser than hourly has hours missing."""
NOT_READ = -1

_SLOW_CLOCK = 0.97
# A stamp just short of the step, 9:59:40 or 9:57 of an hourly station, means the step that it misses: common practice.
_JUST_BEFORE = 0.95
_FEW = 4
# Stamps that agree less than this, 1 is wholly, have no usual lateness.
_LEAST_AGREEMENT = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Slots:
    """Readings of one day on even steps from midnight.

    ``number``: days since 1970-01-01; ``step_seconds``; ``temp_degc`` (m,) mean, ``low_degc``, ``high_degc`` (m,) lowest and
    highest [degC] of the readings that fall on each step, one as a rule;
    ``top_degc`` (m,) the same with the highest that a station keeps beside its readings; ``rain_mm`` (m,) their sum [mm];
    ``wet_frac`` (m,) their mean 0..1. NaN where none was read.
    ``origin`` (m,): highest code of where they come from, ``NOT_READ`` for none.
    """

    number: int
    step_seconds: int
    temp_degc: Floats
    low_degc: Floats
    high_degc: Floats
    top_degc: Floats
    rain_mm: Floats
    wet_frac: Floats
    origin: Bytes

    def __post_init__(self) -> None:
        names = ("temp_degc", "low_degc", "high_degc", "top_degc", "rain_mm", "wet_frac")
        freeze(self, **dict.fromkeys(names, np.float64), origin=np.int8)

    def __len__(self) -> int:
        return len(self.temp_degc)

    @property
    def step_hours(self) -> float:
        """Length of a step [h]."""
        return self.step_seconds / 3600

    @property
    def instants(self) -> Seconds:
        """Start of each step (m,) [s of local standard time since 1970]."""
        return self.number * DAY_SECONDS + self.step_seconds * np.arange(len(self), dtype=np.int64)


def slots_by_day(weather: Weather) -> tuple[Slots, ...]:
    """The days from the first reading to the last, none left out; a reading goes to the step nearest to its time.

    Readings that fall on one step are kept side by side, never one for the other. A station that always stamps some time
    after the full step, :05 or :30, is taken at its word. Empty where there are no readings.
    """
    if not len(weather):
        return ()
    local = weather.time_utc + round(weather.offset_hours * 3600)
    at, steps = _nearest(local)
    day = at // DAY_SECONDS
    first, last = int(day[0]), int(day[-1])
    bounds = np.searchsorted(day, np.arange(first, last + 2))
    usual = _usual_step(local, STEPS_SECONDS[-1])
    made = []
    for number, (start, stop) in enumerate(pairwise(bounds), first):
        chosen = slice(int(start), int(stop))
        step = steps.get(number, usual)
        made.append(_of_day(weather, chosen, number, step, (at[chosen] - number * DAY_SECONDS) // step))
    return tuple(made)


def _usual_step(local: Seconds, otherwise: int) -> int:
    """Usual spacing of readings [s], as the step that holds it; at most an hour."""
    if len(local) < 2:
        return otherwise
    spacing = _SLOW_CLOCK * float(np.median(np.diff(local)))
    return next((step for step in STEPS_SECONDS if step >= spacing), STEPS_SECONDS[-1])


def _nearest(local: Seconds) -> tuple[Seconds, dict[int, int]]:
    """The step that each reading (n,) belongs to [s of local time], and the step of each day that has some readings [s]."""
    day = local // DAY_SECONDS
    usual = _usual_step(local, STEPS_SECONDS[-1])
    usual_late = _lateness(local, usual)
    at = np.empty(len(local), np.int64)
    steps: dict[int, int] = {}
    edges = np.flatnonzero(np.diff(day)) + 1
    for start, stop in pairwise((0, *edges.tolist(), len(local))):
        there = local[start:stop]
        if len(there) < _FEW:
            step, late = usual, usual_late
        else:
            step = steps[int(day[start])] = _usual_step(there, usual)
            late = _lateness(there, step)
        at[start:stop] = np.rint((there - late) / step).astype(np.int64) * step
    # Where a day's clock differs from the next one's, the last reading must not overtake the first.
    return np.maximum.accumulate(at), steps


def _lateness(local: Seconds, step: int) -> float:
    """How long after the full step the stamps stand as a rule [s], from just before it to just before the next."""
    turn = np.exp(2j * np.pi * (local % step) / step).mean()
    if abs(turn) < _LEAST_AGREEMENT:
        return 0.0
    late = float(np.angle(turn)) / (2 * np.pi) % 1.0
    return step * (late - 1.0 if late > _JUST_BEFORE else late)


def _of_day(weather: Weather, chosen: slice, number: int, step: int, slot: Seconds) -> Slots:
    count = DAY_SECONDS // step
    temp = weather.temp_degc[chosen]
    low, high, top = (np.full(count, np.nan) for _ in range(3))
    np.fmin.at(low, slot, temp)
    np.fmax.at(high, slot, temp)
    np.fmax.at(top, slot, np.fmax(temp, weather.temp_max_degc[chosen]))
    origin = np.full(count, NOT_READ, np.int8)
    np.maximum.at(origin, slot, weather.origin[chosen])
    mean, _ = _mean_and_sum(temp, slot, count)
    _, rain = _mean_and_sum(weather.rain_mm[chosen], slot, count)
    wet, _ = _mean_and_sum(weather.wet_frac[chosen], slot, count)
    return Slots(number, step, mean, low, high, top, rain, wet, origin)


def _mean_and_sum(values: Floats, slot: Seconds, count: int) -> tuple[Floats, Floats]:
    """Mean and sum (count,) of the values known in each slot; NaN where there is none."""
    known = ~np.isnan(values)
    many = np.bincount(slot[known], minlength=count)
    total = np.where(many > 0, np.bincount(slot[known], values[known], minlength=count), np.nan)
    return total / np.maximum(many, 1), total
