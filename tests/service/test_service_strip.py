"""The season strip: one axis of days with what is known of each."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from vinemap.ground.frame import Frame
from vinemap.season.value import BrixSeen, Estate, Season, StageDates, StageSeen
from vinemap.service.strip import DayMark, RoundMark, WorkMark, make_strip, season_strip
from vinemap.service.weather_facts import weather_facts
from vinemap.vineclock.pressure import pressure
from vinemap.vineclock.weather import ESTIMATED, FORECAST, READ, Weather
from vinemap.work.conditions import Stage

START, BLOOM = dt.date(2026, 4, 1), dt.date(2026, 5, 29)


def stage(bloom, veraison=None):
    return Stage(bloom, False, dt.date(2026, 9, 15), False, veraison)


def test_the_axis_holds_everything_and_half_a_year():
    early = WorkMark(dt.date(2026, 3, 20), "T", dt.date(2026, 3, 20))
    strip = make_strip((RoundMark(1, dt.date(2026, 6, 12), 300, 12),), (early,), None, stage(BLOOM), 28.0, START)
    assert strip.first == early.date
    assert strip.last == START + dt.timedelta(days=183)
    assert strip.today == dt.date(2026, 6, 12)
    assert len(strip.window) == (strip.last - strip.first).days + 1
    # wide open on the day of bloom, closed before the season and after colour
    assert strip.window[(BLOOM - strip.first).days] == 1.0
    assert strip.window[(BLOOM - strip.first).days + 63] == 0.0
    assert strip.words_on(dt.date(2026, 6, 12)) == "12 June, fruit open to mildew 100 %, round 1"


@pytest.mark.parametrize("resists_days", [28.0, 62.0, 70.0])
def test_berries_that_resist_late_still_have_a_window(resists_days):
    strip = make_strip((), (), None, stage(BLOOM), resists_days, START)
    assert np.isfinite(strip.window).all()
    assert strip.window.max() == 1.0
    assert strip.window[-1] == 0.0


def test_without_bloom_nothing_is_claimed():
    strip = make_strip((), (), None, stage(None), 28.0, START)
    assert not strip.window.any()
    assert strip.window_words == "bloom not entered"


def test_an_entered_date_of_colour_closes_the_window_then():
    colour = BLOOM + dt.timedelta(days=80)
    strip = make_strip((), (), None, stage(BLOOM, colour), 28.0, START)
    after = (colour - strip.first).days
    assert strip.window[after - 5] > 0.0
    assert strip.window[after] == 0.0


HOUR = 3600


def weather_of(first, days, degc=24.0, origin=None):
    """Hours of the same warmth from a date on; ``origin``: code of each day."""
    start = (first.toordinal() - dt.date(1970, 1, 1).toordinal()) * 24 * HOUR
    count = days * 24
    none = np.full(count, np.nan)
    codes = np.repeat(np.array(origin if origin is not None else [READ] * days, np.int8), 24)
    time = start + HOUR * np.arange(count)
    return Weather("post", 0.0, time, np.full(count, degc), none, none, none, none, none, codes)


def strip_of(weather, budbreak=None, work=()):
    pressed = pressure(weather, budbreak)
    return make_strip((), work, pressed, stage(BLOOM), 28.0, START)


def test_it_begins_where_weather_or_budbreak_do():
    weather = weather_of(dt.date(2026, 1, 5), 100)
    # pressure of March was cut off when the strip began on the first of April
    assert strip_of(weather).first == dt.date(2026, 2, 1)
    assert strip_of(weather, dt.date(2026, 3, 9)).first == dt.date(2026, 3, 9)
    assert strip_of(weather, dt.date(2026, 3, 9)).pressure_day[0] == dt.date(2026, 3, 9).toordinal()
    assert strip_of(weather_of(dt.date(2026, 4, 20), 10)).first == START
    # a dormant vine of another year is no part of it
    assert strip_of(weather_of(dt.date(2024, 1, 1), 1200), dt.date(2026, 3, 9)).last == START + dt.timedelta(days=331)


def test_a_forecast_is_not_today_and_says_what_it_is():
    weather = weather_of(dt.date(2026, 6, 1), 8, origin=[READ] * 4 + [ESTIMATED] * 1 + [FORECAST] * 3)
    strip = strip_of(weather)
    assert strip.today == dt.date(2026, 6, 5)
    # three favourable days in a row end at 60, then 20 a day (worked by hand from the rules of Gubler et al. 1999)
    assert strip.words_on(dt.date(2026, 6, 4)).startswith("4 June, pressure 80, high, fruit open")
    assert "pressure 100, high, hours estimated from the day's extremes" in strip.words_on(dt.date(2026, 6, 5))
    assert "pressure 100, high, by the forecast" in strip.words_on(dt.date(2026, 6, 6))
    assert "pressure" not in strip.words_on(dt.date(2026, 6, 9))
    assert "pressure" not in strip.words_on(dt.date(2026, 5, 31))


def test_missing_hours_leave_a_range_and_heat_is_told():
    weather = weather_of(dt.date(2026, 6, 1), 6)
    temp = weather.temp_degc.copy()
    temp[24 * 4 : 24 * 5] = np.nan
    temp[24 * 5 + 14] = 36.0
    strip = strip_of(replace(weather, temp_degc=temp))
    # 80 on the fourth day; the fifth lacks all its hours: kept, and 70 or 100 would do
    assert "pressure 80 (hours are missing: 70 to 100), high" in strip.words_on(dt.date(2026, 6, 5))
    assert "hot enough to slow mildew" in strip.words_on(dt.date(2026, 6, 6))
    assert strip.is_hot.tolist() == [False] * 5 + [True]


def test_a_day_tells_of_stages_events_and_cover():
    marks = (DayMark(BLOOM, "primary infection"),), (DayMark(BLOOM, "bloom"),)
    spray = WorkMark(BLOOM, "P", BLOOM + dt.timedelta(days=10))
    strip = make_strip((), (spray,), None, stage(BLOOM), 28.0, START, marks)
    told = "29 May, fruit open to mildew 100 %, bloom, primary infection, spray, cover until about 8 June"
    assert strip.words_on(BLOOM) == told


def season(is_southern=False, **parts):
    frame = Frame("EPSG:32633", 0.0, 0.0, -38.0 if is_southern else 38.0, 15.0, 0.0)
    return Season(Estate("Invented", frame, 1.0), **parts)


@pytest.mark.parametrize(
    ("is_southern", "now", "first"),
    [
        (False, dt.date(2031, 11, 3), dt.date(2031, 4, 1)),
        (False, dt.date(2031, 1, 3), dt.date(2030, 4, 1)),
        (True, dt.date(2031, 1, 3), dt.date(2030, 10, 1)),
        (True, dt.date(2031, 9, 3), dt.date(2031, 10, 1)),
    ],
)
def test_a_season_with_nothing_in_it_is_that_of_the_day(is_southern, now, first):
    empty = season(is_southern)
    assert season_strip(empty, "", weather_facts(empty), now).first == first


def test_a_season_with_weather_or_stages_alone_is_theirs():
    now = dt.date(2031, 11, 3)
    with_weather = season(weather=weather_of(dt.date(2027, 4, 20), 5))
    assert season_strip(with_weather, "", weather_facts(with_weather), now).first == dt.date(2027, 4, 1)
    dates = StageDates("", bloom=BLOOM, seen=(StageSeen(dt.date(2026, 6, 4), "E-L", 27),), brix=(BrixSeen(BLOOM, 4.5),))
    entered = season(stages=(dates,))
    strip = season_strip(entered, "", weather_facts(entered), now)
    assert strip.first == START
    assert "4 June, fruit open to mildew 100 %, E-L 27" in strip.words_on(dt.date(2026, 6, 4))
    assert strip.words_on(BLOOM).endswith("bloom, 4.5 Brix")
