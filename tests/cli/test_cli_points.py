"""The field of a table of stops at a table of points."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from cli_running import Run
from estate_makers import HOME_DEG, degrees, table, write_lines

from vinemap.files.projection import frame_for, to_local
from vinemap.surface.field import FieldOptions, field_at

RESULT = ["incidence", "low", "high", "chance_above", "certainty", "logit_mean", "logit_sd"]
STOPS = [(0, 0, 20, 1), (10, 0, 20, 3), (0, 20, 20, 0), (30, 10, 20, 10), (25, 30, 15, 4)]
POINTS = [(1, 2), (5.5, -5), (0, 20), (400, 400)]
METHODS = ("auto", "binomial", "kriging", "inverse-distance")


@pytest.fixture
def stops(tmp_path: Path) -> Path:
    return write_lines(tmp_path / "stops.csv", ("x_m", "y_m", "examined", "infected"), STOPS)


@pytest.fixture
def points(tmp_path: Path) -> Path:
    return write_lines(tmp_path / "points.csv", ("x_m", "y_m"), POINTS)


def cells(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.reader(stream))


def figures(path: Path) -> np.ndarray:
    found = np.array([[float(line[name]) for name in RESULT[:4]] for line in table(path)])
    middle, low, high, above = found.T
    assert ((low >= 0) & (low <= middle) & (middle <= high) & (high <= 1)).all()
    assert ((above >= 0) & (above <= 1)).all()
    return found


@pytest.mark.parametrize("method", METHODS)
def test_the_figures_are_those_of_the_field(run: Run, stops: Path, points: Path, tmp_path: Path, method: str) -> None:
    out = tmp_path / "out.csv"
    chosen = ("--method", method, "--bearing", 30, "--threshold", 0.2)
    said = run("field", "--stops", stops, "--at", points, *chosen, "--out", out)
    assert (said.code, said.err) == (0, "")
    assert said.out.startswith("4 points written")
    known = np.array(STOPS, float)
    field = field_at(
        known[:, :2], known[:, 2], known[:, 3], np.array(POINTS, float), FieldOptions(method, 0.2, bearing_deg=30.0)
    )
    columns = (field.incidence, field.low, field.high, field.chance_above)
    # written with six decimals
    np.testing.assert_allclose(figures(out), np.column_stack(columns), atol=1e-6)
    logits = [[float(line[name]) for name in RESULT[5:]] for line in table(out)]
    np.testing.assert_allclose(logits, np.column_stack([field.latent_mean, field.latent_sd]), atol=1e-6)
    assert table(out)[3]["certainty"] == "not known"


def test_all_columns_stay_as_they_were_written(run: Run, stops: Path, tmp_path: Path) -> None:
    at = tmp_path / "at.csv"
    at.write_text(
        '\ufeffName,X_M,y_m,,Nota Ñ\n"Peña, ""alta""",1.50,-2,k,-\n\n b ,+3,4e0,,"two\nlines"\nc,-0,-7.25,007, x \n',
        encoding="utf-8",
    )
    out = tmp_path / "out.csv"
    assert run("field", "--stops", stops, "--at", at, "--out", out).code == 0
    head, *lines = cells(out)
    assert head == ["Name", "X_M", "y_m", "", "Nota Ñ", *RESULT]
    assert [line[:5] for line in lines] == [
        ['Peña, "alta"', "1.50", "-2", "k", "-"],
        [" b ", "+3", "4e0", "", "two\nlines"],
        ["c", "-0", "-7.25", "007", " x "],
    ]


def test_no_cell_runs_as_a_formula_and_numbers_stay(run: Run, stops: Path, tmp_path: Path) -> None:
    risky = ["=1+1", "+cmd|x", "-2+3", "@sum", "'=again"]
    plain = ["-5", "-5.25", "-5,25", "+1.5e-3", "-.5", "-", "a=b"]
    at = write_lines(tmp_path / "at.csv", ("x_m", "y_m", "=head", "kept"), [(0, 0, cell, "") for cell in risky + plain])
    out = tmp_path / "out.csv"
    assert run("field", "--stops", stops, "--at", at, "--out", out).code == 0
    head, *lines = cells(out)
    assert head[2] == "'=head"
    # a mark that was there gets one more, so that reading takes the right one away
    assert [line[2] for line in lines] == ["'=1+1", "'+cmd|x", "'-2+3", "'@sum", "''=again", *plain]


def test_decimal_commas_semicolons_and_other_encodings_read_the_same(run: Run, points: Path, tmp_path: Path) -> None:
    plain = "x_m,y_m,examined,infected,where\n0.5,0,20,1,Peña\n10,2.25,20,3,\n0,20,20,0,\n30,10,20,10,\n"
    comma = plain.replace(",", ";").replace(".", ",")
    ways = {
        "plain": plain.encode(),
        "bom": plain.encode("utf-8-sig"),
        "semicolons": comma.encode(),
        "utf16": comma.encode("utf-16"),
        "windows": plain.replace("\n", "\r\n").encode("cp1252"),
        "tabs": comma.replace(";", "\t").encode(),
    }
    found = {}
    for way, data in ways.items():
        path = tmp_path / f"{way}.csv"
        path.write_bytes(data)
        said = run("field", "--stops", path, "--at", points, "--out", tmp_path / f"{way}-out.csv")
        assert said.code == 0, way
        found[way] = figures(tmp_path / f"{way}-out.csv")
        assert ("read as" in said.out) == (way in ("utf16", "windows"))
    for way in ways:
        np.testing.assert_array_equal(found[way], found["plain"], err_msg=way)


def test_points_with_decimal_commas_stay_as_they_are(run: Run, stops: Path, tmp_path: Path) -> None:
    at = tmp_path / "at.csv"
    at.write_text("x_m;y_m;n\n1,5;-2,25;a\n", encoding="utf-8")
    same = write_lines(tmp_path / "same.csv", ("x_m", "y_m"), [(1.5, -2.25)])
    for path in (at, same):
        assert run("field", "--stops", stops, "--at", path, "--out", tmp_path / f"{path.stem}-out.csv").code == 0
    assert cells(tmp_path / "at-out.csv")[1][:3] == ["1,5", "-2,25", "a"]
    np.testing.assert_array_equal(figures(tmp_path / "at-out.csv"), figures(tmp_path / "same-out.csv"))


def test_degrees_answer_as_metres_do(run: Run, tmp_path: Path) -> None:
    """The same places once in longitude and latitude, once in metres of their UTM zone."""
    frame = frame_for(*HOME_DEG)
    written = {}
    for name, places in (("stops", [stop[:2] for stop in STOPS]), ("points", POINTS)):
        lonlat = np.array([degrees(HOME_DEG, *place) for place in places])
        metres = np.column_stack(to_local(frame, *lonlat.T)) + np.array([frame.origin_x_m, frame.origin_y_m])
        written[name] = lonlat.tolist(), metres.tolist()
    found = []
    for way, columns in enumerate((("lon", "lat"), ("x_m", "y_m"))):
        f = [(*place, *stop[2:]) for place, stop in zip(written["stops"][way], STOPS, strict=True)]
        stops = write_lines(tmp_path / f"f{way}.csv", (*columns, "examined", "infected"), f)
        at = write_lines(tmp_path / f"g{way}.csv", columns, written["points"][way])
        out = tmp_path / f"h{way}.csv"
        assert run("field", "--stops", stops, "--at", at, "--method", "inverse-distance", "--out", out).code == 0
        found.append(figures(out))
    np.testing.assert_allclose(found[0], found[1], atol=2e-6)


@pytest.mark.parametrize("method", METHODS)
def test_odd_stops_are_answered(run: Run, points: Path, tmp_path: Path, method: str) -> None:
    cases = {
        "one": [(0, 0, 20, 4)],
        "clean": [(x, y, 20, 0) for x, y, *_ in STOPS],
        "infected": [(x, y, 20, 20) for x, y, *_ in STOPS],
        "twice": [*STOPS, (10, 0, 20, 7)],
        "nothing looked at": [*STOPS, (50, 50, 0, 0)],
    }
    found = {}
    for name, lines in cases.items():
        stops = write_lines(tmp_path / f"{name}.csv", ("x_m", "y_m", "examined", "infected"), lines)
        said = run("field", "--stops", stops, "--at", points, "--method", method, "--out", tmp_path / "out.csv")
        assert (said.code, said.err) == (0, ""), name
        found[name] = figures(tmp_path / "out.csv")
    assert found["clean"][:, 0].max() < 0.1
    assert found["infected"][:, 0].min() > 0.9
    stops = write_lines(
        tmp_path / "sum.csv", ("x_m", "y_m", "examined", "infected"), [(10, 0, 40, 10), *STOPS[:1], *STOPS[2:]]
    )
    run("field", "--stops", stops, "--at", points, "--method", method, "--out", tmp_path / "out.csv")
    np.testing.assert_allclose(found["twice"], figures(tmp_path / "out.csv"), atol=2e-6)


def test_a_bad_stop_is_left_out_and_said(run: Run, points: Path, tmp_path: Path) -> None:
    lines = [*STOPS[:2], (0, 5, 20, 21), ("1 m", 5, 20, 2), *STOPS[2:]]
    broken = write_lines(tmp_path / "broken.csv", ("x_m", "y_m", "examined", "infected"), lines)
    good = write_lines(tmp_path / "good.csv", ("x_m", "y_m", "examined", "infected"), STOPS)
    said = run("field", "--stops", broken, "--at", points, "--out", tmp_path / "a.csv")
    assert said.code == 0
    first, second = said.err.splitlines()
    assert first.startswith("left out: broken.csv, line 4: infected = 21: is more than the 20 examined.")
    assert second.startswith("left out: broken.csv, line 5: x_m = 1 m: is not a number.")
    run("field", "--stops", good, "--at", points, "--out", tmp_path / "b.csv")
    np.testing.assert_array_equal(figures(tmp_path / "a.csv"), figures(tmp_path / "b.csv"))


REFUSED = {
    "no points": ("x_m,y_m\n", "nothing under it"),
    "empty": ("", "is empty"),
    "degrees": ("lon,lat\n-122,38\n", "in different ways"),
    "nowhere": ("a,b\n1,2\n", "does not say where its points are"),
    "no number": ("x_m,y_m\n1,2\n3,\n", "1 point can't be read. at.csv, line 3: y_m"),
    "short": ("x_m,y_m\n1\n", "has 1 values"),
    "result there": ("x_m,y_m,Low\n1,2,3\n", "already has a column “low”"),
    "twice": ("x_m,y_m,X_M\n1,2,3\n", "names the column “x_m” twice"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_points_of_no_use_are_refused(run: Run, stops: Path, tmp_path: Path, case: str) -> None:
    text, words = REFUSED[case]
    at = tmp_path / "at.csv"
    at.write_text(text, encoding="utf-8")
    said = run("field", "--stops", stops, "--at", at, "--out", tmp_path / "out.csv")
    assert said.code == 2
    assert words in said.err
    assert said.err.count("\n") == 1
    assert not (tmp_path / "out.csv").exists()


def test_a_table_of_stops_without_stops_is_refused(run: Run, points: Path, tmp_path: Path) -> None:
    head = ("x_m", "y_m", "examined", "infected")
    for name, lines, words in (
        ("none", [], "nothing under it"),
        ("bad", [(0, 0, 1, 2)], "has no usable stop. bad.csv, line 2"),
        ("unlooked", [(0, 0, 0, 0)], "No stop has examined clusters"),
    ):
        stops = write_lines(tmp_path / f"{name}.csv", head, lines)
        said = run("field", "--stops", stops, "--at", points, "--out", tmp_path / "out.csv")
        assert (said.code, words in said.err) == (2, True), said.err


CHOICES = {
    "--method spline": "“spline” is not a way to make a map",
    "--method first-look": "“first-look” is not a way to make a map. Choose one of: auto, binomial,",
    "--threads 0": "--threads is 0; it must be from 1 to 64",
    "--threads 65": "--threads is 65; it must be from 1 to 64",
    "--threads two": "--threads: “two” is not a whole number",
    "--round 1": "A table of stops has no rounds",
    "--threshold 1.5": "between 0 and 100 %",
    "--threshold 0": "between 0 and 100 %",
    "--threshold -0.1": "between 0 and 100 %",
    "--threshold ten": "--threshold: “ten” is not a number",
    "--threshold 0,1": "--threshold: “0,1” is not a number",
    "--bearing nan": "--bearing: “nan” is not a number",
    "--method inverse-distance --power -1": "Power and neighbours must be above 0",
    "--method inverse-distance --neighbours 0": "Power and neighbours must be above 0",
    "--neighbours 1.5": "is not a whole number",
    "--method": "--method: nothing was given",
    "--colour red": "Not understood: --colour red",
}


@pytest.mark.parametrize("chosen", CHOICES)
def test_choices_that_cannot_be_are_refused(run: Run, stops: Path, points: Path, tmp_path: Path, chosen: str) -> None:
    said = run("field", "--stops", stops, "--at", points, "--out", tmp_path / "out.csv", *chosen.split())
    assert said.code == 2
    assert CHOICES[chosen] in said.err
    assert said.err.count("\n") == 1


def test_nothing_that_was_read_is_written_over(run: Run, stops: Path, points: Path) -> None:
    for out in (stops, points):
        before = out.read_bytes()
        said = run("field", "--stops", stops, "--at", points, "--out", out)
        assert (said.code, "can't be written over" in said.err) == (2, True)
        assert out.read_bytes() == before
