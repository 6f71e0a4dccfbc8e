"""What the command says of its choice, and the report that other programs read."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from cli_running import Run, Said
from estate_makers import outline, table, write_lines, write_map, write_stops
from scipy.special import expit

from vinemap.service.field_report import SCORE_HEAD, Z_90, score_lines, tried_lines, value_facts, write_report
from vinemap.service.plain_kriging import VALUE_COLUMNS, ValuesDone
from vinemap.service.tables import FIELD_COLUMNS
from vinemap.surface.choose import Score
from vinemap.surface.drifts import Tried
from vinemap.surface.variogram import Variogram

PATCH = (0, 0, 1, 0, 3, 9, 8, 1, 4, 12, 7, 2, 0, 1, 1, 0)
HEAD = ("x_m", "y_m", "examined", "infected")
STOPS = [(12.0 * (n % 4), 15.0 * (n // 4), 20, count) for n, count in enumerate(PATCH)]
POINTS = [(5.0, 7.0), (30.0, 22.0), (300.0, 0.0)]
METHODS = ["binomial", "kriging", "inverse-distance", "block"]


def no_nan(found: object) -> Any:
    raise AssertionError(f"not JSON: {found}")


def read(path: Path) -> dict[str, Any]:
    """JSON without the words NaN and Infinity, which RFC 8259 does not know."""
    found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"), parse_constant=no_nan)
    return found


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("points")
    return write_lines(folder / "stops.csv", HEAD, STOPS), write_lines(folder / "at.csv", ("x_m", "y_m"), POINTS)


@pytest.fixture(scope="module")
def made(run: Run, files: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory) -> tuple[Said, dict[str, Any]]:
    folder = tmp_path_factory.mktemp("made")
    chosen = ("--bearing", 20, "--threshold", 0.2, "--report", folder / "Bericht ä.json", "--out", folder / "out.csv")
    said = run("field", "--stops", files[0], "--at", files[1], *chosen)
    assert (said.code, said.err) == (0, "")
    assert len(table(folder / "out.csv")) == 3
    return said, read(folder / "Bericht ä.json")


def test_scores_are_printed_in_columns_and_the_choice_after_them(made: tuple[Said, dict[str, Any]]) -> None:
    said, report = made
    lines = said.out.splitlines()
    assert lines[0].startswith("3 points written")
    head, *rows = lines[1:6]
    ends = []
    for name in SCORE_HEAD[1:]:
        assert name in head
        ends.append(head.index(name) + len(name))
    scores = report["map"]["scores"]
    assert [score["method"] for score in scores] == METHODS
    for row, score in zip(rows, scores, strict=True):
        assert row.startswith("the block's own share" if score["method"] == "block" else score["method"])
        figures = [row[:end].split()[-1] for end in ends]
        names = ("log_chance_per_left_out_stop", "gain_over_block_share", "gain_standard_error")
        assert [float(each) for each in figures] == pytest.approx([score[name] for name in names], abs=6e-5)
    assert lines[6] == report["map"]["why"] == report["map"]["notes"][0]
    assert lines[7:] == report["map"]["notes"][1:]


def test_gains_are_those_over_the_block_s_own_share(made: tuple[Said, dict[str, Any]]) -> None:
    scores = made[1]["map"]["scores"]
    own = scores[-1]["log_chance_per_left_out_stop"]
    for score in scores:
        assert score["gain_over_block_share"] == pytest.approx(score["log_chance_per_left_out_stop"] - own)
        # a chance of a count is below 1
        assert score["log_chance_per_left_out_stop"] < 0.0


def test_the_report_says_what_went_in(made: tuple[Said, dict[str, Any]]) -> None:
    report = made[1]
    assert {key: report[key] for key in list(report)[:-1]} == {
        "layout": 1,
        "what": "counts",
        "method_asked": "auto",
        "threshold_share": 0.2,
        "variogram_given": None,
    }
    found = report["map"]
    assert (found["stops"], found["clusters_examined"], found["clusters_infected"]) == (16, 320, sum(PATCH))
    assert found["row_bearing_degrees"] == 20.0
    assert found["columns_tried"] == []
    assert 0.0 <= found["chance_of_no_pattern"] <= 1.0


def test_parameters_hang_together(made: tuple[Said, dict[str, Any]]) -> None:
    parameters = made[1]["map"]["parameters"]
    middle = {name: each["value"] for name, each in parameters.items()}
    assert middle["level_share"] == pytest.approx(expit(middle["level_logit"]))
    assert middle["sill_logit_squared"] == pytest.approx(middle["spread_between_vines_logit"] ** 2)
    own = middle["sill_logit_squared"] * (1.0 - middle["share_that_neighbours_share"])
    assert middle["nugget_logit_squared"] == pytest.approx(own)
    across = middle["range_along_rows_metres"] * middle["range_across_over_along"]
    assert middle["range_across_rows_metres"] == pytest.approx(across)
    ends = {name: (each["low"], each["high"]) for name, each in parameters.items()}
    known = {name for name, (low, _) in ends.items() if low is not None}
    assert known == {
        "spread_between_vines_logit",
        "share_that_neighbours_share",
        "range_along_rows_metres",
        "range_across_over_along",
        "sill_logit_squared",
    }
    for name in known:
        assert 0.0 < ends[name][0] < middle[name] < ends[name][1], name
    assert ends["share_that_neighbours_share"][1] < 1.0
    # an interval of a log is as wide on both sides; 1.645 deviations of a normal on either side hold 90 %
    low, high = ends["range_along_rows_metres"]
    assert math.sqrt(low * high) == pytest.approx(middle["range_along_rows_metres"])
    assert math.erf(Z_90 / math.sqrt(2.0)) == pytest.approx(0.9)


@pytest.mark.parametrize("method", ["binomial", "kriging", "inverse-distance"])
def test_a_method_that_is_asked_for(run: Run, files: tuple[Path, Path], tmp_path: Path, method: str) -> None:
    path = tmp_path / "r.json"
    chosen = ("--method", method, "--report", path, "--out", tmp_path / "out.csv")
    said = run("field", "--stops", files[0], "--at", files[1], *chosen)
    assert (said.code, said.err) == (0, "")
    assert SCORE_HEAD[1] not in said.out
    report = read(path)
    found = report["map"]
    assert (report["method_asked"], found["method_used"], found["why"]) == (method, method, "It was asked for.")
    assert found["scores"] == []
    assert (found["chance_of_no_pattern"] is None) == (method != "binomial")
    if method == "inverse-distance":
        assert found["variogram_used"] is None
        assert set(found["parameters"]) == {"level_share", "level_logit", "spread_between_vines_logit"}


def test_a_given_variogram_stands_in_the_report(run: Run, files: tuple[Path, Path], tmp_path: Path) -> None:
    path, text = tmp_path / "r.json", "spherical:0.2:1.2:30:0.5:20"
    chosen = ("--method", "kriging", "--variogram", text, "--report", path, "--out", tmp_path / "out.csv")
    assert run("field", "--stops", files[0], "--at", files[1], *chosen).code == 0
    report = read(path)
    assert report["variogram_given"] == text
    assert report["map"]["variogram_used"] == {
        "model": "spherical",
        "nugget": 0.2,
        "sill": 1.2,
        "range_along_bearing_metres": 30.0,
        "range_across_bearing_metres": 15.0,
        "bearing_degrees": 20.0,
    }
    values = {name: each["value"] for name, each in report["map"]["parameters"].items()}
    assert values["share_that_neighbours_share"] == pytest.approx(1.0 / 1.2)


def test_few_stops_have_no_scores_and_say_so(run: Run, files: tuple[Path, Path], tmp_path: Path) -> None:
    few, path = write_lines(tmp_path / "few.csv", HEAD, STOPS[4:5]), tmp_path / "r.json"
    said = run("field", "--stops", few, "--at", files[1], "--report", path, "--out", tmp_path / "out.csv")
    assert (said.code, said.err) == (0, "")
    assert said.out.splitlines()[1].startswith("No pattern found: one stop is too few to see one.")
    found = read(path)["map"]
    assert (found["method_used"], found["scores"], found["variogram_used"]) == ("block", [], None)


def test_every_block_of_a_season_has_its_own(run: Run, tmp_path: Path) -> None:
    ground = write_map(tmp_path / "o.geojson", outline("Löß Acre"), outline("Far Acre", east_m=100.0))
    season, path = tmp_path / "s.vinemap", tmp_path / "r.json"
    stops = write_stops(tmp_path / "s.csv", "Löß Acre", infected=PATCH)
    assert run("add", ground, stops, "--season", season).code == 0
    said = run("field", "--season", season, "--report", path, "--out", tmp_path / "out.csv")
    assert (said.code, said.err) == (0, "")
    report = read(path)
    assert (report["round"], report["threshold_share"]) == (1, 0.1)
    assert report["blocks"]["Far Acre"] == {"method_used": None, "why": "No clusters were examined."}
    found = report["blocks"]["Löß Acre"]
    assert [score["method"] for score in found["scores"]] == METHODS
    assert [each["column"] for each in found["columns_tried"]] == ["distance to the edge"]
    lines = said.out.splitlines()
    start = lines.index("Löß Acre:")
    assert lines[start + 1].split()[0] == "method"
    assert [line.split()[0] for line in lines[start + 2 : start + 6]] == ["binomial", "kriging", "inverse-distance", "the"]
    assert lines[start + 6].split()[:2] == ["column", "gain"]
    assert lines[start + 7].strip().startswith("distance to the edge ")
    assert lines[start + 8] == f"Löß Acre: {' '.join(found['notes'])}"
    assert lines[start + 9] == "Far Acre: not known: No clusters were examined."
    vines = table(tmp_path / "out.csv")
    assert list(vines[0])[7:] == ["incidence", "low", "high", "chance_above", "certainty", "logit_mean", "logit_sd"]
    assert all(float(line["logit_sd"]) > 0.0 for line in vines if line["block"] == "Löß Acre")
    assert {line["logit_mean"] for line in vines if line["block"] == "Far Acre"} == {""}


@pytest.mark.parametrize("way", [("--method", "kriging", "--variogram", "exponential:0.2:1.2:30"), ("--method", "binomial")])
def test_threads_change_nothing(run: Run, files: tuple[Path, Path], tmp_path: Path, way: tuple[str, ...]) -> None:
    """Places enough for several chunks."""
    rng = np.random.default_rng(5)
    at = write_lines(tmp_path / "many.csv", ("x_m", "y_m"), np.round(rng.uniform(0.0, 60.0, (5000, 2)), 2).tolist())
    for threads in (1, 3):
        chosen = (*way, "--threads", threads, "--report", tmp_path / f"{threads}.json", "--out", tmp_path / f"{threads}.csv")
        assert run("field", "--stops", files[0], "--at", at, *chosen).code == 0
    for kind in ("csv", "json"):
        assert (tmp_path / f"1.{kind}").read_bytes() == (tmp_path / f"3.{kind}").read_bytes()


def test_no_report_without_a_field(run: Run, files: tuple[Path, Path], tmp_path: Path) -> None:
    path = tmp_path / "r.json"
    chosen = ("--report", path, "--threshold", 2, "--out", tmp_path / "out.csv")
    assert run("field", "--stops", files[0], "--at", files[1], *chosen).code == 2
    (tmp_path / "folder").mkdir()
    assert run("field", "--stops", files[0], "--at", files[1], "--report", path, "--out", tmp_path / "folder").code == 2
    assert [each.name for each in tmp_path.iterdir()] == ["folder"]


def test_nothing_read_or_written_is_taken_for_the_report(run: Run, files: tuple[Path, Path], tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    for path in (*files, out, tmp_path / "s.vinemap", tmp_path / "." / "out.csv"):
        before = path.read_bytes() if path.exists() else None
        said = run("field", "--stops", files[0], "--at", files[1], "--report", path, "--out", out)
        assert (said.code, said.out, "Give --report another name." in said.err) == (2, "", True)
        assert (path.read_bytes() if path.exists() else None) == before


def test_columns_line_up_whatever_their_names() -> None:
    scores = [Score("kriging", -12.5, 0.25, 0.1), Score("block", -12.75, 0.0, 0.0)]
    tried = [Tried("vigour", 0.031, True), Tried("a column with a very long name that goes on", -1.5, False)]
    for lines in (score_lines(scores), tried_lines(tried)):
        assert len({len(line) for line in lines}) == 1
    assert tried_lines(tried)[1].split()[-2:] == ["+0.0310", "yes"]
    assert tried_lines(tried)[2].split()[-2:] == ["-1.5000", "no"]
    assert score_lines([]) == tried_lines([]) == []


def test_what_is_not_a_number_is_null(tmp_path: Path) -> None:
    path = tmp_path / "r.json"
    write_report(path, {"a": math.nan, "b": [math.inf, 1.5], "c": {"d": -math.inf, "e": "NaN"}, "f": None, "g": True})
    assert read(path) == {"layout": 1, "a": None, "b": [None, 1.5], "c": {"d": None, "e": "NaN"}, "f": None, "g": True}


def test_every_key_and_result_is_in_the_guide(made: tuple[Said, dict[str, Any]]) -> None:
    (page,) = (Path(__file__).resolve().parents[2] / "resources" / "guide").glob("4-*.md")
    told = set(re.findall(r"`(\w+)`", page.read_text(encoding="utf-8")))
    curve = Variogram("spherical", 0.2, 1.2, 30.0)
    values = value_facts(ValuesDone(1, 2, 0.5, 0.1, curve, (), ()))
    tried = {"columns_tried": [{"column": "", "gain_in_log_chance_per_left_out_stop": 0.0, "is_used": True}]}
    assert keys_of([made[1], values, tried, {"column": "", "round": 1, "blocks": {}}]) - told == set()
    assert {*FIELD_COLUMNS[5:], *VALUE_COLUMNS} <= told


def keys_of(found: Any) -> set[str]:
    if isinstance(found, dict):
        return set(found) | keys_of(list(found.values()))
    return set().union(*map(keys_of, found)) if isinstance(found, list) else set()
