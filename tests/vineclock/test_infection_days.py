"""Primary infections by four rules, ripe and released ascospores, and what the index waits for."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from weather_hours import BUDBREAK, DAY_A, DAY_D, degc, station

from vinemap.errors import InputError
from vinemap.units import degc_from_degf
from vinemap.vineclock.days import split_days
from vinemap.vineclock.infection import (
    EVENT,
    HOURS_12_15,
    INFECTION_RULES,
    MILLS,
    UCCE,
    ascospore_discharge,
    find_infections,
    mature_ascospores,
    mills_hours,
)
from vinemap.vineclock.pressure import Terms, pressure
from vinemap.vineclock.story import explain


def wet_days(temp_degc, wet, rain=None, days=3, start=BUDBREAK):
    """Weather of whole days at one temperature, with wet hours and rain [mm] from given hours on."""
    wet_frac, rain_mm = np.zeros(24 * days), np.zeros(24 * days)
    for first, last in wet:
        wet_frac[first:last] = 1.0
    for hour, fallen in (rain or {}).items():
        rain_mm[hour] = fallen
    return station(np.full(24 * days, float(temp_degc)), start, rain_mm=rain_mm, wet_frac=wet_frac)


def events(weather, rule):
    return find_infections(split_days(weather), rule).is_event.tolist()


def test_ripe_ascospores():
    # exp(-1.95 exp(-1.91 DD / 100)), Caffi et al. 2011, worked by hand
    sums = {0: 0.1423, 50: 0.4722, 100: 0.7492, 150: 0.8948, 200: 0.9581, 300: 0.9937}
    assert mature_ascospores(list(sums)).tolist() == pytest.approx(list(sums.values()), abs=5e-5)


def test_released_ascospores():
    # 1 - 0.969 exp(-0.0004 T^2 W), Caffi et al. 2011, worked by hand: mean, rain, wet hours
    cases = {(15, 3, 6): 0.4353, (10, 5, 12): 0.4004, (20, 2, 4): 0.4891, (20, 2, 1): 0.1743, (15, 1.9, 6): 0, (3, 5, 10): 0}
    mean, rain, wet = zip(*cases, strict=True)
    assert ascospore_discharge(mean, rain, wet).tolist() == pytest.approx(list(cases.values()), abs=5e-5)
    assert np.isnan(ascospore_discharge([15, 15, np.nan], [3, np.nan, 3], [np.nan, 6, 6])).tolist() == [True] * 3
    assert ascospore_discharge(15, 1, np.nan) == 0  # so little rain lets none go, however wet
    assert ascospore_discharge(30.1, 9, 9) == 0


def test_hours_of_mills():
    # two thirds of the original table's hours for heavy infection, worked by hand: degF and hours
    by_hand = {50: 19.33, 55: 16.0, 60: 13.33, 63: 12.0, 70: 12.0, 75: 12.0, 77: 14.0, 78: 17.33}
    got = mills_hours([degc_from_degf(degf) for degf in by_hand])
    assert got.tolist() == pytest.approx(list(by_hand.values()), abs=0.005)
    assert np.isinf(mills_hours([degc_from_degf(49.9), degc_from_degf(78.1)])).all()


@pytest.mark.parametrize(
    ("temp_degc", "rain", "expected"),
    [(10.1, 2.6, True), (10.0, 9.0, False), (10.1, 2.5, False), (20.0, 0.0, False), (25.0, 30.0, True)],
)
def test_the_event_of_rain_and_warmth(temp_degc, rain, expected):
    """More than 2.5 mm and more than 10 degC (Wilcox and Gadoury, after Schilder)."""
    assert events(wet_days(temp_degc, [], {30: rain}), EVENT) == [False, expected, False]


@pytest.mark.parametrize(
    ("rule", "wet", "rain", "temp_degc", "expected"),
    [
        (UCCE, (24, 37), 2.5, 15, True),
        (UCCE, (24, 36), 2.5, 15, False),  # 12 h
        (UCCE, (24, 37), 2.4, 15, False),
        (UCCE, (24, 44), 5.0, 9.9, False),  # below 50 degF
        (UCCE, (24, 44), 5.0, 26.7, False),  # above 80 degF
        (HOURS_12_15, (24, 36), 0.0, 15, True),
        (HOURS_12_15, (24, 35), 0.0, 15, False),
        (MILLS, (24, 36), 0.0, 20, True),
        (MILLS, (24, 35), 0.0, 20, False),
        (MILLS, (24, 43), 0.0, 10, False),  # 19.3 h are needed
        (MILLS, (24, 44), 0.0, 10, True),
        (MILLS, (24, 40), 0.0, degc_from_degf(55), True),
        (MILLS, (24, 48), 0.0, 27, False),
    ],
)
def test_rules_of_wetness(rule, wet, rain, temp_degc, expected):
    found = find_infections(split_days(wet_days(temp_degc, [wet], {24: rain})), rule)
    assert found.is_event.tolist() == [False, expected, False]
    if expected:
        assert found.mean_degc[1] == pytest.approx(temp_degc)
        assert found.wet_hours[1] <= wet[1] - wet[0]


@pytest.mark.parametrize(("hour", "expected"), [(24, False), (28, False), (29, True), (30, True), (42, True), (43, False)])
def test_rain_belongs_to_the_wetness_it_made(hour, expected):
    assert events(wet_days(15, [(30, 43)], {hour: 2.5}), UCCE)[1] == expected


def test_wetness_passes_midnight_and_a_dry_hour_ends_it():
    through = wet_days(15, [(18, 32)], {18: 4.0})
    broken = wet_days(15, [(18, 25), (26, 33)], {18: 4.0})
    for rule in (UCCE, HOURS_12_15):
        assert events(through, rule) == [False, True, False]  # it is enough on the second day
        assert events(broken, rule) == [False, False, False]


def test_what_was_not_read_could_have_been():
    rain = np.zeros(96)
    rain[24:48] = np.nan
    rain[72:78] = np.nan
    temp = np.full(96, 15.0)
    temp[72:] = 8.0  # too cold for it, whatever fell
    found = find_infections(split_days(station(temp, rain_mm=rain)))
    assert found.could_be.tolist() == [False, True, False, False]
    assert not found.is_event.any()
    assert find_infections(split_days(station(temp)), UCCE).could_be.all()  # nobody read the leaves


def test_one_unread_hour_that_parts_a_long_wetness():
    wet = np.zeros(72)
    wet[25:32], wet[33:40] = 1.0, 1.0
    dry_between = station(np.full(72, 15.0), wet_frac=wet, rain_mm=np.full(72, 1.0))
    wet = wet.copy()
    wet[32] = np.nan
    unread = station(np.full(72, 15.0), wet_frac=wet, rain_mm=np.full(72, 1.0))
    for rule in (UCCE, HOURS_12_15, MILLS):
        assert not find_infections(split_days(dry_between), rule).could_be.any()
        found = find_infections(split_days(unread), rule)
        assert found.could_be.tolist() == [False, True, False]
        assert not found.is_event.any()
    assert "because leaf wetness was not read" in explain(
        pressure(unread, None, Terms(infection=UCCE)), BUDBREAK + dt.timedelta(1)
    )


def test_rain_without_its_warmth_is_assumed_to_infect():
    temp = np.full(72, 15.0)
    temp[26:46] = np.nan
    result = pressure(station(temp, rain_mm=np.full(72, 0.02)), BUDBREAK)
    assert result.why.tolist() == [1, 1, 1]
    rainy = pressure(station(temp, rain_mm=np.r_[np.zeros(24), np.full(24, 1.0), np.zeros(24)]), BUDBREAK)
    assert "because warmth was not read" in explain(rainy, BUDBREAK + dt.timedelta(days=1))


def test_no_such_rule():
    with pytest.raises(InputError, match="no rule of infection"):
        find_infections(split_days(station([10.0] * 24)), "always")
    with pytest.raises(InputError, match="no rule of heat"):
        pressure(station([10.0] * 24), None, Terms(heat="1950"))


def dry(hours):
    return {"rain_mm": np.zeros(hours), "wet_frac": np.zeros(hours)}


@pytest.mark.parametrize("rule", INFECTION_RULES)
def test_without_an_infection_the_index_waits(rule):
    readings = degc(DAY_A * 5)
    result = pressure(station(readings, **dry(120)), BUDBREAK, Terms(infection=rule))
    assert result.index.tolist() == result.low.tolist() == result.high.tolist() == [0] * 5
    assert result.if_present.tolist() == [20, 40, 60, 80, 100]
    said = explain(result, BUDBREAK + dt.timedelta(days=4))
    assert "Waiting" in said
    assert "it would be 100" in said


def test_counting_begins_with_the_first_infection():
    water = dry(168)
    water["rain_mm"][50] = 4.0  # third day
    result = pressure(station(degc(DAY_A * 7), **water), BUDBREAK)
    assert result.index.tolist() == [0, 0, 20, 40, 60, 80, 100]
    said = explain(result, BUDBREAK + dt.timedelta(days=2))
    assert "Counted since the infection of 3 April" in said
    assert "4.0 mm of rain at a mean of" in said
    # before budbreak there is no leaf to infect
    later = pressure(station(degc(DAY_A * 7), **water), BUDBREAK + dt.timedelta(days=3))
    assert later.index.tolist() == [0] * 7
    assert not later.generations.since.any()


def test_mildew_that_was_found_must_have_come_before():
    """At a mean of 20 degC the latent period is 6.62 days (Caffi et al. 2011): found on the 12th, it came on the 5th."""
    readings = [14.0] * 12 + [26.0] * 12
    assert sum(readings) / 24 == 20
    result = pressure(station(readings * 15, **dry(360)), BUDBREAK, Terms(found=BUDBREAK + dt.timedelta(days=11)))
    assert result.index.tolist() == [0] * 4 + [20, 40, 60, 80] + [100] * 7
    said = explain(result, BUDBREAK + dt.timedelta(days=5))
    assert "Counted since 5 April: mildew was found on 12 April" in said


def test_rain_that_nobody_read_is_taken_as_an_infection_and_said():
    water = dry(120)
    water["rain_mm"][24:48] = np.nan
    result = pressure(station(degc(DAY_A * 5), **water), BUDBREAK)
    assert result.index.tolist() == [0, 20, 40, 60, 80]
    assert "Waiting" in explain(result, BUDBREAK)
    said = explain(result, BUDBREAK + dt.timedelta(days=1))
    assert "Infection is assumed since 2 April, because rain was not read then." in said


@given(st.lists(st.tuples(st.booleans(), st.sampled_from([0.0, 4.0, np.nan])), min_size=2, max_size=12), st.integers(1, 11))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_what_comes_later_changes_nothing_before(days, cut):
    temp = np.concatenate([degc(DAY_A if good else DAY_D) for good, _ in days])
    rain = np.concatenate([np.full(24, fallen / 24) for _, fallen in days])
    cut = min(cut, len(days) - 1)
    whole = pressure(station(temp, rain_mm=rain), BUDBREAK)
    part = pressure(station(temp[: 24 * cut], rain_mm=rain[: 24 * cut]), BUDBREAK)
    for name in ("index", "low", "high", "why", "counts_from", "is_started"):
        assert getattr(whole, name)[:cut].tolist() == getattr(part, name).tolist()


@pytest.mark.parametrize(
    ("is_southern", "first", "turn"),
    [(False, dt.date(2025, 12, 20), dt.date(2026, 1, 1)), (True, dt.date(2026, 6, 20), dt.date(2026, 7, 1))],
)
def test_a_new_season_begins_again(is_southern, first, turn):
    result = pressure(station(degc(DAY_A * 20), first), None, Terms(is_southern=is_southern))
    at = (turn - first).days
    assert result.index[at - 1] == 100
    assert result.index[at : at + 4].tolist() == [20, 40, 60, 80]
    assert (np.diff(result.season) != 0).sum() == 1
    assert result.season[at] == 2026 + is_southern


def test_generations_begin_again_with_the_season():
    first, rain = dt.date(2025, 12, 20), np.zeros(480)
    rain[5] = 6.0
    counted = pressure(station(np.full(480, 20.0), first, rain_mm=rain), None).generations
    assert counted.since.tolist() == counted.first.tolist() == [first.toordinal()] * 12 + [0] * 8
    assert counted.low[11] == pytest.approx(11 / 6.62)
    assert not counted.low[12:].any()


def test_heat_counts_in_what_would_be():
    hot = [24.0] * 8 + [36.0] + [24.0] * 15
    result = pressure(station([24.0] * 72 + hot, **dry(96)), BUDBREAK)
    assert result.index[-1] == 0
    assert result.if_present.tolist() == [20, 40, 60, 70]


def test_budbreak_of_one_year_stands_for_the_next():
    first = dt.date(2025, 12, 30)
    result = pressure(station(degc(DAY_A * 30), first), dt.date(2025, 1, 10))
    counted = [dt.date.fromordinal(int(day)) for day in result.date[result.index > 0]]
    assert counted[0] == dt.date(2025, 12, 30)
    assert min(day for day in counted if day.year == 2026) == dt.date(2026, 1, 10)
    assert "Budbreak is taken on 10 January, as in 2025." in explain(result, dt.date(2026, 1, 12))
    assert explain(result, dt.date(2026, 1, 9)).startswith("Before budbreak")
    south = pressure(station(degc(DAY_A * 5), dt.date(2026, 9, 18)), dt.date(2025, 9, 20), Terms(is_southern=True))
    assert south.index.tolist() == [0, 0, 20, 40, 60]
    autumn = pressure(station(degc(DAY_A * 5), dt.date(2026, 2, 1)), dt.date(2025, 9, 20), Terms(is_southern=True))
    assert autumn.index.tolist() == [20, 40, 60, 80, 100]
    leap = pressure(station(degc(DAY_A * 5), dt.date(2025, 2, 27)), dt.date(2024, 2, 29))
    assert leap.index.tolist() == [0, 20, 40, 60, 80]


def test_heat_of_2013_takes_ten_points_of_a_good_day():
    """Two hours on end at 38 degC: 60 + 10; the rule of 1999 takes ten points for 35 degC too (Peduto et al. 2013)."""
    good, hot = [23.0] * 24, [23.0] * 10 + [38.0, 38.0] + [23.0] * 12
    warm, apart = [23.0] * 10 + [36.0, 36.0] + [23.0] * 12, [23.0] * 10 + [38.0, 30.0, 38.0] + [23.0] * 11
    weather = station(good * 3 + hot + warm + apart)
    assert pressure(weather, None, Terms(heat="2013")).index.tolist() == [20, 40, 60, 70, 90, 100]
    assert pressure(weather, None).index.tolist() == [20, 40, 60, 70, 80, 90]
    short = [38.0] * 24
    assert pressure(station(good * 3 + short), None, Terms(heat="2013")).index.tolist() == [20, 40, 60, 50]
