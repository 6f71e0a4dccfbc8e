"""What makes bunches prone to rot, and the worst day of a week. Estates, counts and weather are invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from stage_season_makers import season_with

from vinemap.scouting.rounds import Round, Stops
from vinemap.season.value import StageDates
from vinemap.service.rot_facts import prone_on, rot_of, rot_week_words, scars_of
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
    scars = scars_of(season, "A")
    assert [(date.month, share) for date, share in scars] == [(6, pytest.approx(0.1)), (7, pytest.approx(0.3))]
    assert scars_of(season, "B") == ()
    block = season.blocks[0]
    assert prone_on(block, scars, dt.date(2031, 6, 1)).scarred_frac is None
    assert prone_on(block, scars, dt.date(2031, 7, 1)).scarred_frac == pytest.approx(0.1)
    late = prone_on(block, scars, AUGUST)
    assert (late.scarred_frac, late.scarred_on) == (pytest.approx(0.3), dt.date(2031, 7, 20))
    assert (late.variety, late.rating, late.density) == ("Cot", 2, 5)


def test_the_worst_day_of_the_week_is_told_with_its_hours():
    # 11 h at 20 degC: index 0.13, low (Broome et al. 1995); 30 % of clusters scarred raise it to 0.43.
    season = scouted()
    rot = rot_of(week_of_rain(dt.date(2031, 8, 8), 11))
    said = rot_week_words(season, AUGUST, {"A": (rot, None), "B": (rot, None)})
    assert said == "Bunch rot: low risk in A on 8 August (wet 11 h at 20 °C)."
    # prone to rot and tight as well: 0.13 + 0.3 + 0.75
    prone = scouted("Zinfandel")
    said = rot_week_words(prone, AUGUST, {"A": (rot, None)})
    assert said == "Bunch rot: high risk in A on 8 August (wet 11 h at 20 °C, raised from low)."


def test_nothing_is_said_of_a_dry_week_or_without_wetness():
    season = scouted("Zinfandel")
    before = rot_of(week_of_rain(dt.date(2031, 7, 30), 11))
    assert rot_week_words(season, AUGUST, {"A": (before, None)}) == ""
    assert rot_week_words(season, AUGUST, {"A": (None, None)}) == ""
    assert rot_week_words(season, AUGUST, {}) == ""
    dry = week_of_rain(AUGUST, 0)
    assert rot_of(replace(dry, wet_frac=np.full(len(dry), np.nan))) is None
    assert rot_of(None) is None
