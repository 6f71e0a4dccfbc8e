"""What keeps the sun off: the slope, the next row, tall edges; mirrored worlds and swapped faces."""

import dataclasses
import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.canopy.faces import face_beam, faces_sun, sun_clock
from vinemap.canopy.shade import LEVEL, Lie, Neighbour, edge_light, horizons, row_light, slope_light
from vinemap.canopy.sun import sun_track
from vinemap.errors import InputError
from vinemap.ground.block import FREE, WALL
from vinemap.ground.edges import Edge

WARM = np.full(24, 30.0)
DAY = dt.date(2025, 6, 21)
TRACK = sun_track(38.5, 0.0, DAY, DAY, 0.0, WARM)
SPOT = np.array([[0.0, 0.0]])
BEARINGS = st.floats(0.0, 360.0, exclude_max=True)
NEXT_ROW = Neighbour(1.8, 1.0, 2.5, 0.8)


def wall_sun(track, bearing, neighbour=NEXT_ROW, lie=LEVEL):
    normals = np.array([bearing + 90.0, bearing - 90.0])
    return faces_sun(track, normals, bearing, neighbour, lie)[0]


def figures(face):
    return dataclasses.astuple(face)[1:]


@given(BEARINGS, st.floats(-60.0, 60.0))
@settings(derandomize=True, max_examples=25, deadline=None)
def test_a_row_read_from_its_other_end_has_its_faces_swapped(bearing, lat):
    track = sun_track(lat, 10.0, DAY, DAY, 1.0, WARM)
    right, left = wall_sun(track, bearing)
    again_right, again_left = wall_sun(track, bearing + 180.0)
    assert figures(right) == pytest.approx(figures(again_left), rel=1e-6, abs=1e-9)
    assert figures(left) == pytest.approx(figures(again_right), rel=1e-6, abs=1e-9)


@given(BEARINGS, st.floats(20.0, 55.0))
@settings(derandomize=True, max_examples=25, deadline=None)
def test_hemispheres_mirror_each_other(bearing, lat):
    """At midsummer, on the other side of the equator, a row mirrored north to south has the same sun."""
    north = sun_track(lat, 0.0, DAY, DAY, 0.0, WARM)
    # the sun is 1.9 min behind the clock at the one solstice and ahead at the other: 0.95 degrees of longitude make it up
    south = sun_track(-lat, -0.95, dt.date(2025, 12, 21), dt.date(2025, 12, 21), 0.0, WARM)
    right, left = wall_sun(north, bearing)
    mirrored_left, mirrored_right = wall_sun(south, 180.0 - bearing)
    for one, other in ((right, mirrored_right), (left, mirrored_left)):
        # a step of ten minutes may fall on either side of the shadow line
        assert one.energy_kwh_m2 == pytest.approx(other.energy_kwh_m2, rel=0.01, abs=0.08)
        assert one.hot_sun_kwh_m2 == pytest.approx(other.hot_sun_kwh_m2, rel=0.01, abs=0.06)
        assert one.face_kwh_m2 == pytest.approx(other.face_kwh_m2, rel=0.01, abs=0.01)


@given(BEARINGS)
@settings(derandomize=True, max_examples=25, deadline=None)
def test_the_two_faces_share_the_sun_of_the_day(bearing):
    """Without shade one face or the other is lit at every moment, and the beam on both is what the wall cuts out of it."""
    beam, _, _ = face_beam(TRACK, np.array([bearing + 90.0, bearing - 90.0]), bearing)
    assert np.count_nonzero(beam > 0, axis=0).max() == 1
    across = np.abs(np.sin(np.radians(TRACK.azimuth_deg - bearing))) * np.cos(np.radians(TRACK.elevation_deg))
    assert beam.sum(axis=0) == pytest.approx(TRACK.beam_kw_m2 * across, abs=1e-9)


@given(
    BEARINGS,
    st.floats(0.5, 3.0),
    st.floats(0.0, 0.5),
    st.floats(1.2, 4.0),
    st.floats(0.1, 1.0),
    st.floats(0.0, 30.0),
    BEARINGS,
)
@settings(derandomize=True, max_examples=40, deadline=None)
def test_shade_never_adds(bearing, top, fruit, spacing, width, slope, aspect):
    lie = Lie(slope, aspect)
    free = wall_sun(TRACK, bearing, None, LEVEL)
    sloped = wall_sun(TRACK, bearing, None, lie)
    shaded = wall_sun(TRACK, bearing, Neighbour(top, fruit * top, spacing, width), lie)
    half = wall_sun(TRACK, bearing, Neighbour(top, fruit * top, spacing, width, 0.5), lie)
    for most, more, less, least in zip(free, sloped, half, shaded, strict=True):
        for column in zip(figures(most), figures(more), figures(less), figures(least), strict=True):
            assert list(column) == sorted(column, reverse=True) or np.ptp(column) < 1e-9


def test_taller_nearer_and_wider_rows_shade_more():
    usual = wall_sun(TRACK, 0.0)[0].energy_kwh_m2
    for sizes in ((2.4, 1.0, 2.5, 0.8), (1.8, 1.0, 1.8, 0.8), (1.8, 1.0, 2.5, 1.3), (1.8, 0.5, 2.5, 0.8)):
        assert wall_sun(TRACK, 0.0, Neighbour(*sizes))[0].energy_kwh_m2 < usual
    # the fruit waits longer for the sun than the wall above it
    face = wall_sun(TRACK, 0.0)[0]
    assert face.face_hours > face.sun_hours
    assert face.face_kwh_m2 > 0


def test_the_shadow_line_of_the_next_row():
    """Fruit at 1.0 m, leaves to 1.8 m and 0.8 m wide, 2.5 m between rows: 0.8 m to clear over 1.7 m, 25.2 degrees."""
    fruit, face = row_light(TRACK, 0.0, NEXT_ROW)
    side = np.abs(np.sin(np.radians(TRACK.azimuth_deg)))
    profile = np.degrees(np.arctan2(np.tan(np.radians(TRACK.elevation_deg)), side))
    assert (fruit == (profile > np.degrees(np.arctan(0.8 / 1.7)))).all()
    assert ((face > 0) & (face < 1)).any()
    assert (face[fruit == 1] == 1).all()
    # half the wall is lit when the sun clears 0.4 m over the gap
    at = int(np.argmin(np.abs(profile - np.degrees(np.arctan(0.4 / 1.7)))))
    assert face[at] == pytest.approx(1.7 * np.tan(np.radians(profile[at])) / 0.8, abs=1e-9)


def test_a_slope_hides_the_low_sun():
    """On ground that falls 20 degrees to the west the sun in the east rises when it stands 20 degrees high."""
    equinox = sun_track(38.5, 0.0, dt.date(2025, 3, 20), dt.date(2025, 3, 20), 0.0, WARM)
    light = slope_light(equinox, Lie(20.0, 270.0))
    assert light[equinox.azimuth_deg > 180].min() == 1
    # by then it has moved 16 degrees to the south: atan(tan 20 * cos 16) = 19.3 degrees; a step is 2 degrees
    assert 19.3 < equinox.elevation_deg[light > 0][0] < 21.4
    assert equinox.by_sun[light > 0].min() > equinox.by_sun.min() + 1.5
    assert (slope_light(TRACK, Lie(0.0, 77.0)) == 1).all()


def test_the_row_uphill_shades_more_than_the_row_downhill():
    lie = Lie(15.0, 270.0)  # falls to the west: the next row to the east stands 0.67 m higher
    level_east, level_west = wall_sun(TRACK, 0.0)
    east, west = wall_sun(TRACK, 0.0, NEXT_ROW, lie)
    assert east.energy_kwh_m2 < level_east.energy_kwh_m2
    assert west.energy_kwh_m2 > level_west.energy_kwh_m2
    fruit, _ = row_light(TRACK, 0.0, NEXT_ROW, lie)
    morning = TRACK.by_sun < 12
    side = np.abs(np.sin(np.radians(TRACK.azimuth_deg)))
    profile = np.tan(np.radians(TRACK.elevation_deg)) / side
    rise = 0.8 + 2.5 * np.tan(np.radians(15.0))
    assert (fruit[morning] == (profile[morning] > rise / 1.7)).all()


def test_horizon_of_a_hedge():
    """A hedge 5 m high, 10 m to the east, seen from 1 m above the ground: 21.8 degrees due east, atan(4 / 10)."""
    hedge = Edge("hedge", np.array([(10.0, -60.0), (10.0, 60.0)]), 5.0, 0.3)
    ((top, share),) = horizons(SPOT, [hedge], 1.0)
    assert share == 0.3
    assert top.shape == (1, 72)
    assert top[0, 18] == 22
    # at 60 degrees from square the hedge is twice as far: atan(4 / 20)
    assert top[0, 18 + 12] == top[0, 18 - 12] == 11
    assert (top[0, 36:] == -90).all()
    # past ten heights it is left out: 50 m away at acos(10 / 50) = 78 degrees from square
    assert top[0, 18 + 15] > 0
    assert top[0, 18 + 16] == -90
    assert horizons(SPOT - [[41.0, 0.0]], [hedge], 1.0) == []
    # a wall that is lower than the fruit takes nothing: its top lies below the horizon
    ((low, _),) = horizons(np.array([[7.0, 0.0]]), [Edge("wall", hedge.line_m, 0.5)], 1.0)
    assert low.max() < 0


def test_light_past_edges():
    hedge = Edge("hedge", np.array([(10.0, -60.0), (10.0, 60.0)]), 5.0, 0.3)
    light = edge_light(TRACK, horizons(SPOT, [hedge], 1.0))[0]
    morning = TRACK.by_sun < 11
    assert light[~morning].min() == 1
    assert set(light[morning].tolist()) == {0.3, 1.0}
    east = np.abs(TRACK.azimuth_deg - 90) < 2.5
    assert (light[east] == np.where(TRACK.elevation_deg[east] < 22, 0.3, 1.0)).all()
    # two hedges in a line each take theirs; a house in front takes all
    twice = edge_light(TRACK, horizons(SPOT, [hedge, hedge], 1.0))[0]
    assert twice[light < 1] == pytest.approx(0.09)
    solid = edge_light(TRACK, horizons(SPOT, [hedge, Edge("house", hedge.line_m, 5.0)], 1.0))[0]
    assert solid[light < 1].max() == 0
    # a grid that runs 10 degrees off: the hedge to the grid's east stands at 100 true
    turned = edge_light(TRACK, horizons(SPOT, [hedge], 1.0), 10.0)[0]
    beside = np.abs(TRACK.azimuth_deg - 100) < 2.5
    assert (turned[beside] == np.where(TRACK.elevation_deg[beside] < 22, 0.3, 1.0)).all()


def test_an_edge_uphill_stands_higher():
    hedge = Edge("hedge", np.array([(10.0, -60.0), (10.0, 60.0)]), 5.0)
    level, uphill, downhill = (
        horizons(SPOT, [hedge], 1.0, lie)[0][0][0, 18] for lie in (LEVEL, Lie(10.0, 270.0), Lie(10.0, 90.0))
    )
    # 10 m up or down a slope of 10 degrees is 1.76 m
    assert (downhill, level, uphill) == (13, 22, 30)


@given(st.floats(-40, 40), st.floats(-40, 40), st.floats(0, 1), st.floats(1.2, 12))
@settings(derandomize=True, max_examples=40, deadline=None)
def test_edges_never_add_and_openness_never_takes(x, y, open_frac, height):
    line = np.array([(x, y), (x + 17.0, y - 9.0), (x + 3.0, y + 21.0)])
    seen = horizons(SPOT, [Edge("hedge", line, height, open_frac)], 1.0)
    light = edge_light(TRACK, seen) if seen else np.ones((1, len(TRACK.hour)))
    assert light.max() <= 1
    assert light.min() >= open_frac
    normals = np.array([90.0, 270.0])
    open_sun = faces_sun(TRACK, normals, 0.0)[0]
    shaded = faces_sun(TRACK, normals, 0.0, light=light)[0]
    for most, least in zip(open_sun, shaded, strict=True):
        assert all(less <= more + 1e-9 for less, more in zip(figures(least), figures(most), strict=True))


def test_the_sun_clock_adds_up_to_the_day():
    clock = sun_clock(TRACK, 20.0, WALL, NEXT_ROW)
    right, left = faces_sun(TRACK, np.array([110.0, 290.0]), 20.0, NEXT_ROW)[0]
    assert (clock.fruit_kw_m2.sum(axis=1) / 6).tolist() == pytest.approx([right.energy_kwh_m2, left.energy_kwh_m2])
    assert np.diff(clock.hour).min() == pytest.approx(1 / 6)
    free = sun_clock(TRACK, 20.0, FREE)
    assert free.fruit_kw_m2.shape == (8, len(clock.hour))
    assert np.argmax(free.fruit_kw_m2.sum(axis=1)) in (2, 6)
    with pytest.raises(InputError, match="one day"):
        sun_clock(sun_track(38.5, 0.0, DAY, DAY + dt.timedelta(days=1), 0.0, WARM), 0.0, WALL)


def test_polar_night_and_midnight_sun():
    night = sun_track(80.0, 0.0, dt.date(2025, 12, 20), dt.date(2025, 12, 22), 0.0, WARM)
    assert len(night.hour) == 0
    assert figures(wall_sun(night, 0.0)[0]) == (0.0,) * 7
    day = sun_track(80.0, 0.0, DAY, DAY, 0.0, WARM)
    assert day.hours.sum() == pytest.approx(24.0)
