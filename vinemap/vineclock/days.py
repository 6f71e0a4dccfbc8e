"""Readings gathered into days of local standard time: hours in the mildew band, heat, rain, wetness and what is missing.

Days run from midnight to midnight, standard time all year, and an unbroken run of hours ends at midnight.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from vinemap.columns import Bools, Floats, Ints, freeze
from vinemap.errors import TooFewData
from vinemap.units import degc_from_degf
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

_DAY = 86_400
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
    local = weather.time_utc + round(weather.offset_hours * 3600)
    day = local // _DAY
    first, last = int(day[0]), int(day[-1])
    bounds = np.searchsorted(day, np.arange(first, last + 2))
    usual_step = _usual_step(local, 3600)
    known = np.flatnonzero(~np.isnan(weather.temp_degc))
    rows = []
    for number, (start, stop) in enumerate(pairwise(bounds)):
        chosen = slice(int(start), int(stop))
        step = _usual_step(local[chosen], usual_step) if stop - start >= 4 else usual_step
        midnight = (first + number) * _DAY
        slots = np.full(-(-_DAY // step), np.nan)
        slots[(local[chosen] - midnight) // step] = weather.temp_degc[chosen]
        instants = midnight + step * np.arange(len(slots))
        reach = _reach(instants, slots, local[known], weather.temp_degc[known])
        rows.append(
            (_UNIX_DAY_ONE + first + number, *_heat_of_day(slots, reach, step), *_water_of_day(weather, chosen, step))
        )
    return Days(*(np.array(column) for column in zip(*rows, strict=True)))


def _usual_step(local: np.ndarray, otherwise: int) -> int:
    """Usual spacing of readings [s], at most an hour: what is sparser than hourly has hours missing."""
    return min(3600, max(60, int(np.median(np.diff(local))))) if len(local) > 1 else otherwise


def _reach(instants: np.ndarray, slots: Floats, known_at: np.ndarray, known_degc: Floats) -> tuple[Floats, Floats]:
    """Lowest and highest temperature [degC] that each slot can have had: its reading, or what its neighbours allow."""
    if not np.isnan(slots).any():
        return slots, slots
    after = np.searchsorted(known_at, instants)
    low, high = np.full(len(slots), -np.inf), np.full(len(slots), np.inf)
    for index, is_there in ((after - 1, after > 0), (after, after < len(known_at))):
        index = np.clip(index, 0, len(known_at) - 1)
        slack = MAX_CHANGE_DEGC_PER_HOUR * np.abs(known_at[index] - instants) / 3600
        low = np.where(is_there, np.maximum(low, known_degc[index] - slack), low)
        high = np.where(is_there, np.minimum(high, known_degc[index] + slack), high)
    missing = np.isnan(slots)
    # Two distant readings may differ by more than the assumed rate: then what lies between them is their own range.
    return np.where(missing, np.minimum(low, high), slots), np.where(missing, np.maximum(low, high), slots)


def _longest_run(inside: Bools) -> tuple[int, int]:
    """Length and start of the longest unbroken run of true; the first one when several are equal."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(np.int8)))
    starts, ends = edges[::2], edges[1::2]
    if not len(starts):
        return 0, 0
    longest = int(np.argmax(ends - starts))
    return int(ends[longest] - starts[longest]), int(starts[longest])


def _heat_of_day(slots: Floats, reach: tuple[Floats, Floats], step: int) -> tuple[float, ...]:
    """From ``run_hours`` to ``missing_hours`` of one day, in the order of the columns of ``Days``."""
    low, high = BAND_LOW_DEGC - EDGE_DEGC, BAND_HIGH_DEGC + EDGE_DEGC
    hot = HOT_DEGC - 1e-6
    run, start = _longest_run((slots >= low) & (slots <= high))
    possible, _ = _longest_run((reach[1] >= low) & (reach[0] <= high))
    hot_run, _ = _longest_run(slots >= hot)
    hot_possible, _ = _longest_run(reach[1] >= hot)
    known = slots[~np.isnan(slots)]
    extremes = (float(known.max()), float(known.min()), float(known.mean())) if len(known) else (np.nan,) * 3
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


def _water_of_day(weather: Weather, chosen: slice, step: int) -> tuple[float, float]:
    """Rain [mm] and wet hours [h] of one day; NaN where nothing was read."""
    rain, wet = weather.rain_mm[chosen], weather.wet_frac[chosen]
    rain, wet = rain[~np.isnan(rain)], wet[~np.isnan(wet)]
    return (float(rain.sum()) if len(rain) else np.nan, float(wet.sum()) * step / 3600 if len(wet) else np.nan)
