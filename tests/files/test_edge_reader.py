"""Tall edges out of drawn files, into a season and back, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from vinemap.files.edge_reader import read_edges
from vinemap.files.kinds import kind_of
from vinemap.service.bring_in import bring_in
from vinemap.service.check_files import check

LINE = [[-122.70, 38.60], [-122.70, 38.6005], [-122.7001, 38.601]]
HOUSE = [[[-122.701, 38.60], [-122.7008, 38.60], [-122.7008, 38.6002], [-122.701, 38.6002], [-122.701, 38.60]]]
BLOCK = [[[-122.704, 38.60], [-122.702, 38.60], [-122.702, 38.602], [-122.704, 38.602], [-122.704, 38.60]]]


def feature(kind, coordinates, **properties):
    return {"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": coordinates}}


def written(path: Path, *features):
    path.write_text(json.dumps({"type": "FeatureCollection", "features": list(features)}), encoding="utf-8")
    return path


@pytest.fixture
def edges(tmp_path: Path) -> Path:
    return written(
        tmp_path / "tall.geojson",
        feature("LineString", LINE, name="poplars", height_m=14, open=0.4),
        feature("LineString", LINE[:2], height_m=3.5, porosity="0.2"),
        feature("Polygon", HOUSE, name="barn", height_m=7),
    )


@pytest.fixture
def blocks(tmp_path: Path) -> Path:
    return written(tmp_path / "blocks.geojson", feature("Polygon", BLOCK, block="Home"))


def test_edges_are_known_by_their_height(edges: Path, blocks: Path, tmp_path: Path) -> None:
    assert kind_of(edges) == "edges"
    assert kind_of(blocks) == "outlines"
    # a height beside the name of a block is no tall edge, and neither is a file in which one thing lacks it
    assert kind_of(written(tmp_path / "a.geojson", feature("Polygon", BLOCK, block="Home", height_m=2))) == "outlines"
    two = (feature("LineString", LINE, height_m=2), feature("LineString", LINE, block="Home", row="1"))
    assert kind_of(written(tmp_path / "b.geojson", *two)) == "rows"


def test_what_is_read(edges: Path) -> None:
    read = read_edges(edges)
    assert [(each.name, each.height_m, each.open_frac, len(each.line)) for each in read.value] == [
        ("poplars", 14.0, 0.4, 3),
        ("", 3.5, 0.2, 2),
        ("barn", 7.0, 0.0, 5),
    ]
    assert (read.problems, read.notes) == ((), ())


def test_bad_heights_are_left_out_and_told(tmp_path: Path) -> None:
    path = written(
        tmp_path / "tall.geojson",
        feature("LineString", LINE, name="good", height_m=4),
        feature("LineString", LINE, name="feet", height_m=140),
        feature("LineString", LINE, name="percent", height_m=4, open=40),
        feature("LineString", LINE, name="words", height_m="high"),
    )
    read = read_edges(path)
    assert [each.name for each in read.value] == ["good"]
    said = [str(problem) for problem in read.problems]
    assert "Is it in metres?" in said[0]
    assert "open = 40: must be from 0 to 1" in said[1]
    assert "is not a number" in said[2]


def test_edges_come_into_a_season_once_each(edges: Path, blocks: Path, tmp_path: Path) -> None:
    season, report = bring_in([edges, blocks], None, "Invented")
    assert [each.name for each in season.edges] == ["poplars", "tall edge 1", "barn"]
    assert any("3 tall edges" in kept for kept in report.kept)
    assert season.edges[0].height_m == 14
    # 55.5 m along the meridian, as 0.0005 degrees of latitude are at 38.6 north
    assert np.hypot(*np.diff(season.edges[1].line_m, axis=0)[0]) == pytest.approx(55.5, abs=0.1)
    again, report = bring_in([edges], season, "Invented")
    assert again.edges == season.edges
    assert any("3 were in the season already" in note for note in report.notes)
    taller = written(tmp_path / "more.geojson", feature("LineString", LINE, name="poplars", height_m=15))
    grown, _ = bring_in([taller], season, "Invented")
    assert {each.name: each.height_m for each in grown.edges} == {"tall edge 1": 3.5, "barn": 7.0, "poplars": 15.0}


def test_an_edge_of_another_estate_is_left_out(blocks: Path, tmp_path: Path) -> None:
    far = written(tmp_path / "far.geojson", feature("LineString", [[-120.0, 38.0], [-120.0, 38.1]], name="far", height_m=9))
    season, report = bring_in([blocks, far], None, "Invented")
    assert season.edges == ()
    assert "feature 1, block far: lies far from every block" in str(report.problems[0])


def test_edges_can_be_checked_before(edges: Path, blocks: Path) -> None:
    assert check([edges]).report.problems == []
    assert check([edges, blocks]).report.problems == []
