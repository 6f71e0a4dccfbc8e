"""Passes, sprays, vine exceptions, the estate, and telling files apart."""

from __future__ import annotations

import datetime as dt
import json

import pytest
import shapely

from vinemap.errors import FileError, InputError
from vinemap.files.diary_reader import expand_rows, read_passes, read_sprays
from vinemap.files.estate_reader import read_estate
from vinemap.files.kinds import kind_of
from vinemap.files.vine_reader import apply_all_vines, apply_vines, read_vines
from vinemap.ground.block import DEAD, MISSING, REPLANT, Block
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.vines import place_vines
from vinemap.season.value import StageDates

OUTLINE = shapely.box(0, 0, 60, 80)
BLOCK = Block("Peña Alta", OUTLINE, make_rows(OUTLINE, 0.0, 3.0, 2.0), 3.0, 2.0, ("Syrah", "Muscat"))
PASSES = "date,block,rows,kind,face,people,hours"
SPRAYS = "start,end,block,rows,materials,rate_kg_per_ha,water_l_per_ha"
VINES = "block,row,vine,status,variety"


def save(tmp_path, *lines, name="some.csv"):
    path = tmp_path / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def said(read):
    return " | ".join(str(problem) for problem in read.problems)


# --- rows ---------------------------------------------------------------------------------------------------------------


def test_rows_are_expanded_in_the_order_people_count():
    labels = ["10", "2", "1", "2a", "3", "A-B"]
    assert expand_rows(["1-3"], labels) == ("1", "2", "2a", "3")
    assert expand_rows(["3-1", "10", "2"], labels) == ("1", "2", "2a", "3", "10")
    assert expand_rows(["2 – 10", "A-B"], labels) == ("2", "2a", "3", "10", "A-B")
    assert expand_rows([], labels) == ()
    for wrong in ("4", "1-4", "-", "1-", "x-y"):
        with pytest.raises(InputError, match=f"There is no row {wrong}"):
            expand_rows([wrong], labels)


# --- passes and sprays --------------------------------------------------------------------------------------------------


def test_passes(tmp_path):
    path = save(
        tmp_path,
        PASSES,
        "2026-05-20,Peña Alta,1-3;7,l,East,4,6.5",
        "2026-05-21,Peña Alta,,D,,2,8",
        "2026-05-22,Peña Alta,5,V,,1,0.5",
    )
    read = read_passes(path, [BLOCK])
    assert said(read) == ""
    first, second, third = read.value
    assert (first.date, first.rows, first.kind, first.face) == (dt.date(2026, 5, 20), ("1", "2", "3", "7"), "L", "east")
    assert (first.people, first.hours) == (4, 6.5)
    assert (second.rows, second.face, third.kind) == ((), "both", "V")
    assert read_passes(path).value[0].rows == ("1-3", "7")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("2026-05-20,Zed,1,L,east,4,6", "block = Zed: there is no block of this name. The blocks are Peña Alta."),
        ("2026-05-20,Peña Alta,1-99,L,east,4,6", "rows = 1-99: Peña Alta: There is no row 1-99"),
        (
            "2026-05-20,Peña Alta,1,P,east,4,6",
            "kind = P: is not one of the words used here. Write one of: L, F, D, R, T, C, V.",
        ),
        ("2026-05-20,Peña Alta,1,L,,4,6", "face: there is nothing here"),
        ("2026-05-20,Peña Alta,1,L,left,4,6", "face = left: is not one of the words"),
        ("2026-05-20,Peña Alta,1,L,east,0,6", "people = 0: must be from 1 to 1000"),
        ("2026-05-20,Peña Alta,1,L,east,4,0", "hours = 0: must be more than 0"),
        ("2026-05-20,Peña Alta,1,L,east,4,-2", "hours = -2: must be from 0 to 1000"),
        ("20.05.2026,Peña Alta,1,L,east,4,6", "may be read as two different dates"),
    ],
)
def test_passes_that_are_refused(tmp_path, line, words):
    read = read_passes(save(tmp_path, PASSES, line, "2026-05-20,Peña Alta,1,L,east,4,6"), [BLOCK])
    assert len(read.value) == 1
    assert words in said(read)
    assert "line 2" in said(read)


def test_sprays(tmp_path):
    path = save(tmp_path, SPRAYS, "2026-05-20T05:30,2026-05-20 09:00,Peña Alta,4,sulfur; myclobutanil,4.5,450")
    spray = read_sprays(path, [BLOCK]).value[0]
    assert (spray.start, spray.end) == (dt.datetime(2026, 5, 20, 5, 30), dt.datetime(2026, 5, 20, 9, 0))
    assert (spray.rows, spray.materials) == (("4",), ("sulfur", "myclobutanil"))
    assert (spray.rate_kg_per_ha, spray.water_l_per_ha) == (4.5, 450.0)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("2026-05-20T05:30,2026-05-20T05:00,Peña Alta,,sulfur,5,450", "is before the start"),
        ("2026-05-20T05:30,2026-05-29T05:00,Peña Alta,,sulfur,5,450", "more than three days after the start"),
        ("2026-05-20T05:30Z,2026-05-20T06:00Z,Peña Alta,,sulfur,5,450", "names a time zone"),
        ("2026-05-20T05:30,,Peña Alta,,sulfur,5,450", "end: there is nothing here"),
        ("2026-05-20T05:30,2026-05-20T06:00,Peña Alta,,;,5,450", "Name the active ingredient"),
        ("2026-05-20T05:30,2026-05-20T06:00,Peña Alta,,sulfur,0,450", "rate_kg_per_ha = 0: must be more than 0"),
        ("2026-05-20T05:30,2026-05-20T06:00,Peña Alta,,sulfur,5,x", "water_l_per_ha = x: is not a number"),
    ],
)
def test_sprays_that_are_refused(tmp_path, line, words):
    read = read_sprays(save(tmp_path, SPRAYS, line), [BLOCK])
    assert read.value == ()
    assert words in said(read)


# --- vines --------------------------------------------------------------------------------------------------------------


def test_vines_are_applied_and_the_rest_is_left_as_it_was(tmp_path):
    path = save(
        tmp_path,
        VINES,
        "Peña Alta,2,3,missing,",
        "Peña Alta,1,1,Dead,Muscat",
        "Peña Alta,1,2,,Carignan",
        "Peña Alta,20,40,replant,",
    )
    read = apply_vines(BLOCK, read_vines(path).value)
    assert said(read) == ""
    assert read.notes == ("Peña Alta: varieties added from its vines: Carignan.",)
    assert read.value.varieties == ("Syrah", "Muscat", "Carignan")
    vines = place_vines(read.value)
    # row 2, vine 3 is number 40 + 2; row 20, vine 40 is the last of 800
    assert vines.status[[42, 0, 1, 799]].tolist() == [MISSING, DEAD, 0, REPLANT]
    assert vines.variety[[42, 0, 1, 799]].tolist() == [0, 1, 2, 0]
    assert (vines.status != 0).sum() == 3
    again = apply_vines(read.value, read_vines(save(tmp_path, VINES, "Peña Alta,2,3,replant,")).value).value
    assert place_vines(again).status[[42, 0]].tolist() == [REPLANT, DEAD]
    assert BLOCK.exceptions.vine.size == 0


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("Zed,1,1,missing,", "block = Zed: there is no block of this name"),
        ("Peña Alta,77,1,missing,", "row = 77: Peña Alta: There is no row 77"),
        ("Peña Alta,1,41,missing,", "vine = 41: Peña Alta: Row 1 has vines 1 to 40, not 41"),
        ("Peña Alta,1,0,missing,", "vine = 0: must be from 1"),
        (
            "Peña Alta,1,1,asleep,",
            "status = asleep: is not one of the words used here. Write one of: living, missing, dead, replant.",
        ),
        ("Peña Alta,5,5,dead,", "vine = 5: stands at line 3 too"),
    ],
)
def test_vines_that_are_refused(tmp_path, line, words):
    drafts = read_vines(save(tmp_path, VINES, "", "Peña Alta,5,5,missing,", line))
    read = apply_all_vines([BLOCK], drafts.value)
    assert words in said(drafts) + said(read)
    assert place_vines(read.value[0]).status.nonzero()[0].tolist() == [164]


def test_a_block_without_drafts_is_the_same_object(tmp_path):
    other = Block("Other", OUTLINE, BLOCK.rows, 3.0, 2.0)
    read = apply_all_vines([BLOCK, other], read_vines(save(tmp_path, VINES, "Other,1,1,dead,")).value)
    assert read.value[0] is BLOCK
    assert read.value[1] is not other


# --- estate -------------------------------------------------------------------------------------------------------------


def estate(tmp_path, **content):
    return save(tmp_path, json.dumps(content), name="estate.json")


def test_estate(tmp_path):
    read = read_estate(
        estate(
            tmp_path,
            estate="Marlquill",
            invented=True,
            time_offset_hours=-8,
            crs="EPSG:32610",
            bloom="2026-05-28",
            budbreak="2026-04-01",
            stages=[{"block": "Peña Alta", "bloom": "2026-06-01"}],
            motto="slowly",
        )
    )
    assert said(read) == ""
    draft = read.value
    assert (draft.name, draft.is_invented, draft.offset_hours, draft.crs) == ("Marlquill", True, -8.0, "EPSG:32610")
    assert draft.stages[0] == StageDates("", dt.date(2026, 4, 1), dt.date(2026, 5, 28))
    assert draft.stages[1] == StageDates("Peña Alta", bloom=dt.date(2026, 6, 1))
    assert read.notes == ("Not used in estate.json: motto.",)
    plain = read_estate(estate(tmp_path, estate="X", time_offset_hours=5.5)).value
    assert (plain.is_invented, plain.crs, plain.stages, plain.offset_hours) == (False, "", (), 5.5)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ({}, "does not describe an estate"),
        ({"estate": "", "time_offset_hours": 1}, "estate there is nothing here"),
        ({"estate": "X"}, "time_offset_hours there is nothing here"),
        ({"estate": "X", "time_offset_hours": -800}, "time_offset_hours -800 must be from -12 to 14"),
        ({"estate": "X", "time_offset_hours": "west"}, "time_offset_hours west is not a number"),
    ],
)
def test_estates_that_are_refused(tmp_path, content, words):
    with pytest.raises(FileError, match=words) as caught:
        read_estate(estate(tmp_path, **content))
    assert caught.value.do


def test_estate_dates_that_are_left_out(tmp_path):
    read = read_estate(
        estate(
            tmp_path,
            estate="X",
            time_offset_hours=1,
            bloom="2026-05-28",
            veraison="2026-05-01",
            harvest="12/09/2026",
            stages=[{"bloom": "2026-06-01"}, 7, {"block": "A", "bloom": "soon"}],
        )
    )
    assert read.value.stages == (StageDates("", bloom=dt.date(2026, 5, 28)),)
    assert "veraison = 2026-05-01: is not after bloom, 2026-05-28" in said(read)
    assert "harvest = 12/09/2026: may be read as two different dates" in said(read)
    assert "stage 1: block: names no block" in said(read)
    assert "stage 3, block A: bloom = soon: is not a date" in said(read)
    assert len(read.problems) == 5


# --- telling files apart ------------------------------------------------------------------------------------------------


def shapes(*kinds):
    features = [{"type": "Feature", "geometry": {"type": kind, "coordinates": []}} for kind in kinds]
    return json.dumps({"type": "FeatureCollection", "features": features})


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (shapes("Polygon", "MultiPolygon"), "outlines"),
        (shapes("LineString"), "rows"),
        (shapes("Point"), "stops"),
        (shapes("Polygon", "LineString"), "mixed"),
        ('{"type": "Feature", "geometry": {"type": "Polygon"}}', "outlines"),
        ('\ufeff {"estate": "X"}', "estate"),
        ("date;lon;lat;infected;examined\n", "stops"),
        ("time,temp_c\n", "weather"),
        (PASSES, "passes"),
        (SPRAYS, "sprays"),
        (VINES, "vines"),
    ],
)
def test_kinds(tmp_path, text, kind):
    path = tmp_path / "whatever.txt"
    path.write_bytes(text.encode("utf-8"))
    assert kind_of(path) == kind


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a,b\n1,2\n", "its columns are a, b"),
        ("{}", "holds neither an estate nor outlines"),
        ("[]", "holds neither an estate nor outlines"),
        ('{"features": [1, null]}', "holds neither an estate nor outlines"),
        ("{", "is not JSON"),
        ("", "is empty"),
        (",,\n", "its columns are none"),
    ],
)
def test_kinds_that_are_none(tmp_path, text, words):
    path = tmp_path / "whatever.txt"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=words) as caught:
        kind_of(path)
    assert caught.value.do
