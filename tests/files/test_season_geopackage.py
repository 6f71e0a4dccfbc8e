from __future__ import annotations

import shutil
import sqlite3
import struct
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import shapely
from season_makers import make_block, make_round, make_season

from vinemap.files.geopackage import blobs_of
from vinemap.files.projection import to_lonlat
from vinemap.files.season_file import SeasonFile, create
from vinemap.ground.block import MISSING
from vinemap.season.edits import mark_vines, with_block, with_round, without_round
from vinemap.season.value import Season


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[SeasonFile]:
    with create(tmp_path / "long.vinemap", make_season(), when_utc=1_936_000_000) as season_file:
        yield season_file


def rows_of(path: Path, question: str) -> list[tuple[object, ...]]:
    db = sqlite3.connect(path)
    try:
        return db.execute(question).fetchall()
    finally:
        db.close()


def check_layers(path: Path, season: Season) -> None:
    """All three layers as GDAL reads them against the season's own coordinates and figures."""
    gpkg = path.with_suffix(".gpkg")  # GDAL grumbles about any other ending
    shutil.copy(path, gpkg)
    frame = season.estate.frame

    def lonlat(xy_m: np.ndarray) -> np.ndarray:
        return np.column_stack(to_lonlat(frame, xy_m[:, 0], xy_m[:, 1]))

    blocks = pyogrio.read_dataframe(gpkg, layer="blocks").set_index("block")
    assert blocks.crs.to_epsg() == 4326
    assert sorted(blocks.index) == sorted(block.name for block in season.blocks)
    rows = pyogrio.read_dataframe(gpkg, layer="rows").set_index(["block", "row"])
    assert len(rows) == sum(len(block.rows) for block in season.blocks)
    for block in season.blocks:
        drawn = blocks.loc[block.name]
        assert np.array_equal(shapely.get_coordinates(drawn.geometry), lonlat(shapely.get_coordinates(block.outline)))
        assert len(drawn.geometry.interiors) == len(block.outline.interiors)
        assert drawn.vine_count == block.rows.vine_count.sum()
        assert (drawn.training, drawn.vigour, drawn.varieties) == (block.training, block.vigour, ", ".join(block.varieties))
        for row, label in enumerate(block.rows.labels):
            line = rows.loc[(block.name, label)]
            assert np.array_equal(shapely.get_coordinates(line.geometry), lonlat(block.rows.line_m(row)))
            assert (line.vine_count, line.vine_spacing_m) == (block.rows.vine_count[row], block.rows.vine_spacing_m[row])
    stops = pyogrio.read_dataframe(gpkg, layer="stops")
    assert len(stops) == sum(len(each.stops) for each in season.rounds)
    for each in season.rounds:
        drawn = stops[stops["round"] == each.number]
        known = each.stops
        for column in ("vine", "examined", "infected", "leaves_examined", "leaves_infected", "is_targeted"):
            assert drawn[column].tolist() == getattr(known, column).tolist(), column
        assert drawn["block"].tolist() == [known.blocks[index] for index in known.block]
        assert drawn["row"].tolist() == list(known.rows)
        assert {day.date() for day in drawn["date"]} <= {each.date}
        place = np.column_stack([known.x_m, known.y_m])
        assert np.array_equal(shapely.get_coordinates(drawn.geometry.values), lonlat(place))


def test_header_says_geopackage_1_3(opened: SeasonFile) -> None:
    head = opened.path.read_bytes()[:100]
    # SQLite file format, section 1.3: user version at byte 60, application id at byte 68, both big-endian
    assert head[:16] == b"SQLite format 3\0"
    assert head[68:72] == b"GPKG"  # OGC 12-128, requirement 2
    assert struct.unpack(">i", head[60:64]) == (10300,)


def test_required_tables_and_systems_are_there(opened: SeasonFile) -> None:
    # OGC 12-128, requirements 10, 11, 13, 21
    assert rows_of(opened.path, "SELECT srs_id, organization FROM gpkg_spatial_ref_sys ORDER BY srs_id") == [
        (-1, "NONE"),
        (0, "NONE"),
        (4326, "EPSG"),
    ]
    assert rows_of(opened.path, "SELECT table_name, geometry_type_name, srs_id, z, m FROM gpkg_geometry_columns") == [
        ("blocks", "POLYGON", 4326, 0, 0),
        ("rows", "LINESTRING", 4326, 0, 0),
        ("stops", "POINT", 4326, 0, 0),
    ]
    assert rows_of(opened.path, "SELECT table_name, data_type, srs_id, last_change FROM gpkg_contents") == [
        ("blocks", "features", 4326, "2031-05-08T09:46:40.000Z"),
        ("rows", "features", 4326, "2031-05-08T09:46:40.000Z"),
        ("stops", "features", 4326, "2031-05-08T09:46:40.000Z"),
        ("vinemap_meta", "attributes", None, rows_of(opened.path, "SELECT last_change FROM gpkg_contents")[3][0]),
    ]
    import pyproj

    ((written,),) = rows_of(opened.path, "SELECT definition FROM gpkg_spatial_ref_sys WHERE srs_id = 4326")
    assert pyproj.CRS.from_wkt(written).equals(pyproj.CRS.from_epsg(4326), ignore_axis_order=True)


def test_references_between_tables_hold(opened: SeasonFile) -> None:
    assert rows_of(opened.path, "PRAGMA foreign_key_check") == []
    assert rows_of(opened.path, "PRAGMA integrity_check") == [("ok",)]


def test_a_map_program_is_shown_the_layers_and_none_of_our_blobs(opened: SeasonFile) -> None:
    gpkg = opened.path.with_suffix(".gpkg")
    shutil.copy(opened.path, gpkg)
    assert pyogrio.list_layers(gpkg).tolist() == [
        ["blocks", "Polygon"],
        ["rows", "LineString"],
        ["stops", "Point"],
        ["vinemap_meta", None],
    ]


@pytest.mark.filterwarnings("ignore:.*non conformant file extension")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_the_season_itself_can_be_read_while_it_is_open(opened: SeasonFile) -> None:
    assert len(pyogrio.read_dataframe(opened.path, layer="stops")) == 10


def test_invented_data_says_so(opened: SeasonFile) -> None:
    described = rows_of(opened.path, "SELECT description FROM gpkg_contents WHERE table_name = 'stops'")
    assert described == [("Invented “Estate” (invented for demonstration)",)]


def test_blobs_are_laid_out_as_the_standard_says() -> None:
    # OGC 12-128, clause 2.1.3: "GP", version 0, flags (1 = little-endian, 2 = envelope of x and y, 16 = empty), srs_id
    point, line, nothing = blobs_of(np.array([shapely.Point(1, 2), shapely.LineString([(1, 5), (3, 4)]), shapely.Polygon()]))
    assert point == struct.pack("<2sBBi", b"GP", 0, 1, 4326) + shapely.to_wkb(shapely.Point(1, 2), byte_order=1)
    assert line[:40] == struct.pack("<2sBBi4d", b"GP", 0, 3, 4326, 1, 3, 4, 5)
    assert shapely.from_wkb(line[40:]) == shapely.LineString([(1, 5), (3, 4)])
    assert nothing[:8] == struct.pack("<2sBBi", b"GP", 0, 17, 4326)


def test_layers_follow_each_edit_and_each_step_back(opened: SeasonFile) -> None:
    check_layers(opened.path, opened.season)
    edits = [
        lambda season: mark_vines(season, "Long Acre", "2", 1, 9, MISSING),
        lambda season: with_block(season, make_block("Third", rows=2, east_m=200.0)),
        lambda season: with_round(season, make_round(2, stops=3)),
        lambda season: with_block(season, make_block("Long Acre", rows=6)),
        lambda season: without_round(season, 1),
    ]
    for number, edit in enumerate(edits):
        opened.apply(f"edit {number}", edit(opened.season))
        check_layers(opened.path, opened.season)
    for _ in edits:
        opened.undo()
        check_layers(opened.path, opened.season)
    opened.redo()
    check_layers(opened.path, opened.season)


def test_only_what_changed_is_written_again(opened: SeasonFile) -> None:
    def numbers(layer: str) -> set[object]:
        return {row[0] for row in rows_of(opened.path, f"SELECT fid FROM {layer}")}

    before = {layer: numbers(layer) for layer in ("blocks", "rows", "stops")}
    opened.apply("mark", mark_vines(opened.season, "Long Acre", "2", 1, 9, MISSING))
    assert numbers("rows") == before["rows"]
    assert numbers("stops") == before["stops"]
    assert len(numbers("blocks") & before["blocks"]) == 1
    opened.apply("count", with_round(opened.season, make_round(2, stops=3)))
    assert len(numbers("stops") & before["stops"]) == 5
    assert numbers("rows") == before["rows"]
