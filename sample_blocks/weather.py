"""Invented hourly weather of a coastal range: cool nights, sea wind in the afternoon, fog and heat in turn, spring rain."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from dice import dice_for, draw_normal

from vinemap.columns import Floats
from vinemap.vineclock.weather import Weather


@dataclass(frozen=True)
class Climate:
    """The weather of a season before chance: ``warmest_day`` of the year, afternoon and night wind [degrees it comes from],
    spells (first day, days, afternoons warmer by [degC]; below 0 they are cool and foggy) and rains (start, hours, total
    [mm])."""

    first: dt.date
    last: dt.date
    warmest_day: int
    sea_wind_from_deg: float
    night_wind_from_deg: float
    spells: tuple[tuple[dt.date, int, float], ...]
    rains: tuple[tuple[dt.datetime, int, float], ...]
    station: str = "Weather mast"


def _spell_degc(climate: Climate, days: int) -> Floats:
    """By how much the spells warm each afternoon (days,) [degC]; a spell comes and goes within a day."""
    extra_degc = np.zeros(days)
    for start, length, change_degc in climate.spells:
        first = (start - climate.first).days
        extra_degc[first : first + length] += change_degc
        extra_degc[[first, first + length - 1]] -= 0.4 * change_degc
    return extra_degc


def _daily_extremes(climate: Climate, days: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Lowest and highest temperature (days,) [degC], one warm or cool day leaning on the day before."""
    year_day = np.array([(climate.first + dt.timedelta(days=day)).timetuple().tm_yday for day in range(days)])
    season = np.cos(2.0 * np.pi * (year_day - climate.warmest_day) / 365.25)
    shocks = draw_normal(rng, days)
    swing = np.empty(days)
    swing[0] = shocks[0]
    for day in range(1, days):
        swing[day] = 0.65 * swing[day - 1] + 0.75 * shocks[day]
    highest = 23.0 + 4.5 * season + 1.3 * swing
    lowest = 9.0 + 2.7 * season + 0.7 * swing + 0.7 * draw_normal(rng, days)
    extra_degc = _spell_degc(climate, days)
    highest += extra_degc
    # Fog keeps the night's warmth in: only heat changes the nights.
    lowest += 0.3 * np.maximum(extra_degc, 0.0)
    for begin, _, total_mm in climate.rains:
        index = (begin.date() - climate.first).days
        highest[index] -= min(6.0, 2.0 + 0.3 * total_mm)
    return lowest, np.maximum(highest, lowest + 3.0)


def _hourly_temp_degc(lowest: Floats, highest: Floats) -> Floats:
    """Temperature (24 days,) [degC]: lowest at 5, highest at 15, half a cosine between them."""
    hour = np.arange(24)
    before = np.concatenate([highest[:1], highest[:-1]])[:, None]
    after = np.concatenate([lowest[1:], lowest[-1:]])[:, None]
    low, high = lowest[:, None], highest[:, None]
    night = low + (before - low) * (1.0 + np.cos(np.pi * (hour + 9) / 14.0)) / 2.0
    morning = low + (high - low) * (1.0 - np.cos(np.pi * (hour - 5) / 10.0)) / 2.0
    evening = after + (high - after) * (1.0 + np.cos(np.pi * (hour - 15) / 14.0)) / 2.0
    return np.where(hour < 5, night, np.where(hour <= 15, morning, evening)).ravel()


def _rain_mm(climate: Climate, hours: int) -> Floats:
    """Rain (hours,) [mm], heaviest in the middle of each rain, in tenths."""
    rain = np.zeros(hours)
    for begin, length, total_mm in climate.rains:
        start = int((begin - dt.datetime.combine(climate.first, dt.time())).total_seconds()) // 3600
        shape = np.sin(np.pi * (np.arange(length) + 0.5) / length)
        rain[start : start + length] += np.round(total_mm * shape / shape.sum(), 1)
    return rain


def _vapour(temp_degc: Floats) -> Floats:
    """Relative saturation vapour pressure (Magnus formula, Alduchov & Eskridge 1996)."""
    return np.exp(17.625 * temp_degc / (243.04 + temp_degc))


def make_weather(climate: Climate, offset_hours: float, seed: int) -> Weather:
    """The season's hours as the program knows them."""
    rng = dice_for(seed, 1)
    days = (climate.last - climate.first).days + 1
    lowest, highest = _daily_extremes(climate, days, rng)
    hours = 24 * days
    hour = np.tile(np.arange(24), days)
    temp = _hourly_temp_degc(lowest, highest) + 0.25 * draw_normal(rng, hours)
    rain = _rain_mm(climate, hours)
    fog = np.clip(-_spell_degc(climate, days) / 6.0, 0.0, 1.0)
    dryness = 1.0 - 0.9 * fog + 0.12 * np.maximum(highest - 30.0, 0.0)
    dew_point = np.repeat(lowest - dryness + 0.9 * draw_normal(rng, days), 24)
    rh = np.clip(_vapour(dew_point) / _vapour(temp), 0.15, 0.98)
    rh = np.where(rain > 0, np.maximum(rh, 0.95), rh)
    drying = np.zeros(hours)
    for lag, left in ((1, 0.9), (2, 0.6), (3, 0.2)):
        drying[lag:] = np.maximum(drying[lag:], np.where(rain[:-lag] > 0, left, 0.0))
    dew = np.clip((rh - 0.92) / 0.05, 0.0, 1.0) * 0.8
    wet = np.where(rain > 0, 1.0, np.maximum(drying, dew))
    sea = np.exp(-(((hour - 15.5) / 3.6) ** 2)) * np.repeat(0.6 + 0.8 * rng.random(days), 24)
    wind = np.maximum(0.3 + 0.6 * rng.random(hours) + 3.8 * sea + 0.4 * draw_normal(rng, hours), 0.0)
    wind = wind + np.where(rain > 0, 1.5, 0.0)
    turn = np.where(sea > 0.35, climate.sea_wind_from_deg, climate.night_wind_from_deg)
    wind_from = (turn + np.where(sea > 0.35, 16.0, 38.0) * draw_normal(rng, hours)) % 360.0
    midnight = dt.datetime.combine(climate.first, dt.time(), dt.UTC) - dt.timedelta(hours=offset_hours)
    return Weather(
        climate.station,
        offset_hours,
        int(midnight.timestamp()) + 3600 * np.arange(hours),
        np.round(temp, 1),
        rain,
        np.round(wet, 2),
        np.round(rh, 2),
        np.round(wind, 1),
        np.round(wind_from) % 360.0,
    )
