"""One column of figures by place: tables, GeoJSON points and GeoPackage layers, put on the vines."""

from __future__ import annotations

import json
import sqlite3
import unicodedata
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from layer_makers import blob, write_layers
from raster_makers import HOME, SOUTH, at_m, block_at

from vinemap.errors import FileError
from vinemap.files.covariate_reader import columns_of, place_readings, read_readings
from vinemap.files.kinds import kind_of
from vinemap.files.projection import to_lonlat, to_system
from vinemap.files.season_file import create, open_season, read_season
from vinemap.files.text import Read
from vinemap.ground.covariates import Covariate
from vinemap.ground.frame import Frame
from vinemap.season.value import Estate, Season

BLOCKS = (block_at("Long Acre", 20.0), block_at("Peña", 400.0))


def written(tmp_path: Path, text: str, name: str = "v.csv", encoding: str = "utf-8") -> Path:
    path = tmp_path / name
    path.write_bytes(text.encode(encoding))
    return path


def read(path: Path, column: str = "vigour", frame: Frame = HOME) -> tuple[Read[Covariate | None], list[str]]:
    """The figures at the vines, and what was left out."""
    found = read_readings(path, column)
    placed = place_readings(found.value, BLOCKS, frame, column, path.name)
    return placed, [str(problem) for problem in (*found.problems, *placed.problems)]


def lonlat(east_m: float, north_m: float, frame: Frame = HOME) -> str:
    lon, lat = to_lonlat(frame, east_m, north_m)
    return f"{float(lon):.9f},{float(lat):.9f}"


def refused(path: Path, column: str = "vigour") -> str:
    with pytest.raises(FileError) as told:
        read_readings(path, column)
    assert told.value.do
    return str(told.value)


def test_figures_by_address_stand_on_their_vines(tmp_path: Path) -> None:
    path = written(tmp_path, "block,row,vine,Vigour,note\nPeña,3,10,0.9,x\nLong Acre,1,1,0.2,\nLong Acre,2,4,-1e-3,\n")
    placed, problems = read(path, "VIGOUR")
    assert (kind_of(path), problems) == ("readings", [])
    assert columns_of(path) == ("vigour", "note")
    # rows 2.5 m apart from x = 20 and 400, vines every 2 m from y = 0
    np.testing.assert_allclose(placed.value.points_m, [[20.0, 0.0], [22.5, 6.0], [405.0, 18.0]])
    np.testing.assert_array_equal(placed.value.values, [0.2, -0.001, 0.9])


@pytest.mark.parametrize("frame", [HOME, SOUTH])
def test_figures_by_place_go_to_the_nearest_vine_in_either_half_of_the_earth(tmp_path: Path, frame: Frame) -> None:
    east, north = frame.origin_x_m + 402.0, frame.origin_y_m + 17.2
    path = written(tmp_path, f"lon,lat,vigour\n{lonlat(20.9, 0.8, frame)},0.2\n")
    other = written(tmp_path, f"x_m,y_m,vigour\n{east},{north},0.7\n", "o.csv")
    np.testing.assert_allclose(read(path, frame=frame)[0].value.points_m, [[20.0, 0.0]])
    np.testing.assert_allclose(read(other, frame=frame)[0].value.points_m, [[402.5, 18.0]])


def test_semicolons_decimal_commas_tabs_and_accents_however_they_are_written(tmp_path: Path) -> None:
    for text in ("block;row;vine;höhe\nPeña;1;2;12,5\n", "block\trow\tvine\tHÖHE\nPeña\t1\t2\t12,5\n"):
        for form, encoding in (("NFC", "utf-8"), ("NFD", "utf-8"), ("NFC", "cp1252"), ("NFC", "utf-16")):
            path = written(tmp_path, unicodedata.normalize(form, text), encoding=encoding)
            for asked in ("Höhe", unicodedata.normalize("NFD", "höhe"), " HÖHE "):
                placed, problems = read(path, asked)
                assert (placed.value.values.tolist(), problems) == ([12.5], [])


def test_what_is_missing_or_no_number_is_left_out_and_listed(tmp_path: Path) -> None:
    bad = {"": "nothing here", "high": "not a number", "1.2.3": "not a number", "nan": "not a number", "inf": "not a number"}
    bad |= {"1e13": "must be from", "12 m": "not a number", "1e999": "must be from"}
    lines = [f"Long Acre,1,{index + 1},{value}\n" for index, value in enumerate(bad)]
    placed, problems = read(written(tmp_path, "block,row,vine,vigour\n" + "".join(lines) + "Long Acre,1,10,0.5\n"))
    assert placed.value.values.tolist() == [0.5]
    assert len(problems) == len(bad)
    for index, (problem, why) in enumerate(zip(problems, bad.values(), strict=True)):
        assert problem.startswith(f"v.csv, line {index + 2}: vigour")
        assert why in problem


def test_places_that_are_no_vine_s_are_left_out_and_listed(tmp_path: Path) -> None:
    lines = {
        "Long Acre,4,1,,": "row = 4: Long Acre: There is no row 4",
        "Long Acre,1,11,,": "vine = 11: Long Acre: Row 1 has vines 1 to 10, not 11",
        "Short Acre,1,1,,": "block = Short Acre: there is no block of this name. The blocks are Long Acre, Peña",
        f",,,{lonlat(200.0, 0.0)}": "is 175 m from the nearest vine, of Long Acre",
        f"Peña,,,{lonlat(20.0, 4.0)}": "block = Peña: lies in Long Acre",
        ",,,-122.70,": "lat: there is nothing here",
        ",,,38.60,-122.70": "latitude and longitude seem to be swapped",
        ",,,12.5,41.9": "km from the rest of the estate",
        ",,,0,0": "no position was recorded",
        "Long Acre,1,,,": "does not say where it was",
    }
    text = "block,row,vine,lon,lat,vigour\n" + "".join(f"{line},0.5\n" for line in lines)
    placed, problems = read(written(tmp_path, text))
    assert placed.value is None
    for why in lines.values():
        assert sum(why in problem for problem in problems) == 1, why
    assert len(problems) == len(lines)


def test_several_figures_at_one_vine_are_averaged_and_that_is_said(tmp_path: Path) -> None:
    lines = "".join(f",,,{lonlat(20.0 + 0.4 * step, 0.1)},{step}\n" for step in (-1, 0, 1))
    path = written(tmp_path, f"block,row,vine,lon,lat,vigour\n{lines}Long Acre,1,1,,,10\nLong Acre,1,2,,,4\n")
    placed, problems = read(path)
    assert (placed.value.values.tolist(), problems) == ([2.5, 4.0], [])
    assert placed.notes == ("v.csv: more than one figure at 1 of 2 vines; their mean was taken.",)


def test_files_that_can_not_be_used_are_refused(tmp_path: Path) -> None:
    assert "has no column “vigour”. It has: note." in refused(written(tmp_path, "block,row,vine,note\nA,1,1,2\n"))
    assert "does not say where" in refused(written(tmp_path, "block,vigour\nA,1\n"))
    assert "nothing under it" in refused(written(tmp_path, "block,row,vine,vigour\n"))
    assert "names the column “vigour” twice" in refused(written(tmp_path, "block,row,vine,vigour,Vigour\nA,1,1,2,3\n"))
    assert "is empty" in refused(written(tmp_path, ""))
    assert "not a text file" in refused(written(tmp_path, "\0\1\2"))
    assert "not a GeoJSON" in refused(written(tmp_path, '{"a": 1}'))


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        ("lon,lat,height", "readings"),
        ("x_m,y_m,height,slope", "readings"),
        ("block,row,vine,date,examined,infected,height", "stops"),
        ("block,row,vine,status,variety,height", "vines"),
    ],
)
def test_other_tables_keep_their_kind(tmp_path: Path, head: str, kind: str) -> None:
    assert kind_of(written(tmp_path, f"{head}\n")) == kind


@pytest.mark.parametrize("head", ["block,row,vine,date,examined,infectd", "block,row,vine,variety", "lon,lat", "a,b"])
def test_a_table_that_lacks_a_column_of_its_kind_is_not_taken_for_figures(tmp_path: Path, head: str) -> None:
    with pytest.raises(FileError, match="not a table that can be read here"):
        kind_of(written(tmp_path, f"{head}\n"))


def feature(east_m: float, north_m: float, **properties: object) -> dict[str, object]:
    point = [float(part) for part in lonlat(east_m, north_m).split(",")]
    return {"type": "Feature", "properties": properties, "geometry": {"type": "Point", "coordinates": point}}


def test_geojson_points(tmp_path: Path) -> None:
    features = [feature(20, 2, Vigour=0.25), feature(22.5, 2, Vigour=None), feature(400, 0, Vigour="0.75"), feature(20, 4)]
    path = written(tmp_path, json.dumps({"type": "FeatureCollection", "features": features}), "v.geojson")
    placed, problems = read(path)
    assert (kind_of(path), columns_of(path)) == ("readings", ("vigour",))
    assert placed.value.values.tolist() == [0.25, 0.75]
    assert [problem.split(":")[0] for problem in problems] == ["v.geojson, feature 2", "v.geojson, feature 4"]
    assert "It has: vigour." in refused(path, "height")
    stops = json.dumps({"type": "FeatureCollection", "features": [feature(20, 2, examined=20, vigour=1)]})
    assert kind_of(written(tmp_path, stops, "s.geojson")) == "stops"


@pytest.mark.parametrize("system", [(4326, "EPSG", 4326, ""), (7, "epsg", 32610, ""), (9, "NONE", 9, "EPSG:26910")])
def test_geopackage_points_in_any_map_system(tmp_path: Path, system: tuple[int, str, int, str]) -> None:
    def at(east_m: float, north_m: float) -> tuple[float, float]:
        name = system[3] or f"EPSG:{system[2]}"
        x, y = to_system(name, *to_lonlat(HOME, east_m, north_m))
        return float(x), float(y)

    lines = [(blob(*at(20, 2)), 0.25), (blob(*at(400, 0), 1), 1), (None, 3.0), (b"GP\0\1", 4.0), (blob(*at(20, 6)), None)]
    path = write_layers(tmp_path / "v.gpkg", {"sensor": lines, 'say "what"': []}, system=system)
    with pytest.raises(FileError, match='in several layers: sensor, say "what"'):
        read(path)
    path = write_layers(path, {"sensor": lines}, system=system)
    placed, problems = read(path, "Vigour")
    assert (kind_of(path), columns_of(path)) == ("readings", ("vigour",))
    np.testing.assert_allclose(placed.value.points_m, [[20, 2], [400, 0]])
    assert placed.value.values.tolist() == [0.25, 1.0]
    assert [problem.split(":")[0] for problem in problems] == [f"v.gpkg, feature {number}" for number in (3, 4, 5)]


def test_geopackages_that_can_not_be_used_are_refused(tmp_path: Path) -> None:
    path, lines = tmp_path / "v.gpkg", [(blob(*map(float, lonlat(20, 2).split(","))), 0.25)]
    assert "has no column “height”. It has: vigour." in refused(write_layers(path, {"a": lines}), "height")
    assert "is empty" in refused(write_layers(path, {"a": []}))
    assert "in which map system" in refused(write_layers(path, {"a": lines}, system=(-1, "NONE", -1, "undefined")))
    assert "can't be used" in refused(write_layers(path, {"a": lines}, system=(5, "NONE", 5, "a plan")))
    write_layers(path, {"a": lines})
    data = path.read_bytes()
    for length in range(0, len(data), 64):
        path.write_bytes(data[:length])
        assert refused(path)
        if length > 64:
            with pytest.raises(FileError, match="damaged"):
                kind_of(path)


def test_a_geopackage_whose_own_words_are_no_text_is_damaged(tmp_path: Path) -> None:
    path = write_layers(tmp_path / "v.gpkg", {"a": [(blob(*map(float, lonlat(20, 2).split(","))), 0.25)]})
    path.write_bytes(
        path.read_bytes().replace(b"CREATE TABLE gpkg_geometry_columns", b"CREATE \x94ABLE gpkg_geometry_columns")
    )
    with pytest.raises(FileError, match="damaged"):
        kind_of(path)
    assert "is no GeoPackage that can be read" in refused(path)


def test_a_season_file_stays_a_season_and_keeps_its_columns(tmp_path: Path) -> None:
    placed, _ = read(written(tmp_path, "block,row,vine,vigour\nLong Acre,1,1,0.2\nPeña,1,1,0.3\n"))
    season = Season(Estate("Invented", HOME, -8.0), BLOCKS)
    path = tmp_path / "a.vinemap"
    with create(path, season) as made:
        with_column = Season(season.estate, season.blocks, covariates=(placed.value,))
        made.apply("bring in v.csv", with_column)
        made.undo()
        assert made.season is season
        assert made.redo() is with_column
    assert kind_of(path) == "season"
    with open_season(path) as opened:
        (kept,) = opened.season.covariates
        assert opened.undo().covariates == ()
        opened.redo()
    assert (kept.name, kept.source) == ("vigour", "v.csv")
    np.testing.assert_array_equal(kept.points_m, placed.value.points_m)
    np.testing.assert_array_equal(read_season(path).covariates[0].values, [0.2, 0.3])


def test_a_file_from_before_columns_opens_after_a_copy_was_put_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "a.vinemap"
    create(path, Season(Estate("Invented", HOME, -8.0), BLOCKS)).close()
    db = sqlite3.connect(path)
    with db:
        db.execute("UPDATE vinemap_meta SET value = '1' WHERE key = 'schema'")
    db.close()
    assert read_season(path).covariates == ()
    with open_season(path) as opened:
        assert (len(opened.season.blocks), opened.season.covariates) == (2, ())
    assert [each.name for each in sorted(tmp_path.iterdir())] == ["a (before update, version 1, 1).vinemap", "a.vinemap"]


@settings(max_examples=40)
@given(st.data())
def test_every_vine_gets_the_mean_of_what_was_read_at_it_in_any_order(data: st.DataObject) -> None:
    import tempfile

    places = at_m(*BLOCKS)
    vines = data.draw(st.lists(st.integers(0, len(places) - 1), min_size=1, max_size=30))
    figures = data.draw(st.lists(st.integers(-999, 999), min_size=len(vines), max_size=len(vines)))
    with tempfile.TemporaryDirectory() as folder:
        lines = [f"{lonlat(*places[vine])},{figure}\n" for vine, figure in zip(vines, figures, strict=True)]
        placed, problems = read(written(Path(folder), "lon,lat,vigour\n" + "".join(lines)))
    assert problems == []
    means = {vine: np.mean([f for v, f in zip(vines, figures, strict=True) if v == vine]) for vine in sorted(set(vines))}
    np.testing.assert_allclose(placed.value.points_m, places[list(means)])
    np.testing.assert_allclose(placed.value.values, list(means.values()), rtol=1e-12, atol=1e-12)


def test_a_table_cut_anywhere_is_read_as_far_as_it_goes_or_refused(tmp_path: Path) -> None:
    text = "block,row,vine,vigour\n" + "".join(f"Peña,{row},{vine},0.{vine}5\n" for row in (1, 2) for vine in range(1, 10))
    data = text.encode()
    for length in range(len(data)):
        path = tmp_path / "v.csv"
        path.write_bytes(data[:length])
        try:
            placed, problems = read(path)
        except FileError:
            continue
        lines = data[:length].decode("utf-8", "replace").count("\n") - 1
        assert lines - 1 <= len(problems) + (len(placed.value) if placed.value else 0) <= lines + 1
