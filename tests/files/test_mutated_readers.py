"""Sound files of every kind alone, and changed in places: each is checked and refused in plain words at most."""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import Problem, VinemapError
from vinemap.files.as_written import read_as_written
from vinemap.files.climate_reader import read_climate
from vinemap.files.edge_reader import read_edges
from vinemap.files.geojson import read_json
from vinemap.files.kinds import KINDS, kind_of
from vinemap.files.rod_reader import read_rods
from vinemap.files.row_list import read_row_list
from vinemap.files.row_tables import table_features
from vinemap.files.weather_reader import read_stations
from vinemap.files.weather_times import WeatherAsk
from vinemap.service.check_files import check
from vinemap.vineclock.weather import Weather

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fuzz"))
from fuzz_mutations import spoil
from fuzz_seeds import make_seeds


@pytest.fixture(scope="module")
def spoilt(tmp_path_factory):
    return tmp_path_factory.mktemp("spoilt")


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


def test_a_month_beyond_all_counting_is_refused(seeds, tmp_path) -> None:
    whole = next(path for path in seeds if path.name == "typical.csv").read_text("utf-8").splitlines()
    path = tmp_path / "typical.csv"
    path.write_text("\n".join([*whole, f"{'9' * 400}/01/2003,01:00,9,50,0,1,0"]) + "\n", "utf-8")
    assert [problem.field for problem in read_climate(path, 2026).problems] == ["day"]


def test_a_quote_that_only_another_separator_would_open_does_no_harm(tmp_path) -> None:
    path = tmp_path / "at.csv"
    lines = ["x_m;Note", '1;beside a post,"tall', *(f"{n};{'long ' * 20}" for n in range(2000))]
    path.write_text("\n".join(lines) + "\n", "utf-8")
    head, rows = read_as_written(path, ("x_m", "note"))
    assert head == ["x_m", "Note"]
    assert len(rows) == 2001
    assert rows[0] == ["1", 'beside a post,"tall']


def _look_at_hours(*series: Weather) -> None:
    for each in series:
        assert (np.diff(each.time_utc) > 0).all()
        for share in (each.wet_frac, each.rh_frac):
            assert ((share[np.isfinite(share)] >= 0) & (share[np.isfinite(share)] <= 1)).all()
        assert (abs(each.temp_degc[np.isfinite(each.temp_degc)]) <= 60).all()
        assert (each.wind_from_deg[np.isfinite(each.wind_from_deg)] < 360).all()


def _hours(path: Path) -> tuple[Problem, ...]:
    read = read_stations(path, WeatherAsk(-8.0))
    _look_at_hours(*read.value)
    return read.problems


def _typical_year(path: Path) -> tuple[Problem, ...]:
    read = read_climate(path, 2026)
    _look_at_hours(read.value)
    assert len(read.value) == 8760
    return read.problems


def _rods(path: Path) -> tuple[Problem, ...]:
    read = read_rods(path)
    assert all(set(rod) <= set("LC") for note in read.value for rod in note.insertions)
    assert len({(note.block, note.row, note.date) for note in read.value}) == len(read.value)
    return read.problems


def _edges(path: Path) -> tuple[Problem, ...]:
    read = read_edges(path)
    for edge in read.value:
        assert 0.3 <= edge.height_m <= 100
        assert 0 <= edge.open_frac <= 1
        assert np.isfinite(edge.line).all()
    return read.problems


def _shapes(path: Path) -> tuple[Problem, ...]:
    read = table_features(path)
    assert all(np.isfinite(part).all() and (abs(part[:, 1]) <= 90).all() for each in read.value for part in each.parts)
    return read.problems


def _row_list(path: Path) -> tuple[Problem, ...]:
    read = read_row_list(path)
    assert all(each.block and each.row and (each.vines is None or each.vines > 0) for each in read.value)
    return read.problems


READERS: dict[str, Callable[[Path], tuple[Problem, ...]]] = {
    **dict.fromkeys(("stations.csv", "days.csv", "forecast.csv", "newest_first.csv"), _hours),
    **dict.fromkeys(("typical.epw", "typical.csv"), _typical_year),
    "rods.csv": _rods,
    "edges.geojson": _edges,
    **dict.fromkeys(("rows_text.csv", "outlines_text.csv", "row_ends.csv"), _shapes),
    "row_list.csv": _row_list,
}


@settings(derandomize=True, max_examples=300, deadline=None)
@given(st.sampled_from(sorted(READERS)), st.integers(0, 2**32))
def test_what_is_read_of_a_spoilt_file_can_be_true(seeds, spoilt, name, seed) -> None:
    whole = next(path for path in seeds if path.name == name)
    path = spoilt / name
    path.write_bytes(spoil(whole.read_bytes(), random.Random(seed)))
    said, problems = None, ()
    try:
        problems = READERS[name](path)
    except VinemapError as error:
        said = error
    assert said is None or (said.what and said.do)
    assert all(problem.file == name and problem.why for problem in problems)
