"""Heat that is forecast."""

from __future__ import annotations

import datetime as dt

import numpy as np

from vinemap.vineclock.weather import FORECAST, Weather

_DAY_SECONDS = 86_400
_UNIX_DAY_ONE = dt.date(1970, 1, 1).toordinal()


def hottest_ahead_degc(weather: Weather | None, date: dt.date, days: int) -> float:
    """The highest temperature [degC] that is forecast from the day after a date on for some days; NaN without a forecast.

    Days are local days in standard time. What was read is no forecast: a plan must not know what came after it.
    """
    if weather is None:
        return float("nan")
    start = (date.toordinal() + 1 - _UNIX_DAY_ONE) * _DAY_SECONDS - weather.offset_hours * 3600.0
    ahead = (weather.time_utc >= start) & (weather.time_utc < start + days * _DAY_SECONDS)
    told = weather.temp_degc[ahead & (weather.origin == FORECAST)]
    told = told[~np.isnan(told)]
    return float(told.max()) if len(told) else float("nan")
