"""What is written is read back by us and by GDAL, where it was, with all it was called and counted."""

from __future__ import annotations

import dataclasses
import json
import os
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from layer_seasons import files_of, seasons
from season_makers import make_season, same

from vinemap.errors import FileError, InputError
from vinemap.files import layer_writer
from vinemap.files.geojson import POLYGON
from vinemap.files.layer import TEXT, Column, Layer, short_name
from vinemap.files.layer_writer import write_layer
from vinemap.files.projection import to_lonlat
from vinemap.ground.covariates import value_at
from vinemap.ground.vines import place_vines
from vinemap.service.answers import Answers
from vinemap.service.bring_in import bring_in
from vinemap.service.give_out import give_out
from vinemap.service.given import Asked
from vinemap.service.given_layers import blocks_layer, marks_layer, rows_layer, stops_layer, vines_layer

MAPS = (".geojson", ".gpkg", ".shp", ".zip", ".kml")
SEVEN_DECIMALS_DEG = 0.51e-7


def layers_of(season):
    return (blocks_layer(season), rows_layer(season), stops_layer(season, season.rounds))


def points_deg(season, block):
    rings = (block.outline.exterior, *block.outline.interiors)
    parts = [np.sort(np.column_stack(to_lonlat(season.estate.frame, *np.array(ring.coords).T)), axis=0) for ring in rings]
    return [*parts, np.column_stack(to_lonlat(season.estate.frame, *block.rows.xy_m.T))]


def assert_same(before, after):
    assert [each.name for each in after.blocks] == [each.name for each in before.blocks]
    for one, other in zip(before.blocks, after.blocks, strict=True):
        assert other.rows.labels == one.rows.labels
        for name in ("start", "vine_spacing_m", "vine_count"):
            assert np.array_equal(getattr(one.rows, name), getattr(other.rows, name)), name
        for name in ("row_spacing_m", "vine_spacing_m", "varieties", "training", "vigour"):
            assert getattr(one, name) == getattr(other, name), name
        assert same(one.exceptions, other.exceptions)
        for here, there in zip(points_deg(before, one), points_deg(after, other), strict=True):
            # to and from the plane again costs 1e-10 of a degree
            assert abs(here - there).max() <= SEVEN_DECIMALS_DEG + 1e-9
    assert len(after.rounds) == len(before.rounds)
    for one, other in zip(before.rounds, after.rounds, strict=True):
        assert (one.number, one.date, one.scout, one.protocol) == (other.number, other.date, other.scout, other.protocol)
        assert [one.stops.blocks[each] for each in one.stops.block] == [
            other.stops.blocks[each] for each in other.stops.block
        ]
        assert one.stops.rows == other.stops.rows
        for name in ("vine", "examined", "infected", "leaves_examined", "leaves_infected", "is_targeted"):
            assert np.array_equal(getattr(one.stops, name), getattr(other.stops, name)), name


@pytest.mark.parametrize("ending", MAPS)
@settings(max_examples=8, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(season=seasons())
def test_a_season_comes_back_as_it_was(ending, season):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        made = [folder / f"{each.name}{ending}" for each in layers_of(season)]
        for path, layer in zip(made, layers_of(season), strict=True):
            write_layer(path, layer)
        if len(marks_layer(season)):
            made.append(folder / "marks.csv")
            write_layer(made[-1], marks_layer(season))
        after, report = bring_in(made, None, "again")
        assert [str(each) for each in report.problems] == []
        assert_same(season, after)


@settings(max_examples=20)
@given(season=seasons())
def test_stops_and_marks_come_back_from_tables(season):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        blocks, rows, stops = layers_of(season)
        write_layer(folder / "ground.geojson", blocks)
        write_layer(folder / "rows.geojson", rows)
        write_layer(folder / "stops.csv", stops)
        write_layer(folder / "vines.csv", vines_layer(season))
        files = [folder / each for each in ("ground.geojson", "rows.geojson", "stops.csv", "vines.csv")]
        after, report = bring_in(files, None, "again")
        assert [str(each) for each in report.problems] == []
        for one, other in zip(season.blocks, after.blocks, strict=True):
            # every vine was told, so every vine is marked, and each is what it was
            assert len(other.exceptions.vine) == int(one.rows.vine_count.sum())
            marked = np.zeros((2, len(other.exceptions.vine)), int)
            marked[:, one.exceptions.vine] = one.exceptions.status, np.maximum(one.exceptions.variety, 0)
            assert np.array_equal(marked[0], other.exceptions.status)
            assert np.array_equal(marked[1], other.exceptions.variety)


@pytest.mark.parametrize("ending", [".geojson", ".gpkg", ".shp", ".zip", ".kml", ".csv"])
def test_gdal_opens_it_and_finds_it_where_proj_does(tmp_path, ending):
    import pyproj

    season = make_season()
    frame = season.estate.frame
    rows = season.blocks[0].rows
    turn = pyproj.Transformer.from_crs(frame.crs, "EPSG:4326", always_xy=True)
    wanted = np.column_stack(turn.transform(*(rows.xy_m + np.array([frame.origin_x_m, frame.origin_y_m])).T))
    path = tmp_path / f"rows{ending}"
    write_layer(path, rows_layer(season))
    name = f"/vsizip/{path}" if ending == ".zip" else path
    meta, _, shapes, values = pyogrio.raw.read(name)
    assert meta["geometry_type"] in ("LineString", "Unknown")
    if ending != ".csv":
        assert pyproj.CRS(meta["crs"]).to_epsg() == 4326
    assert len(shapes) == sum(len(each.rows) for each in season.blocks)
    found = shapely.get_coordinates(shapely.from_wkb(shapes[: len(rows)]))
    _, _, off_m = pyproj.Geod(ellps="WGS84").inv(*found[:, :2].T, *wanted.T)
    assert max(off_m) < 0.01
    told = dict(zip(meta["fields"].tolist(), values, strict=True))
    assert [str(each) for each in told["row"][: len(rows)]] == list(rows.labels)


def test_geojson_is_as_rfc_7946_has_it(tmp_path):
    path = tmp_path / "blocks.geojson"
    write_layer(path, blocks_layer(make_season()))
    content = json.loads(path.read_text(encoding="utf-8"))
    assert set(content) == {"type", "features"}  # section 4: no crs
    rings = content["features"][0]["geometry"]["coordinates"]
    assert len(rings) == 2
    assert shapely.LinearRing(rings[0]).is_ccw  # 3.1.6: outer rings counterclockwise, holes clockwise
    assert not shapely.LinearRing(rings[1]).is_ccw
    for lon, lat in rings[0]:
        assert -123.1 < lon < -122.0
        assert 38.0 < lat < 38.9
        assert round(lon, 7) == lon


def test_a_geopackage_keeps_dates_numbers_and_what_is_empty(tmp_path):
    season = make_season()
    path = tmp_path / "stops.gpkg"
    write_layer(path, stops_layer(season, season.rounds))
    meta, _, _, values = pyogrio.raw.read(path)
    kinds = dict(zip(meta["fields"].tolist(), meta["dtypes"], strict=True))
    assert kinds["date"].startswith("datetime64")
    assert kinds["vine"] == "int64"
    assert values[meta["fields"].tolist().index("date")][0] == np.datetime64("2031-05-08")
    assert pyogrio.list_layers(path).tolist() == [["stops", "Point"]]
    write_layer(tmp_path / "marks.gpkg", marks_layer(season))
    meta, _, _, values = pyogrio.raw.read(tmp_path / "marks.gpkg")
    assert values[meta["fields"].tolist().index("variety")].tolist()[:2] == [None, "invented white"]


def test_a_shapefile_has_all_its_parts_and_names_of_ten_letters(tmp_path):
    season = make_season()
    write_layer(tmp_path / "stops.shp", stops_layer(season, season.rounds))
    assert files_of(tmp_path) == ["stops.cpg", "stops.dbf", "stops.prj", "stops.shp", "stops.shx"]
    assert (tmp_path / "stops.cpg").read_text(encoding="ascii") == "UTF-8"
    assert "WGS_1984" in (tmp_path / "stops.prj").read_text(encoding="ascii")
    write_layer(tmp_path / "stops.zip", stops_layer(season, season.rounds))
    assert sorted(zipfile.ZipFile(tmp_path / "stops.zip").namelist()) == [*files_of(tmp_path)[:3], "stops.shp", "stops.shx"]


@pytest.mark.parametrize("what", ["blocks", "rows", "stops", "vines", "field", "work", "zones"])
def test_short_names_are_short_and_no_two_are_alike(what):
    from vinemap.service import given_layers, tables

    columns = {
        "field": ("block", "row", "vine", "status", "variety", *tables.FIELD_COLUMNS),
        "work": (*tables.RANK_COLUMNS[:20], "clusters_per_hour", "fits_into_week"),
        "zones": ("block", "row", "first_vine", "last_vine", "rate_l_per_ha", "area_m2"),
    }
    season = make_season()
    made = {"stops": lambda each: stops_layer(each, each.rounds)}.get(what) or getattr(given_layers, f"{what}_layer")
    names = columns.get(what) or tuple(each.name for each in made(season).columns)
    short = [short_name(name) for name in names]
    assert len({each.casefold() for each in short}) == len(short)
    assert max(map(len, short)) <= 10


def test_a_text_that_a_shapefile_would_cut_is_refused(tmp_path):
    season = make_season()
    long = dataclasses.replace(season.blocks[0], varieties=tuple(f"invented variety {index}" for index in range(20)))
    layer = blocks_layer(dataclasses.replace(season, blocks=(long,)))
    with pytest.raises(InputError, match="longer than the 254 bytes"):
        write_layer(tmp_path / "blocks.shp", layer)
    assert files_of(tmp_path) == []
    write_layer(tmp_path / "blocks.gpkg", layer)


@pytest.mark.parametrize("text", ["=1+1", "+A", "-x", "@sum", "'=x", "''=x", "'-5", "-5", "5'", "=\n1"])
def test_no_cell_runs_as_a_formula_and_each_comes_back(tmp_path, text):
    from vinemap.files.table import read_table, write_table

    path = tmp_path / "a.csv"
    write_table(path, ("block", "row"), [(text, "1")])
    written = path.read_text(encoding="utf-8").splitlines()[1].lstrip('"')
    assert written[0] not in "=+@\t\r"
    assert written[0] != "-" or float(text) < 0
    assert read_table(path, ("block", "row"), ()).value.lines[0].values["block"] == text


@pytest.mark.parametrize("ending", sorted(layer_writer._WRITERS))
def test_nothing_to_write_an_unknown_ending_and_a_missing_folder_are_plain_errors(tmp_path, ending):
    season = make_season()
    empty = stops_layer(season, ())
    with pytest.raises(InputError, match="nothing to write: no stops"):
        write_layer(tmp_path / f"a{ending}", empty)
    with pytest.raises(InputError, match="no ending that is known"):
        write_layer(tmp_path / "a.doc", stops_layer(season, season.rounds))
    with pytest.raises(FileError, match="can’t be written"):
        write_layer(tmp_path / "no" / f"a{ending}", stops_layer(season, season.rounds))
    assert files_of(tmp_path) == []


@pytest.mark.parametrize("ending", [".gpkg", ".shp", ".zip", ".kml", ".csv", ".geojson"])
def test_when_the_last_step_fails_the_old_file_stays_and_nothing_is_left_over(tmp_path, monkeypatch, ending):
    season = make_season()
    path = tmp_path / f"blocks{ending}"
    write_layer(path, blocks_layer(season))
    before = {name: (tmp_path / name).read_bytes() for name in files_of(tmp_path)}

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FileError, match="No space left"):
        write_layer(path, blocks_layer(dataclasses.replace(season, blocks=season.blocks[:1])))
    assert {name: (tmp_path / name).read_bytes() for name in files_of(tmp_path)} == before


FULL = """
import resource, signal, sys
from pathlib import Path
sys.path.insert(0, sys.argv[1])
from season_makers import make_block, make_season
from vinemap.files.layer_writer import write_layer
from vinemap.errors import FileError
from vinemap.service.given_layers import vines_layer
import dataclasses
season = dataclasses.replace(make_season(), blocks=(make_block("Long Acre", rows=20, vines=100),))
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
for limit in map(int, sys.argv[3].split(",")):
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
    for ending in (".gpkg", ".shp", ".zip", ".kml", ".csv"):
        try:
            write_layer(Path(sys.argv[2]) / f"vines{ending}", vines_layer(season))
            print("written", limit, ending)
        except FileError as error:
            if "can’t be written" not in str(error):
                print(error)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of files to set there")
def test_a_disk_that_fills_up_leaves_no_half_file(tmp_path):
    # the table of a shapefile with 2,000 vines takes 680 kB, and GDAL cuts it off without a word
    command = [sys.executable, "-c", FULL, str(Path(__file__).parent), str(tmp_path), "60000"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (0, ""), done.stderr
    assert files_of(tmp_path) == []


def test_parts_of_another_shapefile_are_not_written_over(tmp_path):
    (tmp_path / "blocks.dbf").write_text("somebody's table", encoding="ascii")
    with pytest.raises(InputError, match=r"blocks\.dbf is there already"):
        write_layer(tmp_path / "blocks.shp", blocks_layer(make_season()))
    assert (tmp_path / "blocks.dbf").read_text(encoding="ascii") == "somebody's table"


def test_columns_of_another_length_are_a_defect():
    shapes = np.array([shapely.box(0, 0, 1, 1)])
    with pytest.raises(ValueError, match="differ in length"):
        Layer("a", POLYGON, shapes, (Column("block", TEXT, ["a", "b"]),), ("a",))


@pytest.mark.parametrize("what", ["passes", "sprays", "weather"])
def test_work_and_weather_come_back_from_their_tables(tmp_path, what):
    season = make_season()
    blocks, rows, _ = layers_of(dataclasses.replace(season, blocks=season.blocks[:1]))
    write_layer(tmp_path / "blocks.geojson", blocks)
    write_layer(tmp_path / "rows.geojson", rows)
    estate = tmp_path / "estate.json"
    give_out(season, None, Answers(), Asked("estate", estate))
    give_out(season, None, Answers(), Asked(what, tmp_path / "t.csv"))
    files = [estate, tmp_path / "blocks.geojson", tmp_path / "rows.geojson", tmp_path / "t.csv"]
    after, report = bring_in(files, None, "again")
    # the second block, which has no dates, was not given out
    assert [str(each) for each in report.problems] == []
    assert dataclasses.replace(after.estate, frame=season.estate.frame) == season.estate
    assert after.estate.frame.crs == season.estate.frame.crs
    assert after.stages == season.stages
    if what == "weather":
        assert same(dataclasses.replace(after.weather, station=season.weather.station), season.weather)
    else:
        assert getattr(after, what) == getattr(season, what)
    with pytest.raises(InputError, match=r"no place for"):
        give_out(season, None, Answers(), Asked(what, tmp_path / "t.kml"))


def test_columns_come_back_at_their_vines(tmp_path):
    season = make_season()
    season = dataclasses.replace(season, blocks=season.blocks[:1])
    for layer in layers_of(season)[:2]:
        write_layer(tmp_path / f"{layer.name}.geojson", layer)
    table = tmp_path / "columns.csv"
    give_out(season, None, Answers(), Asked("columns", table))
    ground = [tmp_path / "blocks.geojson", tmp_path / "rows.geojson"]
    for each in season.covariates:
        after, report = bring_in([*ground, table], None, "again", {table: each.name})
        assert report.kept
        (found,) = after.covariates
        vines, before = place_vines(after.blocks[0]), place_vines(season.blocks[0])
        values = value_at(found, np.column_stack([vines.x_m, vines.y_m]))
        wanted = value_at(each, np.column_stack([before.x_m, before.y_m]))
        held = np.isfinite(wanted)
        assert held.sum() >= len(each)
        assert np.array_equal(values[held], wanted[held])
    bare = dataclasses.replace(season, covariates=())
    with pytest.raises(InputError, match="nothing to write: no columns"):
        give_out(bare, None, Answers(), Asked("columns", table))
