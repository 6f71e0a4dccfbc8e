"""How warm the air usually is in each hour of the day."""

from __future__ import annotations

import datetime as dt
from typing import Protocol

import numpy as np

from vinemap.columns import Floats, Seconds
from vinemap.errors import InputError, TooFewData

_UNIX_DAY_ONE = dt.date(1970, 1, 1).toordinal()


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


def mean_air_by_hour(readings: Readings, first_date: dt.date, last_date: dt.date) -> Floats:
    """Mean temperature (24,) [degC] of each hour of local standard time, between two dates, both included.

    Raises TooFewData when an hour has no reading. Source: plain means.
    """
    temp_degc = readings.temp_degc
    local = readings.time_utc + round(readings.offset_hours * 3600)
    day = local // 86_400 + _UNIX_DAY_ONE
    chosen = (day >= first_date.toordinal()) & (day <= last_date.toordinal()) & ~np.isnan(temp_degc)
    hour = (local[chosen] % 86_400 // 3600).astype(np.intp)
    count = np.bincount(hour, minlength=24)
    if (count == 0).any():
        raise TooFewData(
            f"Some hours of the day have no temperature between {first_date} and {last_date}.",
            "Bring in more weather, or use a typical day.",
        )
    return np.asarray(np.bincount(hour, temp_degc[chosen], minlength=24) / count, np.float64)


def typical_air(min_degc: float = 13.0, max_degc: float = 29.0, sunrise_hours: float = 5.5) -> Floats:
    """A typical summer day (24,) [degC]: coolest at sunrise [h, standard time], warmest at 15:00, half cosines between.

    Raises InputError when the figures are not in order. Source: stated assumption, used where no station was read.
    """
    if not (min_degc <= max_degc and 0 <= sunrise_hours < 15):
        raise InputError("The typical day is upside down.", "The night must be cooler than the afternoon.")
    hour = np.arange(24) + 0.5
    since = (hour - sunrise_hours) % 24.0
    rising = 15.0 - sunrise_hours
    phase = np.where(since < rising, since / rising, 1.0 + (since - rising) / (24.0 - rising))
    return np.asarray((min_degc + max_degc) / 2 - (max_degc - min_degc) / 2 * np.cos(np.pi * phase), np.float64)
