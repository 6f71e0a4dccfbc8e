"""The metric frame against the geodesic and published figures."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.files.projection import frame_for, from_projected, to_local, to_lonlat, utm_crs

PLACES = [(-122.7, 38.6), (144.5, -38.1), (2.9, 43.1), (18.9, -33.9), (-68.8, -33.0), (179.9, -41.3), (-120.01, 46.2)]


@pytest.mark.parametrize(
    ("lon", "lat", "crs"),
    [
        (-122.7, 38.6, "EPSG:32610"),
        (144.5, -38.1, "EPSG:32755"),
        (-180.0, 10.0, "EPSG:32601"),
        (180.0, 10.0, "EPSG:32660"),
        (0.0, 0.0, "EPSG:32631"),
        (-120.0, 40.0, "EPSG:32611"),
    ],
)
def test_zone_is_the_published_one(lon, lat, crs):
    # zone limits every six degrees from 180 W: Snyder 1987, Map Projections, USGS PP 1395, p. 57
    assert utm_crs(lon, lat) == crs


@pytest.mark.parametrize(("lon", "lat"), PLACES)
def test_lengths_and_bearings_agree_with_the_geodesic(lon, lat):
    from pyproj import Geod

    frame = frame_for(lon, lat)
    # scale of a UTM zone is 0.9996 in its middle and at most 1.001 at its edge: Snyder 1987, p. 57-58
    for bearing in (0.0, 37.0, 90.0, 205.0):
        x = np.array([0.0, 1000.0 * np.sin(np.radians(bearing))])
        y = np.array([0.0, 1000.0 * np.cos(np.radians(bearing))])
        lons, lats = to_lonlat(frame, x, y)
        true_bearing, _, length_m = Geod(ellps="WGS84").inv(lons[0], lats[0], lons[1], lats[1])
        assert 1000.0 / 1.001 <= length_m <= 1000.0 / 0.9996 + 0.01
        assert (true_bearing - bearing - frame.convergence_deg + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=2e-3)


def test_origin_is_whole_and_near():
    frame = frame_for(-122.7, 38.6)
    assert frame.origin_x_m % 100 == 0
    assert frame.origin_y_m % 100 == 0
    x, y = to_local(frame, [-122.7], [38.6])
    assert max(abs(x[0]), abs(y[0])) <= 50.0 + 1e-6
    assert not frame.is_southern
    assert frame_for(144.5, -38.1).is_southern


def test_known_easting_and_northing():
    # the equator on a central meridian is easting 500 000 m, northing 0 m by definition (Snyder 1987, p. 58)
    frame = frame_for(-123.0, 0.0)
    x, y = from_projected(frame, [500_000.0], [0.0])
    assert to_lonlat(frame, x, y)[0][0] == pytest.approx(-123.0, abs=1e-9)
    assert to_lonlat(frame, x, y)[1][0] == pytest.approx(0.0, abs=1e-9)
    # convergence is about (lon - lon0) sin(lat): Snyder 1987, equation 8-15 to first order
    frame = frame_for(-122.0, 38.6)
    first_order = (frame.lon_deg + 123.0) * np.sin(np.radians(frame.lat_deg))
    assert frame.convergence_deg == pytest.approx(first_order, abs=1e-3)


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.floats(-179.9, 179.9), st.floats(-60.0, 60.0), st.floats(-5000, 5000), st.floats(-5000, 5000))
def test_there_and_back(lon, lat, x_m, y_m):
    frame = frame_for(lon, lat)
    x, y = to_local(frame, *to_lonlat(frame, np.array([x_m]), np.array([y_m])))
    assert x[0] == pytest.approx(x_m, abs=1e-4)
    assert y[0] == pytest.approx(y_m, abs=1e-4)


@pytest.mark.parametrize(
    ("lon", "lat", "crs", "words"),
    [
        (38.6, -122.7, "", "is not a place where vines grow"),
        (526100.0, 4272400.0, "", "is not a place where vines grow"),
        (float("nan"), 38.0, "", "is not a place where vines grow"),
        (-122.7, 38.6, "nonsense", "“nonsense” is not a map system"),
        (-122.7, 38.6, "EPSG:4326", "is not measured in metres east and north"),
        (-122.7, 38.6, "EPSG:2226", "is not measured in metres east and north"),
        (19.0, -33.9, "EPSG:2048", "is not measured in metres east and north"),
        (-122.7, 38.6, "EPSG:2193", "a metre at longitude -122.7"),
    ],
)
def test_refusals(lon, lat, crs, words):
    with pytest.raises(InputError, match=words) as caught:
        frame_for(lon, lat, crs)
    assert caught.value.do


def test_out_of_reach():
    frame = frame_for(-122.7, 38.6)
    with pytest.raises(InputError, match="does not reach"):
        to_lonlat(frame, [1e12], [1e12])
    with pytest.raises(InputError, match="does not reach"):
        to_local(frame, [np.inf], [0.0])


def test_another_system_may_be_named():
    # New Zealand Transverse Mercator lists northing first; east still comes first here
    # false easting 1 600 000 m at 173 E, false northing 10 000 000 m (LINZS25002); offsets from the length of a degree
    frame = frame_for(173.9, -41.5, "EPSG:2193")
    assert frame.origin_x_m == pytest.approx(1_675_000, abs=5_000)
    assert frame.origin_y_m == pytest.approx(5_405_000, abs=8_000)
