"""Sound files of every kind alone, and changed in places: each is checked and refused in plain words at most."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from vinemap.errors import VinemapError
from vinemap.files.as_written import read_as_written
from vinemap.files.climate_reader import read_climate
from vinemap.files.geojson import read_json
from vinemap.files.kinds import KINDS, kind_of
from vinemap.service.check_files import check

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fuzz"))
from fuzz_seeds import make_seeds


@pytest.fixture(scope="module")
def seeds(tmp_path_factory):
    return make_seeds(tmp_path_factory.mktemp("seeds"))


def kind(path: Path) -> str:
    try:
        return kind_of(path)
    except VinemapError:
        return ""


def test_there_is_a_sound_file_of_every_kind(seeds) -> None:
    assert {kind(path) for path in seeds} - {""} == set(KINDS)


def test_a_file_of_any_kind_can_be_checked_by_itself(seeds) -> None:
    for path in seeds:
        checked = check([path])
        assert all(problem.why for problem in checked.report.problems), path.name


def test_rods_by_themselves_are_read_without_their_blocks(tmp_path) -> None:
    path = tmp_path / "rods.csv"
    path.write_text("block,row,date,insertions\nNowhere,77,2026-06-10,LCL\nNowhere,,2026-06-10,Q\n", encoding="utf-8")
    problems = check([path]).report.problems
    assert [(problem.place, problem.field) for problem in problems] == [("line 3", "insertions")]


def test_half_a_letter_is_told_and_does_no_harm(tmp_path) -> None:
    path = tmp_path / "odd.json"
    # a grape in two halves, a backslash before u, half a letter alone at its beginning and at its end
    path.write_text(r'{"a": "\ud83c\udf47", "b": "\\ud800", "c": "\ud800x", "d": "x\uDC00"}', encoding="utf-8")
    content, notes = read_json(path)
    assert content == {"a": "\N{GRAPES}", "b": r"\ud800", "c": "�x", "d": "x�"}
    assert notes == ("odd.json: 2 letters are broken and stand as � now.",)
    path.write_text(r'{"a": "\ud83c\udf47", "b": "\\ud800"}', encoding="utf-8")
    assert read_json(path)[1] == ()


@pytest.mark.parametrize("name", ["typical.epw", "typical.csv"])
def test_a_quote_left_open_costs_a_typical_year_one_hour(seeds, tmp_path, name) -> None:
    whole = next(path for path in seeds if path.name == name)
    lines = whole.read_text("utf-8").splitlines()
    sound = read_climate(whole, 2026).value.temp_degc
    # the tenth hour from the end, before a line longer than any cell that the csv module takes
    lines[-10] = '"' + lines[-10]
    path = tmp_path / name
    path.write_text("\n".join([*lines, '"' + "9" * 200_000, '"9,9']) + "\n", "utf-8")
    read = read_climate(path, 2026)
    assert np.isfinite(sound).sum() - np.isfinite(read.value.temp_degc).sum() == 1
    assert [problem.place for problem in read.problems] == [f"line {len(lines) + at}" for at in (-9, 1, 2)]
    assert max(len(str(problem)) for problem in read.problems) < 300


def test_a_quote_that_only_another_separator_would_open_does_no_harm(tmp_path) -> None:
    path = tmp_path / "at.csv"
    lines = ["x_m;Note", '1;beside a post,"tall', *(f"{n};{'long ' * 20}" for n in range(2000))]
    path.write_text("\n".join(lines) + "\n", "utf-8")
    head, rows = read_as_written(path, ("x_m", "note"))
    assert head == ["x_m", "Note"]
    assert len(rows) == 2001
    assert rows[0] == ["1", 'beside a post,"tall']
