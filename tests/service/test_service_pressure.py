"""Pressure of each block: its own station, its own budbreak, the estate's rules; one reckoning for all that share them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from test_service_answers import FRAME, block_of, round_of

from vinemap.season.rules import HEAT_2013, Rules
from vinemap.season.value import Estate, Season, StageDates
from vinemap.season.weather_edits import choose_station, with_rules, with_station
from vinemap.service.answers import Answers
from vinemap.service.strip import season_strip
from vinemap.service.weather_facts import pressure_on, rain_since, weather_facts
from vinemap.vineclock.pressure import ASSUMED, FOUND, INFECTED, WAITING
from vinemap.vineclock.weather import FORECAST, READ, Weather

FIRST = dt.date(2026, 4, 1)
GOOD, COOL, HOT = [14.0] * 12 + [24.0] * 12, [14.0] * 24, [24.0] * 10 + [36.0] + [24.0] * 13


def weather_of(days, station="first", rain=0.0):
    temp = np.array(days, float).ravel()
    midnight = (FIRST - dt.date(1970, 1, 1)).days * 86_400 + 8 * 3600
    nothing = np.full(len(temp), np.nan)
    fallen = np.full(len(temp), rain)
    return Weather(
        station, -8.0, midnight + 3600 * np.arange(len(temp)), temp, fallen, nothing, nothing, nothing, nothing
    )  # fmt: skip


def season_with(weather, *names, stages=(), rounds=()):
    blocks = tuple(replace(block_of(), name=name) for name in names or ("Home",))
    return Season(Estate("Invented", FRAME, -8.0, True), blocks, rounds, stages=stages, weather=weather)


def on(facts, block, day):
    return pressure_on(facts.of(block), FIRST + dt.timedelta(days=day))


def test_a_block_goes_by_its_own_station():
    season = with_station(season_with(weather_of([GOOD] * 6, rain=1.0), "Home", "Hill"), weather_of([COOL] * 6, "hill", 1.0))
    facts = weather_facts(choose_station(season, "Hill", "hill"))
    assert (on(facts, "Home", 5).index, on(facts, "Hill", 5).index) == (100, 0)
    assert on(facts, "Home", 5).source == "from the estate's weather"
    assert on(facts, "Hill", 5).source == "from the weather of station hill"
    assert on(facts, "no such block", 5).index == 100
    strips = [season_strip(choose_station(season, "Hill", "hill"), name, facts, FIRST) for name in ("", "Home", "Hill")]
    assert [int(strip.pressure[-1]) for strip in strips] == [100, 100, 0]


def test_a_block_goes_by_its_own_budbreak():
    late = StageDates("Hill", budbreak=FIRST + dt.timedelta(days=3))
    season = season_with(weather_of([GOOD] * 6, rain=1.0), "Home", "Hill", stages=(StageDates("", budbreak=FIRST), late))
    facts = weather_facts(season)
    assert (on(facts, "Home", 5).index, on(facts, "Hill", 5).index) == (100, 60)


def test_blocks_that_share_weather_share_the_reckoning():
    season = season_with(weather_of([GOOD] * 6), *(f"B{number}" for number in range(200)))
    season = with_station(season, weather_of([COOL] * 6, "hill"))
    for number in range(100):
        season = choose_station(season, f"B{number}", "hill")
    asked = []

    def once(key, make):
        asked.append(key[0])
        return make()

    facts = weather_facts(season, once)
    assert (asked.count("days"), asked.count("pressure")) == (2, 2)
    assert len({id(facts.of(f"B{number}")) for number in range(200)}) == 2
    answers = Answers()
    first = answers.facts(season)
    moved = replace(season, blocks=season.blocks[1:])
    assert answers.facts(moved).pressure is first.pressure  # an edit elsewhere reckons nothing again


def test_the_estate_s_rules_are_gone_by():
    season = season_with(weather_of([GOOD, GOOD, GOOD, HOT], rain=1.0))
    assert on(weather_facts(season), "Home", 3).index == 70
    assert on(weather_facts(with_rules(season, Rules(heat=HEAT_2013))), "Home", 3).index == 80
    wet = weather_facts(with_rules(season, Rules(infection="ucce")))
    assert wet.pressure is not None
    assert wet.pressure.infections.rule == "ucce"


@pytest.mark.parametrize(
    ("rain", "infected", "why"),
    [(0.0, 0, WAITING), (0.0, 2, FOUND), (1.0, 0, INFECTED), (np.nan, 0, ASSUMED)],
)
def test_what_the_counting_begins_with(rain, infected, why):
    season = season_with(weather_of([GOOD] * 100, rain=rain))
    season = replace(season, rounds=(round_of(season.blocks[0], [1, 2], infected=infected),))
    facts = weather_facts(season)
    assert facts.pressure is not None
    assert facts.pressure.why[-1] == why
    source = on(facts, "Home", 99).source
    assert ("not counted yet" in source) == (why == WAITING)
    assert ("infection assumed from 1 April on" in source) == (why == ASSUMED)
    assert on(facts, "Home", 99).index == (0 if why == WAITING else 100)


def test_without_weather():
    facts = weather_facts(season_with(None))
    assert facts.pressure is None
    assert on(facts, "Home", 0).source.startswith("no weather")
    later = season_with(None, "Home", "Hill")
    only = replace(later, stations=(weather_of([GOOD] * 6, "hill", 1.0),))
    assert on(weather_facts(choose_station(only, "Hill", "hill")), "Hill", 5).index == 100


def test_a_forecast_is_called_so():
    weather = weather_of([GOOD] * 6, rain=1.0)
    season = season_with(replace(weather, origin=np.repeat([READ, FORECAST], 72)))
    facts = weather_facts(season)
    assert on(facts, "Home", 2).source == "from the estate's weather"
    assert on(facts, "Home", 3).source == "from the estate's weather, forecast"


def test_rain_that_was_read():
    rain = np.full(72, 0.5)
    rain[30:60] = np.nan
    season = season_with(replace(weather_of([GOOD] * 3), rain_mm=rain))
    facts = weather_facts(season)
    assert rain_since(facts, {FIRST}, FIRST + dt.timedelta(days=2)) == {FIRST: 9.0}
