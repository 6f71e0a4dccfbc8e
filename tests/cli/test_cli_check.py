"""The check takes columns and map systems as bringing in does; words of other languages are understood. All is invented."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_running import Run
from estate_makers import HOME_DEG, degrees, outline, write_lines, write_map

from vinemap.files.projection import frame_for, to_local
from vinemap.files.season_file import read_season
from vinemap.ground.block import STATUS_WORDS

HEADS = ("Parcelle", "Rang", "Pied", "État", "Cépage")
GIVEN = "Parcelle=block,Rang=row,Pied=vine,État=status,Cépage=variety"


def french(path: Path, *words: str) -> Path:
    return write_lines(path, HEADS, [("Long Acre", 2, at, word, "") for at, word in enumerate(words, start=3)])


def test_the_check_reads_a_table_by_the_columns_it_is_given(run: Run, tmp_path: Path) -> None:
    table = french(tmp_path / "v.csv", "manquant", "mort", "pourri")
    assert "to take it so" in run("check", table).out
    said = run("check", table, "--columns", GIVEN)
    (line,) = said.out.splitlines()
    assert (said.code, line) == (
        1,
        "v.csv, line 4: status = pourri: is not one of the words used here. Write one of: living, missing, dead, replant.",
    )
    assert "v.csv: manquant was read as missing: once." in said.err
    assert run("check", french(table, "manquant", "mort"), "--columns", GIVEN).code == 0


def test_columns_that_are_not_there_or_not_enough_are_said_by_the_check_too(run: Run, tmp_path: Path) -> None:
    table = french(tmp_path / "v.csv", "mort")
    said = run("check", table, "--columns", "Fila=row")
    assert (said.code, said.out) == (2, "")
    assert "No file has all of the columns fila." in said.err
    said = run("check", table, "--columns", "Rang=row")
    assert said.code == 1
    assert said.out.splitlines()[-1] == f'  to take it so: --columns "{GIVEN}"'


def test_words_of_another_language_come_in_and_all_of_it_is_noted(run: Run, tmp_path: Path) -> None:
    season, kept = tmp_path / "s.vinemap", tmp_path / "r.txt"
    assert run("add", write_map(tmp_path / "o.geojson", outline("Long Acre")), "--season", season).code == 0
    table = french(tmp_path / "v.csv", "manquant", "Manquant", "mort", "")
    said = run("add", table, "--season", season, "--columns", GIVEN, "--report", kept)
    assert (said.code, said.err) == (0, "")
    for note in ("v.csv: manquant was read as missing: 2 times.", "v.csv: mort was read as dead: once."):
        assert note in said.out.splitlines()
        assert f"\n  {note}\n" in kept.read_text(encoding="utf-8")
    (block,) = read_season(season).blocks
    assert [STATUS_WORDS[code] for code in block.exceptions.status] == ["missing", "missing", "dead", "living"]
    # a table of our own columns is read by our own words alone
    ours = write_lines(
        tmp_path / "ours.csv", ("block", "row", "vine", "status", "variety"), [("Long Acre", 2, 9, "mort", "")]
    )
    assert "ours.csv, line 2: status = mort: is not one of the words" in run("add", ours, "--season", season).err


def test_a_date_in_words_is_read_and_one_that_may_be_two_is_not(run: Run, tmp_path: Path) -> None:
    season = tmp_path / "s.vinemap"
    heads = ("Data", "Vigneto", "Filare", "Ceppo", "Grappoli esaminati", "Grappoli colpiti")
    lines = [(date, "Long Acre", 2, at, 20, 4) for at, date in ((3, "03-giu-31"), (4, "3 giugno 2031"), (5, "03/06/2031"))]
    table = write_lines(tmp_path / "c.csv", heads, lines)
    given = "Data=date,Vigneto=block,Filare=row,Ceppo=vine,Grappoli esaminati=examined,Grappoli colpiti=infected"
    assert f'--columns "{given.split(",")[0]}' in run("check", table).out
    outlines = write_map(tmp_path / "o.geojson", outline("Long Acre"))
    said = run("add", outlines, table, "--season", season, "--columns", given)
    assert said.code == 1
    assert "c.csv, line 4: date = 03/06/2031: may be read as two different dates. Write year-month-day" in said.err
    (scouted,) = read_season(season).rounds
    assert (scouted.date.isoformat(), scouted.stops.vine.tolist()) == ("2031-06-03", [3, 4])


@pytest.fixture
def in_metres(tmp_path: Path) -> tuple[Path, Path]:
    """Outlines, and stops in metres of the map system they lie in."""
    frame = frame_for(*HOME_DEG)
    lon, lat = degrees(HOME_DEG, 5.0, 20.0)
    x_m, y_m = to_local(frame, [lon], [lat])
    head = ("date", "block", "x_m", "y_m", "examined", "infected")
    line = ("2031-06-11", "Long Acre", float(x_m[0]) + frame.origin_x_m, float(y_m[0]) + frame.origin_y_m, 20, 3)
    stops = write_lines(tmp_path / "s.csv", head, [line])
    return write_map(tmp_path / "o.geojson", outline("Long Acre")), stops


def test_the_check_takes_a_map_system_as_bringing_in_does(run: Run, tmp_path: Path, in_metres: tuple[Path, Path]) -> None:
    for crs, code in ((frame_for(*HOME_DEG).crs, 0), ("EPSG:32733", 1)):
        checked = run("check", *in_metres, "--crs", crs)
        added = run("add", *in_metres, "--season", tmp_path / f"{code}.vinemap", "--crs", crs)
        assert checked.code == added.code == code
        assert [f"left out: {line}" for line in checked.out.splitlines()] == added.err.splitlines()
    said = run("check", *in_metres, "--crs", "metres")
    assert (said.code, said.out) == (2, "")
    assert "is not the number of a map system" in said.err


def test_the_check_offers_what_bringing_in_offers(run: Run, tmp_path: Path) -> None:
    outlines = write_map(tmp_path / "o.geojson", outline("Long Acre"))
    lon, lat = degrees(HOME_DEG, -3.5, 20.0)
    head = ("date", "block", "lon", "lat", "examined", "infected")
    stops = write_lines(tmp_path / "s.csv", head, [("2031-06-11", "Long Acre", f"{lon:.9f}", f"{lat:.9f}", 20, 3)] * 2)
    checked = run("check", outlines, stops)
    added = run("add", outlines, stops, "--season", tmp_path / "s.vinemap")
    offers = [line for line in added.err.splitlines() if line.startswith("could be mended")]
    assert len(offers) == 2
    assert any("snap-to-row" in line for line in offers)
    assert [line for line in checked.err.splitlines() if line.startswith("could be mended")] == offers


def test_an_empty_file_beside_pictures_costs_only_itself(run: Run, tmp_path: Path) -> None:
    empty = tmp_path / "none.tif"
    empty.touch()
    good = write_map(tmp_path / "a.geojson", outline("Long Acre"))
    season = tmp_path / "s.vinemap"
    said = run("add", empty, good, "--picture", "--season", season)
    assert said.code == 1
    assert said.err.startswith("left out: none.tif")
    assert season.exists()
