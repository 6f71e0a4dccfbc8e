"""How warm the air is expected to be in each hour of the days to come."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from vinemap.columns import Floats, Seconds, freeze
from vinemap.errors import InputError

WARMEST_HOURS = 15.0
LEAST_HOURS = 18
"""A day with fewer hours read does not stand for itself."""
READ_DAYS, EVEN_DAYS = 30, 10
"""The last month that was read tells how the place differs from a typical one; ten days tell half (stated assumption)."""
NEAR_DAYS = 7
"""In earlier years a date is seen with the week before and after it."""

_UNIX_DAY_ONE = dt.date(1970, 1, 1).toordinal()
_YEAR_DAYS = 365.2425


@dataclass(frozen=True, slots=True, eq=False)
class ExpectedAir:
    """Warmth expected of every hour from a first date on: ``degc`` (24 x days,) [degC] of local standard time, in order.

    ``read_days``: days that were read, or come from a forecast file; ``earlier_days``: taken from earlier years of the
    estate; ``typical_days``: from a typical year at that latitude, moved by what was read here before.
    """

    first_date: dt.date
    degc: Floats
    read_days: int
    earlier_days: int
    typical_days: int

    def __post_init__(self) -> None:
        freeze(self, degc=np.float64)

    def words(self) -> str:
        """Where the warmth comes from, in plain words."""
        parts = [
            (self.read_days, "read or forecast"),
            (self.earlier_days, "as in earlier years here"),
            (self.typical_days, "as in a typical year at this latitude"),
        ]
        return ", ".join(f"{count} {'day' if count == 1 else 'days'} {how}" for count, how in parts if count)


class Readings(Protocol):
    """Columns of a station that the canopy looks at, in the words and units of the weather record."""

    @property
    def offset_hours(self) -> float: ...
    @property
    def time_utc(self) -> Seconds: ...
    @property
    def temp_degc(self) -> Floats: ...
    @property
    def rain_mm(self) -> Floats: ...
    @property
    def rh_frac(self) -> Floats: ...
    @property
    def wind_ms(self) -> Floats: ...
    @property
    def wind_from_deg(self) -> Floats: ...


def warm_weight(air_degc: Floats) -> Floats:
    """How much an hour of sun counts (n,) 0..2, for the warmth of the air (n,) [degC]: 0 at 20, 1 at 35, 2 from 50 on.

    Source: stated assumption: berries in the sun run 5 to 10 degC above the air, so that skin nears the 40 to 43 degC at
    which it browns when the air nears 35 (Gambetta et al. 2021 on sunburn; thresholds from memory).
    """
    return np.asarray(np.clip((np.asarray(air_degc, np.float64) - 20.0) / 15.0, 0.0, 2.0), np.float64)


def expected_air(readings: Sequence[Readings], lat_deg: float, first_date: dt.date, last_date: dt.date) -> ExpectedAir:
    """Warmth to be expected of each hour between two dates, both included, at a latitude [deg, south negative].

    A day of the ``readings`` (a forecast too) stands for itself; else the same fortnight of earlier years does; else a
    typical day, moved by how the last month here differed from typical, by the hour. Raises InputError when the dates are in
    the wrong order. Source: plain means; ``typical_year`` for the rest.
    """
    if last_date < first_date:
        raise InputError("The last day comes before the first.", "Correct the expected date of harvest.")
    wanted = np.arange(first_date.toordinal(), last_date.toordinal() + 1)
    typical = typical_year(lat_deg, wanted)
    start, read = _by_day(readings)
    if not len(read):
        return ExpectedAir(first_date, typical.ravel(), 0, 0, len(wanted))
    degc = typical + _departure(read, start, lat_deg, first_date, last_date)
    own, earlier = 0, 0
    for index, ordinal in enumerate(wanted):
        today = read[ordinal - start] if 0 <= ordinal - start < len(read) else np.full(24, np.nan)
        if np.count_nonzero(~np.isnan(today)) >= LEAST_HOURS:
            degc[index] = np.where(np.isnan(today), degc[index], today)
            own += 1
            continue
        then = _earlier_years(read, start, int(ordinal))
        if then is not None:
            degc[index] = then
            earlier += 1
    return ExpectedAir(first_date, degc.ravel(), own, earlier, len(wanted) - own - earlier)


def _by_day(readings: Sequence[Readings]) -> tuple[int, Floats]:
    """First day (ordinal) and mean temperature (days, 24) [degC] of each hour of local standard time, NaN where none."""
    local = [each.time_utc + round(each.offset_hours * 3600) for each in readings]
    known = [~np.isnan(each.temp_degc) for each in readings]
    if not any(each.any() for each in known):
        return 0, np.empty((0, 24))
    hours = np.concatenate([time[is_known] // 3600 for time, is_known in zip(local, known, strict=True)])
    degc = np.concatenate([each.temp_degc[is_known] for each, is_known in zip(readings, known, strict=True)])
    first = int(hours.min()) // 24
    at = (hours - 24 * first).astype(np.intp)
    size = 24 * (int(at.max()) // 24 + 1)
    count = np.bincount(at, minlength=size)
    total = np.bincount(at, degc, minlength=size)
    mean = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return first + _UNIX_DAY_ONE, np.asarray(mean.reshape(-1, 24), np.float64)


def _departure(read: Floats, start: int, lat_deg: float, first_date: dt.date, last_date: dt.date) -> Floats:
    """How much warmer each hour (24,) [degC] was than typical over the last month that was read; less with few days."""
    low = max(first_date.toordinal() - READ_DAYS - start, 0)
    high = max(last_date.toordinal() + 1 - start, 0)
    near = read[low:high]
    if not len(near):
        return np.zeros(24)
    differs = near - typical_year(lat_deg, np.arange(start + low, start + low + len(near)))
    count = np.count_nonzero(~np.isnan(differs), axis=0)
    mean = np.nansum(differs, axis=0) / np.maximum(count, 1)
    return np.asarray(mean * count / (count + EVEN_DAYS), np.float64)


def _earlier_years(read: Floats, start: int, ordinal: int) -> Floats | None:
    """Mean (24,) [degC] of each hour in the same fortnight of earlier years; None where an hour was never read then."""
    years = int((ordinal - start + NEAR_DAYS + 1) // _YEAR_DAYS)
    spans = []
    for back in range(1, years + 1):
        middle = ordinal - round(back * _YEAR_DAYS) - start
        spans.append(read[max(middle - NEAR_DAYS, 0) : max(middle + NEAR_DAYS + 1, 0)])
    then = np.concatenate(spans) if spans else np.empty((0, 24))
    count = np.count_nonzero(~np.isnan(then), axis=0)
    if not len(then) or (count == 0).any():
        return None
    return np.asarray(np.nansum(then, axis=0) / count, np.float64)


def typical_year(lat_deg: float, ordinals: np.ndarray) -> Floats:
    """Warmth (n, 24) [degC] of each hour by the sun on days (n,) of a typical year near sea level, at a latitude [deg].

    The yearly mean of the day swings between the coldest and the warmest, a month after the sun does; within the day half
    cosines run from sunrise to 15:00 and back. Source: straight lines through rounded 1991-2020 means of twelve wine towns of
    both hemispheres, 33 to 50 degrees (from memory): warmest month 22.4 degC at 40 degrees and 0.21 less for each degree on,
    coldest 7.8 and 0.49 less; half the range of a day 6.75 and 4.5 degC. Limits: single towns differ by up to 5.5 degC.
    """
    past = abs(lat_deg) - 40.0
    warmest, coldest = 22.4 - 0.21 * past, 7.8 - 0.49 * past
    turn = 2.0 * np.pi * (np.asarray(ordinals, np.float64) - dt.date(2000, 7, 22).toordinal()) / _YEAR_DAYS
    season = np.cos(turn) if lat_deg >= 0 else -np.cos(turn)
    mean = (warmest + coldest) / 2.0 + (warmest - coldest) / 2.0 * season
    half = (6.75 + 4.5) / 2.0 + (6.75 - 4.5) / 2.0 * season
    # Cooper 1969, Solar Energy 12:333, a day of the year after the solstice of 21 June
    declination = np.radians(23.45) * np.cos(turn + 2.0 * np.pi * 31.0 / _YEAR_DAYS)
    cosine = np.clip(-np.tan(np.radians(np.clip(lat_deg, -66.0, 66.0))) * np.tan(declination), -1.0, 1.0)
    sunrise = 12.0 - np.degrees(np.arccos(cosine)) / 15.0
    return np.asarray(mean[:, None] - half[:, None] * np.cos(np.pi * _phase(sunrise[:, None])), np.float64)


def typical_air(min_degc: float = 13.0, max_degc: float = 29.0, sunrise_hours: float = 5.5) -> Floats:
    """A typical summer day (24,) [degC]: coolest at sunrise [h, standard time], warmest at 15:00, half cosines between.

    Raises InputError when the figures are not in order. Source: stated assumption.
    """
    if not (min_degc <= max_degc and 0 <= sunrise_hours < WARMEST_HOURS):
        raise InputError("The typical day is upside down.", "The night must be cooler than the afternoon.")
    phase = _phase(np.float64(sunrise_hours))
    return np.asarray((min_degc + max_degc) / 2 - (max_degc - min_degc) / 2 * np.cos(np.pi * phase), np.float64)


def _phase(sunrise_hours: np.ndarray | np.float64) -> Floats:
    """How far each hour (..., 24) has come: 0 at sunrise [h], 1 at the warmest hour, 2 at the next sunrise."""
    since = (np.arange(24) + 0.5 - sunrise_hours) % 24.0
    rising = WARMEST_HOURS - sunrise_hours
    return np.asarray(np.where(since < rising, since / rising, 1.0 + (since - rising) / (24.0 - rising)), np.float64)
