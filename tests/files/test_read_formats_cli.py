"""From files of other programs to a season, as a grower types it."""

from __future__ import annotations

import pytest
import shapely
from format_makers import OUTLINE, RING, ROW, gpx, gpx_point, workbook, write_gdal, write_shape

from vinemap.cli import DONE, ERROR, PROBLEMS, main
from vinemap.files.season_file import read_season

STOPS = [("date", "block", "row", "vine", "examined", "infected"), ("2026-06-12", "Acre", 7, 1, 20, 3)]


def in_utm(points):
    from pyproj import Transformer

    utm = Transformer.from_crs("EPSG:4326", "EPSG:32610", always_xy=True)
    return [utm.transform(*point) for point in points]


@pytest.fixture
def files(tmp_path):
    block = {"block": ["Acre"], "row_spacing_m": [2.4], "vine_spacing_m": [1.5]}
    shape = write_gdal(
        tmp_path / "blocks.shp", [shapely.Polygon(in_utm(RING))], block, "Polygon", None, driver="ESRI Shapefile"
    )
    shape.with_suffix(".prj").unlink(missing_ok=True)
    rows = tmp_path / "rows.gpx"
    rows.write_text(gpx("".join(gpx_point("wpt", place, "<name>Acre / 7</name>") for place in ROW)), encoding="utf-8")
    return shape, rows, workbook(tmp_path / "round.xlsx", {"Stops": STOPS})


def test_a_season_from_a_shapefile_waypoints_and_a_workbook(files, tmp_path, capsys):
    season = tmp_path / "a.vinemap"
    arguments = ["add", *map(str, files), "--season", str(season), "--crs", "EPSG:32610"]
    assert main(arguments) == DONE, capsys.readouterr()
    said = capsys.readouterr().out
    assert "blocks.shp is in the map system WGS 84 / UTM zone 10N; it was turned" in said
    held = read_season(season)
    (block,) = held.blocks
    assert (block.name, block.rows.labels) == ("Acre", ("7",))
    # 0.002 degrees of latitude by 0.002 of longitude at 38.281 N: 222.01 m by 175.0 m (111 005.9 and 87 497 m a degree)
    assert block.outline.area == pytest.approx(222.01 * 175.0, rel=2e-3)
    assert [int(each.stops.infected[0]) for each in held.rounds] == [3]


def test_metres_without_a_system_say_what_to_type(files, tmp_path, capsys):
    assert main(["add", str(files[0]), "--season", str(tmp_path / "a.vinemap")]) == ERROR
    said = capsys.readouterr().err
    assert "blocks.shp: does not say its map system" in said
    assert "--crs EPSG:NNNN" in said
    assert main(["add", str(files[0]), "--season", str(tmp_path / "a.vinemap"), "--crs", "zone 10"]) == ERROR
    assert "“zone 10” is not the number of a map system" in capsys.readouterr().err
    assert not (tmp_path / "a.vinemap").exists()


def test_check_takes_all_parts_of_a_shapefile_as_one(tmp_path, capsys):
    write_shape(tmp_path / "blocks.shp")
    parts = sorted(str(part) for part in tmp_path.iterdir())
    assert main(["check", *parts]) == DONE
    said = capsys.readouterr()
    assert (said.out, said.err.count("Läng Acre: it has no rows yet.")) == ("", 1)
    stray = tmp_path / "blocks.dbf"
    assert main(["check", str(stray)]) == PROBLEMS
    assert "Choose blocks.shp" in capsys.readouterr().out


def test_outlines_of_a_geopackage_are_blocks_and_not_figures(tmp_path, capsys):
    columns = {**{key: [value] for key, value in OUTLINE.items()}, "bearing_deg": [0.0], "vine_spacing_m": [1.5]}
    path = write_gdal(tmp_path / "b.gpkg", [shapely.Polygon(RING)], columns, "Polygon", "EPSG:4326", driver="GPKG")
    assert main(["add", str(path), "--season", str(tmp_path / "a.vinemap")]) == DONE, capsys.readouterr()
    assert "b.gpkg: 1 outline" in capsys.readouterr().out
