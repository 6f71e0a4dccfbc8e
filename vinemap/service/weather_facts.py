"""What the weather of a season says: pressure by day, the wind rose, the usual warmth of each hour, rain since a day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Protocol, TypeVar

import numpy as np

from vinemap.canopy.wind import WindRose, wind_rose
from vinemap.errors import TooFewData
from vinemap.ground.frame import Frame
from vinemap.season.value import Season
from vinemap.service.rot_facts import rot_of
from vinemap.service.stage_facts import budbreak_of
from vinemap.vineclock.days import Days, split_days
from vinemap.vineclock.latency import days_to_spores
from vinemap.vineclock.pressure import ASSUMED, WAITING, Pressure, Terms, pressure_of_days, season_of
from vinemap.vineclock.rot import RotDays
from vinemap.vineclock.stage import date_words
from vinemap.vineclock.weather import ORIGIN_WORDS, READ, Weather
from vinemap.work.conditions import PressureNow

NO_WEATHER = PressureNow(50, 0, 100, 1, "no weather brought in: taken as moderate")
LONGEST_LATENT_DAYS = 40
T = TypeVar("T")


class Once(Protocol):
    """Makes something once for a key, and gives the same again."""

    def __call__(self, key: tuple[Any, ...], make: Callable[[], T]) -> T:
        """What was made for the key."""


def _each_time(key: tuple[Any, ...], make: Callable[[], T]) -> T:
    return make()


@dataclass(frozen=True, slots=True, eq=False)
class WeatherFacts:
    """Computed once for a season's weather; None where there is nothing to compute it from.

    Of the first station and the earliest budbreak; ``by_block`` holds those of blocks with another station or budbreak.
    ``station``: its name where it is not the first one; ``rot``: risk of bunch rot by day.
    """

    days: Days | None
    pressure: Pressure | None
    rose: WindRose | None
    station: str = ""
    by_block: Mapping[str, WeatherFacts] = field(default_factory=dict)
    rot: RotDays | None = None

    def of(self, block: str) -> WeatherFacts:
        """What the weather says for one block."""
        return self.by_block.get(block, self)


NOTHING = WeatherFacts(None, None, None)


def weather_facts(season: Season, once: Once = _each_time) -> WeatherFacts:
    """Pressure, wind and warmth from the season's weather, for the estate and for each block.

    Blocks with the same station and budbreak share one reckoning; ``once`` keeps it from one season to the next.
    """
    made: dict[tuple[Weather, dt.date | None], WeatherFacts] = {}
    found, usual = _found(season), budbreak_of(season)

    def facts(weather: Weather, budbreak: dt.date | None) -> WeatherFacts:
        if (weather, budbreak) not in made:
            made[weather, budbreak] = _of_station(season, weather, budbreak, found, once)
        return made[weather, budbreak]

    first = season.weather
    whole = facts(first, usual) if first is not None and len(first) else NOTHING
    by_block: dict[str, WeatherFacts] = {}
    for block in season.blocks:
        weather = season.weather_of(block.name)
        if weather is None or not len(weather):
            continue
        own = facts(weather, _budbreak_for(season, block.name) or usual)
        if own is not whole:
            by_block[block.name] = own
    return replace(whole, by_block=by_block) if by_block else whole


def _of_station(
    season: Season, weather: Weather, budbreak: dt.date | None, found: dt.date | None, once: Once
) -> WeatherFacts:
    frame, rules = season.estate.frame, season.goes_by
    terms = Terms(rules.heat, rules.infection, found, frame.is_southern)
    days = once(("days", weather), lambda: _days(weather))
    if days is None:
        return NOTHING
    pressure = once(("pressure", weather, budbreak, terms), lambda: pressure_of_days(days, budbreak, terms))
    rose = once(("rose", weather, frame), lambda: _rose(weather, frame))
    name = weather.station if season.weather is not None and weather is not season.weather else ""
    return WeatherFacts(days, pressure, rose, name, rot=once(("rot", weather), lambda: rot_of(weather)))


def _days(weather: Weather) -> Days | None:
    try:
        return split_days(weather)
    except TooFewData:
        return None


def _rose(weather: Weather, frame: Frame) -> WindRose | None:
    try:
        return wind_rose(weather, frame.lat_deg, frame.lon_deg)
    except TooFewData:
        return None


def _budbreak_for(season: Season, block: str) -> dt.date | None:
    """Budbreak entered for the block, else for all; None where neither was."""
    entered = {each.block: each.budbreak for each in season.stages if each.budbreak}
    return entered.get(block) or entered.get("")


def _found(season: Season) -> dt.date | None:
    """The day of the first round of the last season with rounds that found mildew."""
    is_southern = season.estate.frame.is_southern
    dates = [each.date for each in season.rounds if each.stops.infected.any() or each.stops.leaves_infected.any()]
    if not dates:
        return None
    last = max(season_of(date, is_southern) for date in dates)
    return min(date for date in dates if season_of(date, is_southern) == last)


def pressure_on(facts: WeatherFacts, date: dt.date) -> PressureNow:
    """Pressure on a date: of that day, or of the last day before it that has weather."""
    pressure = facts.pressure
    if pressure is None or not len(pressure.date) or date.toordinal() < int(pressure.date[0]):
        return NO_WEATHER
    at = min(date.toordinal(), int(pressure.date[-1])) - int(pressure.date[0])
    behind = date.toordinal() - int(pressure.date[at])
    source = f"from the weather of station {facts.station}" if facts.station else "from the estate's weather"
    if behind:
        source = f"as it was {behind} days before, when the weather ends"
    origin = int(pressure.days.origin[at])
    if origin > READ:
        source += f", {ORIGIN_WORDS[origin]}"
    if pressure.why[at] == WAITING:
        source += "; not counted yet, for there was no primary infection and no mildew was found"
    elif pressure.why[at] == ASSUMED:
        source += f"; infection assumed from {date_words(dt.date.fromordinal(int(pressure.counts_from[at])))} on"
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
