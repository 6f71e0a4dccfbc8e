"""The risk index, against days worked by hand from the rules of Gubler et al. 1999."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from weather_hours import BUDBREAK, DAY_A, DAY_B, DAY_C, DAY_D, degc, station

from vinemap.errors import InputError, TooFewData
from vinemap.units import degc_from_degf
from vinemap.vineclock.days import split_days
from vinemap.vineclock.pressure import class_codes, pressure, risk_index
from vinemap.vineclock.story import explain
from vinemap.vineclock.weather import Weather


@pytest.mark.parametrize(
    ("readings", "run_hours", "favourable", "hot"),
    [(DAY_A, 9, True, False), (DAY_B, 4, False, True), (DAY_C, 6, True, False), (DAY_D, 5, False, False)],
)
def test_hours_in_the_band(readings, run_hours, favourable, hot):
    assert len(readings) == 24
    days = split_days(station(degc(readings)))
    assert days.run_hours[0] == run_hours
    assert (days.is_favourable[0], days.is_hot[0]) == (favourable, hot)
    assert (days.could_be_favourable[0], days.could_be_hot[0], days.missing_hours[0]) == (favourable, hot, 0)
    # A station that writes tenths of a degree must tell the same.
    rounded = split_days(station(np.round(degc(readings), 1)))
    assert rounded.run_hours[0] == run_hours


def test_first_season_worked_by_hand():
    favourable = [1, 0, 1, 1, 1, 1, 1, 0, 0, 1, 1, 1]
    hot = [0, 0, 0, 0, 0, 0, 1, 1, 0, 0, 0, 0]
    assert risk_index(favourable, hot).tolist() == [20, 0, 20, 40, 60, 80, 90, 80, 70, 90, 100, 100]


def test_second_season_worked_by_hand():
    favourable = [1] * 3 + [0] * 7 + [1, 1, 0, 1]
    hot = [0] * 11 + [1, 1, 0]
    assert risk_index(favourable, hot).tolist() == [20, 40, 60, 50, 40, 30, 20, 10, 0, 0, 20, 30, 20, 40]


def test_heat_does_not_count_before_the_start():
    assert risk_index([1, 1, 1], [1, 1, 1]).tolist() == [20, 40, 60]


def test_classes_leave_no_hole():
    assert class_codes(np.arange(0, 101, 10)).tolist() == [0, 0, 0, 0, 1, 1, 2, 2, 2, 2, 2]


@given(st.lists(st.tuples(st.booleans(), st.booleans()), max_size=60))
@settings(derandomize=True, max_examples=150, deadline=None)
def test_index_is_a_multiple_of_ten_within_bounds(days):
    index = risk_index([day[0] for day in days], [day[1] for day in days])
    assert ((index >= 0) & (index <= 100) & (index % 10 == 0)).all()
    step = np.diff(index)
    assert (step <= 20).all()
    started = np.flatnonzero(index == 60)
    if len(started):
        assert (step[started[0] :] >= -10).all()


def test_counting_begins_at_budbreak():
    weather = station(degc(DAY_A) * 6, BUDBREAK - dt.timedelta(days=2))
    result = pressure(weather, BUDBREAK)
    assert result.index.tolist() == [0, 0, 20, 40, 60, 80]
    assert "Before budbreak" in explain(result, BUDBREAK - dt.timedelta(days=1))
    assert pressure(weather, None).index.tolist() == [20, 40, 60, 80, 100, 100]


def test_runs_do_not_cross_midnight():
    # 18:00 to 06:00 in the band: twelve hours on end, but never six on one side that count together.
    evening = [60] * 19 + [75] * 5
    morning = [75] * 5 + [60] * 19
    days = split_days(station(degc(evening + morning)))
    assert days.run_hours.tolist() == [5, 5]


def test_days_are_days_of_standard_time():
    readings = degc(DAY_A)
    east, west = split_days(station(readings, offset_hours=9.5)), split_days(station(readings, offset_hours=-8))
    assert east.date.tolist() == west.date.tolist() == [BUDBREAK.toordinal()]


def test_quarter_hours():
    just = [60] * 30 + [75] * 24 + [60] * 42
    short = [60] * 30 + [75] * 23 + [60] * 43
    assert split_days(station(degc(just), step=900)).is_favourable.tolist() == [True]
    assert split_days(station(degc(short), step=900)).is_favourable.tolist() == [False]
    once_hot = [60] * 95 + [95]
    assert split_days(station(degc(once_hot), step=900)).is_hot.tolist() == [True]


def test_five_minutes_of_heat_are_not_enough():
    base = [80.0] * 288
    for hot_readings, expected in ((2, False), (3, True)):
        readings = base.copy()
        readings[150 : 150 + hot_readings] = [95.0] * hot_readings
        assert split_days(station(degc(readings), step=300)).is_hot.tolist() == [expected]


@pytest.mark.parametrize(
    ("temp_degc", "inside"),
    [(21.1, True), (21.11, True), (21.0, False), (29.4, True), (29.44, True), (29.5, False)]
    + [(degc_from_degf(degf), inside) for degf, inside in ((69.9, False), (70.0, True), (85.0, True), (85.1, False))],
)
def test_edges_of_the_band(temp_degc, inside):
    assert split_days(station([temp_degc] * 24)).is_favourable[0] == inside


@pytest.mark.parametrize(("temp_degc", "hot"), [(34.9, False), (degc_from_degf(94.9), False), (degc_from_degf(95.0), True)])
def test_edge_of_heat(temp_degc, hot):
    assert split_days(station([temp_degc] * 24)).is_hot[0] == hot


def test_a_missing_hour_that_matters_gives_a_range():
    readings = degc(DAY_C)
    readings[12] = np.nan  # in the middle of the six hours
    result = pressure(station(degc(DAY_A) * 3 + readings), BUDBREAK)
    assert result.index.tolist() == [20, 40, 60, 50]
    assert (result.low[-1], result.high[-1]) == (50, 80)
    assert "anything from 50 to 80" in explain(result, BUDBREAK + dt.timedelta(days=3))


def test_a_missing_hour_that_cannot_matter_gives_none():
    readings = degc(DAY_A)
    readings[2] = np.nan  # a cold night hour
    days = split_days(station(degc(DAY_A) + readings + degc(DAY_A)))
    assert days.missing_hours.tolist() == [0, 1, 0]
    assert days.could_be_hot.tolist() == [False] * 3
    result = pressure(station(degc(DAY_A) + readings + degc(DAY_A)), BUDBREAK)
    assert result.low.tolist() == result.high.tolist() == [20, 40, 60]


def test_a_day_without_readings_is_kept_and_leaves_the_index():
    blank = [np.nan] * 24
    result = pressure(station(degc(DAY_A) * 3 + blank + degc(DAY_A)), BUDBREAK)
    assert result.index.tolist() == [20, 40, 60, 60, 80]
    assert result.is_kept.tolist() == [False, False, False, True, False]
    assert (result.low[3], result.high[3]) == (50, 80)
    assert explain(result, BUDBREAK + dt.timedelta(days=3)).startswith("No readings on this day. Too many hours are missing")


def test_hours_that_only_hide_the_heat_do_not_keep_the_index():
    # Six hours in the band are known, the hot middle of the day is not: it is +20 as read, or +10.
    readings = [60.0] * 4 + [75] * 6 + [84, 88] + [np.nan] * 5 + [88, 84, 80, 75, 70, 66, 62]
    result = pressure(station(degc(DAY_D) * 2 + degc(DAY_A) * 3 + degc(readings)), BUDBREAK)
    assert result.days.could_be_hot[-1]
    assert result.is_kept.tolist() == [False] * 6
    assert result.index.tolist() == [0, 0, 20, 40, 60, 80]
    assert (result.low[-1], result.high[-1]) == (70, 80)


def test_days_left_out_of_the_file_are_missing_days():
    whole = station(degc(DAY_A) * 5)
    there = np.r_[0:48, 96:120]
    names = ("time_utc", "temp_degc", "rain_mm", "wet_frac", "rh_frac", "wind_ms", "wind_from_deg")
    holed = Weather("invented", -8.0, *(getattr(whole, name)[there] for name in names))
    days = split_days(holed)
    assert len(days) == 5
    assert days.missing_hours.tolist() == [0, 0, 24, 24, 0]
    assert np.isnan(days.max_degc[2])


@given(st.lists(st.integers(0, 95), max_size=40, unique=True), st.integers(0, 3))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_the_range_holds_what_full_readings_would_have_said(lost, seed):
    rng = np.random.default_rng(seed)
    shape = np.array(degc([*DAY_A, *DAY_B, *DAY_C, *DAY_A]))
    full = shape + rng.normal(0, 0.3, len(shape))
    holed = full.copy()
    holed[lost] = np.nan
    holed[0] = full[0]
    truth = pressure(station(full), BUDBREAK)
    result = pressure(station(holed), BUDBREAK)
    count = len(result)
    assert (result.low <= result.high).all()
    assert (result.low <= truth.index[:count]).all()
    assert (truth.index[:count] <= result.high).all()
    assert ((result.low <= result.index) & (result.index <= result.high)).all()


def test_rain_and_wet_hours():
    rain, wet = np.zeros(48), np.zeros(48)
    rain[3:6] = 1.5
    wet[24:30] = 0.5
    wet[:24] = np.nan
    days = split_days(station(degc(DAY_A * 2), rain_mm=rain, wet_frac=wet))
    assert days.rain_mm.tolist() == [4.5, 0.0]
    assert np.isnan(days.wet_hours[0])
    assert days.wet_hours[1] == 3.0


def test_what_was_mostly_unread_is_not_known():
    rain, wet, temp = np.full(72, np.nan), np.full(72, np.nan), np.full(72, 15.0)
    rain[[2, 3]] = 1.0  # two hours of the first day
    wet[[30, 31]] = 1.0
    rain[24:45], wet[51:72] = 0.5, 1.0  # three hours missing
    temp[24:48] = np.nan
    temp[[38, 39]] = 28.0  # two readings of an afternoon
    days = split_days(station(temp, rain_mm=rain, wet_frac=wet))
    assert np.isnan(days.rain_mm).tolist() == [True, False, True]
    assert days.rain_least_mm.tolist() == [2.0, 10.5, 0.0]
    assert days.rain_unread_hours.tolist() == [22, 3, 24]
    assert np.isnan(days.wet_hours).tolist() == [True, True, False]
    assert days.wet_least_hours.tolist() == [0, 2, 21]
    assert days.wet_unread_hours.tolist() == [24, 22, 3]
    assert days.mean_degc.tolist() == [15.0, pytest.approx(np.nan, nan_ok=True), 15.0]
    assert days.mean_low_degc[1] < 15.0 < 28.0 < days.mean_high_degc[1]
    assert days.missing_hours.tolist() == [0, 22, 0]


def test_the_mean_of_a_day_that_lacks_three_hours_is_bridged():
    rising = np.arange(24.0)
    holed = rising.copy()
    holed[[5, 6, 12]] = np.nan
    days = split_days(station(holed))
    assert days.mean_degc[0] == pytest.approx(rising.mean())
    holed[18] = np.nan
    days = split_days(station(holed))
    assert np.isnan(days.mean_degc[0])
    assert days.mean_low_degc[0] <= rising.mean() <= days.mean_high_degc[0]


def test_three_heats_of_a_day():
    """38 degC for two hours on end (Peduto et al. 2013); 40 degC for three hours kills colonies."""

    def day(*hot):
        return split_days(station([25.0] * 12 + list(hot) + [25.0] * (12 - len(hot))))

    assert not day(38, 30, 38).is_very_hot[0]  # two hours, not on end
    assert day(38, 38).is_very_hot[0]
    assert not day(37.9, 38).is_very_hot[0]
    assert not day(40, 40, 39.9).is_killing[0]
    assert day(40, 40, 40).is_killing[0]
    assert day(44).is_killing[0]
    holed = day(38, np.nan, 37)
    assert (holed.is_very_hot[0], holed.could_be_very_hot[0]) == (False, True)


def test_the_reason_can_be_read():
    result = pressure(station(degc(DAY_A) * 5 + degc(DAY_B)), BUDBREAK)
    assert result.index.tolist() == [20, 40, 60, 80, 100, 90]
    assert explain(result, BUDBREAK + dt.timedelta(days=3)) == (
        "9 h unbroken between 70 and 85 °F (21 and 29 °C), from 10:00 to 19:00: enough. Highest 83 °F (28.3 °C). "
        "60 + 20 = 80. High: about one generation in 5 days. "
        "Infection is assumed since 1 April, because rain was not read then."
    )
    last = explain(result, BUDBREAK + dt.timedelta(days=5))
    assert "4 h unbroken" in last
    assert "6 h are needed" in last
    assert "hot enough to slow mildew" in last
    assert "100 − 10 = 90" in last


def test_no_temperature_is_refused():
    with pytest.raises(TooFewData, match="no temperature readings"):
        pressure(station([]), None)
    with pytest.raises(TooFewData, match="no temperature readings"):
        pressure(station([np.nan] * 24), None)


def test_a_date_outside_the_weather_is_refused():
    with pytest.raises(InputError, match="no weather for 2024-01-01"):
        explain(pressure(station(degc(DAY_A)), None), dt.date(2024, 1, 1))
