"""Wind, which face to open first, and how leaves close again."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.canopy.air import typical_air
from vinemap.canopy.choose import choose_faces
from vinemap.canopy.faces import FaceSun, face_sun, faces_of
from vinemap.canopy.openness import growth_factor
from vinemap.canopy.wind import along_share, wind_rose, windward
from vinemap.errors import InputError, TooFewData
from vinemap.ground.block import FREE, WALL
from vinemap.vineclock.weather import Weather

NOON = 1750536000  # 2025-06-21 20:00 UTC, about noon at 122.5 W


def blowing(from_deg, speed_ms=3.0, rain=0.0, rh=0.5, start=NOON) -> Weather:
    """Invented readings a minute apart, all from the directions given."""
    count = len(from_deg)
    column = np.ones(count)
    speeds = column * speed_ms
    return Weather(
        "invented", -8.0, start + 60 * np.arange(count), 20 * column, rain * column, 0 * column, rh * column, speeds,
        np.asarray(from_deg, float),
    )  # fmt: skip


def rose(from_deg, **columns):
    return wind_rose(blowing(from_deg, **columns), 38.5, -122.5)


def sun(normal_deg, hot, late=0.0):
    return FaceSun(normal_deg, 6.0, 2.0, 1.0, late, hot)


def true_sun(bearing, training, lat):
    shift = dt.timedelta(days=183 if lat < 0 else 0)
    first, last = dt.date(2025, 5, 28) + shift, dt.date(2025, 9, 20) + shift
    return [face_sun(face.normal_true_deg, lat, 0.0, first, last, 0.0, typical_air()) for face in faces_of(bearing, training)]


def test_rose_of_a_steady_wind():
    west = rose([270.0] * 10)
    assert west.share[12] == 1.0
    assert west.drying_ms[12] == 3.0
    assert (west.prevailing_from_deg, west.steadiness) == (pytest.approx(270.0), pytest.approx(1.0))
    assert windward(270.0, west) == pytest.approx(1.0)
    assert windward(90.0, west) == pytest.approx(0.0)
    assert windward(225.0, west) == pytest.approx(np.sqrt(0.5))
    assert along_share(90.0, west) == pytest.approx(1.0)
    assert along_share(0.0, west) == pytest.approx(0.0, abs=1e-12)


def test_sectors_are_centred_on_north_and_close_the_circle():
    assert rose([350.0, 10.0, 0.0, 360.0, 348.8]).share[0] == 1.0
    assert rose([348.7]).share[15] == 1.0


def test_prevailing_wind_is_a_vector_mean():
    mean = rose([350.0, 10.0])
    assert min(mean.prevailing_from_deg, 360 - mean.prevailing_from_deg) == pytest.approx(0.0, abs=1e-9)
    assert rose([0.0, 180.0]).steadiness == pytest.approx(0.0, abs=1e-12)


def test_faster_wind_counts_for_more():
    weather = blowing([0.0, 90.0], speed_ms=np.array([9.0, 3.0]))
    assert windward(0.0, wind_rose(weather, 38.5, -122.5)) == pytest.approx(0.75)


def test_only_dry_daytime_wind_dries():
    with pytest.raises(TooFewData, match="no drying wind"):
        rose([270.0] * 5, start=NOON + 12 * 3600)
    for wet in ({"rain": 0.2}, {"rh": 0.85}, {"speed_ms": 0.4}):
        with pytest.raises(TooFewData, match="no drying wind"):
            rose([270.0] * 5, **wet)
    unknown = rose([270.0] * 5, rain=np.nan, rh=np.nan)
    assert unknown.drying_count == 5


def test_calm_and_missing_readings():
    weather = blowing([270.0, np.nan, 90.0, 270.0], speed_ms=np.array([3.0, 3.0, 0.1, np.nan]))
    result = wind_rose(weather, 38.5, -122.5)
    assert result.calm_share == 0.5
    assert result.share.sum() == pytest.approx(1.0)
    assert result.drying_count == 1


@given(st.lists(st.floats(0, 360), min_size=1, max_size=30), st.floats(0, 360))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_what_hits_the_two_faces_is_what_crosses_the_row(from_deg, normal):
    any_rose = rose(from_deg)
    crossing = windward(normal, any_rose) + windward(normal + 180, any_rose)
    assert crossing == pytest.approx(along_share(normal, any_rose))
    assert 0 <= crossing <= 1 + 1e-9


@pytest.mark.parametrize(
    ("bearing", "lat", "first", "spared"),
    [
        (0, 38, "east", "west"),
        (90, 38, "north", "south"),
        (180, 45, "east", "west"),
        (270, 45, "north", "south"),
        (0, -34, "east", "west"),
        (90, -34, "south", "north"),
        (180, -38, "east", "west"),
        (270, -38, "south", "north"),
        (135, 38, "north-east", "south-west"),
        (45, 38, "south-east", "north-west"),
        (45, -34, "south-east", "north-west"),
        (135, -34, "north-east", "south-west"),
    ],
)
def test_face_to_open_first(bearing, lat, first, spared):
    for wind in (None, rose([270.0] * 5)):
        choice = choose_faces(bearing, WALL, true_sun(bearing, WALL, lat), wind)
        assert choice.first.name == first
        assert [face.name for face in choice.spared] == [spared]
        assert choice.second is None
        assert choice.margin > 0.5


def test_the_windward_face_decides_between_faces_that_are_alike():
    faces = [sun(90, 100.0), sun(270, 105.0)]
    west = choose_faces(0.0, WALL, faces, rose([270.0] * 5))
    assert (west.first.name, west.second.name, west.spared, west.margin) == ("west", "east", (), 0.0)
    assert west.reasons[0].startswith("Hot sun differs little between the west and the east face (105 against 100 kWh/m²")
    assert west.reasons[1] == "So the wind decides: 100 % of the drying wind blows onto the west face."
    without = choose_faces(0.0, WALL, faces, None)
    assert (without.first.name, without.second.name) == ("east", "west")
    assert "No wind was read" in without.reasons[1]


def test_the_margin_that_decides():
    assert choose_faces(0.0, WALL, [sun(90, 91.0), sun(270, 100.0)], rose([270.0])).first.name == "west"
    clear = choose_faces(0.0, WALL, [sun(90, 89.0), sun(270, 100.0, late=2.04)], rose([270.0]))
    assert clear.first.name == "east"
    assert clear.margin == pytest.approx(0.11)
    assert clear.reasons == (
        "The east face takes 11 % less hot sun than the west face (89 against 100 kWh/m² until harvest, under a clear sky).",
        "0 % of the drying wind blows onto the east face.",
        "Open the west face only where infection is bad (takes 2.0 kWh/m² a day of sun after three o’clock by the sun): "
        "take laterals and inner leaves, leave an outer leaf as a roof.",
    )


def test_no_hot_sun_at_all():
    choice = choose_faces(0.0, WALL, [sun(90, 0.0), sun(270, 0.0)], None)
    assert (choice.first.name, choice.margin, choice.spared) == ("east", 0.0, ())
    assert "differs little" in choice.reasons[0]


@pytest.mark.parametrize(
    ("lat", "cool", "hot"), [(38, {"north", "north-east", "east"}, "west"), (-34, {"south", "south-east", "east"}, "west")]
)
def test_free_standing_vines(lat, cool, hot):
    choice = choose_faces(0.0, FREE, true_sun(0.0, FREE, lat), None)
    spared = {face.name for face in choice.spared}
    assert choice.first.name in cool
    assert choice.second is not None
    assert choice.second.name not in spared
    assert {hot, "south-west", "north-west"} <= spared


def test_a_free_standing_vine_meets_the_wind_with_its_next_face():
    choice = choose_faces(0.0, FREE, true_sun(0.0, FREE, 38), rose([160.0] * 5))
    assert choice.second.name in ("south", "south-east")
    assert "of the drying wind blows onto it" in choice.reasons[1]


def test_each_face_needs_its_sun():
    with pytest.raises(InputError, match="its own sun"):
        choose_faces(0.0, WALL, [sun(90, 1.0)], None)


def test_mildew_grows_faster_in_shade_and_shelter():
    assert growth_factor([1, 0.5, 0], [1, 0.5, 0]).tolist() == pytest.approx([0.7, 1.0, 1.3])
    # Shade against sun: leaf severity 49 to 75 % higher (Austin & Wilcox 2012).
    assert 1.49 <= growth_factor(0, 0.5) / growth_factor(1, 0.5) <= 1.75
    assert growth_factor(2, -1) == growth_factor(1, 0)


@pytest.mark.parametrize("wind", [None, rose([180.0] * 10)])
def test_free_standing_vines_in_air_too_cool_to_burn_are_decided_by_the_wind(wind):
    """Below 20 degC no sun counts as hot, so all eight faces are alike."""
    day = dt.date(2026, 5, 1)
    light = [face_sun(face.normal_true_deg, 45.0, 0.0, day, day, 0.0, np.full(24, 15.0)) for face in faces_of(10.0, FREE)]
    chosen = choose_faces(10.0, FREE, light, wind)
    assert chosen.first.name == ("south" if wind else "north")
    assert chosen.spared == ()
    assert chosen.margin == 0.0
    assert chosen.reasons[0].startswith("Hot sun differs little between the ")
    assert f"the {chosen.first.name} and the {chosen.first.name} face" not in chosen.reasons[0]
