"""A day of the index, told with its hours."""

import dataclasses
import datetime as dt

import numpy as np
import pytest
from weather_hours import BUDBREAK, DAY_A, DAY_B, degc, station

from vinemap.errors import InputError
from vinemap.vineclock.pressure import USUAL, Terms, pressure
from vinemap.vineclock.story import day_story, explain
from vinemap.vineclock.weather import ESTIMATED, FORECAST


def told(readings, day, terms=USUAL, **columns):
    return day_story(pressure(station(readings, **columns), BUDBREAK, terms), BUDBREAK + dt.timedelta(days=day))


def test_hours_and_numbers_of_a_day():
    story = told(degc(DAY_A * 3 + DAY_B), 3)
    assert (story.before, story.change, story.index, story.class_code) == (60, -10, 50, 1)
    assert (story.step_hours, len(story.hour)) == (1.0, 24)
    # day B: 72, 77, 82, 84 from 8:00; then 86 and more; 84, 80, 75, 71 from 19:00. By hand: two runs of four hours
    assert np.flatnonzero(story.is_in_band).tolist() == [8, 9, 10, 11, 19, 20, 21, 22]
    assert np.flatnonzero(story.is_in_run).tolist() == [8, 9, 10, 11]
    assert np.flatnonzero(story.is_hot).tolist() == [14, 15]
    assert story.lines[0].startswith("4 h unbroken between 70 and 85 °F (21 and 29 °C), from 8:00 to 12:00: 6 h are needed.")
    assert "hot enough to slow mildew (95 °F (35 °C) for a quarter of an hour)" in story.lines[0]
    assert story.lines[1] == "60 − 10 = 50."
    assert " ".join(story.lines) == explain(pressure(station(degc(DAY_A * 3 + DAY_B)), BUDBREAK), story.date)


def test_an_infection_is_followed_day_by_day():
    """3 days at 20 degC and 4 at 15: 0.453 + 0.360 = 0.813 of the way; two more at 24 bring spores (Caffi et al. 2011)."""
    means = [15] + [20] * 3 + [15] * 4 + [24] * 6
    rain = np.zeros(24 * len(means))
    rain[5] = 6.0
    weather = {"rain_mm": rain, "wet_frac": np.zeros(len(rain))}
    temp = np.repeat(means, 24)
    first = told(temp, 0, **weather)
    assert "6.0 mm of rain at a mean of 15.0 °C: primary infection." in first.lines[-1]
    assert "Of the year’s first spores 17 % are ripe, and this rain let 3 % of the ripe ones go." in first.lines[-1]
    assert "The infection of 1 April would show from about 10 April: 81 % of the way." in told(temp, 7, **weather).lines
    # 0.813 + 0.184 = 0.997: not yet; from the day after
    assert "The infection of 1 April would show from about 10 April: 99 % of the way." in told(temp, 8, **weather).lines
    assert "The infection of 1 April bears spores from today: look for it." in told(temp, 9, **weather).lines
    assert not any("bears spores" in line or "would show" in line for line in told(temp, 10, **weather).lines)
    assert any("1.2 generations since the first infection, of 1 April" in line for line in told(temp, 9, **weather).lines)


def test_what_lies_ahead_goes_on_as_it_was():
    rain = np.zeros(96)
    rain[5] = 6.0
    story = told([20.0] * 96, 3, rain_mm=rain)
    # 6.62 days at 20 degC: shows on the seventh day after
    assert (
        "The infection of 1 April would show from about 8 April, if the last week’s warmth goes on: 45 % of the way."
        in story.lines
    )
    cold = told([4.0] * 24 + [2.0] * 72, 3, rain_mm=np.zeros(96))
    assert not any("primary infection." in line or "would" in line for line in cold.lines if "Waiting" not in line)


def test_a_cold_spell_never_brings_it_out():
    rain = np.zeros(24 * 12)
    rain[5] = 6.0
    story = told([15.0] * 24 + [2.0] * 24 * 11, 11, rain_mm=rain)
    assert "The infection of 1 April would not show at this warmth: 0 % of the way." in story.lines


def test_missing_hours_give_a_range_of_progress():
    temp = np.repeat([15.0, 20.0, 20.0, 20.0], 24)
    temp[30:46] = np.nan
    rain = np.zeros(96)
    rain[5] = 6.0
    story = told(temp, 3, rain_mm=rain)
    (line,) = (each for each in story.lines if "of the way" in each)
    low, high = (int(part) for part in line.split(": ")[1].removesuffix(" % of the way.").split(" to "))
    assert low < 45 < high  # 3 / 6.62 with all its hours


def test_hours_say_where_they_come_from():
    weather = dataclasses.replace(station(degc(DAY_A * 3)), origin=[0] * 24 + [ESTIMATED] * 24 + [FORECAST] * 24)
    result = pressure(weather, BUDBREAK)
    assert "These hours are estimated from the day's extremes." in explain(result, BUDBREAK + dt.timedelta(days=1))
    assert "These hours are from a forecast." in explain(result, BUDBREAK + dt.timedelta(days=2))
    assert "These hours" not in explain(result, BUDBREAK)
    assert set(day_story(result, BUDBREAK + dt.timedelta(days=2)).origin.tolist()) == {FORECAST}


def test_heat_that_kills_is_told():
    story = told([25.0] * 12 + [40.0] * 3 + [25.0] * 9, 0, Terms(heat="2013"))
    assert "hot enough to slow mildew (38 °C (100 °F) for two hours on end)" in story.lines[0]
    assert "So hot that colonies in the open die." in story.lines[0]


def test_a_day_outside_the_weather():
    with pytest.raises(InputError, match="no weather for 2024-01-01"):
        day_story(pressure(station([10.0] * 24), None), dt.date(2024, 1, 1))
