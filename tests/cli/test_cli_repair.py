"""Columns of other names, repairs by name, and the report that can be kept. Every estate here is invented."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest
import shapely
from cli_running import Run
from estate_makers import HOME_DEG, STOP_HEAD, degrees, feature, outline, row, write_lines, write_map
from openpyxl import Workbook

from vinemap.files.season_file import read_season

SPANISH = ("Fecha", "Bloque", "Fila", "Nº de cepa", "Racimos examinados", "Racimos con oídio")
GIVEN = (
    "Fecha=date,Racimos examinados=examined,Racimos con oídio=infected,Bloque=block,Fila=row,Nº de cepa=vine"  # as proposed
)


def spanish(path: Path, number: int = 1) -> Path:
    date = f"2031-06-{10 + number}"
    return write_lines(path, SPANISH, [(date, "Long Acre", 2, 3, 20, 4), (date, "Long Acre", 4, 8, 20, 0)])


def place_stops_at(path: Path, *east_north_m: tuple[float, float], row_label: str = "") -> Path:
    lines = [
        ("2031-06-11", "Long Acre", row_label, *(f"{part:.9f}" for part in degrees(HOME_DEG, *each)), 20, 3)
        for each in east_north_m
    ]
    return write_lines(path, ("date", "block", "row", "lon", "lat", "examined", "infected"), lines)


def with_ring(item: dict[str, Any], ring: list[Any]) -> dict[str, Any]:
    return {**item, "geometry": {"type": "Polygon", "coordinates": [ring]}}


def ring_of(item: dict[str, Any]) -> list[Any]:
    found: list[Any] = item["geometry"]["coordinates"][0]
    return found


@pytest.fixture
def season(run: Run, tmp_path: Path) -> Path:
    made = tmp_path / "s.vinemap"
    assert run("add", write_map(tmp_path / "o.geojson", outline("Long Acre")), "--season", made).code == 0
    return made


# ---- columns


def test_the_check_shows_whose_column_is_whose_with_a_value_and_what_to_say(run: Run, tmp_path: Path) -> None:
    said = run("check", spanish(tmp_path / "conteos.csv"))
    assert said.code == 1
    lines = said.out.splitlines()
    assert lines[0] == "conteos.csv: its columns have other names than ours; it looks like stops:"
    assert "  Nº de cepa         -> vine   for example 3" in lines
    assert "  Fecha              -> date   for example 2031-06-11" in lines
    assert lines[-1] == f'  to take it so: --columns "{GIVEN}"'


def test_nothing_comes_in_by_a_guess_and_all_does_once_it_is_confirmed(run: Run, season: Path, tmp_path: Path) -> None:
    table = spanish(tmp_path / "conteos.csv")
    before = read_season(season).rounds
    said = run("add", table, "--season", season)
    assert said.code == 2
    assert f'--columns "{GIVEN}"' in said.err
    assert read_season(season).rounds == before == ()
    written = table.read_bytes()
    said = run("add", table, "--season", season, "--columns", GIVEN)
    assert (said.code, said.err) == (0, "")
    stops = read_season(season).rounds[0].stops
    assert (stops.infected.tolist(), stops.vine.tolist(), stops.rows) == ([4, 0], [3, 8], ("2", "4"))
    # the file itself stays as it was
    assert table.read_bytes() == written


def test_what_was_confirmed_holds_for_the_next_table_of_the_same_heads_alone(run: Run, season: Path, tmp_path: Path) -> None:
    assert run("add", spanish(tmp_path / "1.csv"), "--season", season, "--columns", GIVEN).code == 0
    said = run("add", spanish(tmp_path / "2.csv", 2), "--season", season)
    assert said.code == 0
    assert f"2.csv: columns were taken as confirmed before: {GIVEN}." in said.out
    assert [each.number for each in read_season(season).rounds] == [1, 2]
    other = write_lines(tmp_path / "3.csv", (*SPANISH, "Notas"), [("2031-06-14", "Long Acre", 2, 3, 20, 4, "")])
    assert run("add", other, "--season", season).code == 2
    # a season that is only begun remembers too
    new = tmp_path / "new.vinemap"
    outlines = write_map(tmp_path / "again.geojson", outline("Long Acre"))
    assert run("add", outlines, tmp_path / "1.csv", "--season", new, "--columns", GIVEN).code == 0
    assert run("add", tmp_path / "2.csv", "--season", new).code == 0


def test_an_answer_may_change_the_proposal(run: Run, season: Path, tmp_path: Path) -> None:
    head = ("Fecha", "Bloque", "Fila", "Cepa", "Examinados", "Cosa A", "Infectados")
    table = write_lines(tmp_path / "c.csv", head, [("2031-06-11", "Long Acre", 2, 3, 20, 7, 4)])
    swapped = "Fecha=date,Bloque=block,Fila=row,Cepa=vine,Examinados=examined,Cosa A=infected"
    assert run("add", table, "--season", season, "--columns", swapped).code == 0
    assert read_season(season).rounds[0].stops.infected.tolist() == [7]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ("Cepa", "“Cepa” does not say which column is which. Write theirs=ours, as in Cepa=vine."),
        ("Fila=rang", "There is no column “rang” here."),
        ("Fila=row,Nº de cepa=row", "Two columns are named to be “row”."),
        ("Filas=row", "No file has all of the columns filas."),
        (",", "does not say which column is which"),
    ],
)
def test_an_answer_that_can_t_be_is_refused(run: Run, season: Path, tmp_path: Path, given: str, words: str) -> None:
    said = run("add", spanish(tmp_path / "c.csv"), "--season", season, "--columns", given)
    assert (said.code, said.out) == (2, "")
    assert words in said.err


def test_half_an_answer_gets_the_rest_proposed(run: Run, season: Path, tmp_path: Path) -> None:
    said = run("add", spanish(tmp_path / "c.csv"), "--season", season, "--columns", "Nº de cepa=vine")
    assert said.code == 2
    assert f'--columns "{GIVEN}"' in said.err


def test_a_table_beside_good_files_is_left_out_alone(run: Run, tmp_path: Path) -> None:
    outlines = write_map(tmp_path / "o.geojson", outline("Long Acre"))
    said = run("add", outlines, spanish(tmp_path / "c.csv"), "--season", tmp_path / "n.vinemap")
    assert said.code == 1
    assert said.err.startswith("left out: c.csv: its columns have other names than ours; it looks like stops, with ")
    assert read_season(tmp_path / "n.vinemap").rounds == ()


def test_a_workbook_is_asked_about_like_any_table(run: Run, season: Path, tmp_path: Path) -> None:
    book = Workbook()
    book.active.append(SPANISH)
    book.active.append((dt.date(2031, 6, 11), "Long Acre", 2, 3, 20, 4))
    book.save(tmp_path / "c.xlsx")
    said = run("add", tmp_path / "c.xlsx", "--season", season)
    assert (said.code, f'--columns "{GIVEN}"' in said.err) == (2, True)
    assert run("add", tmp_path / "c.xlsx", "--season", season, "--columns", GIVEN).code == 0
    assert read_season(season).rounds[0].stops.infected.tolist() == [4]


# ---- repairs


def test_an_open_outline_is_closed_only_where_it_was_agreed(run: Run, tmp_path: Path) -> None:
    whole = outline("Long Acre")
    outlines = write_map(tmp_path / "o.geojson", outline("Good", 60.0), with_ring(whole, ring_of(whole)[:-1]))
    first, second = tmp_path / "a.vinemap", tmp_path / "b.vinemap"
    said = run("add", outlines, "--season", first)
    assert said.code == 1
    assert "left out: o.geojson, feature 2, block Long Acre: geometry = Polygon: the outline is not closed" in said.err
    assert "could be mended: 1 outline is not closed; say --repair close-ring" in said.err
    assert [block.name for block in read_season(first).blocks] == ["Good"]
    said = run("add", outlines, "--season", second, "--repair", "close-ring")
    assert (said.code, said.err) == (0, "")
    assert "mended: o.geojson, feature 2, block Long Acre: the outline was closed." in said.out
    good, mended = read_season(second).blocks
    assert mended.outline.area == pytest.approx(good.outline.area, rel=1e-4)


def test_where_all_is_left_out_the_repair_is_named_too(run: Run, tmp_path: Path) -> None:
    whole = outline("Long Acre")
    outlines = write_map(tmp_path / "o.geojson", with_ring(whole, ring_of(whole)[:-1]))
    said = run("add", outlines, "--season", tmp_path / "n.vinemap")
    assert said.code == 2
    assert "say --repair close-ring" in said.err
    assert not (tmp_path / "n.vinemap").exists()
    checked = run("check", outlines)
    assert (checked.code, checked.out.count("\n")) == (1, 1)
    assert "say --repair close-ring" in checked.err


def test_swapped_outlines_and_stops_are_turned_back_near_the_rest_only(run: Run, tmp_path: Path) -> None:
    ring = [each[::-1] for each in ring_of(outline("Long Acre"))]
    far = outline("Far", home=(10.0, 40.0))
    file = write_map(tmp_path / "o.geojson", outline("Good", 60.0), with_ring(outline("Long Acre"), ring), far)
    made = tmp_path / "a.vinemap"
    said = run("add", file, "--season", made, "--repair", "swap-coordinates")
    assert said.code == 1
    assert said.err.count("left out") == 1
    assert "feature 3, block Far" in said.err
    assert said.out.count("mended") == 1
    assert [block.name for block in read_season(made).blocks] == ["Good", "Long Acre"]
    lon, lat = degrees(HOME_DEG, 5.0, 11.0)
    lines = [("2031-06-11", f"{lat:.8f}", f"{lon:.8f}", 20, 3)]
    stops = write_lines(tmp_path / "s.csv", ("date", "lon", "lat", "examined", "infected"), lines)
    assert run("add", stops, "--season", made).code == 2
    said = run("add", stops, "--season", made, "--repair", "swap-coordinates")
    assert (said.code, said.err) == (0, "")
    assert "mended: s.csv, line 2: longitude and latitude were swapped." in said.out
    assert len(read_season(made).rounds[0].stops) == 1


def test_what_stands_there_twice_is_left_out_once_and_other_features_keep_their_number(run: Run, tmp_path: Path) -> None:
    block = outline("Long Acre")
    bad = outline("Bad", 60.0, vigour=7)
    file = write_map(tmp_path / "o.geojson", block, block, bad)
    made = tmp_path / "a.vinemap"
    said = run("add", file, "--season", made, "--repair", "drop-duplicates")
    assert "mended: o.geojson, feature 2, block Long Acre: was left out, being the same as feature 1." in said.out
    assert [line.split(":")[1] for line in said.err.splitlines()] == [" o.geojson, feature 3, block Bad"]
    line = (1, "2031-06-11", "A. Scout", "Long Acre", 2, 3, 20, 4)
    bad_line = (1, "2031-06-11", "A. Scout", "Long Acre", 2, 3, 20, 40)
    stops = write_lines(tmp_path / "s.csv", STOP_HEAD, [line, line, bad_line])
    said = run("add", stops, "--season", made, "--repair", "drop-duplicates")
    assert "mended: s.csv, line 3: was left out, being the same as line 2." in said.out
    assert "left out: s.csv, line 4: infected = 40" in said.err
    assert read_season(made).rounds[0].stops.infected.tolist() == [4]


def test_a_stop_beside_its_row_is_moved_as_far_as_told(run: Run, season: Path, tmp_path: Path) -> None:
    # rows stand every 2.5 m, so 4 m outside the outline is more than a row spacing from any vine
    stops = place_stops_at(tmp_path / "s.csv", (-3.5, 20.0), (-30.0, 20.0))
    said = run("add", stops, "--season", season)
    assert said.code in (1, 2)
    assert "1 stop lies a little beside its row; say --repair snap-to-row" in said.err
    said = run("add", stops, "--season", season, "--repair", "snap-to-row", "--snap", "4")
    assert (said.code, read_season(season).rounds) == (1, ())
    said = run("add", stops, "--season", season, "--repair", "snap-to-row")
    assert said.code == 1
    assert said.err.count("left out") == 1
    assert "mended: s.csv, line 2: the stop was moved 4." in said.out
    assert "to Long Acre / 1 / " in said.out
    assert read_season(season).rounds[0].stops.rows == ("1",)


def test_a_stop_goes_to_the_row_it_names(run: Run, tmp_path: Path) -> None:
    made = tmp_path / "r.vinemap"
    ground = [outline("Long Acre"), *(row("Long Acre", f"{n}", 2.5 * n) for n in range(1, 15))]
    assert run("add", write_map(tmp_path / "o.geojson", *ground), "--season", made).code == 0
    stops = place_stops_at(tmp_path / "s.csv", (8.2, 21.0), row_label="5")
    said = run("add", stops, "--season", made, "--repair", "snap-to-row")
    assert (said.code, said.err) == (0, "")
    assert "moved 4.3 m to Long Acre / 5 / 11" in said.out
    assert read_season(made).rounds[0].stops.rows == ("5",)


def test_a_point_stop_of_a_map_is_moved_too(run: Run, season: Path, tmp_path: Path) -> None:
    counts = {"date": "2031-06-11", "examined": 20, "infected": 3}
    points = write_map(
        tmp_path / "p.geojson",
        feature(counts, "Point", degrees(HOME_DEG, 5.0, 20.0)),
        feature(counts, "Point", degrees(HOME_DEG, -3.5, 20.0)),
    )
    said = run("add", points, "--season", season, "--repair", "snap-to-row")
    assert (said.code, said.err) == (0, "")
    assert "mended: p.geojson, feature 2: the stop was moved" in said.out
    assert len(read_season(season).rounds[0].stops) == 2


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--repair", "close"), "There is no repair “close”. It is one of: close-ring, turn-ring, swap-coordinates"),
        (("--repair", "snap-to-row", "--snap", "100"), "A stop can't be moved 100 m."),
        (("--repair", "snap-to-row", "--snap", "-1"), "A stop can't be moved -1 m."),
    ],
)
def test_a_repair_that_can_t_be_is_refused(
    run: Run, season: Path, tmp_path: Path, options: tuple[str, ...], words: str
) -> None:
    said = run("add", spanish(tmp_path / "c.csv"), "--season", season, *options)
    assert (said.code, said.out) == (2, "")
    assert words in said.err


def test_a_block_across_the_date_line_comes_in_as_two(run: Run, tmp_path: Path) -> None:
    item = outline("Long Acre", size_m=(200.0, 61.0), home=(179.999, -16.9))
    ring = [[lon - 360.0 if lon > 180.0 else lon, lat] for lon, lat in ring_of(item)]
    file = write_map(tmp_path / "o.geojson", with_ring(item, ring))
    said = run("add", file, "--season", tmp_path / "s.vinemap")
    assert said.code == 2
    assert "turn-ring" not in said.err
    assert "could be mended: 1 shape lies across the date line; say --repair split-at-date-line" in said.err
    said = run("add", file, "--season", tmp_path / "s.vinemap", "--repair", "split-at-date-line")
    assert (said.code, said.err) == (0, "")
    west, east = read_season(tmp_path / "s.vinemap").blocks
    assert (west.name, east.name) == ("Long Acre west", "Long Acre east")
    # metres of a sphere against those of the projection: a few in a thousand
    assert west.outline.area + east.outline.area == pytest.approx(200.0 * 61.0, rel=0.01)
    assert shapely.distance(west.outline, east.outline) < 0.01


def test_the_sample_has_nothing_to_mend_or_to_ask(run: Run, sample: Path) -> None:
    files = [file for file in sorted((sample / "wattlequern").iterdir()) if file.suffix != ".vinemap"]
    said = run("check", *files)
    assert (said.code, said.out) == (0, "")
    assert "could be mended" not in said.err


# ---- the report


def test_the_report_is_kept_in_full(run: Run, tmp_path: Path) -> None:
    whole = outline("Long Acre")
    other = outline("Other", 60.0)
    file = write_map(
        tmp_path / "o.geojson",
        with_ring(whole, ring_of(whole)[:-1]),
        outline("Bad", 120.0, vigour=7),
        with_ring(other, [each[::-1] for each in ring_of(other)]),
    )
    kept = tmp_path / "report.txt"
    options = ("--repair", "close-ring", "--report", kept)
    assert run("add", file, "--season", tmp_path / "s.vinemap", *options).code == 1
    text = kept.read_text(encoding="utf-8")
    assert "Mended:\n  o.geojson, feature 1, block Long Acre: the outline was closed.\n" in text
    assert "say --repair swap-coordinates" in text
    assert "Left out: 2" in text
    told = (
        "  file:   o.geojson\n  where:  feature 2, block Bad\n  column: vigour\n  value:  7\n  why:    must be from 0 to 1\n"
    )
    assert told in text
    checked = tmp_path / "checked.txt"
    assert run("check", file, spanish(tmp_path / "c.csv"), "--report", checked).code == 1
    text = checked.read_text(encoding="utf-8")
    assert "the outline is not closed" in text
    assert GIVEN in text


def test_the_report_never_takes_the_place_of_a_file_or_a_season(run: Run, season: Path, tmp_path: Path) -> None:
    file = spanish(tmp_path / "c.csv")
    before = file.read_bytes(), season.read_bytes()
    for target in (file, season):
        said = run("add", file, "--season", season, "--columns", GIVEN, "--report", target)
        assert said.code == 2
        assert "can't be written over. Give --report another name." in said.err
    assert run("check", file, "--report", file).code == 2
    assert (file.read_bytes(), season.read_bytes()) == before


def test_files_without_anything_to_mend_are_read_as_they_are(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "o.geojson"
    file.write_text(json.dumps({"type": "FeatureCollection", "features": [outline("Long Acre")]}), encoding="utf-8")
    options = [
        part for name in ("close-ring", "turn-ring", "swap-coordinates", "drop-duplicates") for part in ("--repair", name)
    ]
    said = run("add", file, "--season", tmp_path / "s.vinemap", *options)
    assert (said.code, "mended" in said.out) == (0, False)
