"""Hours out of a day's lowest and highest temperature, where nothing else was written down."""

from __future__ import annotations

import numpy as np

from vinemap.columns import Floats, Ints

HIGHEST_AFTER_NOON_HOURS = 1.5
NIGHT_HOURS = 4.0
"""How long after solar noon it is warmest [h], and how fast the night cools [h] (Goudriaan & van Laar 1994; from memory)."""
_YEAR_ONE_OFFSET = 1
_DAYS_A_YEAR = 365.2425
_TILT_DEG = 23.45
_SHORTEST_HOURS, _LONGEST_HOURS = 4.0, 20.0


def day_length_hours(date: Ints, lat_deg: float) -> Floats:
    """Hours from sunrise to sunset, (n,) [h], on dates (n,) as ordinals, at a latitude [degrees].

    Kept from 4 to 20 h, beyond which no vine grows. Source: declination by Cooper (1969), a flat horizon, no refraction.
    """
    day_of_year = np.mod(np.asarray(date) - _YEAR_ONE_OFFSET, _DAYS_A_YEAR) + 1
    declination = np.radians(_TILT_DEG) * np.sin(2 * np.pi * (284 + day_of_year) / 365)
    half = np.arccos(np.clip(-np.tan(np.radians(lat_deg)) * np.tan(declination), -1.0, 1.0))
    hours: Floats = np.clip(np.degrees(half) / 7.5, _SHORTEST_HOURS, _LONGEST_HOURS)
    return hours


def hours_from_extremes(date: Ints, min_degc: Floats, max_degc: Floats, lat_deg: float, noon_hours: float = 12.0) -> Floats:
    """Temperature (n, 24) [degC] in the middle of each hour of standard time, from the extremes of days (n,) [degC].

    ``date``: (n,) ordinals; ``lat_deg`` [degrees]; ``noon_hours``: when the sun stands highest [h after midnight]. By day a
    sine from the lowest at sunrise to the highest an hour and a half after noon; by night it falls exponentially to the
    lowest of the next morning. A day without both extremes is NaN; where its neighbour lacks them its own are taken.
    Source: sine and exponential, Parton & Logan 1981; the form that joins day to day, Goudriaan & van Laar 1994.
    """
    date, low, high = np.asarray(date), np.asarray(min_degc, float), np.asarray(max_degc, float)
    there = ~(np.isnan(low) | np.isnan(high))
    low, high = np.where(there, low, np.nan), np.where(there, high, np.nan)
    length = day_length_hours(date, lat_deg)
    hour: Floats = np.arange(24, dtype=np.float64) + 0.5
    made = np.empty((len(date), 24))
    follows = np.concatenate([np.diff(date) == 1, [False]]) if len(date) else np.empty(0, bool)
    for index in range(len(date)):
        next_low = low[index + 1] if follows[index] and there[index + 1] else low[index]
        before = index - 1 if index and follows[index - 1] and there[index - 1] else index
        made[index] = _one_day(
            hour - noon_hours, length[index], low[index], high[index], next_low, (low[before], high[before], length[before])
        )
    return made


def _one_day(
    from_noon: Floats, length: float, low: float, high: float, next_low: float, before: tuple[float, float, float]
) -> Floats:
    """Temperature [degC] at hours from noon: the night before, the day, the evening."""
    half = length / 2
    day = _by_day(from_noon, low, high, length)
    evening = _by_night(from_noon - half, _by_day(np.array(half), low, high, length), next_low, 24 - length)
    low_before, high_before, length_before = before
    sunset = _by_day(np.array(length_before / 2), low_before, high_before, length_before)
    dawn = _by_night(from_noon + 24 - length_before / 2, sunset, low, 24 - (length_before + length) / 2)
    return np.where(from_noon < -half, dawn, np.where(from_noon > half, evening, day))


def _by_day(from_noon: Floats, low: float, high: float, length: float) -> Floats:
    made: Floats = low + (high - low) * np.sin(np.pi * (from_noon + length / 2) / (length + 2 * HIGHEST_AFTER_NOON_HOURS))
    return made


def _by_night(from_sunset: Floats, sunset: Floats, next_low: float, night: float) -> Floats:
    """Cooling from the temperature at sunset to the next lowest, which is reached at sunrise."""
    left = np.exp(-night / NIGHT_HOURS)
    made: Floats = (next_low - sunset * left + (sunset - next_low) * np.exp(-from_sunset / NIGHT_HOURS)) / (1 - left)
    return made
