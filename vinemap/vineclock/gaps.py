"""Where readings are missing, and readings that jump where no neighbour does."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from vinemap.columns import Bools, Floats, Seconds
from vinemap.vineclock.weather import Weather

NEAR_SECONDS = 7200
"""How far to both sides neighbours are asked [s]: a choice."""
JUMP_DEGC, JUMP_MS = 10.0, 20.0
"""How far a reading may stand from the middle of those before and of those after it, to the same side. Choices: a front or a
storm changes the air faster than that at times, but it does not bring it back within two hours."""
MOST_RAIN_MM = 100.0
"""Most rain in one interval of an hour or less [mm]; a choice, above a cloudburst of the wine lands (from memory)."""
_LONGEST_STEP, _SHORTEST_STEP = 3600, 60
_TOLERANCE = 1.5


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch without temperature: unix seconds of its beginning and end, and how long it is [h]."""

    start_utc: int
    end_utc: int
    hours: float


@dataclass(frozen=True, slots=True)
class Spike:
    """A reading that can't be: its index, its column, and why in words."""

    index: int
    column: str
    why: str


def usual_step_seconds(time_utc: Seconds) -> int:
    """The usual spacing [s] of readings at unix seconds (n,), a minute to an hour; an hour where there is only one.

    Source: the median of the spacings, so that gaps and stamps that wander by seconds do not count.
    """
    if len(time_utc) < 2:
        return _LONGEST_STEP
    step = int(np.median(np.diff(time_utc)))
    # stamps may wander by seconds: 3,598 s is an hour
    step = round(step / 60) * 60 if step >= _SHORTEST_STEP else step
    return min(_LONGEST_STEP, max(_SHORTEST_STEP, step))


def find_gaps(weather: Weather) -> tuple[Gap, ...]:
    """Stretches between two temperatures that lack at least one reading, in order of time; lengths in [h].

    Source: a spacing of more than one and a half of the usual one (a choice; stamps wander).
    """
    known = weather.time_utc[~np.isnan(weather.temp_degc)]
    step = usual_step_seconds(weather.time_utc)
    gaps = []
    for before, after in pairwise(known.tolist()):
        if after - before > _TOLERANCE * step:
            gaps.append(Gap(before + step, after, (after - before - step) / 3600))
    return tuple(gaps)


def find_spikes(weather: Weather) -> tuple[Spike, ...]:
    """Readings that no neighbour supports: temperature [degC], wind [m/s] and rain [mm], in order of time.

    A temperature or wind stands alone when it lies more than ``JUMP_DEGC`` or ``JUMP_MS`` above the median of the readings
    of the two hours before it and above that of the two hours after it, or below both. Readings without neighbours to both
    sides are not judged. Source: stated rule, a choice.
    """
    found = []
    for column, jump, unit in (
        ("temp_degc", JUMP_DEGC, "°C"),
        ("temp_max_degc", JUMP_DEGC, "°C"),
        ("wind_ms", JUMP_MS, "m/s"),
    ):
        values = getattr(weather, column)
        for index, away in _alone(weather.time_utc, values, jump):
            side = "above" if away > 0 else "below"
            found.append(Spike(index, column, f"stands {abs(away):.0f} {unit} {side} the readings before and after it"))
    for soaked in np.flatnonzero(weather.rain_mm > MOST_RAIN_MM):
        found.append(Spike(int(soaked), "rain_mm", f"is more than {MOST_RAIN_MM:g} mm in one interval"))
    return tuple(sorted(found, key=lambda spike: (spike.index, spike.column)))


def _alone(time_utc: Seconds, values: Floats, jump: float) -> list[tuple[int, float]]:
    """Indices of values that stand alone, and by how much."""
    there = np.flatnonzero(~np.isnan(values))
    if len(there) < 3:
        return []
    at, known = time_utc[there], values[there]
    low = np.searchsorted(at, at - NEAR_SECONDS)
    high = np.searchsorted(at, at + NEAR_SECONDS, side="right")
    suspects = np.flatnonzero(_may_stand_out(at, known, jump) | _may_stand_out(at, -known, jump))
    found = []
    for index in suspects.tolist():
        before, after = known[low[index] : index], known[index + 1 : high[index]]
        if not len(before) or not len(after):
            continue
        aways = known[index] - np.median(before), known[index] - np.median(after)
        if min(aways) > jump or max(aways) < -jump:
            found.append((int(there[index]), float(min(aways, key=abs))))
    return found


def _may_stand_out(at: Seconds, known: Floats, jump: float) -> Bools:
    """Whether something lies far below a value both before and after it: only these are looked at closely."""
    pane = (at - at[0]) // NEAR_SECONDS + 1
    least = np.full(int(pane[-1]) + 2, np.inf)
    np.minimum.at(least, pane, known)
    before, after = np.minimum(least[pane - 1], least[pane]), np.minimum(least[pane], least[pane + 1])
    may: Bools = (known - before > jump) & (known - after > jump)
    return may
