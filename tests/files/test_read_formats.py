"""Outlines, rows and stops out of every format, against places that are known."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
from format_makers import (
    COUNTS,
    HOLE,
    LINE,
    OUTLINE,
    RING,
    ROW,
    STOP,
    collection,
    feature,
    features_all,
    gpx,
    gpx_all,
    gpx_point,
    kml,
    kml_all,
    kml_polygon,
    kml_text,
    mark,
    write_gdal,
    write_shape,
    zipped,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import FileError, InputError
from vinemap.files.coordinates import in_degrees, known_system
from vinemap.files.geojson import read_features
from vinemap.files.ground_reader import read_ground
from vinemap.files.kinds import kind_of
from vinemap.files.stop_reader import read_stops

# PROJ and the readers agree to a millimetre: 1e-8 degrees
NEAR = 1e-8


def in_utm(points):
    from pyproj import Transformer

    utm = Transformer.from_crs("EPSG:4326", "EPSG:32610", always_xy=True)
    return [utm.transform(*point) for point in points]


def write(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(
    params=["all.geojson", "lines.ndjson", "records.geojsons", "all.kml", "all.kmz", "zipped.zip"],
)
def all_of_it(request, tmp_path) -> Path:
    path = tmp_path / request.param
    lines = [json.dumps(each) for each in features_all()]
    texts = {
        "all.geojson": collection(features_all()),
        "lines.ndjson": "\n".join(lines) + "\n",
        # RFC 8142: a record separator before each, a line feed after each
        "records.geojsons": "".join(f"\x1e{line}\n" for line in lines),
        "all.kml": kml_all(),
    }
    if request.param in texts:
        return write(path, texts[request.param])
    return zipped(path, {"doc.kml" if request.param == "all.kmz" else "folder/ground.kml": kml_all()})


def test_each_format_holds_the_same_ground(all_of_it):
    assert kind_of(all_of_it) == "mixed"
    read = read_ground(all_of_it)
    assert read.problems == ()
    (outline,), (row,), (stop,) = read.value.outlines, read.value.rows, read.value.stops
    assert (outline.block, outline.row_spacing_m) == ("Läng Acre", 2.4)
    np.testing.assert_array_equal(outline.rings[0], RING)
    np.testing.assert_array_equal(outline.rings[1], HOLE)
    assert (row.block, row.row) == ("Läng Acre", "12a")
    np.testing.assert_array_equal(row.line, ROW)
    assert (stop.examined, stop.infected, stop.lonlat_deg) == (20, 3, STOP)
    assert outline.entry.file == all_of_it.name


def test_gpx_holds_rows_and_stops(tmp_path):
    path = write(tmp_path / "walk.gpx", gpx_all())
    assert kind_of(path) == "mixed"
    read = read_ground(path)
    assert read.problems == ()
    np.testing.assert_array_equal(read.value.rows[0].line, ROW)
    assert (read.value.rows[0].block, read.value.rows[0].row) == ("Läng Acre", "12a")
    assert read.value.stops[0].lonlat_deg == STOP
    assert read.notes == ("walk.gpx has heights; they are left aside.",)


def test_waypoints_that_name_a_row_twice_are_its_ends(tmp_path):
    ends = "".join(gpx_point("wpt", place, "<name>Acre / 7</name>") for place in ROW)
    alone = gpx_point("wpt", STOP, "<name>Acre / 8</name>")
    path = write(tmp_path / "ends.gpx", gpx(ends + alone))
    read = read_features(path)
    assert [each.kind for each in read.value] == ["LineString", "Point"]
    np.testing.assert_array_equal(read.value[0].parts[0], ROW)
    assert "Acre / 7" in read.notes[0]
    assert "Acre / 8" not in read.notes[0]


def test_a_waypoint_that_counts_is_no_end_of_a_row(tmp_path):
    told = "<name>Acre / 7</name><desc>date=2026-06-12; examined=5; infected=1</desc>"
    path = write(tmp_path / "stops.gpx", gpx("".join(gpx_point("wpt", place, told) for place in ROW)))
    assert kind_of(path) == "stops"
    assert [each.lonlat_deg for each in read_stops(path).value] == [tuple(place) for place in ROW]


@pytest.mark.parametrize(
    ("time", "date"),
    [
        # 18:00 and 00:30 by the sun at 122.7 W, 8 h 11 min behind Greenwich: the Earth turns 15 degrees an hour
        ("2026-06-13T02:11:00Z", "2026-06-12"),
        ("2026-06-13T08:41:00Z", "2026-06-13"),
        ("2026-06-12T19:11:00-07:00", "2026-06-12"),
    ],
)
def test_the_day_of_a_waypoint_is_the_suns_and_is_said(tmp_path, time, date):
    told = f"<time>{time}</time><cmt>examined: 5\ninfected: 1</cmt>"
    read = read_stops(write(tmp_path / "one.gpx", gpx(gpx_point("wpt", STOP, told))))
    assert read.value[0].date.isoformat() == date
    assert "1 waypoint has no date" in read.notes[0]


def test_a_time_without_zone_dates_nothing(tmp_path):
    told = "<time>2026-06-12T10:00:00</time><cmt>examined=5;infected=1</cmt>"
    read = read_stops(write(tmp_path / "one.gpx", gpx(gpx_point("wpt", STOP, told))))
    assert read.value == ()
    assert [problem.field for problem in read.problems] == ["date"]


def test_a_track_with_a_gap_is_refused_as_parts(tmp_path):
    segments = "".join(f"<trkseg>{''.join(gpx_point('trkpt', at) for at in ROW)}</trkseg>" for _ in range(2))
    read = read_features(write(tmp_path / "gap.gpx", gpx(f"<trk><name>A / 1</name>{segments}</trk>")))
    assert "2 separate parts" in read.problems[0].why


@pytest.mark.parametrize("name", ["blocks.shp", "blocks.gpkg", "blocks.zip"])
@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:32610"])
def test_layers_in_a_map_system_are_turned_to_degrees(tmp_path, name, crs):
    ring, hole = (RING, HOLE) if crs == "EPSG:4326" else (in_utm(RING), in_utm(HOLE))
    shape = shapely.Polygon(ring, [hole])
    if name == "blocks.gpkg":
        path = write_gdal(
            tmp_path / name, [shape], {"block": ["Läng Acre"], "row_spacing_m": [2.4]}, "Polygon", crs, driver="GPKG"
        )
    else:
        path = write_shape(tmp_path / "blocks.shp", shape, crs)
    if name == "blocks.zip":
        path = zipped(tmp_path / name, {f"sub/{part.name}": part.read_bytes() for part in tmp_path.glob("blocks.*")})
    assert kind_of(path) == "outlines"
    read = read_ground(path)
    (outline,) = read.value.outlines
    assert read.problems == ()
    assert (outline.block, outline.row_spacing_m) == ("Läng Acre", 2.4)
    drawn = shapely.Polygon(outline.rings[0], outline.rings[1:])
    assert shapely.hausdorff_distance(drawn, shapely.Polygon(RING, [HOLE])) < NEAR
    assert drawn.symmetric_difference(shapely.Polygon(RING, [HOLE])).area < NEAR * 0.01
    assert any("WGS 84 / UTM zone 10N" in note for note in read.notes) == (crs == "EPSG:32610")


def test_a_geopackage_gives_all_its_layers_by_geometry(tmp_path):
    path = tmp_path / "estate.gpkg"
    write_gdal(
        path,
        [shapely.Polygon(RING)],
        {key: [value] for key, value in OUTLINE.items()},
        "Polygon",
        "EPSG:4326",
        layer="b",
        driver="GPKG",
    )
    write_gdal(
        path, [shapely.LineString(in_utm(ROW))], {key: [value] for key, value in LINE.items()}, "LineString", "EPSG:32610",
        layer="r", driver="GPKG", append=True,
    )  # fmt: skip
    write_gdal(
        path,
        [shapely.Point(STOP)],
        {key: [value] for key, value in COUNTS.items()},
        "Point",
        "EPSG:4326",
        layer="s",
        driver="GPKG",
        append=True,
    )
    assert kind_of(path) == "mixed"
    read = read_ground(path)
    assert [len(each) for each in (read.value.outlines, read.value.rows, read.value.stops)] == [1, 1, 1]
    np.testing.assert_allclose(read.value.rows[0].line, ROW, atol=NEAR)
    assert "estate.gpkg, layer r: 1 feature." in read.notes


def test_a_shapefile_keeps_long_names_and_dates(tmp_path):
    columns = {"date": np.array(["2026-06-12"], "datetime64[D]"), "examined": [20], "infected": [3], "leaves_examined": [9],
               "leaves_infected": [1], "sample_type": ["targeted"]}  # fmt: skip
    path = write_gdal(tmp_path / "stops.shp", [shapely.Point(STOP)], columns, "Point", "EPSG:4326", driver="ESRI Shapefile")
    assert kind_of(path) == "stops"
    (stop,) = read_stops(path).value
    assert (stop.date.isoformat(), stop.examined, stop.leaves_examined, stop.leaves_infected) == ("2026-06-12", 20, 9, 1)
    assert stop.is_targeted
    assert stop.lonlat_deg == STOP


@pytest.mark.parametrize(
    ("encoding", "keeps", "is_said"),
    [("UTF-8", True, False), ("CP1252", True, False), ("UTF-8", False, False), ("CP1252", False, True)],
)
def test_names_of_a_shapefile_are_read_in_their_own_letters(tmp_path, encoding, keeps, is_said):
    path = write_shape(tmp_path / "a.shp", encoding=encoding)
    if not keeps:
        path.with_suffix(".cpg").unlink()
    read = read_ground(path)
    assert read.value.outlines[0].block == "Läng Acre"
    assert any("1252" in note for note in read.notes) == is_said


def test_metres_without_a_system_are_refused_and_the_number_mends_it(tmp_path):
    path = write_shape(tmp_path / "a.shp", shapely.Polygon(in_utm(RING)), None)
    path.with_suffix(".prj").unlink(missing_ok=True)
    with pytest.raises(FileError, match=r"does not say its map system.*EPSG") as caught:
        read_ground(path)
    assert "--crs EPSG:NNNN" in caught.value.do
    read = read_ground(path, "EPSG:32610")
    assert shapely.hausdorff_distance(shapely.LinearRing(read.value.outlines[0].rings[0]), shapely.LinearRing(RING)) < NEAR


def test_degrees_without_a_system_are_degrees_whatever_system_is_named(tmp_path):
    path = write_shape(tmp_path / "a.shp", crs=None)
    read = read_ground(path, "EPSG:32610")
    assert {tuple(at) for at in read.value.outlines[0].rings[0].tolist()} == set(RING)
    assert "was not used" in read.notes[-1]


@pytest.mark.parametrize(
    "name", ["EPSG:32610", "urn:ogc:def:crs:EPSG::32610", "urn:ogc:def:crs:EPSG:8.5:32610", "urn:ogc:def:crs:OGC:1.3:CRS84"]
)
def test_a_crs_member_of_2008_is_honoured(tmp_path, name):
    ring = RING if "CRS84" in name else [list(at) for at in in_utm(RING)]
    read = read_ground(write(tmp_path / "old.geojson", collection([feature("Polygon", [ring], OUTLINE)], name)))
    np.testing.assert_allclose(read.value.outlines[0].rings[0], RING, atol=NEAR)
    assert bool(read.notes) != ("CRS84" in name)


def test_another_datum_is_another_place(tmp_path):
    # NAD27 lies some 90 m from WGS 84 here by the mean shift of the lower states (from memory: -8, 160, 176 m in x, y, z)
    read = read_ground(write(tmp_path / "old.geojson", collection([feature("Polygon", [RING], OUTLINE)], "EPSG:4267")))
    moved_m = abs(read.value.outlines[0].rings[0] - RING)[:, 0] * 87_232.7
    assert ((moved_m > 60) & (moved_m < 130)).all()
    assert "NAD27" in read.notes[0]


def test_all_parts_chosen_together_are_one_shapefile(tmp_path):
    from vinemap.files.vector_reader import without_parts

    path = write_shape(tmp_path / "a.shp")
    parts = sorted(tmp_path.iterdir())
    assert len(parts) >= 4
    other = [tmp_path / "b.prj", tmp_path / "c.csv"]
    assert without_parts([*parts, *other]) == [path, *other]
    with pytest.raises(FileError, match=r"part of a shapefile.*Choose a\.shp"):
        read_ground(path.with_suffix(".shx"))


def test_kml_collections_and_links_are_told(tmp_path):
    line = f"<LineString>{kml_text(ROW)}</LineString>"
    point = f"<Point>{kml_text([STOP])}</Point>"
    text = kml(
        mark("A", f"<MultiGeometry>{kml_polygon(RING)}</MultiGeometry>"),
        mark("B", f"<MultiGeometry>{kml_polygon(RING)}{kml_polygon(RING)}</MultiGeometry>"),
        mark("C", f"<MultiGeometry>{line}{point}</MultiGeometry>"),
        mark("D", ""),
        "<NetworkLink><Link><href>http://example.invalid/more.kml</href></Link></NetworkLink>",
    )
    read = read_features(write(tmp_path / "many.kml", text))
    assert [each.entry.text("name") for each in read.value] == ["A"]
    assert [(each.place, each.why) for each in read.problems] == [
        ("feature 2, block B", "has 2 separate parts"),
        ("feature 3, block C", "is not a kind of geometry used here"),
        ("feature 4, block D", "there is no geometry"),
    ]
    assert "was not fetched" in read.notes[0]


@pytest.mark.parametrize(
    ("kind", "coordinates", "why"),
    [
        ("Point", [38.28, -122.7], "seem to be swapped"),
        ("Point", [0.0, 0.0], "zero, zero"),
        ("Point", [], "is empty"),
        ("LineString", [[179.999, -40.0], [-179.999, -40.0]], "crosses the date line"),
        ("Polygon", [[[179.99, -40.0], [-179.99, -40.0], [-179.99, -40.01], [179.99, -40.0]]], "crosses the date line"),
        ("MultiPolygon", [[RING], [RING]], "2 separate parts"),
        ("GeometryCollection", [], "not a kind of geometry"),
    ],
)
@pytest.mark.parametrize("is_lines", [False, True])
def test_what_is_wrong_with_a_place_is_said(tmp_path, kind, coordinates, why, is_lines):
    wrong, good = feature(kind, coordinates, COUNTS), features_all()[0]
    text = f"{json.dumps(wrong)}\n{json.dumps(good)}" if is_lines else collection([wrong, good])
    read = read_features(write(tmp_path / "odd.json", text))
    assert len(read.value) == 1
    assert [why in problem.why for problem in read.problems] == [True]


def test_heights_are_left_aside_and_that_is_said(tmp_path):
    read = read_features(
        write(tmp_path / "high.geojson", collection([feature("LineString", [[*at, 88.0] for at in ROW], LINE)]))
    )
    np.testing.assert_array_equal(read.value[0].parts[0], ROW)
    assert read.notes == ("high.geojson has heights; they are left aside.",)


def test_a_broken_line_costs_itself_only(tmp_path):
    lines = [json.dumps(each) for each in features_all()]
    read = read_ground(write(tmp_path / "a.ndjson", f"{lines[0]}\n{lines[1][:40]}\n\n{lines[2]}\n"))
    assert (len(read.value.outlines), len(read.value.rows), len(read.value.stops)) == (1, 0, 1)
    assert [problem.place for problem in read.problems] == ["line 2"]


@pytest.mark.parametrize("text", ["", "EPSG:32610", "32610", " epsg:32610 "])
def test_map_systems_are_named_by_number(text):
    assert known_system(text) == ("EPSG:32610" if text else "")


@pytest.mark.parametrize(
    "text", ["UTM 10", "EPSG:1", "EPSG:999999", "+proj=longlat", "https://example.invalid/4326", "PROJCS[]"]
)
def test_other_names_of_map_systems_are_refused(text):
    with pytest.raises(InputError):
        known_system(text)


@settings(max_examples=30)
@given(st.lists(st.tuples(st.floats(-125.9, -120.1), st.floats(1.0, 80.0)), min_size=1, max_size=5))
def test_there_and_back_is_the_same_place(places):
    items = [feature("LineString", [list(at) for at in in_utm(places)], {})]
    in_degrees("a", items, "EPSG:32610", "")
    np.testing.assert_allclose(items[0]["geometry"]["coordinates"], places, atol=NEAR)
