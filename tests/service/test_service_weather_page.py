"""Why the pressure is what it is: invented hours, the index worked by hand from the rules of Gubler et al. 1999."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from vinemap.ground.frame import Frame
from vinemap.season.value import Estate, Season, StageDates
from vinemap.service.weather_facts import weather_facts
from vinemap.service.weather_page import TITLE, day_to_show, weather_page, weather_plan
from vinemap.vineclock.weather import ESTIMATED, FORECAST, Weather

FIRST = dt.date(2026, 5, 1)
PRINTED = dt.datetime(2026, 5, 20, 5, 0)


def season_of(days=20, budbreak=FIRST):
    """Days of 24 °C from the first of May, with rain on the first: an infection, and 20 more each day from the start on."""
    count = 24 * days
    time = (FIRST.toordinal() - dt.date(1970, 1, 1).toordinal()) * 86_400 + 3600 * np.arange(count)
    rain = np.zeros(count)
    rain[5:8] = 2.0
    none = np.full(count, np.nan)
    made = Weather("hill", 0.0, time, np.full(count, 24.0), rain, np.zeros(count), none, none, none)
    stages = (StageDates("", budbreak=budbreak),) if budbreak else ()
    estate = Estate("Invented", Frame("EPSG:32633", 0.0, 0.0, 38.0, 15.0, 0.5), 0.0)
    return Season(estate, weather=made, stages=stages)


def season_with(edit, **given):
    season = season_of(**given)
    return replace(season, weather=replace(season.weather, **edit(season.weather)))


def plan_on(season, date):
    return weather_plan(weather_facts(season), season, "Long Acre", date, PRINTED)


def row(plan, label):
    return next(each.cells for each in plan.rows if each.label == label)


def test_a_fortnight_ends_with_the_day_or_with_the_weather():
    season = season_of()
    early = plan_on(season, dt.date(2026, 5, 3))
    assert (early.days[0], early.days[-1], early.chosen) == (FIRST, dt.date(2026, 5, 3), 2)
    late = plan_on(season, dt.date(2026, 5, 12))
    assert (late.days[0], late.days[-1], late.chosen) == (dt.date(2026, 5, 7), dt.date(2026, 5, 20), 5)
    assert len(plan_on(season_of(days=40), dt.date(2026, 5, 20)).days) == 14


def test_the_table_tells_each_day():
    plan = plan_on(season_of(), dt.date(2026, 5, 5))
    # counted from the first day on: three days to 60, then 20 a day, held at 100
    assert row(plan, "pressure") == ("20", "40", "60", "80", "100")
    assert row(plan, "change") == ("+20",) * 5
    assert row(plan, "longest run in the band, h") == ("24",) * 5
    assert row(plan, "rain, mm") == ("6", "0", "0", "0", "0")
    assert row(plan, "highest, °C") == ("24",) * 5
    assert [each.label for each in plan.rows if each.label in ("hours", "it can be")] == []
    assert plan.words[0].startswith("24 h unbroken between 70 and 85 °F")


def test_missing_hours_are_a_range_and_never_nought():
    def edit(weather):
        temp, rain = weather.temp_degc.copy(), weather.rain_mm.copy()
        temp[24 * 5 : 24 * 6], rain[24 * 5 : 24 * 6] = np.nan, np.nan
        rain[24 * 4 : 24 * 4 + 12], rain[24 * 4 + 15] = np.nan, 3.0
        return {"temp_degc": temp, "rain_mm": rain}

    season = season_with(edit, days=8)
    plan = plan_on(season, dt.date(2026, 5, 6))
    assert plan.hours is None
    assert row(plan, "longest run in the band, h")[5] == "?"
    assert row(plan, "highest, °C")[5] == "?"
    assert row(plan, "rain, mm")[4:6] == ("3+", "?")
    assert row(plan, "hours")[4:7] == ("read", "24 h lack", "read")
    assert row(plan, "change")[5] == "kept"
    assert row(plan, "it can be")[4:6] == ("", "90–100")
    page = weather_page(weather_facts(season), season, dt.date(2026, 5, 6))
    assert [fact.value for fact in page.facts] == ["100, 90 to 100", "all missing"]


def test_hours_that_are_missing_can_have_been_between_their_neighbours():
    def edit(weather):
        temp = weather.temp_degc.copy()
        temp[24 * 5 + 10 : 24 * 5 + 13] = np.nan
        return {"temp_degc": temp}

    hours = plan_on(season_with(edit, days=8), dt.date(2026, 5, 6)).hours
    # 5 degrees an hour from 24 on both sides: one hour, two, and one again
    assert hours.low_degc[9:14].tolist() == [24.0, 19.0, 14.0, 19.0, 24.0]
    assert hours.high_degc[9:14].tolist() == [24.0, 29.0, 34.0, 29.0, 24.0]
    assert hours.is_counted.sum() == 11
    assert hours.is_counted[13:].all()
    assert hours.is_inside[:10].all()


def test_what_was_not_read_is_told():
    def edit(weather):
        origin = np.zeros(len(weather), np.int8)
        origin[24 * 5 : 24 * 6], origin[24 * 6 :] = ESTIMATED, FORECAST
        return {"origin": origin}

    season = season_with(edit, days=8)
    plan = plan_on(season, dt.date(2026, 5, 8))
    assert row(plan, "hours")[4:] == ("read", "estim.", "forecast", "forecast")
    assert plan.is_other_hand == (False,) * 5 + (True,) * 3
    facts = weather_facts(season)
    assert [weather_page(facts, season, dt.date(2026, 5, day)).facts[-1].value for day in (5, 6, 7)] == [
        "read",
        "estimated from the day's extremes",
        "by the forecast",
    ]


def test_before_budbreak_nothing_is_counted():
    season = season_of(budbreak=dt.date(2026, 5, 4))
    plan = plan_on(season, dt.date(2026, 5, 3))
    assert row(plan, "pressure") == row(plan, "change") == ("", "", "")
    page = weather_page(weather_facts(season), season, dt.date(2026, 5, 3))
    assert [(fact.label, fact.value) for fact in page.facts] == [("pressure", "not counted yet"), ("hours", "read")]
    assert (page.title, page.subtitle) == (TITLE, "Sunday 3 May, station hill")


@pytest.mark.parametrize(
    ("wanted", "shown"),
    [(dt.date(2025, 1, 1), FIRST), (dt.date(2026, 5, 9), dt.date(2026, 5, 9)), (dt.date(2027, 1, 1), dt.date(2026, 5, 20))],
)
def test_a_day_without_weather_is_the_nearest_that_has_some(wanted, shown):
    assert day_to_show(weather_facts(season_of()).pressure, wanted) == shown
