"""Gaps and readings that stand alone, by the stated rule."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.vineclock.gaps import JUMP_DEGC, NEAR_SECONDS, find_gaps, find_spikes, usual_step_seconds
from vinemap.vineclock.weather import Weather


def weather(temp, seconds=None, **columns):
    temp = np.asarray(temp, float)
    none = np.full(len(temp), np.nan)
    at = 3600 * np.arange(len(temp)) if seconds is None else seconds
    given = {name: columns.get(name, none) for name in ("rain_mm", "wet_frac", "rh_frac", "wind_ms", "wind_from_deg")}
    return Weather("invented", -8.0, at, temp, **given)


def test_a_reading_that_nobody_supports_stands_alone():
    (spike,) = find_spikes(weather([14, 14, 14, -10.5, 14, 14]))
    assert (spike.index, spike.column) == (3, "temp_degc")
    assert spike.why == "stands 24 °C below the readings before and after it"


@pytest.mark.parametrize(
    "temp",
    [
        [30, 30, 30, 12, 12, 12],  # a front
        [10, 20, 30, 30, 20, 10],  # a steep day
        [14, 14, 24, 14, 14],  # no more than the limit
        [40, 14, 14, 14],  # nobody before it
        [14, 14, 14, 40],  # nobody after it
    ],
)
def test_what_neighbours_support_stays(temp):
    assert find_spikes(weather(temp)) == ()


def test_a_stretch_of_fine_readings_that_leaves_and_returns_is_one_too():
    temp = np.full(48, 20.0)
    temp[20:23] = 45.0
    assert [spike.index for spike in find_spikes(weather(temp, 300 * np.arange(48)))] == [20, 21, 22]


def test_wind_and_rain_have_their_own_limits():
    found = find_spikes(weather([20.0] * 5, wind_ms=np.array([2, 3, 40, 3, 2.0]), rain_mm=np.array([0, 0, 0, 120, 60.0])))
    assert [(spike.index, spike.column) for spike in found] == [(2, "wind_ms"), (3, "rain_mm")]


def naive(temp, seconds):
    """The same rule, reading by reading."""
    found = []
    for index, value in enumerate(temp):
        if np.isnan(value):
            continue
        sides = []
        for side in (range(index), range(index + 1, len(temp))):
            near = [temp[other] for other in side if abs(seconds[other] - seconds[index]) <= NEAR_SECONDS]
            sides.append([each for each in near if not np.isnan(each)])
        if all(sides):
            aways = [value - np.median(side) for side in sides]
            if min(aways) > JUMP_DEGC or max(aways) < -JUMP_DEGC:
                found.append(index)
    return found


@settings(derandomize=True, max_examples=150, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from([300, 3600, 3620, 7200, 9000]), st.sampled_from([0.0, 9.0, 20.0, 31.0, np.nan])),
        max_size=40,
    )
)
def test_the_first_look_misses_none(rows):
    seconds = np.cumsum([step for step, _ in rows]).astype(np.int64)
    temp = np.array([value for _, value in rows])
    assert [spike.index for spike in find_spikes(weather(temp, seconds))] == naive(temp, seconds)


def test_gaps_are_told_with_their_ends_and_wandering_stamps_are_none():
    seconds = np.array([0, 3620, 7185, 10_800, 21_600, 25_200])
    (gap,) = find_gaps(weather([20.0] * 6, seconds))
    assert (gap.start_utc, gap.end_utc, gap.hours) == (14_400, 21_600, 2.0)
    (gap,) = find_gaps(weather([20, np.nan, np.nan, 20, 20]))
    assert (gap.start_utc, gap.end_utc, gap.hours) == (3600, 10_800, 2.0)
    assert find_gaps(weather([])) == ()


def test_the_usual_step_is_from_a_minute_to_an_hour():
    assert usual_step_seconds(np.array([0, 3598, 7203, 10_800])) == 3600
    assert usual_step_seconds(np.array([0, 900, 1800, 90_000])) == 900
    assert usual_step_seconds(np.array([0, 10, 20])) == 60
    assert usual_step_seconds(np.array([0, 86_400])) == 3600
    assert usual_step_seconds(np.array([5])) == 3600
