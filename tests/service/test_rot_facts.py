"""What makes bunches prone to rot, and the days at risk. Estates, counts and weather are invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from stage_season_makers import season_with

from vinemap.scouting.incidence import block_share
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.value import StageDates
from vinemap.service.rot_facts import prone_on, rot_of, rot_risk, scars_by_block, stage_numbers
from vinemap.service.strip import DayMark, rot_marks
from vinemap.service.weather_facts import WeatherFacts
from vinemap.vineclock.rot import raised_by
from vinemap.vineclock.weather import Weather

BLOOM = StageDates("", bloom=dt.date(2031, 5, 28))
AUGUST = dt.date(2031, 8, 10)


def week_of_rain(wet_on: dt.date, hours: int) -> Weather:
    """A fortnight at 20 degC until 10 August, wet from midnight of one day on."""
    first = dt.datetime(2031, 7, 28)
    start = int((first - dt.datetime(1970, 1, 1)).total_seconds())
    wet = np.zeros(24 * 14)
    at = 24 * (wet_on - first.date()).days
    wet[at : at + hours] = 1
    nothing = np.full(len(wet), np.nan)
    time = start + 3600 * np.arange(len(wet))
    return Weather("invented", 0.0, time, np.full(len(wet), 20.0), nothing, wet, nothing, nothing, nothing)


def round_of(number, date, infected):
    n = 6
    zeros = np.zeros(n, int)
    places = np.arange(1, n + 1), np.full(n, 1.0), np.arange(n) * 1.5
    counts = np.full(n, 10), np.full(n, infected)
    return Round(number, date, "S", "", Stops(("A",), zeros, ("1",) * n, *places, *counts, zeros, zeros, zeros.astype(bool)))


def scouted(*varieties):
    season = season_with((BLOOM,), varieties or ("unknown",))
    rounds = (round_of(2, dt.date(2031, 7, 20), 3), round_of(1, dt.date(2031, 6, 20), 1))
    return replace(season, rounds=rounds)


def test_the_last_round_before_a_day_tells_how_many_clusters_are_scarred():
    season = scouted("Cot")
    scars = scars_by_block(season)["A"]
    assert [(date.month, share) for date, share in scars] == [(6, pytest.approx(0.1)), (7, pytest.approx(0.3))]
    assert "B" not in scars_by_block(season)
    block = season.blocks[0]
    assert prone_on(block, scars, dt.date(2031, 6, 1)).scarred_frac is None
    assert prone_on(block, scars, dt.date(2031, 7, 1)).scarred_frac == pytest.approx(0.1)
    late = prone_on(block, scars, AUGUST)
    assert (late.scarred_frac, late.scarred_on) == (pytest.approx(0.3), dt.date(2031, 7, 20))
    assert (late.variety, late.rating, late.density) == ("Cot", 2, 5)


def test_scars_are_the_share_of_the_block_and_targeted_stops_do_not_count_beside_random_ones():
    season = scouted()
    one = season.rounds[0]
    mixed = replace(one.stops, is_targeted=np.arange(6) < 3, infected=np.array([9, 9, 9, 2, 0, 1]))
    aimed = replace(mixed, is_targeted=np.ones(6, bool))
    for stops in (mixed, aimed, one.stops):
        found = scars_by_block(replace(season, rounds=(replace(one, stops=stops),)))["A"]
        whole = block_share(stops.examined, stops.infected, stops.is_targeted)
        assert found == ((one.date, pytest.approx(whole.share)),)
    unseen = replace(one.stops, examined=np.zeros(6), infected=np.zeros(6))
    assert scars_by_block(replace(season, rounds=(replace(one, stops=unseen),))) == {}


def facts_of(weather):
    rot = rot_of(weather)
    return WeatherFacts(None, None, None, rot=rot)


def test_days_at_risk_are_told_by_class_and_by_block():
    # 11 h at 20 degC: index 0.13, low (Broome et al. 1995); 30 % of clusters scarred raise it to 0.43.
    season = scouted()
    facts = facts_of(week_of_rain(dt.date(2031, 8, 8), 11))
    assert rot_marks(season, "A", facts) == (DayMark(dt.date(2031, 8, 8), "bunch rot: low risk"),)
    risk = rot_risk(season, season.blocks[0], scars_by_block(season)["A"], facts.rot, None)
    assert risk.max() == pytest.approx(0.1318 + 0.3, abs=1e-3)
    assert rot_risk(season, season.blocks[1], (), facts.rot, None).max() == pytest.approx(0.1318, abs=1e-3)
    # prone to rot and tight as well: 0.13 + 0.3 + 0.75
    assert rot_marks(scouted("Zinfandel"), "", facts)[0].words == "bunch rot: high risk in A"


def test_flowers_are_not_raised_for_scars_and_tight_bunches():
    season = replace(scouted("Zinfandel"), stages=(StageDates("", bloom=dt.date(2031, 8, 1)),))
    facts = facts_of(week_of_rain(dt.date(2031, 8, 8), 11))
    assert rot_risk(season, season.blocks[0], scars_by_block(season)["A"], facts.rot, None).max() == pytest.approx(
        0.1318, abs=1e-3
    )


def test_a_risk_by_day_agrees_with_the_day_by_day_sum():
    season = scouted("Zinfandel")
    rot = rot_of(week_of_rain(dt.date(2031, 7, 29), 30))
    scars, block = scars_by_block(season)["A"], season.blocks[0]
    number = stage_numbers(season, "A", None, rot.date)
    days = [dt.date.fromordinal(int(day)) for day in rot.date]
    added = [raised_by(prone_on(block, scars, day), at)[0] for day, at in zip(days, number.tolist(), strict=True)]
    assert rot_risk(season, block, scars, rot, None).tolist() == pytest.approx((rot.index + added).tolist())


def test_nothing_is_told_of_a_dry_week_or_without_wetness():
    season = scouted("Zinfandel")
    dry = week_of_rain(AUGUST, 0)
    assert rot_marks(season, "A", facts_of(dry)) == ()
    assert rot_marks(season, "A", WeatherFacts(None, None, None)) == ()
    assert rot_of(replace(dry, wet_frac=np.full(len(dry), np.nan))) is None
    assert rot_of(None) is None


def test_stages_of_two_seasons_are_each_their_own():
    season = season_with((StageDates("", bloom=dt.date(2031, 5, 28)),))
    days = np.array([dt.date(2031, 5, 28).toordinal(), dt.date(2032, 5, 28).toordinal()])
    number = stage_numbers(season, "A", None, days)
    assert number[0] == pytest.approx(23.0)
    assert np.isnan(number[1])
