"""Repairs by name: what they change, and that they never change more than they say. RFC 7946, 3.1.6 and 3.1.9."""

from __future__ import annotations

import json
import math
from collections import namedtuple

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.files.repairs import (
    REPAIRS,
    away_km,
    check_repairs,
    closed,
    home_of,
    is_swapped,
    mend_items,
    places_of,
    positions_of,
    split_at_date_line,
    swapped,
    turned,
)
from vinemap.files.table_repairs import mend_table, table_places
from vinemap.ground.block import Block, VineExceptions
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.snapping import snap, snap_to_row
from vinemap.ground.vines import place_vines

Found = namedtuple("Found", "mended numbers")
HOME = (-122.7, 38.6)
SQUARE = [[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [0.0, 1.0], [0.0, 0.0]]


def feature(kind, coordinates, **properties):
    return {"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": coordinates}}


def collection(*features):
    return {"type": "FeatureCollection", "features": list(features)}


def mended(content, *repairs, home=HOME):
    before = json.dumps(content)
    found, said = mend_items("a.geojson", list(enumerate(content["features"], start=1)), repairs or REPAIRS, home)
    assert json.dumps(content) == before
    return [item for _, item in found], Found(said, [number for number, _ in found]) if said else None


@st.composite
def rings(draw):
    """Star-shaped closed rings around a point, which never cross themselves, either way round."""
    corners = draw(st.integers(3, 12))
    gaps = draw(st.lists(st.floats(0.3, 1.0), min_size=corners, max_size=corners))
    angles = np.cumsum(gaps) / sum(gaps) * 2 * math.pi
    radii = draw(st.lists(st.floats(0.5, 1.5), min_size=corners, max_size=corners))
    x, y = draw(st.floats(-100, 100)), draw(st.floats(-60, 60))
    points = [[x + r * math.cos(a), y + r * math.sin(a)] for a, r in zip(angles.tolist(), radii, strict=True)]
    if draw(st.booleans()):
        points.reverse()
    return [*points, points[0]]


@settings(derandomize=True, max_examples=80, deadline=None)
@given(rings())
def test_a_closed_or_turned_ring_is_valid_and_covers_the_same_ground(ring):
    whole = shapely.Polygon(ring)
    if not whole.is_valid:
        return
    assert closed(ring) is None
    again = closed(ring[:-1])
    assert again == ring
    for is_outer in (True, False):
        other = turned(ring, is_outer) or ring
        made = shapely.Polygon(other)
        assert made.is_valid
        assert made.exterior.is_ccw == is_outer
        assert shapely.symmetric_difference(made, whole).area == pytest.approx(0.0, abs=1e-9)
        assert turned(other, is_outer) is None


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.lists(st.floats(-180, 180), min_size=2, max_size=4))
def test_a_swap_is_its_own_inverse(position):
    assert swapped(swapped(position)) == position
    assert swapped(position)[2:] == position[2:]


def test_a_ring_that_would_cross_itself_is_not_closed():
    assert closed([[0, 0], [2, 0], [0, 1], [2, 1]]) is None
    assert closed([[0, 0], [1, 1]]) is None
    assert closed([[0, 0, 5.0], [2, 0, 6.0], [2, 1, 7.0]]) == [[0, 0, 5.0], [2, 0, 6.0], [2, 1, 7.0], [0, 0, 5.0]]


def test_holes_are_closed_and_turned_with_their_outline():
    hole = [[0.5, 0.2], [0.5, 0.8], [1.5, 0.8], [1.5, 0.2]]
    (item,), found = mended(collection(feature("Polygon", [SQUARE[::-1], hole], block="A")), "close-ring", "turn-ring")
    outer, inner = item["geometry"]["coordinates"]
    assert shapely.LinearRing(outer).is_ccw
    assert not shapely.LinearRing(inner).is_ccw
    assert shapely.Polygon(outer, [inner]).area == pytest.approx(2.0 - 0.6)
    assert [(each.repair, each.place) for each in found.mended] == [
        ("close-ring", "feature 1, block A"),
        ("turn-ring", "feature 1, block A"),
    ]


def test_a_swap_needs_a_rest_to_be_near_to():
    # a degree of latitude is 111.2 km on the mean sphere, 111.32 km at the equator of WGS 84
    assert away_km(-122.7, 39.6, HOME) == pytest.approx(111.3, abs=0.2)
    assert away_km(38.6, -122.7, HOME) == math.inf
    assert is_swapped(38.6, -122.7, HOME)
    assert is_swapped(38.9, -122.7, HOME)  # 33 km off
    assert not is_swapped(39.2, -122.7, HOME)  # 67 km off
    assert not is_swapped(-122.7, 38.6, HOME)
    # both ways on the globe: only the rest can tell
    assert is_swapped(45.0, 8.2, (8.1, 45.1))
    point = collection(feature("Point", [38.6, -122.7]))
    assert mended(point, home=None)[1] is None
    assert mended(point, "swap-coordinates")[0][0]["geometry"]["coordinates"] == [-122.7, 38.6]


def test_a_shape_is_swapped_whole_or_not_at_all():
    near = [[38.6, -122.7], [38.601, -122.7], [38.601, -122.699], [38.6, -122.7]]
    assert mended(collection(feature("Polygon", [near])), "swap-coordinates")[1] is not None
    mixed = [*near[:1], [-122.7, 38.601], *near[2:]]
    assert mended(collection(feature("Polygon", [mixed])), "swap-coordinates")[1] is None


def test_the_middle_of_the_rest_takes_places_that_can_only_be_swapped_as_turned():
    assert home_of([(38.6, -122.7), (38.6, -122.7), (-122.7, 38.6)]) == (-122.7, 38.6)
    assert home_of([(0.0, 0.0), (500_000.0, 4_200_000.0)]) is None
    assert home_of([]) is None


@pytest.mark.parametrize("east", [-179.999, 180.001], ids=["as written by RFC 7946", "run on beyond 180"])
def test_a_block_across_the_date_line_becomes_two_that_cover_the_same_ground(east):
    ring = [[179.998, -17.0], [east, -17.0], [east, -16.999], [179.998, -16.999], [179.998, -17.0]]
    row_east = feature("LineString", [[-179.9995, -17.0], [-179.9995, -16.9991]], block="A", row="9")
    row_over = feature("LineString", [[179.999, -16.9995], [east, -16.9995]], block="A", row="5")
    other = feature("LineString", [[-179.9, -17.0], [-179.9, -16.9991]], block="B", row="1")
    items, found = mended(collection(feature("Polygon", [ring], block="A"), row_east, row_over, other), "split-at-date-line")
    assert [item["properties"]["block"] for item in items] == ["A west", "A east", "A east", "A west", "A east", "B"]
    west, east_half = (shapely.geometry.shape(item["geometry"]) for item in items[:2])
    assert west.bounds == pytest.approx((179.998, -17.0, 180.0, -16.999))
    assert east_half.bounds == pytest.approx((-180.0, -17.0, -179.999, -16.999))
    assert west.area + east_half.area == pytest.approx(0.003 * 0.001)
    assert found.numbers == [1, 1, 2, 3, 3, 4]
    assert split_at_date_line(items[0]["geometry"]) is None


def test_what_does_not_cross_the_date_line_is_left_alone():
    for geometry in (
        {"type": "Polygon", "coordinates": [SQUARE]},
        {"type": "Point", "coordinates": [179.9, 0.0]},
        {"type": "Polygon", "coordinates": [[[179.0, 0.0], [179.5, 0.0], [179.5, 1.0], [179.0, 0.0]]]},
        {"type": "Polygon", "coordinates": None},
        {"type": "LineString", "coordinates": [[179.9, 0.0]]},
    ):
        assert split_at_date_line(geometry) is None


def test_only_what_is_the_same_in_all_is_a_duplicate():
    one = feature("Point", [1.0, 2.0], date="2031-06-11", examined=20, infected=2)
    other = feature("Point", [1.0, 2.0], date="2031-06-11", examined=20, infected=3)
    items, found = mended(collection(one, other, one, one), "drop-duplicates")
    assert items == [one, other]
    assert [str(each) for each in found.mended] == [
        f"a.geojson, feature {number}: was left out, being the same as feature 1." for number in (3, 4)
    ]
    assert found.numbers == [1, 2]


def test_repairs_are_made_only_when_asked_for_and_a_sound_file_stays_as_it_is():
    open_ring = collection(feature("Polygon", [SQUARE[:-1]], block="A"))
    assert mended(open_ring, "turn-ring", "swap-coordinates", "drop-duplicates")[1] is None
    assert mended(collection(feature("Polygon", [SQUARE], block="A")))[1] is None
    with pytest.raises(InputError, match="There is no repair “all”"):
        check_repairs(["all"])
    assert check_repairs(["snap-to-row", "close-ring", "close-ring"]) == ("close-ring", "snap-to-row")


ODD = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=3),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(["type", "geometry", "coordinates"]), inner),
    max_leaves=12,
)


@settings(derandomize=True, max_examples=150, deadline=None)
@given(ODD, st.sampled_from(["Polygon", "LineString", "Point", "MultiPolygon", "x"]))
def test_odd_features_are_left_to_their_reader(odd, kind):
    items = [odd, {"geometry": odd}, {"properties": odd}, feature(kind, odd, block=1), feature(kind, [odd], block=odd)]
    mend_items("a.geojson", list(enumerate(items, start=1)), REPAIRS, HOME)
    places_of(items)
    assert all(len(each) >= 2 for each in positions_of({"coordinates": odd}))


# ---- tables


def test_a_mended_table_keeps_its_lines_where_they_were():
    text = 'note;lon;lat\n"two\nlines";38,6;-122,7\na;-122,7;38,6\n\na;-122,7;38,6\nb;1;1\n'
    found = mend_table("a.csv", text, REPAIRS, HOME)
    assert found.text == 'note;lon;lat\n"two\nlines";-122,7;38,6\na;-122,7;38,6\n\n\nb;1;1\n'
    assert [str(each) for each in found.mended] == [
        "a.csv, lines 2 to 3: longitude and latitude were swapped.",
        "a.csv, line 6: was left out, being the same as line 4.",
    ]
    assert table_places(text) == [(38.6, -122.7), (-122.7, 38.6), (-122.7, 38.6), (1.0, 1.0)]


@pytest.mark.parametrize(
    "text", ["lon,lat\n", "a,a\n1,2\n", "lon,lat\nx,y\n", "lon,lat\n1\n", "lat\n1\n", "lon,lat\n-122.7,38.6\n"]
)
def test_a_table_without_anything_to_mend_stays_as_it_is(text):
    assert mend_table("a.csv", text, REPAIRS, HOME) is None


# ---- stops beside their row


def vines_of(exceptions=None):
    outline = shapely.box(0, 0, 60, 80)
    more = {} if exceptions is None else {"exceptions": exceptions}
    return place_vines(Block("A", outline, make_rows(outline, 0.0, 3.0, 2.0), 3.0, 2.0, **more))


VINES = vines_of()


@settings(derandomize=True, max_examples=80, deadline=None)
@given(st.floats(-30, 90), st.floats(-30, 110), st.floats(0.1, 20.0), st.integers(0, len(VINES.row_start) - 2))
def test_a_stop_is_never_moved_farther_than_told(x_m, y_m, most_m, row):
    away_m = np.hypot(VINES.x_m - x_m, VINES.y_m - y_m)
    nearest, distances_m = snap(VINES, np.array([x_m]), np.array([y_m]), most_m)
    assert distances_m[0] == pytest.approx(away_m.min())
    assert (nearest[0] >= 0) == (distances_m[0] <= most_m)
    assert nearest[0] < 0 or away_m[nearest[0]] == pytest.approx(away_m.min())
    in_row = VINES.row == row
    vine, distance_m = snap_to_row(VINES, row, x_m, y_m, most_m)
    assert distance_m == pytest.approx(away_m[in_row].min())
    assert (vine >= 0) == (distance_m <= most_m)
    assert vine < 0 or (VINES.row[vine] == row and away_m[vine] == distance_m)


def test_a_stop_goes_to_a_vine_that_can_carry_fruit():
    at = (VINES.x_m[0], VINES.y_m[0])
    assert snap_to_row(VINES, 0, *at, 5.0)[0] == 0
    gone = vines_of(VineExceptions(np.array([0]), np.array([1]), np.array([-1])))
    assert snap_to_row(gone, 0, *at, 5.0) == (1, pytest.approx(2.0))
    bare = vines_of(VineExceptions(np.arange(40), np.ones(40), -np.ones(40)))
    assert snap_to_row(bare, 0, *at, 5.0)[0] == -1
