"""Features that are written: they read back, by the standard, and never half over a file that was there."""

from __future__ import annotations

import re

import pytest
import shapely

from vinemap.errors import FileError
from vinemap.files.geojson import read_features, write_features

SQUARE = [[-122.7, 38.6], [-122.699, 38.6], [-122.699, 38.601], [-122.7, 38.601], [-122.7, 38.6]]


def test_what_is_written_reads_back(tmp_path):
    path = tmp_path / "out.geojson"
    polygon = shapely.Polygon(SQUARE[::-1], [])
    write_features(path, [(polygon, {"block": "Peña", "vigour": 0.25}), (shapely.Point(-122.7000000123, 38.6), {"row": 1})])
    text = path.read_text(encoding="utf-8")
    assert "Peña" in text
    assert "-122.7000000123" not in text
    read = read_features(path)
    assert not read.problems
    assert read.value[0].entry.values == {"block": "Peña", "vigour": "0.25"}
    # RFC 7946, 3.1.6: exterior rings are counterclockwise
    assert shapely.LinearRing(read.value[0].parts[0]).is_ccw
    assert [item.name for item in tmp_path.iterdir()] == ["out.geojson"]


def test_a_folder_that_is_not_there_is_a_plain_error(tmp_path):
    with pytest.raises(FileError, match="can’t be written") as caught:
        write_features(tmp_path / "no" / "out.geojson", [])
    assert re.search("another folder", caught.value.do)


def test_writing_over_a_file_keeps_the_old_one_when_it_fails(tmp_path):
    path = tmp_path / "out.geojson"
    write_features(path, [(shapely.Point(1, 2), {})])
    before = path.read_bytes()
    with pytest.raises(ValueError, match="JSON compliant"):
        write_features(path, [(shapely.Point(1, 2), {"share": float("nan")})])
    assert path.read_bytes() == before
