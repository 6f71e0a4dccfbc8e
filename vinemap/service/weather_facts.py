"""What the weather of a season says: pressure by day, the wind rose, the usual warmth of each hour, rain since a day."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from vinemap.canopy.wind import WindRose, wind_rose
from vinemap.errors import TooFewData
from vinemap.season.value import Season
from vinemap.service.stage_facts import budbreak_of
from vinemap.vineclock.days import Days, split_days
from vinemap.vineclock.latency import days_to_spores
from vinemap.vineclock.pressure import Pressure, pressure_of_days
from vinemap.work.conditions import PressureNow

NO_WEATHER = PressureNow(50, 0, 100, 1, "no weather brought in: taken as moderate")
LONGEST_LATENT_DAYS = 40


@dataclass(frozen=True, slots=True, eq=False)
class WeatherFacts:
    """Computed once for a season's weather; None where there is nothing to compute it from."""

    days: Days | None
    pressure: Pressure | None
    rose: WindRose | None


def weather_facts(season: Season) -> WeatherFacts:
    """Pressure, wind and warmth from the season's weather."""
    weather = season.weather
    if weather is None or not len(weather):
        return WeatherFacts(None, None, None)
    frame = season.estate.frame
    try:
        days = split_days(weather)
    except TooFewData:
        return WeatherFacts(None, None, None)
    try:
        rose = wind_rose(weather, frame.lat_deg, frame.lon_deg)
    except TooFewData:
        rose = None
    return WeatherFacts(days, pressure_of_days(days, budbreak_of(season)), rose)


def pressure_on(facts: WeatherFacts, date: dt.date) -> PressureNow:
    """Pressure on a date: of that day, or of the last day before it that has weather."""
    pressure = facts.pressure
    if pressure is None or not len(pressure.date) or date.toordinal() < int(pressure.date[0]):
        return NO_WEATHER
    at = min(date.toordinal(), int(pressure.date[-1])) - int(pressure.date[0])
    behind = date.toordinal() - int(pressure.date[at])
    source = "from the estate's weather" if behind == 0 else f"as it was {behind} days before, when the weather ends"
    index = int(pressure.index[at])
    return PressureNow(index, int(pressure.low[at]), int(pressure.high[at]), int(pressure.class_code[at]), source)


def days_until_seen(facts: WeatherFacts, date: dt.date) -> int | None:
    """Days until an infection of that date bears spores, if the last week's warmth goes on; None without weather.

    Source: latent period of Caffi et al. 2011.
    """
    days = facts.days
    if days is None:
        return None
    last = days.mean_degc[(days.date <= date.toordinal()) & (days.date > date.toordinal() - 7)]
    known = last[~np.isnan(last)]
    return days_to_spores(np.full(LONGEST_LATENT_DAYS, known.mean())) if len(known) else None


def rain_since(facts: WeatherFacts, dates: set[dt.date], until: dt.date) -> dict[dt.date, float]:
    """Rain that was read [mm] after each date up to ``until``: at least so much fell."""
    days = facts.days
    if days is None:
        return {}
    rain, ordinal = days.rain_least_mm, days.date
    return {date: float(rain[(ordinal > date.toordinal()) & (ordinal <= until.toordinal())].sum()) for date in dates}
