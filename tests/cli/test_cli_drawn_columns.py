"""Drawn layers with other people's column names, and rows that name no block. Every estate here is invented."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely
from cli_running import Run
from estate_makers import HOME_DEG, degrees, feature, outline, row, write_lines, write_map

from vinemap.errors import Problem
from vinemap.files.drawn_columns import sheets_of
from vinemap.files.head_units import turn_for
from vinemap.files.matching import answers_in, read_given, turn_of
from vinemap.files.row_blocks import in_blocks_by_place
from vinemap.files.season_file import read_season
from vinemap.service.gathering import gathered

COUNTY = {"BLK_NAME": "Home Block", "VAR": "Zinfandel", "ROW_SP_FT": 8, "VINE_SP_FT": 6, "TRELLIS": "Head trained"}
GIVEN = "BLK_NAME=block,ROW_SP_FT=row_spacing_m,VINE_SP_FT=vine_spacing_m,VAR=varieties,TRELLIS=training"


def county(path: Path, east_m: float = 0.0, **told: object) -> Path:
    return write_map(path, {**outline("", east_m), "properties": {**COUNTY, **told}})


def drone(path: Path, *east_m: float) -> Path:
    items = [{**row("", "", at), "properties": {"row_id": number}} for number, at in enumerate(east_m, start=1)]
    return write_map(path, *items)


def test_outlines_are_proposed_with_a_value_and_come_in_once_confirmed(run: Run, tmp_path: Path) -> None:
    path, season, kept = county(tmp_path / "parcels.geojson"), tmp_path / "s.vinemap", tmp_path / "r.txt"
    said = run("check", path).out.splitlines()
    assert said[0] == "parcels.geojson: its outlines have columns of other names than ours:"
    assert "  ROW_SP_FT  -> row_spacing_m   for example 8 ft, read as 2.438 m" in said
    assert said[-1] == f'  to take it so: --columns "{GIVEN}"'
    refused = run("add", path, "--season", season)
    assert (refused.code, refused.out, season.exists()) == (2, "", False)
    assert f'--columns "{GIVEN}"' in refused.err
    taken = run("add", path, "--season", season, "--columns", GIVEN, "--report", kept)
    assert (taken.code, taken.err) == (0, "")
    assert "row_spacing_m in ft was read as m (8 as 2.4384): once." in kept.read_text(encoding="utf-8")
    (block,) = read_season(season).blocks
    # 1 ft is 0.3048 m exactly (NIST Special Publication 811, appendix B)
    assert (block.name, block.varieties, block.training) == ("Home Block", ("Zinfandel",), "free-standing")
    assert (block.row_spacing_m, block.vine_spacing_m) == (pytest.approx(2.4384), pytest.approx(1.8288))
    # the next file of the same names is not asked about
    again = run("add", county(tmp_path / "more.geojson", 60.0, BLK_NAME="East"), "--season", season)
    assert again.code == 0
    assert f"more.geojson: columns were taken as confirmed before: {GIVEN}." in again.out


def test_each_kind_in_a_file_has_its_own_answer_and_what_has_none_is_left_out(run: Run, tmp_path: Path) -> None:
    stop = feature({"Fecha": "2031-06-11", "Revisados": 20, "Con oídio": 3}, "Point", degrees(HOME_DEG, 1.2, 20.0))
    rows = [{**row("", "", 1.2 + 2.4 * at), "properties": {"Cuartel": "Olmo", "Nº hilera": at}} for at in (1, 2, 3)]
    shape = {**outline("", size_m=(20.0, 61.0)), "properties": {"Cuartel": "Olmo", "Entre cepas": 1.2}}
    path, season = write_map(tmp_path / "finca.geojson", shape, *rows, stop), tmp_path / "s.vinemap"
    outlines, lines = "Cuartel=block,Entre cepas=vine_spacing_m", "Nº hilera=row,Cuartel=block"
    said = run("add", path, "--season", season, "--columns", lines, "--columns", outlines)
    assert said.code == 1
    assert "finca.geojson: its stops have columns of other names than ours, with Fecha as date" in said.err
    assert "Fecha=date,Revisados=examined,Con oídio=infected" in said.err
    made = read_season(season)
    assert (made.blocks[0].rows.labels, made.blocks[0].vine_spacing_m, made.rounds) == (("1", "2", "3"), 1.2, ())


def test_files_of_our_names_are_not_asked_about_and_spacings_are_pointed_out(run: Run, tmp_path: Path) -> None:
    shape = {**outline("Long Acre"), "properties": {"block": "Long Acre", "ROW_SP_FT": 8}}
    said = run("add", write_map(tmp_path / "o.geojson", shape), "--season", tmp_path / "s.vinemap")
    assert said.code == 0
    assert 'ROW_SP_FT may be row_spacing_m. To take it so, say --columns "ROW_SP_FT=row_spacing_m".' in said.out
    points = [feature({"vigour": 0.4}, "Point", degrees(HOME_DEG, 1.0, 20.0))]
    assert "columns of other names" not in run("check", write_map(tmp_path / "p.geojson", *points)).out


def test_rows_without_a_block_go_where_they_are_told_or_lie(run: Run, tmp_path: Path) -> None:
    season = tmp_path / "s.vinemap"
    shapes = [outline("West", bearing_deg=None), outline("East", 60.0, bearing_deg=None)]
    assert run("add", write_map(tmp_path / "o.geojson", *shapes), "--season", season).code == 0
    path = drone(tmp_path / "drone.geojson", 2.0, 4.5, 7.0, 62.0, 50.0)
    assert "No column says their block: --block NAME" in run("check", path).out
    said = run("add", path, "--season", season, "--columns", "row_id=row")
    assert "left out: drone.geojson, features 1 to 5: block: has no block name." in said.err
    assert "4 rows name no block, and each lies in the outline of one; say --repair block-by-place" in said.err
    said = run("add", path, "--season", season, "--columns", "row_id=row", "--repair", "block-by-place")
    assert "mended: drone.geojson, feature 4, row 4: was put into East, in whose outline it lies." in said.out
    assert [block.rows.labels for block in read_season(season).blocks] == [("1", "2", "3"), ("4",)]
    told = drone(tmp_path / "told.geojson", 3.0, 5.5)
    said = run("add", told, "--season", season, "--columns", "row_id=row", "--block", "West")
    assert "told.geojson: 2 rows without a block taken to be in West, as was said." in said.out
    assert read_season(season).blocks[0].rows.labels == ("1", "2")


def test_a_row_in_two_outlines_or_in_none_stays_where_it_is() -> None:
    box = shapely.box(-122.7, 38.6, -122.69, 38.61)
    item = feature({"row": "1"}, "LineString", [[-122.695, 38.602], [-122.695, 38.608]])
    away = feature({"row": "2"}, "LineString", [[-122.685, 38.602], [-122.695, 38.608]])
    numbered = [(1, item), (2, away)]
    assert in_blocks_by_place("a", numbered, [("A", box), ("B", box)]) == (numbered, [])
    made, said = in_blocks_by_place("a", numbered, [("A", box)])
    assert [each[1]["properties"].get("block") for each in made] == ["A", None]
    assert len(said) == 1


def test_the_check_says_alone_what_was_read_and_not_what_was_refused(run: Run, tmp_path: Path) -> None:
    bad = write_lines(tmp_path / "bad.csv", ("strange", "names"), [(1, 2)])
    assert "read by itself" not in run("check", bad).err
    alone = write_map(tmp_path / "rows.geojson", row("Long Acre", "1", 1.0))
    assert "rows.geojson was read by itself" in run("check", alone).err
    with_more = {**row("Long Acre", "1", 1.0), "properties": {"block": "Long Acre", "row": "1", "colour": "red"}}
    assert "Columns not used in rows.geojson: colour." in run("check", write_map(alone, with_more)).err


def test_one_fault_of_many_features_is_told_once() -> None:
    def fault(place: str, why: str = "is empty") -> Problem:
        return Problem("a.gpkg", place, "geometry", "", why, "Draw it.")

    several = [fault(f"rows, feature {number}, block A, row {number}") for number in (1, 2, 3, 5)]
    assert [each.place for each in gathered(several)] == ["rows, features 1 to 3, 5"]
    two = [fault("feature 1"), fault("feature 2"), fault("feature 3", "is something else")]
    assert gathered(two) == two


def test_units_and_answers_are_read_as_they_are_written() -> None:
    foot = turn_of("Spacing (ft)", "row_spacing_m")
    assert foot is not None
    assert (foot("10"), foot("3,5"), foot("wide")) == ("3.048", "1.0668", None)
    # 1 lb/acre is 1.120851 kg/ha, 1 US gal/acre 9.353958 L/ha (NIST Special Publication 811, appendix B)
    for ours, unit, factor in (("rate_kg_per_ha", "lb ac", 1.120851), ("water_l_per_ha", "gal ac", 9.353958)):
        turn = turn_for(ours, unit)
        assert turn is not None
        assert turn.factor == pytest.approx(factor, rel=1e-6)
    assert turn_of("Spacing (m)", "row_spacing_m") is None
    assert [read_given(each) for each in answers_in('"a,b=row"\nx=block,y=row\n')] == [
        {"a,b": "row"},
        {"x": "block", "y": "row"},
    ]


def test_a_hedge_with_a_height_is_no_row() -> None:
    line = feature({"height_m": 4, "label": "hedge"}, "LineString", [[0.0, 0.0], [1.0, 1.0]])
    assert sheets_of([line]) == ()
