"""Readings gathered into days of local standard time: hours in the mildew band, heat, rain, wetness and what is missing.

Days run from midnight to midnight, standard time all year, and an unbroken run of hours ends at midnight.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from vinemap.columns import Bools, Bytes, Floats, Ints, Seconds, freeze
from vinemap.errors import TooFewData
from vinemap.units import degc_from_degf
from vinemap.vineclock.latency import is_killed_by_heat
from vinemap.vineclock.slots import Slots, slots_by_day
from vinemap.vineclock.weather import Weather

BAND_LOW_DEGC, BAND_HIGH_DEGC = degc_from_degf(70.0), degc_from_degf(85.0)
HOT_DEGC = degc_from_degf(95.0)
HOT_SECONDS = 900
VERY_HOT_DEGC = 38.0
VERY_HOT_SECONDS = 7200
FAVOURABLE_HOURS = 6.0
UNKNOWN_HOURS = 3.0
"""With more hours missing than this a mean or a sum of the day is not known (stated assumption)."""
_ROUNDING_DEGC = 1e-6
_WEEK = 7

# 70 °F is 21.11 °C and a station that keeps tenths writes 21.1. Half a tenth is allowed at both edges: 21.1 and 70.0 °F
# are in, 21.0 and 69.9 °F are out; 29.4 and 85.0 °F are in, 29.5 and 85.1 °F are out. 95 °F is 35.0 °C and needs none.
EDGE_DEGC = 0.05
MAX_CHANGE_DEGC_PER_HOUR = 5.0
"""How fast the air may have warmed or cooled while no reading was taken (stated assumption)."""

_UNIX_DAY_ONE = dt.date(1970, 1, 1).toordinal()


@dataclass(frozen=True, slots=True, eq=False)
class Days:
    """Days in a row, none left out, of one station. Columns are (n,); NaN where it is not known.

    ``date``: ordinal of the date (``datetime.date.fromordinal``); ``run_hours``: longest unbroken run within
    70..85 °F [h], ``run_from_hours`` its start [h after midnight]; ``is_favourable``: that run is 6 h or more;
    ``is_hot``: 95 °F or more for 15 minutes; ``is_very_hot``: 38 degC or more for 2 h on end; ``could_be_favourable``,
    ``could_be_hot``, ``could_be_very_hot``: the same if missing hours had gone that way; ``is_killing``: air so hot that
    colonies die; ``max_degc``, ``min_degc`` [degC] of the readings there are; ``mean_degc`` [degC] not known with more than
    3 h missing, ``mean_low_degc``, ``mean_high_degc`` what it can be; ``missing_hours``: without temperature [h];
    ``rain_mm`` [mm], ``wet_hours`` [h]: not known with more than 3 h unread; ``rain_least_mm``, ``wet_least_hours``: what was
    read of them; ``rain_unread_hours``, ``wet_unread_hours`` [h]; ``origin``: highest code of where the readings come from.
    ``slots``: the readings of each day.
    """

    date: Ints
    run_hours: Floats
    run_from_hours: Floats
    is_favourable: Bools
    is_hot: Bools
    is_very_hot: Bools
    could_be_favourable: Bools
    could_be_hot: Bools
    could_be_very_hot: Bools
    is_killing: Bools
    max_degc: Floats
    min_degc: Floats
    mean_degc: Floats
    mean_low_degc: Floats
    mean_high_degc: Floats
    missing_hours: Floats
    rain_mm: Floats
    rain_least_mm: Floats
    rain_unread_hours: Floats
    wet_hours: Floats
    wet_least_hours: Floats
    wet_unread_hours: Floats
    origin: Bytes
    slots: tuple[Slots, ...]

    def __post_init__(self) -> None:
        kinds: dict[str, Any] = {each.name: np.float64 for each in fields(self)}
        kinds |= {name: np.bool_ for name in kinds if name.startswith(("is_", "could_"))}
        kinds |= {"date": np.int32, "origin": np.int8}
        del kinds["slots"]
        freeze(self, **kinds)

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
    rows: list[dict[str, Any]] = []
    for slots in slots_by_day(weather):
        reach = _reach(slots, known_at, known_degc)
        rows.append({"date": _UNIX_DAY_ONE + slots.number} | _heat_of_day(slots, reach) | _means_of_day(slots, reach))
        rows[-1] |= _water_of_day(slots) | {"origin": int(slots.origin.max()), "slots": slots}
    columns: dict[str, Any] = {name: np.array([row[name] for row in rows]) for name in rows[0] if name != "slots"}
    return Days(**columns, slots=tuple(row["slots"] for row in rows))


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


def reach_of(days: Days, number: int) -> tuple[Floats, Floats]:
    """Lowest and highest temperature (m,) [degC] that each step of a day can have had, from what was read for a week around.

    Source: the readings; between them a stated assumption on how fast the air may warm or cool.
    """
    near = days.slots[max(number - _WEEK, 0) : number + _WEEK + 1]
    known = [~np.isnan(each.temp_degc) for each in near]
    at = np.concatenate([each.instants[which] for each, which in zip(near, known, strict=True)])
    degc = np.concatenate([each.temp_degc[which] for each, which in zip(near, known, strict=True)])
    if not len(at):
        return days.slots[number].low_degc, days.slots[number].high_degc
    return _reach(days.slots[number], at, degc)


def _longest_run(inside: Bools) -> tuple[int, int]:
    """Length and start of the longest unbroken run of true; the first one when several are equal."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(np.int8)))
    starts, ends = edges[::2], edges[1::2]
    if not len(starts):
        return 0, 0
    longest = int(np.argmax(ends - starts))
    return int(ends[longest] - starts[longest]), int(starts[longest])


def _lasts(inside: Bools, step_seconds: int, seconds: int) -> bool:
    """Whether what is true lasts that long on end."""
    return bool(inside.any()) and _longest_run(inside)[0] * step_seconds >= seconds


def _heat_of_day(slots: Slots, reach: tuple[Floats, Floats]) -> dict[str, Any]:
    """Columns of one day that its temperature decides."""
    low, high, step = BAND_LOW_DEGC - EDGE_DEGC, BAND_HIGH_DEGC + EDGE_DEGC, slots.step_seconds
    hot, very_hot = HOT_DEGC - _ROUNDING_DEGC, VERY_HOT_DEGC - _ROUNDING_DEGC
    highest = np.fmax(reach[1], slots.top_degc)
    run, start = _longest_run((slots.low_degc >= low) & (slots.high_degc <= high))
    possible, _ = _longest_run((reach[1] >= low) & (reach[0] <= high))
    return {
        "run_hours": run * step / 3600,
        "run_from_hours": start * step / 3600,
        "is_favourable": run * step / 3600 >= FAVOURABLE_HOURS,
        "could_be_favourable": possible * step / 3600 >= FAVOURABLE_HOURS,
        "is_hot": _lasts(slots.top_degc >= hot, step, HOT_SECONDS),
        "could_be_hot": _lasts(highest >= hot, step, HOT_SECONDS),
        "is_very_hot": _lasts(slots.low_degc >= very_hot, step, VERY_HOT_SECONDS),
        "could_be_very_hot": _lasts(reach[1] >= very_hot, step, VERY_HOT_SECONDS),
        "is_killing": bool((slots.low_degc >= very_hot).any() and is_killed_by_heat(slots.low_degc, slots.step_hours)[-1]),
    }


def _means_of_day(slots: Slots, reach: tuple[Floats, Floats]) -> dict[str, Any]:
    """Columns of one day that tell its extremes and its mean."""
    known = ~np.isnan(slots.temp_degc)
    missing = float((~known).sum()) * slots.step_hours
    if not missing:
        mean = float(slots.temp_degc.mean())
        extremes = {"max_degc": float(slots.top_degc.max()), "min_degc": float(slots.low_degc.min())}
        return extremes | dict.fromkeys(("mean_degc", "mean_low_degc", "mean_high_degc"), mean) | {"missing_hours": 0.0}
    found = {"max_degc": np.nan, "min_degc": np.nan, "mean_degc": np.nan, "missing_hours": missing}
    if known.any():
        found |= {"max_degc": float(np.nanmax(slots.top_degc)), "min_degc": float(np.nanmin(slots.low_degc))}
    if missing <= UNKNOWN_HOURS:
        number = np.arange(len(slots))
        found["mean_degc"] = float(np.interp(number, number[known], slots.temp_degc[known]).mean())
    # what is known counts as read, also where several readings fall on one step
    ends = [np.where(known, slots.temp_degc, each).mean() for each in reach]
    low, high = (float(end) if np.isfinite(end) else np.nan for end in ends)
    return found | {"mean_low_degc": low, "mean_high_degc": high}


def _water_of_day(slots: Slots) -> dict[str, Any]:
    """Columns of one day that tell its rain and its wetness."""
    found: dict[str, Any] = {}
    for name, unit, values in (("rain", "mm", slots.rain_mm), ("wet", "hours", slots.wet_frac * slots.step_hours)):
        is_unread = np.isnan(values)
        unread = float(is_unread.sum()) * slots.step_hours
        least = float(values[~is_unread].sum())
        found |= {f"{name}_least_{unit}": least, f"{name}_unread_hours": unread}
        found[f"{name}_{unit}"] = least if unread <= UNKNOWN_HOURS else np.nan
    return found
