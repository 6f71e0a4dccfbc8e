"""The other cost of opening: what the sun burns. The figures are stated assumptions; the arithmetic is worked by hand."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from span_grids import drivers, row_of_spans

from vinemap.vineclock.heat import hottest_ahead_degc
from vinemap.vineclock.weather import FORECAST, READ, Weather
from vinemap.work.assumptions import Assumptions
from vinemap.work.gains import BOTH, FIRMLY, LIGHTLY, Shares, gains
from vinemap.work.sunburn import HARDENED, burn_share, burned_clusters, heat_factor, is_too_hot, lateness

USUAL = Assumptions()
NO_FORECAST = float("nan")
FEW = settings(derandomize=True, max_examples=60, deadline=None)


def test_a_burn_worked_by_hand():
    # hottest face, at colour, 34 °C forecast half-way between 33 and 35: 0.10 x 1 x 1 x 2
    assert burn_share(np.array([150.0]), 63.0, 63.0, 34.0, USUAL)[0] == pytest.approx(0.20)
    # half of the hot sun, by pea size, no forecast: 0.10 x 0.5 x 0.3
    assert burn_share(np.array([75.0]), 20.0, 63.0, NO_FORECAST, USUAL)[0] == pytest.approx(0.015)
    # 300 clusters on a span, closed, opened on both faces: 300 x 1/2 x (0.70 x 0.02 + 0.35 x 0.10) x 0.5
    lost = burned_clusters(np.array([300.0]), np.ones(1), np.array([BOTH]), (np.array([0.02]), np.array([0.10])), 0.5)
    assert lost[0] == pytest.approx(3.675)


def test_fruit_laid_bare_early_hardens_and_after_colour_it_does_not():
    assert lateness(0.0, 63.0) == lateness(28.0, 63.0) == HARDENED
    assert lateness(63.0, 63.0) == lateness(90.0, 63.0) == 1.0
    assert lateness(NO_FORECAST, 63.0) == HARDENED
    assert HARDENED < lateness(45.0, 63.0) < 1.0


def test_heat_counts_from_the_cautious_limit_on():
    assert [heat_factor(each, USUAL) for each in (NO_FORECAST, 20.0, 33.0, 35.0, 45.0)] == [1.0, 1.0, 1.0, 3.0, 3.0]
    assert not is_too_hot(34.9, USUAL)
    assert not is_too_hot(NO_FORECAST, USUAL)
    assert is_too_hot(35.0, USUAL)


@FEW
@given(st.floats(0, 400), st.floats(0, 400), st.floats(-20, 120), st.floats(15, 48), st.floats(0, 20), st.floats(0.0, 1.0))
def test_more_sun_heat_and_lateness_never_burn_less(less, more, since_bloom, heat, hotter, closed):
    def burn(hot, days, degc):
        return float(burn_share(np.array([hot]), days, 63.0, degc, USUAL)[0])

    low, high = sorted((less, more))
    assert 0.0 <= burn(low, since_bloom, heat) <= burn(high, since_bloom, heat) <= 1.0
    assert burn(low, since_bloom, heat) <= burn(low, since_bloom + hotter, heat)
    assert burn(low, since_bloom, heat) <= burn(low, since_bloom, heat + hotter)
    share = (np.array([burn(low, since_bloom, heat)]), np.array([burn(high, since_bloom, heat)]))
    lost = [
        float(burned_clusters(np.array([100.0]), np.array([closed]), np.array([strength]), share, 0.5)[0])
        for strength in (LIGHTLY, FIRMLY, BOTH)
    ]
    assert lost == sorted(lost)


def opened(share, burn=(0.0, 0.0), **changes):
    """The gain of opening a grid whose spans all hold one share."""
    spans = row_of_spans(5, 6)
    here = np.full(len(spans), share)
    each = tuple(np.full(len(spans), part) for part in burn)
    made = drivers(len(spans), **({"burn": each} | changes))
    return gains(spans, Shares(here, here * 0.8, np.minimum(here * 1.2, 1.0)), made, USUAL)[0]


def test_the_hot_face_is_opened_only_where_infection_is_bad_and_that_saves_more_than_it_burns():
    assert (opened(0.25).strength == BOTH).all()
    assert (opened(0.25, burn=(0.0, 0.9)).strength == FIRMLY).all()
    assert (opened(0.15).strength == FIRMLY).all()
    assert (opened(0.25, is_too_hot=True).strength == FIRMLY).all()


def test_what_burns_is_taken_off_what_is_saved():
    calm, burning = opened(0.15), opened(0.15, burn=(0.02, 0.1))
    lost = burned_clusters(np.full(30, 300.0), np.ones(30), burning.strength, (np.full(30, 0.02), np.full(30, 0.1)), 0.5)
    assert burning.burned.tolist() == pytest.approx(lost.tolist())
    assert (calm.clusters - burning.clusters).tolist() == pytest.approx(lost.tolist())
    assert (opened(0.15, burn=(0.02, 0.1), closed=np.zeros(30)).burned == 0.0).all(), "what is bare already is not laid bare"
    assert (opened(0.001, burn=(1.0, 1.0)).clusters == 0.0).all(), "never less than nothing"


@FEW
@given(st.floats(0.02, 0.9), st.floats(0.0, 0.2), st.floats(0.0, 0.9))
def test_more_infection_never_opens_less_and_hotter_never_opens_more(share, first, more):
    mild, hot = opened(share, burn=(first, first)), opened(share, burn=(first, min(first + more, 1.0)))
    assert (hot.strength <= mild.strength).all()
    assert (hot.clusters <= mild.clusters + 1e-9).all()


def weather(origin):
    hours = np.arange(24 * 8)
    temp = 20.0 + 15.0 * np.sin((hours % 24 - 9) / 24 * 2 * np.pi) + (hours // 24)
    blank = np.full(len(hours), np.nan)
    # from local midnight of 1 June 2031 on, eight hours behind UTC
    start = int((dt.datetime(2031, 6, 1) - dt.datetime(1970, 1, 1)).total_seconds()) + 8 * 3600
    return Weather("invented", -8.0, start + 3600 * hours, temp, *[blank] * 5, origin=np.full(len(hours), origin))


def test_only_a_forecast_tells_of_heat_and_only_of_days_to_come():
    told = weather(FORECAST)
    # 20 + 15 at 15 o'clock, one degree more each day: the fifth day after 1 June is the sixth, with 5 more
    assert hottest_ahead_degc(told, dt.date(2031, 6, 1), 5) == pytest.approx(40.0)
    assert hottest_ahead_degc(told, dt.date(2031, 6, 2), 1) == pytest.approx(37.0)
    assert np.isnan(hottest_ahead_degc(told, dt.date(2031, 6, 8), 5))
    assert np.isnan(hottest_ahead_degc(weather(READ), dt.date(2031, 6, 1), 5))
    assert np.isnan(hottest_ahead_degc(None, dt.date(2031, 6, 1), 5))
