"""Warmth to be expected: read, forecast, seen in earlier years, or typical of the latitude."""

import datetime as dt

import numpy as np
import pytest

from vinemap.canopy.air import expected_air, typical_year
from vinemap.errors import InputError
from vinemap.vineclock.weather import Weather

FIRST, LAST = dt.date(2026, 5, 5), dt.date(2026, 9, 15)
UNIX = dt.date(1970, 1, 1).toordinal()


def weather_of(first, days, degc=None, offset=-8.0):
    """Hours of days from a date on, at an even warmth or at the typical one plus nothing."""
    ordinals = np.arange(first.toordinal(), first.toordinal() + days)
    told = typical_year(38.4, ordinals) if degc is None else np.full((days, 24), float(degc))
    time = (ordinals[:, None] - UNIX) * 86_400 + 3600 * np.arange(24) - round(3600 * offset)
    blank = np.full(24 * days, np.nan)
    return Weather("invented", offset, time.ravel().astype(np.int64), told.ravel(), *[blank] * 5)


# Rounded 1991-2020 means (from memory): latitude, then mean maximum and minimum of the warmest and of the coldest month.
TOWNS = {
    "Seville": (37.4, 36, 20, 16, 6),
    "Napa": (38.3, 28, 12, 14, 4),
    "Sacramento": (38.6, 34, 15, 13, 4),
    "Montpellier": (43.6, 29, 18, 12, 3),
    "Bordeaux": (44.8, 27, 16, 10, 4),
    "Dijon": (47.3, 27, 15, 5, 0),
    "Geisenheim": (50.0, 26, 14, 4, -1),
    "Mendoza": (-32.8, 32, 19, 15, 2),
    "Santiago": (-33.4, 30, 14, 15, 4),
    "Stellenbosch": (-33.9, 28, 16, 17, 7),
    "Adelaide": (-34.9, 30, 17, 15, 7),
    "Blenheim": (-41.5, 24, 13, 13, 2),
}


@pytest.mark.parametrize("town", TOWNS)
def test_typical_months_of_wine_towns(town):
    lat, warm_max, warm_min, cold_max, cold_min = TOWNS[town]
    starts = (dt.date(2025, 1, 1).toordinal(), dt.date(2025, 7, 1).toordinal())
    january, july = (typical_year(lat, np.arange(start, start + 31)).mean(axis=0) for start in starts)
    warm, cold = (july, january) if lat > 0 else (january, july)
    # towns by the sea or in a hot valley lie this far from the line through all of them
    assert (warm.max() + warm.min()) / 2 == pytest.approx((warm_max + warm_min) / 2, abs=5.5)
    assert (cold.max() + cold.min()) / 2 == pytest.approx((cold_max + cold_min) / 2, abs=3.2)
    assert np.argmax(warm) in (14, 15)


def test_the_lines_are_those_of_the_towns():
    """Straight lines through all twelve by least squares, worked out again here."""
    table = np.array(list(TOWNS.values()))
    past = np.abs(table[:, 0]) - 40
    warm = np.polyfit(past, (table[:, 1] + table[:, 2]) / 2, 1)
    cold = np.polyfit(past, (table[:, 3] + table[:, 4]) / 2, 1)
    assert (*warm, *cold) == pytest.approx((-0.21, 22.4, -0.49, 7.8), abs=0.05)
    assert (table[:, 1] - table[:, 2]).mean() / 2 == pytest.approx(6.75, abs=0.01)
    assert (table[:, 3] - table[:, 4]).mean() / 2 == pytest.approx(4.5, abs=0.05)
    middle = typical_year(40.0, np.array([dt.date(2025, 7, 22).toordinal()]))[0]
    assert (middle.max() + middle.min()) / 2 == pytest.approx(22.4, abs=0.1)
    assert (middle.max() - middle.min()) / 2 == pytest.approx(6.75, abs=0.1)


def test_without_weather_the_days_are_typical():
    air = expected_air([], 38.4, FIRST, LAST)
    assert len(air.degc) == 24 * 134
    assert air.words() == "134 days as in a typical year at this latitude"
    assert air.degc.max() > 28
    south = expected_air([], -38.4, dt.date(2026, 11, 4), dt.date(2027, 3, 17))
    assert south.degc.max() == pytest.approx(air.degc.max(), abs=0.2)
    with pytest.raises(InputError, match="last day comes before"):
        expected_air([], 38.4, LAST, FIRST)


def test_days_that_were_read_or_forecast_stand_for_themselves():
    air = expected_air([weather_of(FIRST - dt.timedelta(days=4), 10, 40.0)], 38.4, FIRST, LAST)
    assert (air.degc[: 24 * 6] == 40.0).all()
    assert air.words() == "6 days read or forecast, 128 days as in a typical year at this latitude"


def test_what_was_read_moves_what_is_typical():
    """A place that ran 6 degrees warmer for 30 days is expected 30 / (30 + 10) of that warmer; after 10 days half of it."""
    typical = expected_air([], 38.4, FIRST, LAST).degc
    for days, share in ((30, 0.75), (10, 0.5)):
        was = weather_of(FIRST - dt.timedelta(days=days), days)
        warmer = Weather("w", -8.0, was.time_utc, was.temp_degc + 6.0, *[np.full(len(was), np.nan)] * 5)
        told = expected_air([warmer], 38.4, FIRST, LAST).degc
        assert told - typical == pytest.approx(np.full(len(typical), 6.0 * share), abs=1e-9)
    long_ago = weather_of(dt.date(2026, 1, 1), 20, 35.0)
    assert expected_air([long_ago], 38.4, FIRST, LAST).degc.tolist() == typical.tolist()


def test_earlier_years_come_before_what_is_typical():
    last_year = weather_of(dt.date(2025, 6, 1), 31, 37.0)
    air = expected_air([last_year], 38.4, FIRST, LAST)
    hot = air.degc == 37.0
    assert hot.sum() == 24 * air.earlier_days
    # the thirty-one days of June, and a week on either side that sees some of them
    assert air.earlier_days == 31 + 2 * 7
    assert hot[24 * (dt.date(2026, 6, 15) - FIRST).days]
    two_years = weather_of(dt.date(2024, 6, 1), 31, 31.0)
    both = expected_air([last_year, two_years], 38.4, FIRST, LAST)
    assert both.degc[24 * (dt.date(2026, 6, 15) - FIRST).days] == pytest.approx(34.0)


def test_gaps_are_filled_and_never_spread():
    gappy = weather_of(FIRST, 3, 30.0)
    temp = gappy.temp_degc.copy()
    temp[2:7] = np.nan  # five hours of the first day
    temp[24:40] = np.nan  # sixteen hours of the second: it does not stand for itself
    air = expected_air([Weather("w", -8.0, gappy.time_utc, temp, *[np.full(len(temp), np.nan)] * 5)], 38.4, FIRST, LAST)
    assert air.read_days == 2
    assert np.isfinite(air.degc).all()
    assert (air.degc[7:24] == 30.0).all()
    nothing = Weather("w", -8.0, gappy.time_utc, np.full(len(temp), np.nan), *[np.full(len(temp), np.nan)] * 5)
    assert expected_air([nothing], 38.4, FIRST, LAST).degc.tolist() == expected_air([], 38.4, FIRST, LAST).degc.tolist()
