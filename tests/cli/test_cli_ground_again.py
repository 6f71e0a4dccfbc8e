"""Outlines and rows brought in again, later, in part or not at all: what comes of them, and that it is said honestly."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_running import Run, Said
from estate_makers import STOP_HEAD, outline, row, table, write_lines, write_map, write_stops

from vinemap.files.season_file import read_season
from vinemap.ground.block import Block
from vinemap.season.value import Season
from vinemap.season.weather_edits import with_wall
from vinemap.service.book import open_book

BARE = {"row_spacing_m": None, "vine_spacing_m": None, "bearing_deg": None}
ROWS = [row("Long Acre", f"{n}", 2.5 * n) for n in range(1, 5)]
LIST = ("block", "row", "vines")


@pytest.fixture
def season(tmp_path: Path) -> Path:
    return tmp_path / "s.vinemap"


def block_of(season: Path, name: str = "Long Acre") -> Block:
    block = read_season(season).block(name)
    assert block is not None
    return block


def add(run: Run, season: Path, *files: Path) -> Said:
    return run("add", *files, "--season", season)


def spaced(spacing_m: float = 2.0) -> list[dict[str, object]]:
    return [{**each, "properties": {**each["properties"], "vine_spacing_m": spacing_m}} for each in ROWS]


def test_rows_without_spacing_come_in_later_with_one(run: Run, tmp_path: Path, season: Path) -> None:
    bare = write_map(tmp_path / "o.geojson", outline("Long Acre", **BARE), outline("Far", 50.0, **BARE))
    rows = write_map(tmp_path / "r.geojson", *ROWS)
    said = add(run, season, bare, rows)
    assert said.out.splitlines()[:2] == ["o.geojson: 2 outlines", "r.geojson: none of 4 rows"]
    (left_out,) = said.err.splitlines()
    assert "neither the row nor its block gives a vine spacing; 4 rows of the block were left out. Add it" in left_out
    # what stands in until somebody says a spacing is no spacing that was told
    again = add(run, season, rows)
    assert again.out.splitlines()[:2] == ["Nothing came in.", "r.geojson: none of 4 rows"]
    assert "already" not in again.out
    whole = add(run, season, write_map(tmp_path / "r2.geojson", *spaced()))
    assert (whole.code, whole.out.splitlines()[0]) == (0, "r2.geojson: 4 rows")
    assert block_of(season).rows.labels == ("1", "2", "3", "4")
    assert block_of(season).row_spacing_m == pytest.approx(2.5, abs=0.01)
    assert len(block_of(season, "Far").rows) == 0


def test_the_same_outline_with_spacings_takes_the_place_of_the_first(run: Run, tmp_path: Path, season: Path) -> None:
    add(run, season, write_map(tmp_path / "o.geojson", outline("Long Acre", **BARE)))
    better = write_map(tmp_path / "o.geojson", outline("Long Acre", bearing_deg=None, varieties="Syrah"))
    rows = write_map(tmp_path / "r.geojson", *ROWS)
    said = add(run, season, better, rows)
    assert (said.code, said.err) == (0, "")
    assert "Long Acre: its outline was replaced." in said.out.splitlines()
    assert block_of(season).varieties == ("Syrah",)
    assert block_of(season).rows.vine_spacing_m.tolist() == [2.0] * 4


def test_the_same_files_again_change_nothing_and_leave_nothing_out(run: Run, tmp_path: Path, season: Path) -> None:
    files = [
        write_map(tmp_path / "o.geojson", outline("Long Acre", bearing_deg=None)),
        write_map(tmp_path / "r.geojson", *ROWS),
    ]
    add(run, season, *files)
    before = read_season(season)
    stops = write_lines(tmp_path / "w.csv", STOP_HEAD, [(1, "2031-06-11", "A. Scout", "Long Acre", "2", 3, 20, 1)])
    for more in ([], [stops]):
        if more:
            assert add(run, season, *more).code == 0
        said = add(run, season, *files)
        assert (said.code, said.err) == (0, "")
        assert said.out.splitlines() == [
            "Nothing came in.",
            "o.geojson: none of 1 outline",
            "r.geojson: none of 4 rows",
            "Long Acre stands in the season already, as the files have it.",
        ]
    assert read_season(season).blocks[0].rows.labels == before.blocks[0].rows.labels


def test_an_outline_that_something_names_is_never_replaced(run: Run, tmp_path: Path, season: Path) -> None:
    add(run, season, write_map(tmp_path / "o.geojson", outline("Long Acre")))
    wider = write_map(tmp_path / "w.geojson", outline("Long Acre", size_m=(50.0, 61.0)))
    work = ("date", "block", "rows", "kind", "face", "people", "hours")
    marks = write_lines(
        tmp_path / "v.csv", ("block", "row", "vine", "status", "variety"), [("Long Acre", "1", 2, "dead", "")]
    )
    passes = write_lines(tmp_path / "p.csv", work, [("2031-06-01", "Long Acre", "", "L", "east", 2, 3.5)])
    for named, words in (
        (marks, "with marked vines"),
        (passes, "with passes"),
        (write_stops(tmp_path / "s.csv"), "with stops of round 1"),
    ):
        other = tmp_path / f"with {named.stem}.vinemap"
        other.write_bytes(season.read_bytes())
        assert add(run, other, named).code == 0
        area = block_of(other).outline.area
        said = add(run, other, wider)
        assert (said.code, said.out.splitlines()[0]) == (1, "Nothing came in.")
        assert f"a block of this name is already in the season, {words}." in said.err
        assert block_of(other).outline.area == area
    area = block_of(season).outline.area
    assert add(run, season, wider).code == 0
    assert block_of(season).outline.area == pytest.approx(area * 50 / 41, rel=1e-4)


def test_what_a_new_outline_does_not_say_stays(run: Run, tmp_path: Path, season: Path) -> None:
    first = outline("Long Acre", varieties=["Syrah", "Malbec"], vigour=0.8, training="free-standing", bearing_deg=None)
    rows = write_map(tmp_path / "r.geojson", *ROWS)
    add(run, season, write_map(tmp_path / "o.geojson", first), rows)
    book = open_book(season)
    book.apply("wall", lambda it: with_wall(it, "Long Acre", 2.2, 0.6, 0.9) if isinstance(it, Season) else it)
    book.close()
    before = block_of(season)
    said = add(run, season, write_map(tmp_path / "w.geojson", outline("Long Acre", size_m=(45.0, 61.0), **BARE)))
    assert (said.code, said.err) == (0, "")
    now = block_of(season)
    assert now.outline.area > before.outline.area
    assert (now.varieties, now.vigour, now.training, now.wall) == (before.varieties, 0.8, "free-standing", before.wall)
    assert now.rows.labels == before.rows.labels
    assert (now.rows.xy_m == before.rows.xy_m).all()


def test_an_outline_that_would_leave_rows_outside_is_refused(run: Run, tmp_path: Path, season: Path) -> None:
    add(
        run,
        season,
        write_map(tmp_path / "o.geojson", outline("Long Acre", bearing_deg=None)),
        write_map(tmp_path / "r.geojson", *ROWS),
    )
    said = add(run, season, write_map(tmp_path / "w.geojson", outline("Long Acre", size_m=(4.0, 61.0), **BARE)))
    assert (said.code, said.out.splitlines()[0]) == (1, "Nothing came in.")
    (left_out,) = said.err.splitlines()
    assert "2 rows of the block would lie outside this outline" in left_out
    assert len(block_of(season).rows) == 4


def test_rows_that_were_made_from_feet_are_made_anew_from_metres(run: Run, tmp_path: Path, season: Path) -> None:
    feet = {"row_spacing_m": 8.2, "vine_spacing_m": 6.5}
    said = add(run, season, write_map(tmp_path / "o.geojson", outline("Long Acre", **feet)))
    assert "Long Acre: rows 8.2 m apart: is that feet?" in said.out
    assert "Long Acre: vines 6.5 m apart: is that feet?" in said.out
    assert len(block_of(season).rows) == 5
    said = add(run, season, write_map(tmp_path / "o.geojson", outline("Long Acre")))
    assert "Long Acre: its 5 rows gave way to 16 from the file." in said.out
    assert "feet" not in said.out
    kept = add(run, season, write_map(tmp_path / "o.geojson", outline("Long Acre", bearing_deg=None, row_spacing_m=3.0)))
    assert "Long Acre: its rows stay 2.5 m apart, with vines every 2 m; for the spacings of the file" in kept.out
    assert (len(block_of(season).rows), block_of(season).row_spacing_m) == (16, 2.5)


def test_rows_made_with_odd_spacings_are_asked_about(run: Run, tmp_path: Path, season: Path) -> None:
    add(run, season, write_map(tmp_path / "o.geojson", outline("Long Acre", **BARE)))
    said = run("rows", "--season", season, "--block", "Long Acre", "--bearing", 0, "--row-spacing", 0.8, "--vine-spacing", 5)
    assert "Vines 5 m apart: is that feet? Rows 0.8 m apart: is that so?" in said.out
    said = run("rows", "--season", season, "--block", "Long Acre", "--bearing", 0, "--row-spacing", 6, "--vine-spacing", 4)
    assert "apart" not in said.out


def test_rows_of_a_refused_outline_are_told_once(run: Run, tmp_path: Path, season: Path) -> None:
    crossed = outline("Long Acre")
    crossed["geometry"]["coordinates"][0][1:3] = crossed["geometry"]["coordinates"][0][2:0:-1]
    far = outline("Away", home=(-121.0, 38.6))
    away = [row("Away", f"{n}", 2.5 * n, home=(-121.0, 38.6)) for n in (1, 2, 3)]
    blocks = write_map(tmp_path / "o.geojson", crossed, outline("Near", 60.0), outline("Nigh", 120.0), far)
    said = add(run, season, blocks, write_map(tmp_path / "r.geojson", *ROWS, *away))
    assert said.out.splitlines()[:2] == ["o.geojson: 2 of 3 outlines", "r.geojson: none of 7 rows"]
    lines = said.err.splitlines()
    assert len(lines) == 4
    assert sum("there is no outline of this block; 4 rows of the block were left out" in line for line in lines) == 1
    assert sum("the outline of this block was left out; 3 rows of the block were left out" in line for line in lines) == 1


def test_a_list_of_rows_from_paper(run: Run, tmp_path: Path, season: Path) -> None:
    ground = write_map(tmp_path / "o.geojson", outline("Long Acre", **BARE))
    paper = write_lines(tmp_path / "paper.csv", LIST, [("Long Acre", f"{n:02d}", 25 + n % 3) for n in range(1, 17)])
    early = add(run, season, ground, paper)
    assert "paper.csv: none of 16 listed rows" in early.out
    assert "the list has 16 rows, but the block has none yet. Make them first" in early.err
    make = ("rows", "--season", season, "--block", "Long Acre", "--bearing", 0, "--vine-spacing", 2, "--from", "east")
    run(*make, "--row-spacing", 2.8)
    unequal = add(run, season, paper)
    assert "the list has 16 rows, the block 15 at 2.8 m" in unequal.err
    run(*make, "--row-spacing", 2.5)
    said = add(run, season, paper)
    assert (said.code, said.err) == (0, "")
    assert (
        said.out.splitlines()[1]
        == "Long Acre: 16 rows with 416 vines, as listed in paper.csv; row 01 is the first from the east."
    )
    rows = block_of(season).rows
    assert rows.labels == tuple(f"{n:02d}" for n in range(1, 17))
    assert rows.vine_count.tolist() == [25 + n % 3 for n in range(1, 17)]
    assert rows.xy_m[0, 0] > rows.xy_m[-1, 0]
    assert "paper.csv: 16 listed rows" in add(run, season, paper).out
    assert (
        add(
            run,
            season,
            write_lines(
                tmp_path / "t.csv", ("block", "row", "vine", "status", "variety"), [("Long Acre", "03", 2, "dead", "")]
            ),
        ).code
        == 0
    )
    late = add(run, season, paper)
    assert "the block already has marked vines, which stand on its present rows; 16 rows left out" in late.err
    strange = write_lines(tmp_path / "n.csv", LIST, [("Nowhere", "1", 5), ("Nowhere", "2", 5)])
    assert "there is no block of this name; 2 rows left out. The blocks are Long Acre." in add(run, season, strange).err


def test_a_list_with_outlines_whose_rows_are_made_at_once_and_check_says_the_same(
    run: Run, tmp_path: Path, season: Path
) -> None:
    ground = write_map(tmp_path / "o.geojson", outline("Long Acre"))
    paper = write_lines(tmp_path / "paper.csv", LIST, [("Long Acre", f"{n}b", 29) for n in range(1, 17)])
    short = write_lines(tmp_path / "short.csv", LIST, [("Long Acre", "1", 29)])
    assert run("check", ground, paper).code == 0
    assert "the list has 1 row" in run("check", ground, short).out
    assert run("check", paper).code == 0
    assert add(run, season, ground, paper).code == 0
    assert block_of(season).rows.labels[0] == "1b"


def test_what_was_given_as_tables_begins_the_same_season(run: Run, tmp_path: Path, season: Path) -> None:
    add(
        run,
        season,
        write_map(tmp_path / "o.geojson", outline("Long Acre", varieties="Syrah;Malbec", bearing_deg=None), *ROWS),
    )
    for what in ("blocks", "rows"):
        assert run("give", "--season", season, "--what", what, "--out", tmp_path / f"{what}.csv").code == 0
    assert list(table(tmp_path / "rows.csv")[0]) == ["block", "row", "vine_spacing_m", "vines", "WKT"]
    said = add(run, tmp_path / "n.vinemap", tmp_path / "blocks.csv", tmp_path / "rows.csv")
    assert (said.code, said.err) == (0, "")
    assert said.out.splitlines()[:2] == ["blocks.csv: 1 outline", "rows.csv: 4 rows"]
    old, new = block_of(season), block_of(tmp_path / "n.vinemap")
    assert (new.varieties, new.rows.labels) == (old.varieties, old.rows.labels)
