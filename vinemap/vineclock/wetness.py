"""When leaves and bunches were wet: by a sensor, else estimated from rain and humidity and marked so."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vinemap.columns import Bools, Floats, Ints, Seconds, freeze
from vinemap.errors import TooFewData
from vinemap.vineclock.slots import slots_by_day
from vinemap.vineclock.weather import Weather

WET_FROM_RH_FRAC = 0.90
"""Air so damp that leaves count as wet (Sentelhas et al. 2008, Agricultural and Forest Meteorology 148:392, from memory)."""
WET_FROM_FRAC = 0.1
"""Share of a step from which it counts as wet: less is a sensor's noise (stated assumption)."""
DRY_HOURS = 4.0
"""So many hours dry end an event; a shorter break joins what is wet around it (Broome et al. 1995 as used since)."""


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
    """Steps of one station, none left out, from its first reading to its last.

    ``start_local``: (m,) of each step [s of local standard time since 1970]; ``step_hours``: (m,) its length [h];
    ``wet_frac``: (m,) share of it that was wet 0..1, NaN where not known; ``is_estimated``: (m,); ``temp_degc``: (m,) [degC],
    bridged where missing.
    """

    start_local: Seconds
    step_hours: Floats
    wet_frac: Floats
    is_estimated: Bools
    temp_degc: Floats

    def __post_init__(self) -> None:
        floats = dict.fromkeys(("step_hours", "wet_frac", "temp_degc"), np.float64)
        freeze(self, start_local=np.int64, is_estimated=np.bool_, **floats)

    def __len__(self) -> int:
        return len(self.wet_frac)


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
    # the mark of what is estimated travels in the place of where readings come from
    days = slots_by_day(replace(weather, wet_frac=share, origin=estimated.astype(np.int8)))
    start = np.concatenate([each.instants for each in days])
    hours = np.concatenate([np.full(len(each), each.step_hours) for each in days])
    wet, temp = (np.concatenate([getattr(each, name) for each in days]) for name in ("wet_frac", "temp_degc"))
    guessed = np.concatenate([each.origin for each in days]) > 0
    known = np.flatnonzero(~np.isnan(temp))
    read = np.flatnonzero(~np.isnan(temp) | ~np.isnan(wet))
    kept = slice(int(read[0]), int(read[-1]) + 1)
    bridged = np.interp(start, start[known], temp[known])
    return WetTime(start[kept], hours[kept], wet[kept], guessed[kept], bridged[kept])


def wet_events(wet_frac: Floats, start_local: Seconds, step_hours: Floats) -> Ints:
    """The number of the event that each step (m,) with its share wet (m,), start (m,) [s] and length (m,) [h] belongs to.

    -1 where it is dry. Wet steps that less than four dry hours part are one event. A share that is not known counts as dry.
    Source: Broome, English, Marois, Latorre & Aviles 1995, Phytopathology 85:97, with a break of 4 h as used since.
    """
    event = np.full(len(wet_frac), -1, np.int32)
    wet = np.flatnonzero(np.nan_to_num(wet_frac) >= WET_FROM_FRAC)
    if len(wet):
        dry_hours = np.diff(start_local[wet]) / 3600 - step_hours[wet[:-1]]
        event[wet] = np.concatenate([[0], np.cumsum(dry_hours >= DRY_HOURS - 1e-9)])
    return event
