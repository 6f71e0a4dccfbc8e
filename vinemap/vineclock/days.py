"""Readings gathered into days of local standard time: hours in the mildew band, heat, rain, wetness and what is missing.

Days run from midnight to midnight, standard time all year, and an unbroken run of hours ends at midnight.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from vinemap.columns import Bools, Floats, Ints, Seconds, freeze
from vinemap.errors import TooFewData
from vinemap.units import degc_from_degf
from vinemap.vineclock.slots import Slots, slots_by_day
from vinemap.vineclock.weather import Weather

BAND_LOW_DEGC, BAND_HIGH_DEGC = degc_from_degf(70.0), degc_from_degf(85.0)
HOT_DEGC = degc_from_degf(95.0)
HOT_SECONDS = 900
FAVOURABLE_HOURS = 6.0

# 70 °F is 21.11 °C and a station that keeps tenths writes 21.1. Half a tenth is allowed at both edges: 21.1 and 70.0 °F
# are in, 21.0 and 69.9 °F are out; 29.4 and 85.0 °F are in, 29.5 and 85.1 °F are out. 95 °F is 35.0 °C and needs none.
EDGE_DEGC = 0.05
MAX_CHANGE_DEGC_PER_HOUR = 5.0
"""How fast the air may have warmed or cooled while no reading was taken (stated assumption)."""

_UNIX_DAY_ONE = dt.date(1970, 1, 1).toordinal()


@dataclass(frozen=True, slots=True, eq=False)
class Days:
    """Days in a row, none left out, of one station.

    ``date``: (n,) ordinal of the date (``datetime.date.fromordinal``); ``run_hours``: (n,) longest unbroken run within
    70..85 °F [h], ``run_from_hours`` its start [h after midnight]; ``is_favourable``: (n,) that run is 6 h or more;
    ``is_hot``: (n,) 95 °F or more for 15 minutes; ``could_be_favourable``, ``could_be_hot``: (n,) the same if missing
    hours had gone that way; ``max_degc``, ``min_degc``, ``mean_degc``: (n,) [degC] of the readings there are;
    ``missing_hours``: (n,) hours without temperature [h]; ``rain_mm`` (n,) [mm]; ``wet_hours`` (n,) [h]. NaN: none read.
    """

    date: Ints
    run_hours: Floats
    run_from_hours: Floats
    is_favourable: Bools
    is_hot: Bools
    could_be_favourable: Bools
    could_be_hot: Bools
    max_degc: Floats
    min_degc: Floats
    mean_degc: Floats
    missing_hours: Floats
    rain_mm: Floats
    wet_hours: Floats

    def __post_init__(self) -> None:
        flags = ("is_favourable", "is_hot", "could_be_favourable", "could_be_hot")
        numbers = (
            "run_hours",
            "run_from_hours",
            "max_degc",
            "min_degc",
            "mean_degc",
            "missing_hours",
            "rain_mm",
            "wet_hours",
        )
        freeze(self, date=np.int32, **dict.fromkeys(flags, np.bool_), **dict.fromkeys(numbers, np.float64))

    def __len__(self) -> int:
        return len(self.date)


def split_days(weather: Weather) -> Days:
    """The days of a station, from its first reading to its last; days without any reading are kept as missing.

    Raises TooFewData when there is no temperature at all.
    Source: rules of the risk index, Gubler et al. 1999; six hourly readings in a row count as 6 h (common practice).
    """
    if not len(weather) or np.isnan(weather.temp_degc).all():
        raise TooFewData("There are no temperature readings.", "Bring in the station's hourly readings.")
    known = ~np.isnan(weather.temp_degc)
    known_at = weather.time_utc[known] + round(weather.offset_hours * 3600)
    known_degc = weather.temp_degc[known]
    rows = []
    for slots in slots_by_day(weather):
        reach = _reach(slots, known_at, known_degc)
        rows.append((_UNIX_DAY_ONE + slots.number, *_heat_of_day(slots, reach), *_water_of_day(slots)))
    return Days(*(np.array(column) for column in zip(*rows, strict=True)))


def _reach(slots: Slots, known_at: Seconds, known_degc: Floats) -> tuple[Floats, Floats]:
    """Lowest and highest temperature [degC] that each slot can have had: its readings, or what its neighbours allow."""
    missing = np.isnan(slots.temp_degc)
    if not missing.any():
        return slots.low_degc, slots.high_degc
    instants = slots.instants
    after = np.searchsorted(known_at, instants)
    low, high = np.full(len(slots), -np.inf), np.full(len(slots), np.inf)
    for index, is_there in ((after - 1, after > 0), (after, after < len(known_at))):
        index = np.clip(index, 0, len(known_at) - 1)
        slack = MAX_CHANGE_DEGC_PER_HOUR * np.abs(known_at[index] - instants) / 3600
        low = np.where(is_there, np.maximum(low, known_degc[index] - slack), low)
        high = np.where(is_there, np.minimum(high, known_degc[index] + slack), high)
    # Two distant readings may differ by more than the assumed rate: then what lies between them is their own range.
    return (
        np.where(missing, np.minimum(low, high), slots.low_degc),
        np.where(missing, np.maximum(low, high), slots.high_degc),
    )


def _longest_run(inside: Bools) -> tuple[int, int]:
    """Length and start of the longest unbroken run of true; the first one when several are equal."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(np.int8)))
    starts, ends = edges[::2], edges[1::2]
    if not len(starts):
        return 0, 0
    longest = int(np.argmax(ends - starts))
    return int(ends[longest] - starts[longest]), int(starts[longest])


def _heat_of_day(slots: Slots, reach: tuple[Floats, Floats]) -> tuple[float, ...]:
    """From ``run_hours`` to ``missing_hours`` of one day, in the order of the columns of ``Days``."""
    low, high, step = BAND_LOW_DEGC - EDGE_DEGC, BAND_HIGH_DEGC + EDGE_DEGC, slots.step_seconds
    hot = HOT_DEGC - 1e-6
    run, start = _longest_run((slots.low_degc >= low) & (slots.high_degc <= high))
    possible, _ = _longest_run((reach[1] >= low) & (reach[0] <= high))
    hot_run, _ = _longest_run(slots.top_degc >= hot)
    hot_possible, _ = _longest_run(np.fmax(reach[1], slots.top_degc) >= hot)
    is_known = ~np.isnan(slots.temp_degc)
    known = slots.temp_degc[is_known]
    extremes = (np.nan,) * 3
    if len(known):
        extremes = (float(np.nanmax(slots.top_degc)), float(np.nanmin(slots.low_degc)), float(known.mean()))
    return (
        run * step / 3600,
        start * step / 3600,
        run * step / 3600 >= FAVOURABLE_HOURS,
        hot_run * step >= HOT_SECONDS,
        possible * step / 3600 >= FAVOURABLE_HOURS,
        hot_possible * step >= HOT_SECONDS,
        *extremes,
        (len(slots) - len(known)) * step / 3600,
    )


def _water_of_day(slots: Slots) -> tuple[float, float]:
    """Rain [mm] and wet hours [h] of one day; NaN where nothing was read."""
    rain, wet = slots.rain_mm[~np.isnan(slots.rain_mm)], slots.wet_frac[~np.isnan(slots.wet_frac)]
    return (float(rain.sum()) if len(rain) else np.nan, float(wet.sum()) * slots.step_hours if len(wet) else np.nan)
