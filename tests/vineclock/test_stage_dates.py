"""Fruit window, what opening still does, and bloom estimated from warmth."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.vineclock.stage import (
    day_of_brix,
    fruit_window,
    leaf_openness,
    opening_helps,
    stage_words,
    stalk_window,
    sugar_words,
)

BLOOM = dt.date(2025, 5, 28)


@pytest.mark.parametrize(
    ("days", "weight"),
    # Values of the planning curve; near-immune about four weeks after bloom: Ficke et al. 2003.
    [
        *[(-90, 0.0), (-60, 0.3), (-40, 0.3), (-10, 0.6), (0, 1.0), (7, 1.0), (14, 1.0)],
        *[(17.5, 0.7), (24.5, 0.35), (28, 0.1), (35, 0.1), (62, 0.1), (63, 0.0), (100, 0.0)],
    ],
)
def test_fruit_window_values(days, weight):
    assert fruit_window([days])[0] == pytest.approx(weight, abs=1e-12)


def test_fruit_window_rises_then_falls_without_a_jump():
    weights = fruit_window(np.arange(-80, 70, 0.1))
    peak = int(np.argmax(weights))
    assert (np.diff(weights[: peak + 1]) >= 0).all()
    assert (np.diff(weights[peak:]) <= 0).all()
    assert np.abs(np.diff(weights)).max() < 0.02


@given(st.floats(5, 60), st.floats(-200, 300))
@settings(derandomize=True, max_examples=80, deadline=None)
def test_fruit_window_stays_within_bounds_and_ends_at_the_resistance_asked_for(resists, days):
    assert 0 <= fruit_window([days], resists)[0] <= 1
    assert fruit_window([resists], resists)[0] == pytest.approx(0.1)


def test_fruit_window_keeps_what_is_not_known():
    assert np.isnan(fruit_window([np.nan])[0])
    with pytest.raises(InputError, match="after bloom and before veraison"):
        fruit_window([0.0], resists_days=70)


def test_the_last_tenth_is_held_until_eight_brix():
    # No new infection of fruit from 8 Brix: Gubler et al. 1999.
    assert fruit_window([40.0, 79.0, 80.0, 90.0], closed_days=80.0).tolist() == pytest.approx([0.1, 0.1, 0.0, 0.0])
    assert fruit_window([48.0, 49.0], closed_days=50.0)[0] == pytest.approx(0.1)
    close = fruit_window(np.arange(20, 40, 0.01), resists_days=28.0, closed_days=29.0)
    assert (np.diff(close) <= 0).all()
    assert close[-1] == 0


def test_the_window_begins_with_the_budbreak_that_was_entered():
    usual, late = fruit_window([-50.0]), fruit_window([-50.0], budbreak_days=-45.0)
    assert (usual[0], late[0]) == (
        pytest.approx(0.3),
        pytest.approx(0.3 * 3 * (1 - 5 / 11.25) ** 2 - 0.6 * (1 - 5 / 11.25) ** 3),
    )
    assert fruit_window([-45.0], budbreak_days=-45.0)[0] == pytest.approx(0.3)
    assert fruit_window([-57.0], budbreak_days=-45.0)[0] == 0
    with pytest.raises(InputError, match="after budbreak"):
        fruit_window([0.0], budbreak_days=3.0)


def test_stalks_stay_open_when_the_berries_have_closed():
    # Rachis susceptible until it hardens near harvest: Gadoury et al. 2001.
    days = np.arange(0, 63)
    assert (stalk_window(days) >= fruit_window(days)).all()
    assert stalk_window([0, 20, 28, 63, 108, 200]).tolist() == pytest.approx([1, 1, 1, 0.5, 0, 0])
    assert stalk_window([-35.0])[0] == fruit_window([-35.0])[0]


def test_leaves_close_with_age():
    # exp(-0.147 age), Calonnec et al. 2008: 48, 23 and 5 % of the youngest leaf after 5, 10 and 20 days.
    assert leaf_openness([0, 5, 10, 20]).tolist() == pytest.approx([1.0, 0.48, 0.23, 0.05], abs=0.005)
    assert leaf_openness([-3.0])[0] == 1


def test_sugar_in_words():
    dates = [dt.date(2025, 7, 20), dt.date(2025, 7, 30), dt.date(2025, 8, 20)]
    brix = [6.0, 10.0, 17.0]
    # A straight line from 6 to 10 in ten days crosses 8 after five, from 10 to 17 in 21 days crosses 15 after fifteen.
    assert day_of_brix(dates, brix, 8.0) == dt.date(2025, 7, 25)
    assert day_of_brix(dates, brix, 15.0) == dt.date(2025, 8, 14)
    assert day_of_brix(dates[:1], [9.0], 8.0) == dates[0]
    assert day_of_brix(dates[:1], brix[:1], 8.0) is None
    assert "enter Brix" in sugar_words(dates, brix, dt.date(2025, 7, 1))
    assert (
        sugar_words(dates, brix, dt.date(2025, 7, 21)) == "Brix was 6.0 on 20 July: until 8 the fruit can still take mildew."
    )
    assert "above 8 since about 25 July: no new infection of fruit" in sugar_words(dates, brix, dt.date(2025, 8, 1))
    assert "above 15 since about 14 August: colonies on the fruit have stopped" in sugar_words(
        dates, brix, dt.date(2025, 9, 1)
    )


def test_opening_stops_helping():
    # Austin & Wilcox 2011: lower severity when leafed at two weeks, no effect at five.
    assert opening_helps([-10, 14, 24.5, 35, 60]).tolist() == [1, 1, 0.5, 0, 0]


def test_words_of_a_stage():
    said = stage_words(BLOOM, dt.date(2025, 6, 5))
    assert said[0] == "Bloom was 28 May, 8 days ago."
    assert said[1].startswith("Berries resist from about 25 June.")
    assert said[2] == "Opening the canopy does most until 11 June."
    assert "nothing against mildew from 2 July" in stage_words(BLOOM, dt.date(2025, 6, 20))[2]
    assert "have resisted" in stage_words(BLOOM, dt.date(2025, 7, 10))[1]
    assert "Opening now does nothing against mildew" in stage_words(BLOOM, dt.date(2025, 7, 10))[2]
    assert "estimated from warmth" in stage_words(BLOOM, dt.date(2025, 5, 20), is_estimate=True)[0]
    assert "not known yet" in stage_words(None, BLOOM)[0]
