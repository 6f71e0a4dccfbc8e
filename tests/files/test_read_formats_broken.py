"""Every reader fed what no reader should trust: it refuses in plain words, in time, and leaves nothing behind."""

from __future__ import annotations

import json
import struct
import tempfile
import zipfile
from pathlib import Path

import numpy as np
import pytest
import shapely
from format_makers import (
    COUNTS,
    RING,
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
    workbook,
    write_gdal,
    write_shape,
    zipped,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import FileError, VinemapError
from vinemap.files.archive import read_archive
from vinemap.files.geojson import read_features
from vinemap.files.ground_reader import read_ground
from vinemap.files.kinds import kind_of
from vinemap.files.stop_reader import read_stops
from vinemap.files.xml_text import parse_xml, root_name


def make(folder: Path, name: str) -> Path:
    path = folder / name
    if name == "a.shp":
        return write_shape(path)
    if name == "a.gpkg":
        return write_gdal(path, [shapely.Polygon(RING)], {"block": ["A"]}, "Polygon", "EPSG:4326", driver="GPKG")
    if name == "a.zip":
        shape = write_shape(folder / "in.shp")
        return zipped(path, {each.name: each.read_bytes() for each in shape.parent.glob("in.*")})
    if name == "a.kmz":
        return zipped(path, {"doc.kml": kml_all()})
    if name == "a.xlsx":
        return workbook(path, {"a": [("date", "examined", "infected", "lon", "lat"), ("2026-06-12", 20, 3, *STOP)]})
    lines = "".join(f"\x1e{json.dumps(each)}\n" for each in features_all())
    path.write_text({"a.kml": kml_all(), "a.gpx": gpx_all(), "a.geojsons": lines}[name], encoding="utf-8")
    return path


def read_any(path: Path) -> int:
    """How many things a file gives, after its kind was found."""
    if kind_of(path) == "stops":
        return len(read_stops(path).value)
    found = read_ground(path).value
    return len(found.outlines) + len(found.rows) + len(found.stops)


NAMES = ("a.shp", "a.gpkg", "a.zip", "a.kmz", "a.xlsx", "a.kml", "a.gpx", "a.geojsons")


@pytest.mark.parametrize("name", NAMES)
def test_a_file_cut_anywhere_is_refused_or_told(tmp_path, name):
    path = make(tmp_path, name)
    whole, data = read_any(path), path.read_bytes()
    assert whole > 0
    for cut in sorted({*range(0, min(len(data), 200), 23), *range(0, len(data), max(len(data) // 25, 1))} - {len(data)}):
        path.write_bytes(data[:cut])
        try:
            left = read_any(path)
        except FileError:
            continue
        # features a line: those before the cut are whole
        assert name == "a.geojsons"
        is_between = data[cut : cut + 1] in (b"\x1e", b"\n") or data[cut - 1 : cut] in (b"\x1e", b"\n")
        assert left < whole or cut >= len(data) - 1
        assert is_between or read_features(path).problems


@pytest.mark.parametrize("part", [".shx", ".dbf"])
def test_parts_cut_or_missing(tmp_path, part):
    path = make(tmp_path, "a.shp")
    beside = path.with_suffix(part)
    data = beside.read_bytes()
    for cut in range(0, len(data) - 1, 7):
        beside.write_bytes(data[:cut])
        with pytest.raises(FileError):
            read_ground(path)
    beside.unlink()
    with pytest.raises(FileError, match=f"lacks its part {part}"):
        read_ground(path)


def test_parts_of_two_shapefiles_do_not_mix(tmp_path):
    path, other = write_shape(tmp_path / "a.shp"), tmp_path / "b.shp"
    write_gdal(
        other, [shapely.Polygon(RING)] * 3, {"block": ["A", "B", "C"]}, "Polygon", "EPSG:4326", driver="ESRI Shapefile"
    )
    path.with_suffix(".dbf").write_bytes(other.with_suffix(".dbf").read_bytes())
    with pytest.raises(FileError, match="1 shapes and 3 lines"):
        read_ground(path)
    path.with_suffix(".dbf").unlink()


@settings(max_examples=60)
@given(st.integers(0, 10_000), st.integers(0, 255), st.sampled_from([".shp", ".shx", ".dbf", ".prj"]))
def test_one_wrong_byte_never_breaks_the_program(at, value, part):
    with tempfile.TemporaryDirectory() as folder:
        path = write_shape(Path(folder) / "a.shp")
        beside = path.with_suffix(part)
        data = bytearray(beside.read_bytes())
        data[at % len(data)] = value
        beside.write_bytes(data)
        try:
            read_ground(path, "EPSG:32610")
        except VinemapError as error:
            assert str(error).strip()  # noqa: PT017 - either outcome is sound, a refusal has words


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    "content", [b"", b" \n", b"\x00\x01\x02\xff" * 9, b"hello", b"<html><p>no</html>", b"PK\x03\x04", b"\x1e", b"<kml", b"{"]
)
def test_what_the_name_promises_and_the_content_does_not_hold(tmp_path, name, content):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(FileError):
        read_any(tmp_path / name)


XXE = '<!DOCTYPE kml [<!ENTITY secret SYSTEM "file:///etc/hostname">]>'
LAUGHS = '<!DOCTYPE kml [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;">]>'


@pytest.mark.parametrize("declared", [XXE, LAUGHS, '<!doctype kml SYSTEM "http://example.invalid/x.dtd">'])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
@pytest.mark.parametrize("name", ["a.kml", "a.kmz", "a.gpx"])
def test_declared_types_and_entities_are_refused_before_parsing(tmp_path, declared, encoding, name):
    body = gpx(gpx_point("wpt", STOP)) if name == "a.gpx" else kml(mark("&secret;", kml_polygon(RING)))
    data = (declared + body.partition("?>")[2]).encode(encoding)
    path = zipped(tmp_path / name, {"doc.kml": data}) if name == "a.kmz" else tmp_path / name
    if name != "a.kmz":
        path.write_bytes(data)
    with pytest.raises(FileError, match="declares a document type"):
        read_ground(path)


def test_entities_in_a_workbook_are_refused(tmp_path):
    path = make(tmp_path, "a.xlsx")
    held = dict(read_archive(path))
    held["xl/sharedStrings.xml"] = LAUGHS.encode() + b"<sst/>"
    with pytest.raises(FileError, match="declares a document type"):
        kind_of(zipped(tmp_path / "b.xlsx", held))


def test_unknown_entities_and_deep_nesting_are_refused():
    with pytest.raises(FileError, match="not sound XML"):
        parse_xml("a.kml", b"<kml>&secret;</kml>")
    for depth in (100, 100_000):
        with pytest.raises(FileError, match="nested"):
            parse_xml("a.kml", b"<kml>" + b"<Folder>" * depth)


@pytest.mark.parametrize(
    ("data", "name"),
    [
        (b'<?xml version="1.0"?>\n<!-- <gpx> no -->\n<kml:kml xmlns:kml="x">', "gpx"),
        (b"\xef\xbb\xbf  <GPX/>", "gpx"),
        ("<kml a='b'>".encode("utf-16"), "kml"),
        (b"<kml/>", "kml"),
        (b"< 3", ""),
        (b"lon,lat", ""),
        (b"", ""),
    ],
)
def test_the_first_element_is_found(data, name):
    # a comment may hold anything: whatever it is taken for, the parser then looks at the true root
    assert root_name(data) == name


def test_json_nested_without_end_and_numbers_beyond_use(tmp_path):
    path = tmp_path / "a.geojson"
    for text in ('{"type": "FeatureCollection", "features": ' + "[" * 100_000, '{"a": ' + "9" * 5_000 + "}"):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(FileError, match="no end"):
            read_features(path)
    deep = STOP
    for _ in range(500):
        deep = [deep]
    odd = [
        feature("Point", value, COUNTS)
        for value in (
            [float("nan"), 1.0],
            [float("inf"), 1.0],
            [10**400, 1],
            [1e300, 1.0],
            ["1", "2"],
            [True, 1],
            {"a": 1},
            deep,
        )
    ]
    for crs in ("", "EPSG:32610", "EPSG:3857"):
        path.write_text(collection([*odd, None, 3, [], {"geometry": 7}, *features_all()]), encoding="utf-8")
        read = read_ground(path, crs)
        assert len(read.problems) == len(odd) + 4
        assert len(read.value.stops) == 1


@pytest.mark.parametrize(
    "text", ["nan,38", "1e999,38", "-122.7", "-122.7;38.28", "a,b", "-122.7,38.28,0,0 , ", "1_22,38", "0,0", "38.28,-122.7"]
)
def test_coordinates_of_kml_that_are_none(tmp_path, text):
    path = tmp_path / "a.kml"
    path.write_text(kml(mark("A", f"<Point><coordinates>{text}</coordinates></Point>", COUNTS)), encoding="utf-8")
    read = read_features(path)
    assert (len(read.value), len(read.problems)) == (0, 1)


@pytest.mark.parametrize(
    "place", ['lat="x" lon="1"', 'lat="38"', "", 'lat="nan" lon="1"', 'lat="-122.7" lon="38.28"', 'lat="0" lon="0"']
)
def test_positions_of_gpx_that_are_none(tmp_path, place):
    path = tmp_path / "a.gpx"
    path.write_text(
        gpx(f"<wpt {place}><desc>examined=3; infected=1</desc><time>2026-06-12T01:00:00Z</time></wpt>"), encoding="utf-8"
    )
    read = read_features(path)
    assert (len(read.value), len(read.problems)) == (0, 1)


def test_an_archive_that_swells_is_refused_unread(tmp_path):
    bomb = zipped(tmp_path / "a.zip", {"doc.kml": bytes(30_000_000)})
    assert bomb.stat().st_size < 100_000
    with pytest.raises(FileError, match=r"grows [\d,]+-fold"):
        read_ground(bomb)
    many = zipped(tmp_path / "b.zip", {f"{number}.kml": b"" for number in range(1_001)})
    with pytest.raises(FileError, match="at most 1,000"):
        read_ground(many)


def test_a_size_that_lies_is_found_out(tmp_path):
    path = zipped(tmp_path / "a.zip", {"doc.kml": kml_all() + " " * 100_000})
    data = bytearray(path.read_bytes())
    central = data.rindex(b"PK\x01\x02")
    struct.pack_into("<I", data, central + 24, 50)
    path.write_bytes(data)
    with pytest.raises(FileError, match="damaged"):
        read_ground(path)


@pytest.mark.parametrize("name", ["../doc.kml", "/etc/doc.kml", "a/../../doc.kml", "..\\doc.kml", "C:\\doc.kml"])
def test_paths_that_lead_out_are_refused_and_nothing_is_written(tmp_path, name):
    folder = tmp_path / "in" / "deep"
    folder.mkdir(parents=True)
    path = zipped(folder / "a.kmz", {"ok.kml": kml_all(), name: b"x"})
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(FileError, match="outside its folder"):
        read_ground(path)
    assert sorted(tmp_path.rglob("*")) == before


def test_archives_inside_doubled_names_and_locks_are_refused(tmp_path):
    inner = zipped(tmp_path / "in.kmz", {"doc.kml": kml_all()}).read_bytes()
    with pytest.raises(FileError, match="another archive"):
        read_ground(zipped(tmp_path / "a.zip", {"doc.kml": kml_all(), "in.kmz": inner}))
    with pytest.raises(FileError, match="packed in a way"):
        read_ground(zipped(tmp_path / "b.zip", {"doc.kml": kml_all()}, zipfile.ZIP_BZIP2))
    twice = zipped(tmp_path / "c.zip", {"doc.kml": kml_all(), "dod.kml": kml_all()})
    twice.write_bytes(twice.read_bytes().replace(b"dod.kml", b"doc.kml"))
    with pytest.raises(FileError, match="two files of one name"):
        read_ground(tmp_path / "c.zip")
    locked = zipped(tmp_path / "d.zip", {"doc.kml": kml_all()})
    data = bytearray(locked.read_bytes())
    for sign, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        data[data.index(sign) + offset] |= 1
    locked.write_bytes(data)
    with pytest.raises(FileError, match="password"):
        read_ground(locked)


def test_an_archive_without_ground_is_refused(tmp_path):
    with pytest.raises(FileError):
        kind_of(zipped(tmp_path / "a.zip", {"letter.txt": b"hello"}))


def test_shapefiles_are_read_in_a_folder_that_is_gone_afterwards(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "temporary"))
    (tmp_path / "temporary").mkdir()
    assert read_any(make(tmp_path, "a.zip")) == 1
    path = make(tmp_path, "a.shp")
    path.with_suffix(".dbf").write_bytes(b"\xff" * 500)
    with pytest.raises(FileError):
        read_ground(path)
    assert list((tmp_path / "temporary").iterdir()) == []


def test_shapes_without_place_and_of_other_kinds(tmp_path):
    shapes = [None, shapely.MultiPoint([STOP, STOP]), shapely.MultiPoint([STOP])]
    columns = {"date": ["2026-06-12"] * 3, "examined": np.array([20, 20, 20]), "infected": np.array([3, 3, 3])}
    path = write_gdal(tmp_path / "a.gpkg", shapes, columns, "MultiPoint", "EPSG:4326", driver="GPKG")
    read = read_stops(path)
    assert [each.lonlat_deg for each in read.value] == [STOP]
    assert [each.why for each in read.problems] == ["there is no geometry", "has 2 separate parts"]


def test_a_map_system_that_cannot_be_used_is_named(tmp_path):
    path = write_shape(tmp_path / "a.shp")
    path.with_suffix(".prj").write_text("PROJCS[nonsense", encoding="utf-8")
    with pytest.raises(FileError, match=r"a\.shp: The map system"):
        read_ground(path)


def test_a_ring_of_kml_that_is_open_is_left_for_the_grower(tmp_path):
    path = tmp_path / "a.kml"
    path.write_text(
        kml(mark("A", kml_polygon(RING[:-1])), mark("B", f"<LinearRing>{kml_text(RING)}</LinearRing>")), encoding="utf-8"
    )
    read = read_features(path)
    assert [each.why for each in read.problems] == ["the outline is not closed"]
    assert [each.kind for each in read.value] == ["LineString"]
