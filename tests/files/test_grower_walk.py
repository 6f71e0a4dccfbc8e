"""A grower's files as they are in life, from the file to the season: what is kept, what is said, and where it lies."""

from __future__ import annotations

import datetime as dt
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest
import shapely
from format_makers import gpx, gpx_point, kml, kml_polygon, mark, write_gdal, zipped

from vinemap.errors import FileError
from vinemap.files.kinds import kind_of
from vinemap.files.projection import to_lonlat
from vinemap.ground.vines import place_vines
from vinemap.season.value import Season
from vinemap.service.bring_in import bring_in
from vinemap.service.report import NothingGood, Report

NAME = "Viña Vieja"
SPACING = {"row_spacin": [3.0], "vine_spaci": [2.0], "bearing_de": [0.0]}
NEAR_M = 0.01
"""Seven decimals of a degree are a centimetre."""


def apart_m(lon: Any, lat: Any, place: list[float]) -> Any:
    from pyproj import Geod

    return Geod(ellps="WGS84").inv(lon, lat, np.full_like(lon, place[0]), np.full_like(lat, place[1]))[2]


def side_deg(lat: float, east_m: float, north_m: float) -> tuple[float, float]:
    # lengths of a degree on the sphere are near enough to draw an invented block
    return east_m / (111_320.0 * math.cos(math.radians(lat))), north_m / 110_950.0


def ring(lon: float, lat: float) -> list[list[float]]:
    east, north = side_deg(lat, 60.0, 60.0)
    return [[lon, lat], [lon + east, lat], [lon + east, lat + north], [lon, lat + north], [lon, lat]]


def row_line(lon: float, lat: float, number: int) -> list[list[float]]:
    east, south = side_deg(lat, 6.0 + 3.0 * (number - 1), 5.0)
    return [[lon + east, lat + south], [lon + east, lat + side_deg(lat, 0.0, 55.0)[1]]]


def block(lon: float, lat: float, name: str = NAME, rows: int = 5) -> list[dict[str, Any]]:
    told = {"block": name, "row_spacing_m": 3.0, "vine_spacing_m": 2.0}
    lines = [
        {
            "type": "Feature",
            "properties": {"block": name, "row": str(number)},
            "geometry": {"type": "LineString", "coordinates": row_line(lon, lat, number)},
        }
        for number in range(1, rows + 1)
    ]
    outline = {"type": "Feature", "properties": told, "geometry": {"type": "Polygon", "coordinates": [ring(lon, lat)]}}
    return [outline, *lines]


def ground(folder: Path, *features: dict[str, Any]) -> Path:
    path = folder / "my ground.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False), encoding="utf-8")
    return path


def brought(*paths: Path, season: Season | None = None) -> tuple[Season, Report]:
    return bring_in(paths, season, "walk")


def said(report: Report) -> str:
    return "\n".join([*report.kept, *report.notes, *map(str, report.problems)])


@pytest.fixture
def home(tmp_path: Path) -> Season:
    return brought(ground(tmp_path, *block(-122.7, 38.6)))[0]


@pytest.mark.parametrize(("lon", "lat"), [(145.3, -38.0), (-120.0003, 38.6), (179.998, -17.5), (-179.9995, -17.5)])
def test_vines_lie_where_they_were_drawn_south_at_a_zone_edge_and_near_the_date_line(
    tmp_path: Path, lon: float, lat: float
) -> None:
    season, report = brought(ground(tmp_path, *block(lon, lat)))
    assert not report.problems
    vines = place_vines(season.blocks[0])
    lon_deg, lat_deg = to_lonlat(season.estate.frame, vines.x_m, vines.y_m)
    for number in range(1, 6):
        first, last = int(vines.row_start[number - 1]), int(vines.row_start[number]) - 1
        start, end = row_line(lon, lat, number)
        to_start_m, to_end_m = apart_m(lon_deg, lat_deg, start), apart_m(lon_deg, lat_deg, end)
        row_m = apart_m(np.array([start[0]]), np.array([start[1]]), end)[0]
        assert last - first == int(row_m / 2.0)
        assert to_start_m[first] < NEAR_M
        # on the line, less than a vine before its end
        assert to_start_m[last] + to_end_m[last] == pytest.approx(row_m, abs=NEAR_M)
        assert to_end_m[last] < 2.0


def test_what_reaches_beyond_the_date_line_is_not_called_metres(tmp_path: Path) -> None:
    with pytest.raises(NothingGood) as refused:
        brought(ground(tmp_path, *block(179.9997, -17.5)))
    why = [each.why for each in refused.value.problems if each.place == f"feature 1, block {NAME}"]
    assert why == ["lies beyond the date line"]


def test_a_county_outline_in_feet_names_the_columns_that_are_not_used(tmp_path: Path) -> None:
    from pyproj import Transformer

    folder = tmp_path / "export"
    folder.mkdir()
    turn = Transformer.from_crs("EPSG:4326", "EPSG:2226", always_xy=True)
    shape = shapely.Polygon([turn.transform(*each) for each in ring(-122.7, 38.6)])
    columns = {"BLK_NAME": ["Home Block"], "ROW_SP_FT": [10.0]}
    write_gdal(folder / "blocks.shp", [shape], columns, "Polygon", "EPSG:2226", driver="ESRI Shapefile")
    path = zipped(tmp_path / "county parcels.zip", {f"export/{each.name}": each.read_bytes() for each in folder.iterdir()})
    with pytest.raises(NothingGood) as refused:
        brought(path)
    assert "has no block name" in str(refused.value)
    assert "Columns not used in county parcels.zip: blk_name, row_sp_ft." in refused.value.what

    write_gdal(
        folder / "blocks.shp",
        [shape],
        {"block": ["Home Block"], **SPACING, **columns},
        "Polygon",
        "EPSG:2226",
        driver="ESRI Shapefile",
    )
    season, report = brought(folder / "blocks.shp")
    assert "Columns not used in blocks.shp: blk_name, row_sp_ft." in report.notes
    corners = np.array(season.blocks[0].outline.exterior.coords)
    lon_deg, lat_deg = to_lonlat(season.estate.frame, corners[:, 0], corners[:, 1])
    for corner in ring(-122.7, 38.6):
        assert apart_m(lon_deg, lat_deg, corner).min() < NEAR_M


def test_a_gate_and_a_tap_on_a_phone_are_no_stops(tmp_path: Path, home: Season) -> None:
    (lon, lat), _ = row_line(-122.7, 38.6, 2)
    path = tmp_path / "phone stops.gpx"
    counts = "<time>2026-06-12T17:00:00Z</time><name>001</name><desc>examined=10; infected=2</desc>"
    marks = [gpx_point("wpt", (lon, lat), counts), gpx_point("wpt", (lon, lat), "<name>Truck</name>")]
    path.write_text(gpx("".join(marks)), encoding="utf-8")
    season, report = brought(path, season=home)
    assert [(stop.date, len(stop.stops)) for stop in season.rounds] == [(dt.date(2026, 6, 12), 1)]
    assert [str(each) for each in report.problems] == [
        "phone stops.gpx, feature 2, “Truck”: is a point without counts, so it is not a stop. "
        "Give it date, examined and infected, or leave it where it is."
    ]


def test_placemarks_in_folders_keep_what_is_whole(tmp_path: Path) -> None:
    two = f"<MultiGeometry>{kml_polygon(ring(-122.7, 38.6))}{kml_polygon(ring(-122.69, 38.6))}</MultiGeometry>"
    one = f"<MultiGeometry>{kml_polygon(ring(-122.68, 38.6))}</MultiGeometry>"
    told = {"row_spacing_m": "3", "vine_spacing_m": "2", "bearing_deg": "0", "colour": "red"}
    marks = (f"<Folder>{mark('Two', two, told)}</Folder>", mark("Öne", one, told))
    season, report = brought(zipped(tmp_path / "places.kmz", {"doc.kml": kml(*marks)}))
    assert [each.name for each in season.blocks] == ["Öne"]
    assert "places.kmz, feature 1, block Two: geometry = MultiPolygon: has 2 separate parts." in said(report)
    assert "Columns not used in places.kmz: colour." in report.notes


def titled(path: Path, *above: list[Any]) -> Path:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for line in above:
        sheet.append(line)
    sheet.append(["Date", "Block", "Row", "Vine", "Examined", "Infected", "Note"])
    sheet.append([dt.datetime(2026, 6, 12), NAME, 1, 3, 10, 2])
    sheet.append([dt.date(2026, 6, 12), NAME, 2, 3, 10, 12])
    sheet.append(["Total", None, None, None, 20, 14])
    if above:
        sheet.merge_cells("A1:G1")
    book.save(path)
    return path


def test_a_workbook_with_titles_above_its_columns_is_read_and_lines_keep_their_numbers(tmp_path: Path, home: Season) -> None:
    path = titled(tmp_path / "my counts.xlsx", ["Mildew counts 2026, west side"], ["Scout:", "Inés"], [])
    assert kind_of(path) == "stops"
    season, report = brought(path, season=home)
    assert season.rounds[0].stops.examined.tolist() == [10]
    assert "The column names of my counts.xlsx stand in line 4; what is above them was left aside." in report.notes
    assert "my counts.xlsx, line 6: infected = 12: is more than the 10 examined." in said(report)
    assert "my counts.xlsx, line 7:" in said(report)


def test_a_table_without_titles_says_nothing_of_them(tmp_path: Path, home: Season) -> None:
    assert "stand in line" not in said(brought(titled(tmp_path / "plain.xlsx"), season=home)[1])


def test_a_header_shorter_than_its_lines_is_no_title(tmp_path: Path) -> None:
    path = tmp_path / "short.csv"
    path.write_text("date,examined\n2026-06-12,10,1,Viña,1,2\n")
    with pytest.raises(FileError, match="its columns are date, examined"):
        kind_of(path)


def test_cells_merged_over_lines_are_told(tmp_path: Path, home: Season) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for line in (
        ["date", "block", "row", "vine", "examined", "infected"],
        ["2026-06-12", NAME, 1, 1, 10, 1],
        ["2026-06-12", None, 1, 2, 10, 1],
    ):
        sheet.append(line)
    sheet.merge_cells("B2:B3")
    book.save(tmp_path / "merged.xlsx")
    season, report = brought(tmp_path / "merged.xlsx", season=home)
    assert len(season.rounds[0].stops) == 1
    assert (
        "merged.xlsx has cells merged over several lines (B2:B3): only the first line of each holds the value."
        in report.notes
    )


def stops(path: Path, *lines: str) -> Path:
    path.write_text("\n".join(["date,block,row,vine,examined,infected", *lines]) + "\n", encoding="utf-8")
    return path


FIRST = (f"2026-06-12,{NAME},1,3,10,2", f"2026-06-12,{NAME},2,3,10,0")


def test_a_sheet_that_grows_all_summer_brings_in_each_walk_once(tmp_path: Path, home: Season) -> None:
    path = tmp_path / "counts.csv"
    bad = f"2026-06-12,{NAME},99,3,10,0"
    season, _ = brought(stops(path, *FIRST, bad), season=home)
    season, report = brought(stops(path, *FIRST, bad, f"2026-06-19,{NAME},1,3,10,4"), season=season)
    assert [(each.number, each.date.day, len(each.stops)) for each in season.rounds] == [(1, 12, 2), (2, 19, 1)]
    assert report.notes[0] == "The stops of 2026-06-12 are in the season already, as round 1."
    assert "placed 1 stop in 1 round" in report.kept
    assert "line 4: row = 99" in said(report)


def test_a_walk_of_which_some_stops_are_there_is_kept_and_told(tmp_path: Path, home: Season) -> None:
    season, first = brought(stops(tmp_path / "a.csv", *FIRST), season=home)
    assert "has the date" not in said(first)
    season, report = brought(stops(tmp_path / "b.csv", FIRST[0], f"2026-06-12,{NAME},3,3,10,1"), season=season)
    assert [len(each.stops) for each in season.rounds] == [2, 2]
    assert "Round 2 has the date of round 1, and 1 stop of it stand" in said(report)


def test_of_vines_those_that_came_in_are_counted_and_the_encoding_is_told(tmp_path: Path, home: Season) -> None:
    path = tmp_path / "vines of mine.txt"
    lines = (
        "block\trow\tvine\tstatus\tvariety",
        f"{NAME}\t1\t7\tmissing\t",
        f"{NAME}\t2\t99\tdead\t",
        f"{NAME}\t99\t1\tdead\t",
    )
    path.write_bytes("\r\n".join(lines).encode("utf-16"))
    season, report = brought(path, season=home)
    assert len(season.blocks[0].exceptions.vine) == 1
    assert "vines of mine.txt: 1 vine not as usual" in report.kept
    assert "vines of mine.txt was read as UTF-16 text." in report.notes
    assert len(report.problems) == 2


def test_rows_in_a_plain_table_are_told_how_rows_come_in(tmp_path: Path) -> None:
    path = tmp_path / "filas españa.csv"
    path.write_bytes("Parcela;Fila;Longitud inicio;Latitud inicio\nViña;01;-122,7;38,6\n".encode("cp1252"))
    with pytest.raises(FileError) as refused:
        kind_of(path)
    assert "Outlines and rows come as drawn files" in refused.value.do


@pytest.mark.parametrize(
    ("name", "content", "what"),
    [
        ("zero.shp", b"", "is empty"),
        ("blank.txt", b"\n \n", "is empty"),
        ("nothing.zip", b"PK\x05\x06" + bytes(18), "is an archive with nothing in it"),
    ],
)
def test_files_of_nothing_say_so(tmp_path: Path, name: str, content: bytes, what: str) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(NothingGood) as refused:
        brought(path)
    assert [each.why for each in refused.value.problems] == [what]
