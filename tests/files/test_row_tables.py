"""Outlines and rows in tables: well-known text, the two ends of rows, and lists of rows. All of it is invented."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import FileError
from vinemap.files.cells import Refused
from vinemap.files.ground_reader import read_ground
from vinemap.files.kinds import kind_of
from vinemap.files.matching import proposal_for
from vinemap.files.row_list import read_row_list, with_listed_rows
from vinemap.files.row_tables import shape_of, table_features
from vinemap.files.table import write_table
from vinemap.ground.block import Block
from vinemap.ground.rowmaker import make_rows
from vinemap.service.systems import without_system

LINES = [[[-122.7, 38.6], [-122.7, 38.601]], [[-122.69997, 38.6], [-122.69997, 38.601]]]


def save(tmp_path, text, name="rows.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def said(problems):
    return " | ".join(map(str, problems))


# --- well-known text: OGC 06-103r4, clause 7.2, table 6, has these examples ---------------------------------------


@pytest.mark.parametrize(
    ("text", "kind", "coordinates"),
    [
        ("Point (10 10)", "Point", [10, 10]),
        ("LineString ( 10 10, 20 20, 30 40)", "LineString", [[10, 10], [20, 20], [30, 40]]),
        ("Polygon\n((10 10, 10 20, 20 20, 20 15, 10 10))", "Polygon", [[[10, 10], [10, 20], [20, 20], [20, 15], [10, 10]]]),
        ("MultiLineString ((10 10, 20 20), (15 15, 30 15))", "MultiLineString", [[[10, 10], [20, 20]], [[15, 15], [30, 15]]]),
        ("POINT ZM (10 10 5 40)", "Point", [10, 10, 5, 40]),
        ("LINESTRINGZ(1 2 3,4 5 6)", "LineString", [[1, 2, 3], [4, 5, 6]]),
        ("linestring (-1e1 +.5, 2. 3)", "LineString", [[-10, 0.5], [2, 3]]),
    ],
)
def test_well_known_text_is_read_as_the_standard_has_it(text, kind, coordinates):
    assert shape_of(text) == ({"type": kind, "coordinates": coordinates}, "")


@settings(max_examples=60, derandomize=True)
@given(st.lists(st.tuples(st.floats(-180, 180), st.floats(-90, 90)), min_size=4, max_size=9, unique=True))
def test_text_is_read_as_another_reader_reads_it(points):
    text = shapely.to_wkt(shapely.Polygon(points), rounding_precision=-1)
    shape, _ = shape_of(text)
    assert np.array_equal(np.array(shape["coordinates"][0]), np.array(shapely.from_wkt(text).exterior.coords))


@pytest.mark.parametrize(
    "text",
    [
        "",
        "POLYGON EMPTY",
        "LINESTRING (1 2, 3",
        "LINESTRING 1 2, 3 4",
        "CIRCULARSTRING (0 0, 1 1, 2 0)",
        "LINESTRING (1 a, 2 3)",
        "LINESTRING (e e, 1 1)",
        "POINT (1e999 2)",
        "POLYGON " + "(" * 100_000 + ")",
    ],
)
def test_what_is_no_shape_is_refused_at_its_column(text):
    with pytest.raises(Refused) as refused:
        shape_of(text)
    assert refused.value.field == "wkt"
    assert "LINESTRING (lon lat" in refused.value.do


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        ("POLYGON ((0 1, 1 1, 1 2, 0 2))", "the outline is not closed"),
        ("POLYGON ((0 1, 1 2, 1 1, 0 2, 0 1))", "crosses itself"),
        ("MULTIPOLYGON (((0 1, 1 1, 1 2, 0 1)), ((5 1, 6 1, 6 2, 5 1)))", "has 2 separate parts"),
        ("LINESTRING (1 1, 1 1)", "is a single point"),
        ("LINESTRING (38.6 -122.7, 38.7 -122.7)", "latitude and longitude seem to be swapped"),
        ("LINESTRING (0 0, 1 1)", "zero, zero"),
        ("LINESTRING (1, 2)", "a position is not a pair of numbers"),
    ],
)
def test_a_shape_that_is_not_sound_is_refused_with_its_line(tmp_path, shape, words):
    path = save(tmp_path, f'block,row,wkt\nA,1,"LINESTRING (-122.7 38.6, -122.7 38.601)"\nA,2,"{shape}"\n')
    read = read_ground(path)
    assert [each.row for each in read.value.rows] == ["1"]
    assert words in said(read.problems)
    assert {each.place for each in read.problems} == {"line 3"}


def test_outlines_and_rows_are_told_apart_by_their_shape(tmp_path):
    outline = 'A,,"POLYGON ((-122.7 38.6, -122.69 38.6, -122.69 38.61, -122.7 38.6))"\n'
    row = 'A,1,"LINESTRING (-122.7 38.6, -122.7 38.601)"\n'
    head = "block,row,WKT\n"
    kinds = [kind_of(save(tmp_path, head + lines, f"{n}.csv")) for n, lines in enumerate((outline, row, outline + row))]
    assert kinds == ["outlines", "rows", "mixed"]
    found = read_ground(tmp_path / "2.csv").value
    assert (len(found.outlines), len(found.rows), len(found.stops)) == (1, 1, 0)


def test_a_table_of_figures_with_points_as_text_stays_one(tmp_path):
    assert kind_of(save(tmp_path, 'lon,lat,vigour,wkt\n-122.7,38.6,0.4,"POINT (-122.7 38.6)"\n')) == "readings"


# --- the map system ------------------------------------------------------------------------------------------------


def in_metres():
    from pyproj import Transformer

    east, north = Transformer.from_crs(4326, 32610, always_xy=True).transform(*np.array(LINES).reshape(-1, 2).T)
    return np.column_stack([east, north]).reshape(-1, 2, 2)


def test_metres_are_turned_where_their_system_is_named_and_asked_for_where_not(tmp_path):
    shapes = [f'"LINESTRING ({a[0]} {a[1]}, {b[0]} {b[1]})"' for a, b in in_metres()]
    bare = save(tmp_path, "block,row,wkt\n" + "".join(f"A,{n},{each}\n" for n, each in enumerate(shapes)))
    with pytest.raises(FileError, match="--crs EPSG"):
        table_features(bare)
    assert without_system([bare]) == [bare]
    told = save(
        tmp_path,
        "block,row,wkt\n" + "".join(f'A,{n},"SRID=32610;{each[1:]}\n' for n, each in enumerate(shapes)),
        "told.csv",
    )
    assert without_system([told]) == []
    for read in (table_features(bare, "EPSG:32610"), table_features(told)):
        assert np.allclose([each.parts[0] for each in read.value], LINES, atol=1e-9)
        assert "UTM zone 10N" in read.notes[-1]
    ends = save(
        tmp_path,
        "block,row,start_x_m,start_y_m,end_x_m,end_y_m\n"
        + "".join(f"A,{n},{a[0]},{a[1]},{b[0]},{b[1]}\n" for n, (a, b) in enumerate(in_metres())),
        "ends.csv",
    )
    assert without_system([ends]) == [ends]
    with pytest.raises(FileError, match="ends of rows in metres"):
        table_features(ends)
    assert np.allclose([each.parts[0] for each in table_features(ends, "EPSG:32610").value], LINES, atol=1e-9)


def test_shapes_of_two_map_systems_in_one_table_are_refused(tmp_path):
    path = save(tmp_path, 'block,row,wkt\nA,1,"SRID=4326;LINESTRING (1 2, 3 4)"\nA,2,"LINESTRING (1 2, 3 4)"\n')
    with pytest.raises(FileError, match="several map systems"):
        table_features(path)


# --- the ends of rows ----------------------------------------------------------------------------------------------


def test_the_ends_of_rows_with_decimal_commas_and_in_minutes(tmp_path):
    text = "block;row;vines;start_lon;start_lat;end_lon;end_lat\n"
    text += "A;007;40;-122,7;38,6;-122,7;38,601\n"
    text += "A;8;40;122°41'59,892\"W;38°36'N;122°41'59,892\"W;38°36'3,6\"N\n"
    read = read_ground(save(tmp_path, text))
    assert read.problems == ()
    assert [(each.row, each.vines) for each in read.value.rows] == [("007", 40), ("8", 40)]
    assert np.allclose([each.line for each in read.value.rows], LINES, atol=1e-9)


@pytest.mark.parametrize(
    ("cells", "field", "words"),
    [
        ("-122.7,38.6,-122.7,", "end_lat", "there is nothing here"),
        ("-122.7,x,-122.7,38.601", "start_lat", "is not a number"),
        ("38.6,-122.7,38.601,-122.7", "start_lon, start_lat", "seem to be swapped"),
        (",,-122.7,38.601", "", "does not say where the row begins and ends"),
        ("-122.7,38.6,-122.7,38.6", "geometry", "is a single point"),
    ],
)
def test_a_bad_end_is_refused_under_its_own_name(tmp_path, cells, field, words):
    head = "block,row,start_lon,start_lat,end_lon,end_lat\n"
    read = read_ground(save(tmp_path, f"{head}A,1,-122.7,38.6,-122.7,38.601\nA,2,{cells}\n"))
    assert len(read.value.rows) == 1
    assert read.problems[0].field == field
    assert read.problems[0].place == "line 3"
    assert words in read.problems[0].why


@pytest.mark.parametrize(
    "head",
    [
        "block,row,vine_spacing_m,vines,WKT",
        "block,row_spacing_m,varieties,WKT",
        "block,row,vines",
        "row,block,end_lat,end_lon,start_lat,start_lon",
    ],
)
def test_our_own_names_are_not_asked_about(tmp_path, head):
    cells = ",".join("1" for _ in head.split(","))
    assert proposal_for(save(tmp_path, f"{head}\n{cells}\n")) is None


# --- a list of rows on paper ---------------------------------------------------------------------------------------


def made_block(rows=4):
    outline = shapely.box(0.0, 0.0, 2.5 * rows, 30.0)
    return Block("A", outline, make_rows(outline, 0.0, 2.5, 1.5), 2.5, 1.5)


def listed(tmp_path, *lines, head="block,row,vines,vine_spacing_m"):
    path = save(tmp_path, "\n".join((head, *lines)) + "\n")
    assert kind_of(path) == "row list"
    return read_row_list(path)


def test_a_list_names_and_counts_the_rows_in_order(tmp_path):
    block = made_block()
    assert block.rows.vine_count.tolist() == [20] * 4
    read = listed(tmp_path, "A,12,18,", "A,12a,20,", "A,014,,", "A,15,14,2")
    made = with_listed_rows(block, read.value)
    assert made.problems == ()
    rows = made.value.rows
    assert rows.labels == ("12", "12a", "014", "15")
    assert rows.vine_count.tolist() == [18, 20, 20, 14]
    assert rows.vine_spacing_m.tolist() == [1.5, 1.5, 1.5, 2.0]
    assert np.array_equal(rows.xy_m, block.rows.xy_m)


def test_the_same_labels_in_another_order_keep_their_rows(tmp_path):
    read = listed(tmp_path, "A,4,14,", "A,3,13,", "A,2,12,", "A,1,11,")
    rows = with_listed_rows(made_block(), read.value).value.rows
    assert rows.labels == ("1", "2", "3", "4")
    assert rows.vine_count.tolist() == [11, 12, 13, 14]


def test_a_list_of_another_length_is_refused_with_both_numbers(tmp_path):
    read = listed(tmp_path, "A,1,20", "A,2,20", head="block,row,vines")
    with pytest.raises(Refused, match=r"the list has 2 rows, the block 4 at 2.5 m"):
        with_listed_rows(made_block(), read.value)


def test_a_label_twice_and_more_vines_than_fit(tmp_path):
    twice = listed(tmp_path, "A,1,20,", "A,1,20,", "A,2,20,", "A,3,20,")
    with pytest.raises(Refused, match="twice"):
        with_listed_rows(made_block(), twice.value)
    many = listed(tmp_path, "A,a,20,", "A,b,99,", "A,c,20,", "A,d,20,")
    made = with_listed_rows(made_block(), many.value)
    assert "99 vines every 1.5 m need 147 m" in said(made.problems)
    assert made.problems[0].place == "line 3"
    assert made.value.rows.labels == ("a", "b", "c", "d")
    assert made.value.rows.vine_count.tolist() == [20] * 4


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("A,,20,", "row: there is nothing here"),
        ("A,1/2,20,", "holds a /"),
        ("A,1,2.5,", "whole number"),
        (",1,5,", "no block"),
        ("A,1,5,99", "must be from 0.3 to 20"),
    ],
)
def test_a_line_of_a_list_that_says_nothing_is_left_out(tmp_path, line, words):
    read = listed(tmp_path, "A,9,20,", line)
    assert [each.row for each in read.value] == ["9"]
    assert words in said(read.problems)


def test_a_workbook_holds_such_tables_too(tmp_path):
    from openpyxl import Workbook

    book = Workbook()
    book.active.append(["some", "notes"])
    sheet = book.create_sheet("rows")
    for line in (["block", "row", "WKT"], ["A", "012", "LINESTRING (-122.7 38.6, -122.7 38.601)"]):
        sheet.append(line)
    book.save(tmp_path / "rows.xlsx")
    assert kind_of(tmp_path / "rows.xlsx") == "rows"
    assert [each.row for each in read_ground(tmp_path / "rows.xlsx").value.rows] == ["012"]


def test_a_tab_parts_cells_as_well(tmp_path):
    write_table(tmp_path / "a.csv", ("block", "row", "vines"), [("=A", "1", 5)])
    text = (tmp_path / "a.csv").read_text(encoding="utf-8").replace(",", "\t")
    (row,) = read_row_list(save(tmp_path, text, "a.tsv")).value
    assert (row.block, row.row, row.vines) == ("=A", "1", 5)
