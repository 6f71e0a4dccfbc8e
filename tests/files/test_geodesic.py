"""Areas and row lengths of both sample estates against the geodesic of pyproj's Geod (Karney 2013) on WGS 84."""

import json

import numpy as np
import pytest
import shapely

from vinemap.files.ground_reader import read_ground
from vinemap.files.outlines import centre_deg
from vinemap.files.placing import place_blocks
from vinemap.files.projection import frame_for
from vinemap.service.sample import ESTATES, sample_folder

# UTM's scale is 0.9996 on the central meridian and reaches 1.0010 at a zone's edge (Snyder 1987, USGS PP 1395)
LENGTH_REL, AREA_REL = 1.0e-3, 2.0e-3


@pytest.fixture(scope="module", params=ESTATES)
def estate(request):
    folder = sample_folder() / request.param
    outlines, rows = read_ground(folder / "outlines.geojson").value, read_ground(folder / "rows.geojson").value
    frame = frame_for(*centre_deg(outlines.outlines))
    return folder, place_blocks(outlines.outlines, rows.rows, frame).value


def test_areas(estate):
    from pyproj import Geod

    folder, blocks = estate
    features = json.loads((folder / "outlines.geojson").read_text(encoding="utf-8"))["features"]
    assert len(features) == len(blocks)
    for block, feature in zip(blocks, features, strict=True):
        geodesic, _ = Geod(ellps="WGS84").geometry_area_perimeter(shapely.geometry.shape(feature["geometry"]))
        assert block.outline.area == pytest.approx(abs(geodesic), rel=AREA_REL)


def test_row_lengths(estate):
    from pyproj import Geod

    folder, blocks = estate
    features = json.loads((folder / "rows.geojson").read_text(encoding="utf-8"))["features"]
    ours = [np.hypot(*np.diff(block.rows.line_m(row), axis=0).T).sum() for block in blocks for row in range(len(block.rows))]
    geodesic = [Geod(ellps="WGS84").geometry_length(shapely.geometry.shape(each["geometry"])) for each in features]
    assert len(ours) == len(geodesic)
    assert sorted(ours) == pytest.approx(sorted(geodesic), rel=LENGTH_REL)
