"""When leaves and bunches were wet: by a sensor, else estimated from rain and humidity and marked so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vinemap.columns import Bools, Floats, Ints, freeze
from vinemap.errors import TooFewData
from vinemap.vineclock.weather import Weather

WET_FROM_RH_FRAC = 0.90
"""Air so damp that leaves count as wet (Sentelhas et al. 2008, Agricultural and Forest Meteorology 148:392, from memory)."""
WET_FROM_FRAC = 0.1
"""Share of a step from which it counts as wet: less is a sensor's noise (stated assumption)."""
DRY_HOURS = 4.0
"""So many hours dry end an event; a shorter break joins what is wet around it (Broome et al. 1995 as used since)."""

_FULL_SECONDS = 300
_STEPS_SECONDS = (60, 120, 300, 600, 900, 1200, 1800, 3600)


def wet_share(weather: Weather) -> tuple[Floats, Bools]:
    """Share of each reading's time that was wet (n,) 0..1, NaN where nothing tells it, and where that is estimated (n,).

    By the sensor where it was read; else wet with rain, or with a relative humidity of 90 % or more, and dry below.
    Source: Sentelhas et al. 2008 (hours with a relative humidity of 90 % or more), from memory.
    """
    lacks = np.isnan(weather.wet_frac)
    humid = np.where(np.isnan(weather.rh_frac), np.nan, weather.rh_frac >= WET_FROM_RH_FRAC)
    estimate = np.where(np.nan_to_num(weather.rain_mm) > 0, 1.0, humid)
    return np.where(lacks, estimate, weather.wet_frac), lacks & ~np.isnan(estimate)


@dataclass(frozen=True, slots=True, eq=False)
class WetTime:
    """Even steps of one station, none left out, from its first reading to its last.

    ``start_local``: of the first step [s of local standard time since 1970]; ``step_seconds``; ``wet_frac``: (m,) share of
    each step that was wet 0..1, NaN where not known; ``is_estimated``: (m,); ``temp_degc``: (m,) [degC], bridged.
    """

    start_local: int
    step_seconds: int
    wet_frac: Floats
    is_estimated: Bools
    temp_degc: Floats

    def __post_init__(self) -> None:
        freeze(self, wet_frac=np.float64, is_estimated=np.bool_, temp_degc=np.float64)

    def __len__(self) -> int:
        return len(self.wet_frac)

    @property
    def step_hours(self) -> float:
        """Length of a step [h]."""
        return self.step_seconds / 3600


def wet_time(weather: Weather) -> WetTime:
    """The readings of a station on even steps, each in the step nearest to its time; several in one step are averaged.

    Raises TooFewData when no temperature was read, or nothing that tells when it was wet.
    """
    share, estimated = wet_share(weather)
    if np.isnan(share).all():
        raise TooFewData(
            "Nothing tells when leaves were wet.", "Bring in leaf wetness, or relative humidity, beside the temperature."
        )
    if np.isnan(weather.temp_degc).all():
        raise TooFewData("There are no temperature readings.", "Bring in the station's hourly readings.")
    local = weather.time_utc + round(weather.offset_hours * 3600)
    usual = float(np.median(np.diff(local))) if len(local) > 1 else 3600.0
    step = min(_STEPS_SECONDS, key=lambda each: abs(each - usual))
    at = np.rint((local - local[0]) / step).astype(np.int64)
    count = int(at[-1]) + 1
    # a clock some seconds early must not move midnight
    early = float(local[0]) + float(np.median(local - local[0] - at * step))
    start = round(early / min(step, _FULL_SECONDS)) * min(step, _FULL_SECONDS)
    wet, temp = (_mean_of(values, at, count) for values in (share, weather.temp_degc))
    known = np.flatnonzero(~np.isnan(temp))
    is_estimated = np.zeros(count, bool)
    is_estimated[at[estimated]] = True
    return WetTime(start, step, wet, is_estimated, np.interp(np.arange(count), known, temp[known]))


def _mean_of(values: Floats, at: np.ndarray, count: int) -> Floats:
    known = ~np.isnan(values)
    many = np.bincount(at[known], minlength=count)
    total = np.bincount(at[known], values[known], minlength=count)
    return np.where(many > 0, total / np.maximum(many, 1), np.nan)


def wet_events(wet_frac: Floats, step_hours: float) -> Ints:
    """The number of the event that each step (m,) with its share wet (m,) belongs to, -1 where it is dry.

    Wet steps that less than four dry hours part are one event. A share that is not known counts as dry.
    Source: Broome, English, Marois, Latorre & Aviles 1995, Phytopathology 85:97, with a break of 4 h as used since.
    """
    event = np.full(len(wet_frac), -1, np.int32)
    wet = np.flatnonzero(np.nan_to_num(wet_frac) >= WET_FROM_FRAC)
    if len(wet):
        dry_hours = (np.diff(wet) - 1) * step_hours
        event[wet] = np.concatenate([[0], np.cumsum(dry_hours >= DRY_HOURS - 1e-9)])
    return event
