"""A vine's address to its place and back over a row of a kilometre, against the geodesic of pyproj's Geod (Karney 2013)."""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely

from vinemap.files.ground_reader import read_ground
from vinemap.files.placing import place_blocks
from vinemap.files.projection import frame_for, to_local, to_lonlat
from vinemap.ground.address import Address, read_address
from vinemap.ground.block import Block
from vinemap.ground.locate import nearest_vine, vine_index
from vinemap.ground.rows_by_hand import spread_vines
from vinemap.ground.vines import place_vines

SPACING_M, VINES = 1.5, 667
LONG_M = SPACING_M * (VINES - 1)
CLOSE_M = 0.05
ZONES = (1, 10, 31, 36, 55, 60)


def geodesic_row(lon, lat, bearing_deg):
    """Longitude and latitude (n,) of vines every 1.5 m along the geodesic from a place at a true bearing [degrees]."""
    from pyproj import Geod

    away_m = SPACING_M * np.arange(VINES)
    full = np.full(VINES, 1.0)
    lon_deg, lat_deg, _ = Geod(ellps="WGS84").fwd(lon * full, lat * full, bearing_deg * full, away_m)
    return np.asarray(lon_deg), np.asarray(lat_deg)


def apart_m(lon_a, lat_a, lon_b, lat_b):
    from pyproj import Geod

    return np.asarray(Geod(ellps="WGS84").inv(lon_a, lat_a, lon_b, lat_b)[2])


def block_of(frame, lon, lat):
    """A block with one row between the first and the last of the places, its vines spread from end to end."""
    from vinemap.ground.block import RowTable

    x_m, y_m = to_local(frame, lon[[0, -1]], lat[[0, -1]])
    line = np.column_stack([x_m, y_m])
    rows = RowTable(("12",), line, [0, 2], [SPACING_M], [VINES])
    return Block("B", shapely.LineString(line).buffer(3.0), rows, 2.5, SPACING_M)


@pytest.mark.parametrize("bearing_deg", [0.0, 37.0, 90.0, 141.0])
@pytest.mark.parametrize("from_middle_deg", [0.0, -2.999, 2.999])
@pytest.mark.parametrize("lat", [38.0, -38.0])
@pytest.mark.parametrize("zone", ZONES)
def test_addresses_both_ways(zone, lat, from_middle_deg, bearing_deg):
    # three degrees from the middle of the zone is its edge: the rows to the east and south-east leave it
    lon, lat_deg = geodesic_row(6.0 * zone - 183.0 + from_middle_deg, lat, bearing_deg)
    frame = frame_for(float(lon[0]), float(lat_deg[0]))
    (block,) = spread_vines(block_of(frame, lon, lat_deg), ("12",)).blocks
    vines = place_vines(block)
    found = to_lonlat(frame, vines.x_m, vines.y_m)
    assert apart_m(*found, lon, lat_deg).max() < CLOSE_M
    x_m, y_m = to_local(frame, lon, lat_deg)
    index, away_m = nearest_vine(vines, x_m, y_m)
    assert away_m.max() < CLOSE_M
    assert vines.ordinal[index].tolist() == list(range(1, VINES + 1))
    for number in (1, 334, VINES):
        address = read_address(str(Address("B", "12", number)))
        assert vine_index(block.rows.labels, block.rows.vine_count, address.row, address.vine) == number - 1


@pytest.mark.parametrize("lat", [38.0, -38.0])
@pytest.mark.parametrize(("from_middle_deg", "scale"), [(0.0, 0.9996), (2.999, 1.0004)])
def test_a_spacing_that_is_not_spread_is_off_by_the_scale_of_the_map(lat, from_middle_deg, scale):
    # a spacing is laid out in metres of the map: the last vine of a kilometre is off by 1 - scale (Snyder 1987, USGS PP 1395)
    lon, lat_deg = geodesic_row(15.0 + from_middle_deg, lat, 0.0)
    frame = frame_for(float(lon[0]), float(lat_deg[0]))
    vines = place_vines(block_of(frame, lon, lat_deg))
    off_m = apart_m(*to_lonlat(frame, vines.x_m, vines.y_m), lon, lat_deg)
    assert off_m[-1] == pytest.approx(abs(1.0 - scale) * LONG_M, abs=0.06)


@pytest.mark.parametrize("lat", [38.6, -38.6])
def test_addresses_of_a_row_that_comes_from_a_file(tmp_path, lat):
    lon, lat_deg = geodesic_row(-122.7, lat, 5.0)
    ring = np.asarray(shapely.LineString(np.column_stack([lon[[0, -1]], lat_deg[[0, -1]]])).buffer(3e-5).exterior.coords)
    row = [[lon[0], lat_deg[0]], [lon[-1], lat_deg[-1]]]
    features = [
        {
            "type": "Feature",
            "properties": {"block": "B", "row_spacing_m": 2.5, "vine_spacing_m": SPACING_M},
            "geometry": {"type": "Polygon", "coordinates": [ring.tolist()]},
        },
        {
            "type": "Feature",
            "properties": {"block": "B", "row": "12", "vines": VINES},
            "geometry": {"type": "LineString", "coordinates": row},
        },
    ]
    path = tmp_path / "b.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8")
    ground = read_ground(path).value
    frame = frame_for(float(lon[0]), float(lat_deg[0]))
    # the file's spacing is stretched to the mapped ends: 0.4 m over this row
    block = place_blocks(ground.outlines, ground.rows, frame).value[0]
    vines = place_vines(block)
    assert apart_m(*to_lonlat(frame, vines.x_m, vines.y_m), lon, lat_deg).max() < CLOSE_M
