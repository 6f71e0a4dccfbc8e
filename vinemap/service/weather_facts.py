"""What the weather of a season says: pressure by day, the wind rose, the usual warmth of each hour, rain since a day."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from vinemap.canopy.air import mean_air_by_hour, typical_air
from vinemap.canopy.wind import WindRose, wind_rose
from vinemap.columns import Floats
from vinemap.errors import TooFewData
from vinemap.season.value import Season, StageDates
from vinemap.vineclock.days import Days, split_days
from vinemap.vineclock.latency import days_to_spores
from vinemap.vineclock.pressure import Pressure, pressure_of_days
from vinemap.vineclock.stage import bloom_by_degree_days
from vinemap.work.conditions import PressureNow, Stage

NO_WEATHER = PressureNow(50, 0, 100, 1, "no weather brought in: taken as moderate")
HARVEST_NORTH, HARVEST_SOUTH = (9, 15), (3, 15)
SOUTHERN_SEASON_FROM = 7
"""Harvest where none was entered; stated assumption."""

AIR_DAYS = 30
LONGEST_LATENT_DAYS = 40


@dataclass(frozen=True, slots=True, eq=False)
class WeatherFacts:
    """Computed once for a season's weather; None where there is nothing to compute it from."""

    days: Days | None
    pressure: Pressure | None
    rose: WindRose | None
    warm_bloom: dt.date | None
    """Bloom estimated from warmth, for blocks without a date."""


def weather_facts(season: Season) -> WeatherFacts:
    """Pressure, wind and warmth from the season's weather."""
    weather = season.weather
    if weather is None or not len(weather):
        return WeatherFacts(None, None, None, None)
    frame = season.estate.frame
    try:
        days = split_days(weather)
    except TooFewData:
        return WeatherFacts(None, None, None, None)
    try:
        rose = wind_rose(weather, frame.lat_deg, frame.lon_deg)
    except TooFewData:
        rose = None
    try:
        bloom = bloom_by_degree_days(days, frame.is_southern).date
    except TooFewData:
        bloom = None
    return WeatherFacts(days, pressure_of_days(days, budbreak_of(season)), rose, bloom)


def _dates_for(season: Season, block: str) -> StageDates | None:
    """Dates entered for the block, else for all blocks."""
    named = [each for each in season.stages if each.block == block]
    general = [each for each in season.stages if not each.block]
    return next(iter(named or general), None)


def budbreak_of(season: Season) -> dt.date | None:
    """The earliest budbreak that was entered."""
    return min((each.budbreak for each in season.stages if each.budbreak), default=None)


def stage_of(season: Season, block: str, facts: WeatherFacts, date: dt.date) -> Stage:
    """Bloom and harvest of a block: as entered for it, else as entered for all, else as estimated or assumed."""
    own = _dates_for(season, block)
    shared = _dates_for(season, "")
    bloom = (own.bloom if own else None) or (shared.bloom if shared else None)
    harvest = (own.harvest if own else None) or (shared.harvest if shared else None)
    veraison = (own.veraison if own else None) or (shared.veraison if shared else None)
    assumed = harvest is None
    return Stage(
        bloom=bloom or facts.warm_bloom,
        is_bloom_estimated=bloom is None and facts.warm_bloom is not None,
        harvest=harvest or usual_harvest(date, season.estate.frame.is_southern),
        is_harvest_assumed=assumed,
        veraison=veraison,
    )


def usual_harvest(date: dt.date, is_southern: bool) -> dt.date:
    """The usual day of harvest of the season that a date lies in: mid September in the north, mid March in the south."""
    if not is_southern:
        return dt.date(date.year, *HARVEST_NORTH)
    return dt.date(date.year + (date.month >= SOUTHERN_SEASON_FROM), *HARVEST_SOUTH)


def next_harvest(date: dt.date, is_southern: bool) -> dt.date:
    """The usual day of harvest that comes next."""
    this = usual_harvest(date, is_southern)
    return this if this >= date else this.replace(year=this.year + 1)


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
    """Rain [mm] after each date up to ``until``; days without readings count as dry."""
    days = facts.days
    if days is None:
        return {}
    rain = np.nan_to_num(days.rain_mm)
    ordinal = days.date
    return {date: float(rain[(ordinal > date.toordinal()) & (ordinal <= until.toordinal())].sum()) for date in dates}


def air_by_hour(season: Season, until: dt.date) -> Floats:
    """Usual warmth (24,) [degC] of each hour over the last month, or that of a typical day where there are no readings."""
    if season.weather is None:
        return typical_air()
    try:
        return mean_air_by_hour(season.weather, until - dt.timedelta(days=AIR_DAYS), until)
    except TooFewData:
        return typical_air()
