"""Faces, the sun on them, and the usual warmth of the day."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.canopy.air import typical_air, warm_weight
from vinemap.canopy.faces import compass_word, face_sun, faces_of
from vinemap.canopy.shade import Neighbour
from vinemap.canopy.sun import sun_position
from vinemap.errors import InputError
from vinemap.ground.block import FREE, WALL

AIR = typical_air()
FIRST, LAST = dt.date(2025, 5, 28), dt.date(2025, 9, 20)


def season_at(lat_deg, first=FIRST, last=LAST):
    """The same part of the season on either side of the equator."""
    shift = dt.timedelta(days=183) if lat_deg < 0 else dt.timedelta(0)
    return first + shift, last + shift


def hot_sun(normal_deg, lat_deg, dates, neighbour=None):
    return face_sun(normal_deg, lat_deg, 0.0, *dates, 0.0, AIR, neighbour).hot_sun_kwh_m2


@pytest.mark.parametrize(
    # Cosine of the sun on the face at row bearing + 90, 38.5 N 122.5 W, computed with an independent program.
    ("when", "offset", "lat", "lon", "cosines"),
    [
        ((2025, 6, 21, 9), -7, 38.5, -122.5, {0: 0.817, 30: 0.682, 90: -0.052, 135: -0.615}),
        ((2025, 6, 21, 11), -7, 38.5, -122.5, {0: 0.499, 30: 0.516, 90: 0.168, 135: -0.234}),
        ((2025, 6, 21, 15), -7, 38.5, -122.5, {0: -0.417, 30: -0.262, 90: 0.198, 135: 0.434}),
        ((2025, 6, 21, 17), -7, 38.5, -122.5, {0: -0.770, 30: -0.667, 90: 0.000, 135: 0.544}),
        ((2025, 8, 1, 9), -7, 38.5, -122.5, {0: 0.856, 30: 0.751, 90: 0.019, 135: -0.592}),
        ((2025, 8, 1, 16), -7, 38.5, -122.5, {0: -0.624, 30: -0.436, 90: 0.209, 135: 0.589}),
        ((2025, 12, 21, 9), 9, -34.5, 139.0, {0: 0.596, 90: -0.067}),
        ((2025, 12, 21, 12), 9, -34.5, 139.0, {90: -0.190}),
        ((2025, 12, 21, 16), 9, -34.5, 139.0, {0: -0.828}),
    ],
)
def test_which_face_is_lit(when, offset, lat, lon, cosines):
    time = dt.datetime(*when, tzinfo=dt.timezone(dt.timedelta(hours=offset))).timestamp()
    elevation, azimuth = sun_position([time], lat, lon)
    for bearing, expected in cosines.items():
        right, left = faces_of(bearing, WALL)
        angle = np.radians(azimuth[0] - right.normal_true_deg)
        assert np.cos(np.radians(elevation[0])) * np.cos(angle) == pytest.approx(expected, abs=0.002)
        assert (right.normal_deg - left.normal_deg) % 360 == 180


def test_names_and_sides_of_faces():
    right, left = faces_of(0.0, WALL)
    assert (right.name, right.side, left.name, left.side) == ("east", 1, "west", -1)
    assert [face.name for face in faces_of(135.0, WALL)] == ["south-west", "north-east"]
    assert [face.name for face in faces_of(0.0, FREE)][:3] == ["north", "north-east", "east"]
    with pytest.raises(InputError, match="trellised"):
        faces_of(0.0, "trellised")


def test_names_follow_true_north():
    # A grid that runs 3 degrees off: 20 on the grid is 23 true, and its right face looks south-east rather than east.
    assert faces_of(20.0, WALL)[0].name == "east"
    assert faces_of(20.0, WALL, convergence_deg=3.0)[0].name == "south-east"
    north = faces_of(0.0, FREE, convergence_deg=3.0)[0]
    assert (north.name, north.normal_deg, north.normal_true_deg) == ("north", 357.0, 0.0)


@given(st.floats(0, 360, exclude_max=True))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_the_two_faces_of_a_row_have_opposite_names(bearing):
    right, left = (face.name for face in faces_of(bearing, WALL))
    assert left == compass_word(faces_of(bearing, WALL)[0].normal_deg + 180)
    assert right != left


@pytest.mark.parametrize("lat", [38, 45, -34, -38])
@pytest.mark.parametrize("start", [(5, 28), (6, 25), (7, 31)])  # bloom, bunch closure, veraison
@pytest.mark.parametrize("neighbour", [None, Neighbour(2.0, 0.9, 2.4)])
def test_the_face_with_less_hot_sun(lat, start, neighbour):
    """Common practice: morning face of north-south rows; of east-west rows the one towards the pole."""
    dates = season_at(lat, dt.date(2025, *start))
    pole, equator = (0.0, 180.0) if lat > 0 else (180.0, 0.0)
    assert hot_sun(90, lat, dates, neighbour) < 0.5 * hot_sun(270, lat, dates, neighbour)
    assert hot_sun(pole, lat, dates, neighbour) < 0.5 * hot_sun(equator, lat, dates, neighbour)


@pytest.mark.parametrize("lat", [38, 45, -34, -38])
def test_diagonal_rows_keep_the_afternoon_off(lat):
    dates = season_at(lat)
    for morning in (45, 135):
        assert hot_sun(morning, lat, dates) < hot_sun(morning + 180, lat, dates)
    assert hot_sun(60, lat, dates) < hot_sun(240, lat, dates)


def test_a_cooler_place_changes_the_figures_and_not_the_order():
    dates = season_at(45)
    cool = typical_air(10.0, 25.0)
    east, west = (face_sun(normal, 45.0, 0.0, *dates, 0.0, cool).hot_sun_kwh_m2 for normal in (90, 270))
    assert 0 < east < west < hot_sun(270, 45, dates)


def test_morning_and_late_sun_fall_on_opposite_faces():
    # The clock says 13:10 when the sun is due south at this place (UTC-8): hours by the sun, not by the clock, count.
    east, west = (face_sun(normal, 38.5, -122.5, FIRST, LAST, -8.0, AIR) for normal in (90, 270))
    assert east.late_kwh_m2 == 0.0
    assert west.morning_kwh_m2 == 0.0
    assert east.energy_kwh_m2 == pytest.approx(west.energy_kwh_m2, rel=0.01)
    assert east.sun_hours == pytest.approx(west.sun_hours, abs=0.25)
    assert east.morning_kwh_m2 / east.energy_kwh_m2 > 0.5


def test_both_faces_together_see_every_hour_of_sun():
    right, left = (face_sun(normal, 38.5, 0.0, dt.date(2025, 6, 21), dt.date(2025, 6, 21), 0.0, AIR) for normal in (60, 240))
    # The day from sunrise to sunset is 14 h 50 min at midsummer there.
    assert right.sun_hours + left.sun_hours == pytest.approx(14.85, abs=0.2)


def plain_sum(normal_deg, is_counted):
    """Energy [kWh/m2] on a wall at 40 N 0 E on 1 July 2025, minute by minute, where the time and the sun are counted."""
    day = dt.date(2025, 7, 1)
    midnight = (day.toordinal() - dt.date(1970, 1, 1).toordinal()) * 86_400
    total = 0.0
    for minute in range(0, 1440, 2):
        elevation, azimuth = sun_position([midnight + 60 * minute + 60], 40.0, 0.0)
        up, side = np.radians(elevation[0]), np.radians(azimuth[0] - normal_deg)
        if up > 0 and np.cos(side) > 0 and is_counted(minute + 1, up, side):
            air_mass = 1 / (np.sin(up) + 0.50572 * (elevation[0] + 6.07995) ** -1.6364)
            total += 1.353 * 0.7 ** (air_mass**0.678) * np.cos(up) * np.cos(side) / 30
    return day, total


def test_energy_against_a_plain_sum():
    # The sun is 4 minutes behind the clock on that day at 0 E (equation of time), so 15 by the sun is minute 904.
    for normal, part, is_counted in (
        (90, "energy_kwh_m2", lambda minute, up, side: True),
        (90, "morning_kwh_m2", lambda minute, up, side: minute < 604),
        (250, "late_kwh_m2", lambda minute, up, side: minute >= 904),
    ):
        day, expected = plain_sum(normal, is_counted)
        told = face_sun(normal, 40.0, 0.0, day, day, 0.0, AIR)
        assert getattr(told, part) == pytest.approx(expected, rel=0.02)


def test_the_clock_does_not_move_the_sun():
    one, other = (face_sun(100, 40.0, 0.0, FIRST, FIRST, offset, AIR) for offset in (0.0, 2.0))
    for part in ("energy_kwh_m2", "morning_kwh_m2", "late_kwh_m2", "sun_hours"):
        assert getattr(one, part) == pytest.approx(getattr(other, part), rel=1e-9)
    assert one.hot_sun_kwh_m2 != pytest.approx(other.hot_sun_kwh_m2, rel=0.05)


def test_shadow_of_the_next_row_against_a_plain_sum():
    def reaches_the_fruit(minute, up, side):
        # The shadow of the top falls short of the fruit, measured straight across the row.
        return (2.0 - 0.9) / np.tan(up) * np.cos(side) < 1.5

    day, expected = plain_sum(150, reaches_the_fruit)
    told = face_sun(150, 40.0, 0.0, day, day, 0.0, AIR, Neighbour(2.0, 0.9, 1.5))
    assert told.energy_kwh_m2 == pytest.approx(expected, rel=0.02)


def test_the_next_row_takes_the_low_sun():
    free = face_sun(90, 38.5, 0.0, FIRST, LAST, 0.0, AIR)
    # 2 m of leaves and 2 m between rows, fruit on the ground: no sun until it stands 45 degrees above the row.
    shaded = face_sun(90, 38.5, 0.0, FIRST, LAST, 0.0, AIR, Neighbour(2.0, 0.0, 2.0))
    assert 0 < shaded.sun_hours < free.sun_hours - 2
    far = face_sun(90, 38.5, 0.0, FIRST, LAST, 0.0, AIR, Neighbour(2.0, 0.0, 1e6))
    assert far.sun_hours == pytest.approx(free.sun_hours, abs=0.02)
    low = face_sun(90, 38.5, 0.0, FIRST, LAST, 0.0, AIR, Neighbour(0.5, 0.9, 2.0))
    assert low == free


def test_shadow_across_the_row():
    # 21 June 09:00, 38.5 N: 2 m casts 2.85 m, all of it across a north-south row; so a row 2.84 m away still shades the foot.
    elevation, azimuth = sun_position([1750521600.0], 38.5, -122.5)  # 2025-06-21 16:00 UTC
    across = 2.0 / np.tan(np.radians(elevation[0])) * np.sin(np.radians(azimuth[0]))
    assert across == pytest.approx(2.85, abs=0.01)


def test_refusals():
    with pytest.raises(InputError, match="last day comes before"):
        face_sun(90, 38, 0, LAST, FIRST, 0, AIR)
    with pytest.raises(InputError, match="24 hours"):
        face_sun(90, 38, 0, FIRST, LAST, 0, AIR[:12])
    with pytest.raises(InputError, match="24 hours"):
        face_sun(90, 38, 0, FIRST, LAST, 0, np.full(24, np.nan))


def test_weight_of_warmth():
    assert warm_weight([10, 20, 27.5, 35, 50, 60]).tolist() == [0, 0, 0.5, 1, 2, 2]


def test_a_typical_day():
    assert AIR.shape == (24,)
    assert int(np.argmax(AIR)) in (14, 15)
    assert int(np.argmin(AIR)) == 5
    assert AIR.min() >= 13
    assert AIR.max() <= 29
    with pytest.raises(InputError, match="upside down"):
        typical_air(30, 20)
