"""A slip of the hand costs one plain line, and never a season."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from cli_running import Run
from estate_makers import outline, write_lines, write_map, write_stops

REFUSED = {
    "": "Missing: COMMAND",
    "harvest": "There is no such command: 'harvest'",
    "add {stops}": "Missing: --season",
    "add {stops} --season {folder}": "is a folder",
    "add {stops} --season {stops}": "is not a season file",
    "add {map} --season {gone}/s.vinemap": "There is no folder",
    "add {season} --season {folder}/new.vinemap": "season.vinemap: is a season file",
    "check": "Missing: FILE",
    "rank --season {season} --round 9 --out {out}": "There is no round 9 in season.vinemap. It has: 1.",
    "rank --season {season} --round one --out {out}": "--round: “one” is not a whole number",
    "rank --season {gone} --out {out}": "There is no file",
    "rank --season {folder} --out {out}": "is a folder",
    "rank --season {stops} --out {out}": "is not a season file",
    "rank --season {season} --out {gone}/x.csv": "can’t be written",
    "rank --season {season} --out {folder}": "can’t be written",
    "rank --season {season} --out {season}": "can't be written over",
    "rank --season {season}": "Missing: --out",
    "field --season {season} --out {season}": "can't be written over",
    "field --season {season} --stops {stops} --out {out}": "not both",
    "field --season {season} --bearing 20 --out {out}": "comes from the rows of the season",
    "field --season {season} --value z --out {out}": "comes from a table, not from a season",
    "field --season {season} --variogram spherical:0:1:9 --out {out}": "does not fit every block of a season",
    "field --season {season} --out {out} --report {season}": "can't be written over. Give --report another name",
    "field --season {season} --out {out} --report {out}": "--out and --report name the same file",
    "field --season {season} --out {out} --report {folder}": "can’t be written",
    "field --season {season} --out {out} --report {gone}/r.json": "can’t be written",
    "field --stops {stops} --at {map} --out {out} --report {stops}": "can't be written over. Give --report another name",
    "field --season {season} --method guess --out {out}": "“guess” is not a way to make a map",
    "field --stops {stops} --out {out}": "Say where the stops are",
    "field --out {out}": "Say where the stops are",
    "field --stops {gone} --at {stops} --out {out}": "There is no file",
    "field --stops {folder} --at {stops} --out {out}": "is a folder",
    "field --stops {empty} --at {stops} --out {out}": "is empty",
    "paper --season {season} --out {stops}": "can't be used",
    "paper --season {season} --out {stops}/below": "can't be used",
    "paper --season {empty} --out {out}": "is empty: it was never finished",
    "pressure {gone} --out {out}": "There is no file",
    "pressure {stops} --out {out}": "has no column “clock”",
    "pressure {cold} --out {out}": "There are no temperature readings",
    "pressure {weather} --out {weather}": "can't be written over",
    "pressure {weather} --out {gone}/x.csv": "can’t be written",
    "faces --lat 38 --lon -122 --bearing 20": "Missing: --date",
    "faces --lat 38 --lon -122 --bearing 20 --date 12.6.2026": "“12.6.2026” is not a date",
    "faces --lat 38 --lon -122 --bearing 20 --date 2026-02-30": "“2026-02-30” is not a date",
    "faces --lat 38 --lon -122 --bearing 20 --date 0001-01-01": "is too far away to be meant",
    "faces --lat 38 --lon -122 --bearing 20 --date 2026-06-12 --harvest 2026-06-01": "lies before",
    "faces --lat 38 --lon -122 --bearing 20 --date 2026-06-12 --harvest 2066-06-01": "more than a year after",
    "faces --lat 138 --lon -122 --bearing 20 --date 2026-06-12": "no place on the globe",
    "faces --lat 38 --lon -122 --bearing inf --date 2026-06-12": "--bearing: “inf” is not a number",
    "faces --lat 38,6 --lon -122 --bearing 20 --date 2026-06-12": "--lat: “38,6” is not a number; write it as 12.5",
    "sample {stops}": "The sample can't be written to",
}


@pytest.fixture(scope="module")
def files(run: Run, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A small season, and files of no use."""
    folder = tmp_path_factory.mktemp("refusals")
    found = {
        "folder": folder,
        "gone": folder / "gone",
        "out": folder / "out.csv",
        "map": write_map(folder / "map.geojson", outline("Long Acre")),
        "stops": write_stops(folder / "stops.csv", infected=[1, 0, 4, 2]),
        "empty": folder / "empty.csv",
        "cold": write_lines(folder / "cold.csv", ("time", "temp_c"), [("2031-06-01T00:00", "")]),
        "weather": write_lines(folder / "weather.csv", ("time", "temp_c"), [("2031-06-01T00:00", "20")]),
        "season": folder / "season.vinemap",
    }
    found["empty"].touch()
    assert run("add", found["map"], found["stops"], "--season", found["season"]).code == 0
    return found


@pytest.mark.parametrize("command", REFUSED)
def test_a_slip_is_told_in_one_line(run: Run, files: dict[str, Path], command: str) -> None:
    kept = {path: path.read_bytes() for path in files["folder"].iterdir() if path.is_file()}
    said = run(*command.format(**files).split())
    assert said.code == 2
    assert said.out == ""
    assert REFUSED[command] in said.err
    *left_out, last = said.err.splitlines()
    assert all(line.startswith("left out: ") for line in left_out)
    assert last.endswith(".")
    assert not re.search(r"Traceback|Errno|None|\bnan\b(?!”)|'NoneType'|<", last)
    now = {path: path.read_bytes() for path in files["folder"].iterdir() if path.is_file()}
    assert now == kept


def test_check_says_one_line_for_each_file_of_no_use(run: Run, files: dict[str, Path]) -> None:
    said = run("check", files["gone"], files["folder"], files["empty"], files["map"], files["stops"], files["season"])
    assert said.code == 1
    lines = said.out.splitlines()
    assert len(lines) == 3
    assert "There is no file gone" in lines[0]
    assert "is a folder" in lines[1]
    assert lines[2].startswith("empty.csv: is empty")


def test_check_finds_a_damaged_season_by_what_it_holds(run: Run, files: dict[str, Path], tmp_path: Path) -> None:
    for name in ("cut.vinemap", "cut.csv"):
        cut = tmp_path / name
        cut.write_bytes(files["season"].read_bytes()[:20_000])
        said = run("check", cut)
        assert (said.code, said.out.count("\n")) == (1, 1)
        assert "is damaged" in said.out


def test_a_missing_file_is_told_with_its_folder(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    said = run("pressure", "nope.csv", "--out", "out.csv")
    assert (said.code, said.err) == (2, f"There is no file nope.csv in {tmp_path}. Check its name and folder.\n")


def test_help_and_version_are_not_errors(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    for asked in (["--help"], ["--version"], ["field", "--help"]):
        with pytest.raises(SystemExit) as ended:
            run(*asked)
        assert ended.value.code == 0
