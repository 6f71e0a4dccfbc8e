"""Outlines and rows: what comes in, what is refused and with which sentence."""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely

from vinemap.errors import FileError, InputError
from vinemap.files.geojson import read_features
from vinemap.files.ground_reader import read_ground
from vinemap.files.outlines import centre_deg, read_outlines
from vinemap.files.placing import place_blocks
from vinemap.files.projection import frame_for, to_local, to_lonlat
from vinemap.files.row_lines import read_rows
from vinemap.ground.vines import place_vines, usual_bearing_deg

FRAME = frame_for(-122.7, 38.6)
SPACED = {"row_spacing_m": 3.0, "vine_spacing_m": 2.0}


def lonlat(points_m):
    lon, lat = to_lonlat(FRAME, np.array(points_m, float)[:, 0], np.array(points_m, float)[:, 1])
    return np.column_stack([lon, lat]).tolist()


def box(x0, y0, x1, y1):
    return [[x0, y0], [x1, y0], [x1, y1], [x0, y1], [x0, y0]]


def outline(name="A", ring=None, holes=(), **properties):
    rings = [lonlat(ring or box(0, 0, 60, 80)), *(lonlat(hole) for hole in holes)]
    return feature("Polygon", rings, block=name, **{**SPACED, **properties})


def row(label, x, block="A", y0=1.0, y1=79.0, **properties):
    return feature("LineString", lonlat([[x, y0], [x, y1]]), block=block, row=label, **properties)


def feature(kind, coordinates, **properties):
    return {"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": coordinates}}


def save(tmp_path, *features, name="ground.geojson", **more):
    path = tmp_path / name
    path.write_text(json.dumps({"type": "FeatureCollection", "features": list(features), **more}), encoding="utf-8")
    return path


def sentences(problems):
    assert all(problem.why and problem.file for problem in problems)
    return " | ".join(str(problem) for problem in problems)


# --- RFC 7946, Appendix A: its own examples -------------------------------------------------------------------------

RFC_POLYGON = [[[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]]]
RFC_HOLE = [[100.8, 0.8], [100.8, 0.2], [100.2, 0.2], [100.2, 0.8], [100.8, 0.8]]
RFC_MULTIPOLYGON = [
    [[[102.0, 2.0], [103.0, 2.0], [103.0, 3.0], [102.0, 3.0], [102.0, 2.0]]],
    [RFC_POLYGON[0], [[100.2, 0.2], [100.2, 0.8], [100.8, 0.8], [100.8, 0.2], [100.2, 0.2]]],
]


def test_the_standards_own_examples(tmp_path):
    path = save(
        tmp_path,
        feature("Polygon", RFC_POLYGON),
        feature("Polygon", [*RFC_POLYGON, RFC_HOLE]),
        feature("LineString", [[100.0, 0.0], [101.0, 1.0]]),
        feature("Point", [100.0, 0.0]),
    )
    read = read_features(path)
    assert [each.kind for each in read.value] == ["Polygon", "Polygon", "LineString", "Point"]
    assert shapely.Polygon(read.value[1].parts[0], [read.value[1].parts[1]]).area == pytest.approx(1.0 - 0.36)
    assert read.value[3].parts[0].tolist() == [[100.0, 0.0]]
    assert not read.problems


def test_several_parts_are_refused_and_one_is_accepted(tmp_path):
    read = read_features(
        save(
            tmp_path,
            feature("MultiPolygon", RFC_MULTIPOLYGON, block="Two"),
            feature("MultiPolygon", RFC_MULTIPOLYGON[:1], block="One"),
            feature("MultiLineString", [[[100.0, 0.0], [101.0, 1.0]], [[102.0, 2.0], [103.0, 3.0]]], row=1),
            feature("MultiPoint", [[100.0, 0.0], [101.0, 1.0]]),
            {"type": "Feature", "properties": {}, "geometry": {"type": "GeometryCollection", "geometries": []}},
        )
    )
    assert [each.kind for each in read.value] == ["Polygon"]
    said = sentences(read.problems)
    assert "feature 1, block Two, geometry = MultiPolygon" not in said
    assert "feature 1, block Two: geometry = MultiPolygon: has 2 separate parts. Split it" in said
    assert "GeometryCollection: is not a kind of geometry used here" in said
    assert len(read.problems) == 4


def test_winding_the_other_way_is_accepted(tmp_path):
    # RFC 7946, 3.1.6: parsers should not reject polygons that do not follow the right-hand rule
    path = save(tmp_path, outline(ring=box(0, 0, 60, 80)[::-1], bearing_deg=0))
    block = place_blocks(read_outlines(path).value, [], FRAME).value[0]
    assert block.outline.area == pytest.approx(4800.0, rel=1e-6)


# --- what can't be a file of features ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b" \n\t ", "is empty"),
        (b'{"type": "FeatureCollection",\n "features": [,]}', "is not JSON: .* at line 2, column 15"),
        (b'{"type": "FeatureCollection", "features": [', "is not JSON"),
        (b"[1, 2]", "not a GeoJSON collection"),
        (b"17", "not a GeoJSON collection"),
        (b'{"type": "Topology"}', "not a GeoJSON collection"),
        (b'{"type": "FeatureCollection", "features": []}', r"holds no outlines \(Polygons\)"),
        (b'{"type": "FeatureCollection", "features": 3}', "no list of features"),
        (b'{"type": "FeatureCollection"}', "no list of features"),
        (b"[" * 200_000, "no end"),
        (b"7" * 5_000, "no end"),
        (b"\x00\x01\x02PNG\x89\xff", "not a text file"),
        (
            b'{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"our own grid"}},"features":[]}',
            "another map system",
        ),
    ],
)
def test_files_that_are_refused_whole(tmp_path, content, words):
    path = tmp_path / "outlines.geojson"
    path.write_bytes(content)
    with pytest.raises(FileError, match=words) as caught:
        read_outlines(path)
    assert caught.value.do
    assert "outlines.geojson" in caught.value.what


def test_no_such_file_and_a_folder(tmp_path):
    with pytest.raises(FileError, match=r"There is no file lost\.geojson"):
        read_outlines(tmp_path / "lost.geojson")
    with pytest.raises(FileError, match="is a folder"):
        read_outlines(tmp_path)


def test_a_file_above_the_limit(tmp_path):
    path = tmp_path / "huge.geojson"
    with path.open("wb") as stream:
        stream.truncate(200_000_001)
    with pytest.raises(FileError, match="is 200 MB; at most 200 MB can be read"):
        read_outlines(path)


def test_the_old_crs_member_for_the_same_system_is_accepted(tmp_path):
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    assert len(read_outlines(save(tmp_path, outline(), crs=crs)).value) == 1


def test_rows_asked_of_a_file_of_outlines(tmp_path):
    with pytest.raises(FileError, match=r"holds no rows \(LineStrings\)"):
        read_rows(save(tmp_path, outline()))


def test_byte_order_mark_and_other_encodings(tmp_path):
    text = json.dumps({"type": "FeatureCollection", "features": [outline("Peña Alta")]}, ensure_ascii=False)
    for name, encoding in (("a", "utf-8"), ("b", "utf-8-sig"), ("c", "utf-16"), ("d", "cp1252")):
        path = tmp_path / f"{name}.geojson"
        path.write_bytes(text.encode(encoding))
        read = read_outlines(path)
        assert read.value[0].block == "Peña Alta"
        assert bool(read.notes) == (encoding in ("utf-16", "cp1252"))
    decomposed = save(tmp_path, outline("Pen\u0303a Alta"))
    assert read_outlines(decomposed).value[0].block == "Peña Alta"


# --- geometry that is refused while the rest comes in -----------------------------------------------------------------

SQUARE = [[-122.7, 38.6], [-122.699, 38.6], [-122.699, 38.601], [-122.7, 38.601], [-122.7, 38.6]]


@pytest.mark.parametrize(
    ("kind", "coordinates", "words"),
    [
        ("Polygon", [SQUARE[:-1]], "the outline is not closed. Make its last point the same as its first."),
        ("Polygon", [[SQUARE[0], SQUARE[1], SQUARE[0]]], "has fewer than three corners"),
        ("Polygon", [[SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3], SQUARE[0]]], "crosses itself near -122.69"),
        ("Polygon", [[SQUARE[0]] * 5], "crosses itself"),
        ("Polygon", [SQUARE, [[lon + 1, lat] for lon, lat in SQUARE]], "a hole lies outside the outline"),
        ("Polygon", [SQUARE, SQUARE], "holes touch or cover each other or the outline"),
        ("Polygon", [[[lat, lon] for lon, lat in SQUARE]], "latitude and longitude seem to be swapped"),
        ("Polygon", [[[526100.0 + i, 4272400.0] for i in (0, 1, 2, 0)]], "it looks like metres on a map grid"),
        ("Polygon", [[[0.0, 0.0], *SQUARE[1:4], [0.0, 0.0]]], "a position is zero, zero"),
        ("Polygon", [], "is empty"),
        ("Polygon", [[]], "is empty"),
        ("Polygon", None, "is empty"),
        ("Polygon", [[["a", "b"]] * 4], "a position is not a pair of numbers"),
        ("Polygon", [[[1.0]] * 4], "a position is not a pair of numbers"),
        ("Polygon", [[[True, False]] * 4], "a position is not a pair of numbers"),
        ("Polygon", [[[float("nan"), 38.6], *SQUARE[1:4], SQUARE[0]]], "a position is not a finite number"),
        ("Polygon", [[[float("inf"), 38.6], *SQUARE[1:4], SQUARE[0]]], "a position is not a finite number"),
        ("Polygon", [[[10**400, 38.6], *SQUARE[1:4], SQUARE[0]]], "a position is not a finite number"),
        ("Polygon", {"x": 1}, "is empty"),
        ("LineString", [SQUARE[0], SQUARE[0]], "is a single point"),
        ("Circle", SQUARE, "is not a kind of geometry used here"),
        (["Polygon"], SQUARE, "is not a kind of geometry used here"),
    ],
)
def test_bad_geometry_is_named_and_the_good_comes_in(tmp_path, kind, coordinates, words):
    good, bad = outline("Good"), feature(kind, coordinates, block="Bad")
    path = tmp_path / "ground.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [bad, good]}), encoding="utf-8")
    read = read_ground(path)
    assert [each.block for each in read.value.outlines] == ["Good"]
    assert len(read.problems) == 1
    assert "ground.geojson, feature 1, block Bad" in str(read.problems[0])
    assert words in str(read.problems[0])
    assert read.problems[0].do


@pytest.mark.parametrize("item", [None, 7, [], {}, {"geometry": None}, {"geometry": []}, {"properties": [1]}])
def test_features_that_are_none(tmp_path, item):
    read = read_outlines(save(tmp_path, item, outline()))
    assert len(read.value) == 1
    assert "there is no geometry" in str(read.problems[0])


def test_heights_are_left_aside(tmp_path):
    ring = [[*point, 120.5] if index % 2 else point for index, point in enumerate(SQUARE)]
    assert read_outlines(save(tmp_path, feature("Polygon", [ring], block="A"))).value[0].rings[0].shape == (5, 2)


# --- properties ----------------------------------------------------------------------------------------------------------


def test_properties_in_any_case_and_both_names(tmp_path):
    properties = {" Name ": "Alta", "VARIETIES": ["Syrah", "Muscat", "Syrah"], "Training": "FREE-STANDING", "vigour": 0.9}
    draft = read_outlines(save(tmp_path, feature("Polygon", [SQUARE], **properties))).value[0]
    assert (draft.block, draft.varieties, draft.training, draft.vigour) == ("Alta", ("Syrah", "Muscat"), "free-standing", 0.9)
    assert (draft.row_spacing_m, draft.vine_spacing_m, draft.bearing_deg) == (None, None, None)
    draft = read_outlines(save(tmp_path, feature("Polygon", [SQUARE], block=7, varieties="A; B;", vigour=0))).value[0]
    assert (draft.block, draft.varieties, draft.vigour) == ("7", ("A", "B"), 0.0)


@pytest.mark.parametrize(
    ("properties", "words"),
    [
        ({"block": ""}, "has no block name"),
        ({"block": "A/B"}, "holds a /"),
        ({"row_spacing_m": 0}, "row_spacing_m = 0: must be from 0.3 to 20. Is it in metres?"),
        ({"vine_spacing_m": 240}, "vine_spacing_m = 240: must be from 0.3 to 20. Is it in metres?"),
        ({"vine_spacing_m": "six feet"}, "vine_spacing_m = six feet: is not a number"),
        ({"vine_spacing_m": float("nan")}, "vine_spacing_m = nan: is not a number"),
        ({"bearing_deg": 1000}, "must be from -360 to 360"),
        ({"vigour": 5}, "vigour = 5: must be from 0 to 1"),
        ({"training": "bush"}, "is not one of the words used here. Write one of: row wall, free-standing."),
        ({"varieties": [f"v{i}" for i in range(200)]}, "names more than 127 varieties"),
    ],
)
def test_bad_properties(tmp_path, properties, words):
    bad = feature("Polygon", [SQUARE], **{"block": "Bad", **properties})
    read = read_outlines(save(tmp_path, bad, outline("Good")))
    assert [each.block for each in read.value] == ["Good"]
    assert words in sentences(read.problems)


# --- placing ---------------------------------------------------------------------------------------------------------------


def placed(tmp_path, *features):
    read = read_ground(save(tmp_path, *features))
    blocks = place_blocks(read.value.outlines, read.value.rows, FRAME)
    return blocks, sentences((*read.problems, *blocks.problems))


def test_rows_are_placed_in_the_order_of_the_file(tmp_path):
    blocks, said = placed(tmp_path, row("10", 4.5, vines=40), outline(), row("2", 1.5), row(3, 7.5, vine_spacing_m=1.5))
    block = blocks.value[0]
    assert said == ""
    assert block.rows.labels == ("10", "2", "3")
    # 78 m at 2 m: 40 places; at 1.5 m: 53; the first count is the file's own
    assert block.rows.vine_count.tolist() == [40, 40, 53]
    assert block.rows.vine_spacing_m.tolist() == [2.0, 2.0, 1.5]
    vines = place_vines(block)
    assert vines.x_m[:3].tolist() == pytest.approx([4.5, 4.5, 4.5], abs=1e-6)
    assert vines.y_m[:3].tolist() == pytest.approx([1.0, 3.0, 5.0], abs=1e-6)


def test_rows_are_made_where_there_are_none_and_it_is_said(tmp_path):
    blocks, said = placed(tmp_path, outline(bearing_deg=0.0))
    assert said == ""
    assert len(blocks.value[0].rows) == 20
    assert blocks.value[0].rows.vine_count.tolist() == [40] * 20
    assert "A: 20 rows were made from the outline" in blocks.notes[0]
    assert usual_bearing_deg(blocks.value[0].rows) % 180.0 == pytest.approx(0.0, abs=1e-9)


def test_row_spacing_is_measured_where_it_is_not_given(tmp_path):
    blocks, said = placed(tmp_path, outline(row_spacing_m=None), *(row(str(i), 2.0 + 2.8 * i) for i in range(6)))
    assert said == ""
    assert blocks.value[0].row_spacing_m == pytest.approx(2.8, abs=1e-6)
    assert "row spacing 2.80 m was measured" in blocks.notes[0]


@pytest.mark.parametrize(
    ("features", "words", "left"),
    [
        (
            [outline(), row("1", 3.0), outline(ring=box(100, 0, 160, 80))],
            "there is already a block of this name, at feature 1",
            1,
        ),
        (
            [outline(), row("1", 3.0), row("1", 6.0)],
            "row 1: row = 1: the block already has a row of this label, at feature 2",
            1,
        ),
        (
            [outline(), row("1", 3.0), row("1", 6.0, block="Z")],
            "block = Z: there is no outline of this block. The blocks are A.",
            1,
        ),
        ([outline(), row("1", 3.0), row("2", 90.0)], "78 m of its 78 m lie outside the outline of A", 1),
        ([outline(), row("1", 3.0), row("2", 6.0, y1=120.0)], "m of its 119 m lie outside the outline of A", 1),
        ([outline(), row("1", 3.0), row("2", 6.0, vines=90)], "90 vines every 2 m need 178 m but the row is 78 m long", 1),
        ([outline(), row("1", 3.0), row("2", 6.0, vines=-3)], "vines = -3: must be from 1 to 20000", 1),
        ([outline(), row("1", 3.0), row("2", 6.0, vines=2.5)], "vines = 2.5: is not a whole number", 1),
        ([outline(), row("1", 3.0), row("", 6.0)], "row: there is nothing here", 1),
        ([outline(), row("1", 3.0), row("1/2", 6.0)], "holds a /", 1),
        ([outline(row_spacing_m=None), row("1", 3.0)], "row_spacing_m: can’t be measured from the rows", 0),
        ([outline(ring=box(0, 0, 0.5, 0.5), bearing_deg=0)], "No vine fits into the outline", 0),
    ],
)
def test_what_placing_leaves_out(tmp_path, features, words, left):
    blocks, said = placed(tmp_path, *features)
    assert words in said
    assert len(blocks.value) == left
    if left:
        assert blocks.value[0].rows.labels == ("1",)


@pytest.mark.parametrize(
    ("features", "note", "said"),
    [
        ([outline()], "A: it has no rows yet.", ""),
        ([outline(row_spacing_m=None, vine_spacing_m=None)], "A: it has no rows yet.", ""),
        (
            [outline(), row("1", 300.0)],
            "A: none of its rows can be used.",
            "lie outside the outline",
        ),
        (
            [outline(vine_spacing_m=None), row("1", 3.0)],
            "A: none of its rows can be used.",
            "neither the row nor its block gives a vine spacing",
        ),
    ],
)
def test_an_outline_comes_in_without_rows(tmp_path, features, note, said):
    blocks, problems = placed(tmp_path, *features)
    (block,) = blocks.value
    assert len(block.rows) == 0
    assert block.outline.area == pytest.approx(60 * 80, rel=1e-3)
    assert any(each.startswith(note) for each in blocks.notes)
    assert said in problems
    assert bool(said) == bool(problems)


def test_an_outline_far_away_and_one_with_its_numbers_swapped():
    # near 45 N, 45 E both orders are places on earth, so only the rest of the estate can tell
    frame = frame_for(44.0, 45.5)
    assert to_local(frame, [44.0], [45.5])[0][0] == pytest.approx(0.0, abs=51)
    from vinemap.files.cells import Refused
    from vinemap.files.placing import local_points

    with pytest.raises(Refused, match="seem to be swapped"):
        local_points(frame, np.array([[45.5, 44.0]]))
    with pytest.raises(Refused, match=r"lies \d+ km from the rest of the estate"):
        local_points(frame, np.array([[44.0, 46.5]]))
    assert local_points(frame, np.array([[44.3, 45.6]])).shape == (1, 2)


def test_the_middle_of_the_estate_does_not_follow_a_stray_outline(tmp_path):
    stray = feature("Polygon", [[[lon + 100, lat - 60] for lon, lat in SQUARE]], block="Stray")
    drafts = read_outlines(save(tmp_path, outline("A"), outline("B"), stray)).value
    lon, lat = centre_deg(drafts)
    assert (lon, lat) == (pytest.approx(-122.7, abs=0.01), pytest.approx(38.6, abs=0.01))
    with pytest.raises(InputError, match="no outlines"):
        centre_deg([])


def test_a_point_drawn_twice_does_not_break_a_row(tmp_path):
    line = feature("LineString", lonlat([[3, 1], [3, 40], [3, 40], [3, 79], [3, 79]]), block="A", row="1", vines=41)
    blocks, said = placed(tmp_path, outline(), line)
    assert said == ""
    assert np.isfinite(place_vines(blocks.value[0]).y_m).all()
