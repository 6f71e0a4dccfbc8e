"""Stops and rounds: by vine, by longitude and latitude, by easting and northing; and what is refused."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import FileError
from vinemap.files.projection import frame_for, to_lonlat
from vinemap.files.stop_placing import place_stops
from vinemap.files.stop_reader import read_stops
from vinemap.files.table import read_table, write_table
from vinemap.ground.block import MISSING, Block, VineExceptions
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.vines import place_vines
from vinemap.scouting.rounds import DAYLIGHT, NO_LIGHT, NOT_NOTED, SOME_LIGHT

FRAME = frame_for(-122.7, 38.6)
HEADER = "round,date,scout,block,row,vine,examined,infected"


def block(name="A", x0=0.0, exceptions=None):
    outline = shapely.box(x0, 0, x0 + 60, 80)
    rows = make_rows(outline, 0.0, 3.0, 2.0)
    more = {} if exceptions is None else {"exceptions": exceptions}
    return Block(name, outline, rows, 3.0, 2.0, **more)


BLOCKS = (block("A"), block("B", 200.0))


def save(tmp_path, text, name="stops.csv", encoding="utf-8"):
    path = tmp_path / name
    path.write_bytes(text.encode(encoding))
    return path


def rounds_of(tmp_path, text, blocks=BLOCKS, **more):
    read = read_stops(save(tmp_path, text))
    placed = place_stops(read.value, blocks, FRAME, **more)
    return (
        placed.value,
        " | ".join(str(problem) for problem in (*read.problems, *placed.problems)),
        (*read.notes, *placed.notes),
    )


def test_stops_by_row_and_vine(tmp_path):
    rounds, said, notes = rounds_of(
        tmp_path,
        HEADER + ",leaves_examined,leaves_infected,sample_type\r\n"
        "2,2026-06-12,Bram,A,7,1,20,3,10,1,random\r\n1,2026-05-29,Inés,B,2,40,15,0,,,targeted\r\n"
        "1,2026-05-29,Bram,A,1,3,15,15,0,0,\r\n",
    )
    assert (said, notes) == ("", ())
    assert [(each.number, each.date, each.scout, each.protocol) for each in rounds] == [
        (1, dt.date(2026, 5, 29), "Inés, Bram", "random and targeted"),
        (2, dt.date(2026, 6, 12), "Bram", "random"),
    ]
    stops = rounds[0].stops
    assert stops.blocks == ("A", "B")
    assert [stops.blocks[index] for index in stops.block] == ["B", "A"]
    assert (stops.rows, stops.vine.tolist()) == (("2", "1"), [40, 3])
    # row 2 of B stands at 200 + 4.5 m, its vine 40 at 79 m; row 1 of A at 1.5 m, vine 3 at 5 m
    assert stops.x_m.tolist() == pytest.approx([204.5, 1.5])
    assert stops.y_m.tolist() == pytest.approx([79.0, 5.0])
    assert (stops.examined.tolist(), stops.infected.tolist()) == ([15, 15], [0, 15])
    assert stops.is_targeted.tolist() == [True, False]
    assert (rounds[1].stops.leaves_examined.tolist(), rounds[1].stops.leaves_infected.tolist()) == ([10], [1])


def test_without_a_round_number_each_date_is_one(tmp_path):
    text = "date,block,row,vine,examined,infected\n2026-06-12,A,1,1,9,1\n2026-05-29,A,1,2,9,2\n2026-06-12,A,1,3,9,3\n"
    rounds, said, _ = rounds_of(tmp_path, text)
    assert said == ""
    assert [(each.number, each.date.day, len(each.stops)) for each in rounds] == [(1, 29, 1), (2, 12, 2)]
    rounds, _, _ = rounds_of(tmp_path, text, taken=(1, 4))
    assert [each.number for each in rounds] == [5, 6]


def test_the_same_place_three_ways(tmp_path):
    vines = place_vines(BLOCKS[1])
    lon, lat = to_lonlat(FRAME, vines.x_m[[133]] + 0.4, vines.y_m[[133]] - 0.5)
    by_vine = f"date,block,row,vine,examined,infected\n2026-06-12,B,{vines.row[133] + 1},{vines.ordinal[133]},9,1\n"
    by_place = f"date,lon,lat,examined,infected\n2026-06-12,{lon[0]:.7f},{lat[0]:.7f},9,1\n"
    easting, northing = vines.x_m[133] + FRAME.origin_x_m, vines.y_m[133] + FRAME.origin_y_m
    by_grid = f"date,x_m,y_m,examined,infected\n2026-06-12,{easting + 0.3:.2f},{northing:.2f},9,1\n"
    point = {"type": "Point", "coordinates": [lon[0], lat[0]]}
    properties = {"date": "2026-06-12", "examined": 9, "infected": 1.0}
    features = [{"type": "Feature", "properties": properties, "geometry": point}]
    by_feature = json.dumps({"type": "FeatureCollection", "features": features})
    for text in (by_vine, by_place, by_grid, by_feature):
        rounds, said, _ = rounds_of(tmp_path, text)
        assert said == ""
        stops = rounds[0].stops
        assert (stops.blocks, stops.rows, stops.vine[0]) == (("B",), (str(vines.row[133] + 1),), vines.ordinal[133])
        assert (stops.x_m[0], stops.y_m[0]) == (pytest.approx(vines.x_m[133]), pytest.approx(vines.y_m[133]))


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.integers(0, 799), st.floats(-0.9, 0.9), st.floats(-0.9, 0.9))
def test_a_place_near_a_vine_finds_that_vine(tmp_path_factory, index, east_m, north_m):
    vines = place_vines(BLOCKS[0])
    x, y = vines.x_m[index] + east_m + FRAME.origin_x_m, vines.y_m[index] + north_m + FRAME.origin_y_m
    path = save(tmp_path_factory.mktemp("s"), f"date,x_m,y_m,examined,infected\n2026-06-12,{x:.3f},{y:.3f},9,1\n")
    stops = place_stops(read_stops(path).value, BLOCKS, FRAME).value[0].stops
    assert (stops.rows[0], stops.vine[0]) == (BLOCKS[0].rows.labels[vines.row[index]], vines.ordinal[index])


GOOD = "1,2026-05-29,Bram,A,1,3,15,2"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("1,2026-05-29,B,A,1,4,15,16", "infected = 16: is more than the 15 examined. Look at the scout’s notes"),
        ("1,2026-05-29,B,A,1,4,-5,0", "examined = -5: is less than nothing"),
        ("1,2026-05-29,B,A,1,4,15,2.5", "infected = 2.5: is not a whole number"),
        ("1,2026-05-29,B,A,1,4,15,", "infected: there is nothing here. Fill it in."),
        ("1,2026-05-29,B,A,1,4,some,1", "examined = some: is not a number"),
        ("1,2026-05-29,B,A,1,4,nan,1", "examined = nan: is not a number"),
        ("1,2026-05-29,B,A,1,4,1e9,1", "must be from 0 to 100000"),
        ("1,2026-05-29,B,A,1,4,1e999,1", "is not a whole number"),
        ("1,2026-05-29,B,A,1,4,0,0", "nothing was examined here"),
        ("1,2026-05-29,B,A,99,4,15,1", "row = 99: A: There is no row 99. Use a row label as it stands on the map."),
        ("1,2026-05-29,B,A,1,41,15,1", "vine = 41: A: Row 1 has vines 1 to 40, not 41."),
        ("1,2026-05-29,B,A,1,0,15,1", "vine = 0: must be from 1 to 100000"),
        ("1,2026-05-29,B,Z,1,4,15,1", "block = Z: there is no block of this name. The blocks are A, B."),
        ("1,2026-05-29,B,,1,4,15,1", "block: there is nothing here"),
        ("1,2026-05-29,B,A,1,,15,1", "does not say where it was"),
        ("1,29/05/2026,B,A,1,4,15,1", "date = 29/05/2026: may be read as two different dates. Write year-month-day"),
        ("1,2026-02-30,B,A,1,4,15,1", "date = 2026-02-30: is not in the calendar"),
        ("1,May 29,B,A,1,4,15,1", "date = May 29: is not a date"),
        ("1,0026-05-29,B,A,1,4,15,1", "is too far away to be meant"),
        ("0,2026-05-29,B,A,1,4,15,1", "round = 0: must be from 1"),
        ("1,2026-05-30,B,A,1,4,15,1", "date = 2026-05-30: round 1 is dated 2026-05-29 at line 2. A round has one date"),
        ("1,2026-05-29,B,A,1,4,15", "line 3: has 7 values where the first line names 8 columns"),
        ("1,2026-05-29,B,A,1,4,15,1,9", "line 3: has 9 values where the first line names 8 columns"),
        ('1,2026-05-29,"B,A,1,4,15,1', "line 3: a quotation mark is not closed"),
    ],
)
def test_a_bad_line_is_named_and_the_others_come_in(tmp_path, line, words):
    rounds, said, _ = rounds_of(tmp_path, f"{HEADER}\n{GOOD}\n{line}\n1,2026-05-29,Bram,A,1,5,15,2\n")
    assert words in said
    assert "stops.csv, line 3" in said
    assert said.count("stops.csv, ") == 1
    assert [len(each.stops) for each in rounds] == [2]


@pytest.mark.parametrize(
    ("columns", "values", "words"),
    [
        ("lon,lat", "38.6,-122.7", "latitude and longitude seem to be swapped"),
        ("lon,lat", "526100,4272400", "it looks like metres on a map grid"),
        ("lon,lat", "0,0", "is zero, zero: no position was recorded"),
        ("lon,lat", "-122.7,", "lat: there is nothing here"),
        ("lon,lat", "-121.0,38.6", "km from the rest of the estate"),
        ("x_m,y_m", "526280,4272440", "lies outside every block; the nearest is B, 20 m away"),
        ("x_m,y_m", ",4272440", "x_m: there is nothing here"),
    ],
)
def test_places_that_are_refused(tmp_path, columns, values, words):
    frame_x = f"{FRAME.origin_x_m + 180:.0f},{FRAME.origin_y_m + 40:.0f}"
    values = frame_x if "outside" in words else values
    rounds, said, _ = rounds_of(tmp_path, f"date,{columns},examined,infected\n2026-05-29,{values},10,1\n")
    assert words in said
    assert rounds == ()


def test_a_place_in_an_opening_and_one_just_over_the_edge(tmp_path):
    outline = shapely.box(0, 0, 60, 80).difference(shapely.box(20, 30, 40, 50))
    holed = Block("A", outline, make_rows(outline, 0.0, 3.0, 2.0), 3.0, 2.0)
    x, y = FRAME.origin_x_m, FRAME.origin_y_m
    text = f"date,x_m,y_m,examined,infected\n2026-05-29,{x + 30},{y + 40},9,1\n2026-05-29,{x - 1},{y + 40},9,1\n"
    rounds, said, _ = rounds_of(tmp_path, text, (holed,))
    assert "line 2: lies outside every block; the nearest is A, 10 m away" in said
    assert (len(rounds[0].stops), rounds[0].stops.rows) == (1, ("1",))


def test_inside_a_block_but_far_from_its_vines(tmp_path):
    half = Block("A", shapely.box(0, 0, 60, 80), make_rows(shapely.box(0, 0, 60, 40), 0.0, 3.0, 2.0), 3.0, 2.0)
    text = f"date,x_m,y_m,examined,infected\n2026-05-29,{FRAME.origin_x_m + 1.5},{FRAME.origin_y_m + 60},9,1\n"
    rounds, said, _ = rounds_of(tmp_path, text, (half,))
    assert "is 21 m from the nearest vine of A" in said
    assert rounds == ()


def test_no_blocks_yet_and_a_taken_number(tmp_path):
    place = "date,lon,lat,examined,infected\n2026-05-29,-122.7,38.6,9,1\n"
    assert "there are no blocks yet" in rounds_of(tmp_path, place, ())[1]
    rounds, said, _ = rounds_of(tmp_path, f"{HEADER}\n{GOOD}\n", taken=(1,))
    assert "round = 1: there is already a round of this number" in said
    assert rounds == ()


def test_what_deserves_a_second_look_is_noted(tmp_path):
    gone = VineExceptions(np.array([2]), np.array([MISSING]), np.array([-1]))
    rounds, said, notes = rounds_of(tmp_path, f"{HEADER}\n{GOOD}\n{GOOD}\n", (block("A", exceptions=gone),))
    assert said == ""
    assert len(rounds[0].stops) == 2
    assert notes == (
        "A / 1 / 3 has 2 stops in round 1; all were kept.",
        "A / 1 / 3 was scouted in round 1 but is down as missing or dead.",
    )


# --- the table itself ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("date,block,row,vine,infected\n", "has no column “examined”; it has date, block, row, vine, infected"),
        (f"{HEADER},DATE \n", "names the column “date” twice"),
        (f"{HEADER}\n\n,,,,,,,\n", "nothing under it"),
        ("date,examined,infected\n2026-05-29,9,1\n", "does not say where the stops were"),
        ("\0\0\0", "is not a text file"),
    ],
)
def test_tables_that_are_refused_whole(tmp_path, text, words):
    with pytest.raises(FileError, match=words) as caught:
        read_stops(save(tmp_path, text))
    assert caught.value.do


def test_semicolons_tabs_case_order_and_extra_columns(tmp_path):
    for separator in ";\t,":
        cells = ("Infected", " EXAMINED ", "date", "row", "Block", "vine", "Canopy note", "")
        line = ("1", "9", "2026-05-29", "1", "A", "3", "dense", "")
        rounds, said, notes = rounds_of(tmp_path, "\n".join(separator.join(part) for part in (cells, line)))
        assert said == ""
        assert rounds[0].stops.examined.tolist() == [9]
        assert "Columns not used in stops.csv: canopy note." in notes


def test_decimal_commas_only_where_the_comma_does_not_separate(tmp_path):
    x, y = f"{FRAME.origin_x_m + 1.5:.2f}", f"{FRAME.origin_y_m + 5:.2f}"
    text = f"date;x_m;y_m;examined;infected\n2026-05-29;{x.replace('.', ',')};{y.replace('.', ',')};9;1\n"
    assert rounds_of(tmp_path, text)[0][0].stops.vine.tolist() == [3]
    quoted = f'date,x_m,y_m,examined,infected\n2026-05-29,"{x.replace(".", ",")}",{y},9,1\n'
    assert "is not a number" in rounds_of(tmp_path, quoted)[1]
    thousands = "date;x_m;y_m;examined;infected\n2026-05-29;526.101,50;4272405;9;1\n"
    assert "x_m = 526.101,50: is not a number" in rounds_of(tmp_path, thousands)[1]


def test_encodings_and_line_ends(tmp_path):
    text = f"{HEADER}\n{GOOD.replace('Bram', 'Inés')}\n"
    for encoding in ("utf-8", "utf-8-sig", "utf-16", "cp1252"):
        for end in ("\n", "\r\n", "\r"):
            read = read_stops(save(tmp_path, text.replace("\n", end), encoding=encoding))
            assert read.value[0].scout == "Inés"
            assert read.value[0].entry.place == "line 2"


def test_text_that_would_run_as_a_formula_is_written_harmless_and_reads_back(tmp_path):
    path = tmp_path / "out.csv"
    rows = [("=1+1", -1.5, "Peña, Alta"), ("@x", 2, 'a "b"'), ("-3+1", "-122.7", "+plus")]
    write_table(path, ("name", "number", "words"), rows)
    text = path.read_text(encoding="utf-8")
    assert text.splitlines()[1] == '\'=1+1,-1.5,"Peña, Alta"'
    assert text.splitlines()[3] == "'-3+1,-122.7,'+plus"
    back = [tuple(line.values.values()) for line in read_table(path, ("name",), ("number", "words")).value.lines]
    assert back == [("=1+1", "-1.5", "Peña, Alta"), ("@x", "2", 'a "b"'), ("-3+1", "-122.7", "+plus")]


def test_what_was_seen_through_the_vine_comes_with_the_stop(tmp_path):
    lines = [f"1,2026-06-12,Bram,A,7,{vine},20,3,{word}" for vine, word in enumerate(("daylight", "Some", "none", ""), 1)]
    rounds, said, notes = rounds_of(tmp_path, HEADER + ",light\n" + "\n".join(lines))
    assert (said, notes) == ("", ())
    assert rounds[0].stops.light.tolist() == [DAYLIGHT, SOME_LIGHT, NO_LIGHT, NOT_NOTED]


def test_another_word_for_light_leaves_out_its_stop(tmp_path):
    text = HEADER + ",light\n1,2026-06-12,Bram,A,7,1,20,3,bright\n1,2026-06-12,Bram,A,7,2,20,3,none\n"
    rounds, said, _ = rounds_of(tmp_path, text)
    assert "line 2" in said
    assert "Write one of: daylight, some, none." in said
    assert rounds[0].stops.light.tolist() == [NO_LIGHT]
