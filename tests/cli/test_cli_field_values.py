"""Plain numbers kriged by the command, beside PyKrige and GSTools."""

from __future__ import annotations

import json
from pathlib import Path

import gstools
import numpy as np
import pytest
from cli_running import Run
from estate_makers import SOUTH_DEG, degrees, table, write_lines
from pykrige.ok import OrdinaryKriging

from vinemap.files.projection import frame_for, to_local
from vinemap.surface.variogram import KINDS, MATERN_STEPS

RNG = np.random.default_rng(20)
PLACES = np.round(RNG.uniform(0.0, 100.0, (40, 2)), 3)
VALUES = np.round(5.0 + np.sin(PLACES[:, 0] / 25.0) + np.cos(PLACES[:, 1] / 15.0) + RNG.normal(0.0, 0.2, 40), 4)
AT = np.round(RNG.uniform(-10.0, 110.0, (25, 2)), 3)
HEAD = ("x_m", "y_m", "Größe")


@pytest.fixture
def stops(tmp_path: Path) -> Path:
    return write_lines(tmp_path / "values.csv", HEAD, [(*place, value) for place, value in zip(PLACES, VALUES, strict=True)])


@pytest.fixture
def at(tmp_path: Path) -> Path:
    return write_lines(tmp_path / "at.csv", ("x_m", "y_m"), AT.tolist())


def kriged(path: Path) -> np.ndarray:
    return np.array([[float(line["value"]), float(line["variance"])] for line in table(path)])


def by_pykrige(kind: str, nugget: float, sill: float, range_m: float, ratio: float, bearing_deg: float) -> np.ndarray:
    # their gaussian reaches 95 % at 4/7 of their range squared; ours at 1/3
    reach = range_m * (7 / 4 / np.sqrt(3) if kind == "gaussian" else 1.0)
    figures = {"psill": sill - nugget, "range": reach, "nugget": nugget}
    options: dict[str, object] = {"variogram_model": kind, "variogram_parameters": figures}
    if kind == "matern":

        def rise(figures: list[float], distance: np.ndarray) -> np.ndarray:
            steps = MATERN_STEPS * distance / figures[1]
            return figures[2] + figures[0] * (1.0 - (1.0 + steps) * np.exp(-steps))

        options = {"variogram_model": "custom", "variogram_function": rise, "variogram_parameters": list(figures.values())}
    # their angle of the long axis is counter-clockwise from east; ours is a bearing
    turned = {"anisotropy_angle": 90.0 - bearing_deg, "anisotropy_scaling": 1.0 / ratio}
    mean, variance = OrdinaryKriging(*PLACES.T, VALUES, **options, **turned).execute("points", *AT.T)
    return np.column_stack([mean, variance])


def by_gstools(kind: str, nugget: float, sill: float, scale_m: float, ratio: float, bearing_deg: float) -> np.ndarray:
    """By the scale that the formulas of Cressie 1993, section 2.3, and Stein 1999, section 2.7, are written with."""
    kinds = {"spherical": gstools.Spherical, "exponential": gstools.Exponential, "gaussian": gstools.Gaussian}
    # their gaussian is exp(-(rescale h / l)^2), their matern of 3/2 has sqrt(3/2) rescale h / l in the place of sqrt(3) h / l
    more = {"rescale": np.sqrt(2.0), "nu": 1.5} if kind == "matern" else {"rescale": 1.0}
    model = kinds.get(kind, gstools.Matern)(
        dim=2,
        var=sill - nugget,
        len_scale=scale_m,
        nugget=nugget,
        anis=ratio,
        angles=np.radians(90.0 - bearing_deg),
        **more,
    )
    return np.column_stack(gstools.krige.Ordinary(model, PLACES.T, VALUES, exact=True)(AT.T))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("figures", [(0.3, 1.5, 40.0, 1.0, 0.0), (0.05, 2.0, 25.0, 0.4, 115.0)])
def test_agrees_with_two_other_programs(
    run: Run, stops: Path, at: Path, tmp_path: Path, kind: str, figures: tuple[float, ...]
) -> None:
    words = ":".join(f"{figure:g}" for figure in figures)
    for written, other in ((kind, by_pykrige), (f"{kind}!", by_gstools)):
        out = tmp_path / "out.csv"
        chosen = ("--value", "größe", "--variogram", f"{written}:{words}")
        said = run("field", "--stops", stops, "--at", at, *chosen, "--out", out)
        assert (said.code, said.err) == (0, "")
        np.testing.assert_allclose(kriged(out), other(kind, *figures), rtol=1e-6, atol=1e-6)


def test_without_a_nugget_a_value_is_given_back_at_its_place(run: Run, stops: Path, tmp_path: Path) -> None:
    out, chosen = tmp_path / "out.csv", ("--value", "GRÖSSE", "--variogram", "exponential:0:1.5:40")
    assert run("field", "--stops", stops, "--at", write_own(tmp_path), *chosen, "--out", out).code == 0
    np.testing.assert_allclose(kriged(out), np.column_stack([VALUES, 0.0 * VALUES]), atol=1e-9)


def test_with_a_nugget_the_map_has_no_spikes_where_values_stand(run: Run, stops: Path, tmp_path: Path) -> None:
    """What a new value would be at a place already looked at, and a hand beside it: other programs jump between the two."""
    for name, places in (("own", PLACES), ("beside", PLACES + 0.01)):
        at = write_lines(tmp_path / f"{name}.csv", ("x_m", "y_m"), places.tolist())
        chosen = ("--value", "GRÖSSE", "--variogram", "exponential:0.3:1.5:40")
        assert run("field", "--stops", stops, "--at", at, *chosen, "--out", tmp_path / f"{name}_out.csv").code == 0
    own, beside = (kriged(tmp_path / f"{name}_out.csv") for name in ("own", "beside"))
    np.testing.assert_allclose(own, beside, atol=0.01)
    assert (own[:, 1] > 0.3).all()
    # the value that PyKrige takes the nugget out of, where it is told that values are not exact
    figures = {"psill": 1.2, "range": 40.0, "nugget": 0.3}
    theirs = OrdinaryKriging(
        *PLACES.T, VALUES, variogram_model="exponential", variogram_parameters=figures, exact_values=False
    )
    np.testing.assert_allclose(own[:, 0], theirs.execute("points", *PLACES.T)[0], rtol=1e-6)


def test_two_values_at_one_place_count_where_a_nugget_is_given(run: Run, tmp_path: Path) -> None:
    stops = write_lines(tmp_path / "twice.csv", ("x_m", "y_m", "v"), [(0, 0, 1.0), (0, 0, 3.0), (30, 0, 6.0)])
    at = write_lines(tmp_path / "at.csv", ("x_m", "y_m"), [(0, 0)])
    out = tmp_path / "out.csv"
    assert (
        run("field", "--stops", stops, "--at", at, "--value", "v", "--variogram", "spherical:1:2:20", "--out", out).code == 0
    )
    # beyond the range the third only tells of the level: two of likeness 1/2 and one alone, solved by hand
    like = np.array([[2.0, 1.0, 0.0], [1.0, 2.0, 0.0], [0.0, 0.0, 2.0]])
    weights = np.linalg.solve(np.block([[like, np.ones((3, 1))], [np.ones((1, 3)), np.zeros((1, 1))]]), [1.0, 1.0, 0.0, 1.0])
    assert kriged(out)[0, 0] == pytest.approx(weights[:3] @ [1.0, 3.0, 6.0])
    refused = run("field", "--stops", stops, "--at", at, "--value", "v", "--variogram", "spherical:0:2:20", "--out", out)
    assert refused.code == 2
    assert "two exact values stand at one place" in refused.err


def write_own(folder: Path) -> Path:
    return write_lines(folder / "own.csv", ("x_m", "y_m"), PLACES.tolist())


def test_bearing_and_ratio_are_taken_as_they_are_left_out(run: Run, stops: Path, at: Path, tmp_path: Path) -> None:
    ways = {
        "spherical:0.1:2:30:0.5:70": (),
        "spherical:0.1:2:30:0.5": ("--bearing", 70),
        "spherical:0.1:2:15:2": ("--bearing", -20),
        " spherical : +.1 : 2. : 3e1 : 5E-1 : 70 ": ("--bearing", 5),
        "spherical!:0.1:2:30:0.5:430": (),
    }
    found = []
    for text, more in ways.items():
        out = tmp_path / "out.csv"
        said = run("field", "--stops", stops, "--at", at, "--value", "größe", "--variogram", text, *more, "--out", out)
        assert (said.code, said.err) == (0, ""), text
        found.append(kriged(out))
    for other in found[1:]:
        np.testing.assert_allclose(other, found[0], rtol=1e-9)
    out = tmp_path / "round.csv"
    plain = ("--variogram", "spherical:0.1:2:30", "--bearing", 70)
    assert run("field", "--stops", stops, "--at", at, "--value", "größe", *plain, "--out", out).code == 0
    assert np.abs(kriged(out) - found[0]).max() > 0.01


def test_a_variogram_is_found_and_told(run: Run, stops: Path, at: Path, tmp_path: Path) -> None:
    out, report = tmp_path / "out.csv", tmp_path / "r.json"
    said = run("field", "--stops", stops, "--at", at, "--value", "größe", "--bearing", 20, "--report", report, "--out", out)
    assert (said.code, said.err) == (0, "")
    assert said.out.startswith("25 points written")
    assert "Kriged with a variogram found from the values: exponential" in said.out
    facts = json.loads(report.read_text(encoding="utf-8"))
    assert (facts["layout"], facts["what"], facts["column"]) == (1, "values", "größe")
    found = facts["map"]
    assert (found["method_used"], found["values"]) == ("kriging", 40)
    assert found["mean"] == pytest.approx(VALUES.mean())
    assert found["sample_variance"] == pytest.approx(VALUES.var(ddof=1))
    curve = found["variogram_used"]
    assert curve["sill"] == pytest.approx(VALUES.var(ddof=1))
    assert curve["bearing_degrees"] == 20.0
    names = ("nugget", "sill", "range_along_bearing_metres")
    figures = [repr(curve[name]) for name in names] + [
        repr(curve["range_across_bearing_metres"] / curve["range_along_bearing_metres"])
    ]
    again = ("--variogram", ":".join([curve["model"], *figures, "20"]))
    assert run("field", "--stops", stops, "--at", at, "--value", "größe", *again, "--out", tmp_path / "b.csv").code == 0
    np.testing.assert_allclose(kriged(tmp_path / "b.csv"), kriged(out), rtol=1e-9)


def test_no_pattern_means_mean_and_variance(run: Run, at: Path, tmp_path: Path) -> None:
    """The variance of a new value about an estimated mean is s2 (1 + 1/n); noise without a pattern, and too few values."""
    noise = np.random.default_rng(3).normal(0.0, 1.0, 40)
    for values, words in ((noise, "near values are no more alike"), (noise[:3], "3 values are too few to see one")):
        lines = [(*place, value) for place, value in zip(PLACES, values, strict=False)]
        stops = write_lines(tmp_path / "noise.csv", ("x_m", "y_m", "v"), lines)
        out, report = tmp_path / "out.csv", tmp_path / "r.json"
        said = run("field", "--stops", stops, "--at", at, "--value", "v", "--report", report, "--out", out)
        assert said.code == 0
        assert f"No pattern found: {words}." in said.out
        expected = [values.mean(), values.var(ddof=1) * (1.0 + 1.0 / len(values))]
        np.testing.assert_allclose(kriged(out), np.tile(expected, (25, 1)), rtol=1e-9)
        found = json.loads(report.read_text(encoding="utf-8"))["map"]
        assert (found["method_used"], found["variogram_used"]) == ("mean", None)


def test_without_a_pattern_the_mean_is_given_everywhere(run: Run, tmp_path: Path) -> None:
    stops = write_lines(tmp_path / "three.csv", ("x_m", "y_m", "v"), [(0, 0, 1.0), (9, 0, 4.0), (0, 9, 10.0)])
    at = write_lines(tmp_path / "at.csv", ("x_m", "y_m"), [(9, 0), (9, 9), (0, 9.0004)])
    assert run("field", "--stops", stops, "--at", at, "--value", "v", "--out", tmp_path / "out.csv").code == 0
    # mean 5, squares 16 + 1 + 25 over 2 is 21, and a third more
    np.testing.assert_allclose(kriged(tmp_path / "out.csv"), [[5.0, 28.0]] * 3, rtol=1e-11)


@pytest.mark.parametrize("value", [-2.5, 0.1, 1e-9, 123456.789])
def test_values_that_are_all_the_same(run: Run, at: Path, tmp_path: Path, value: float) -> None:
    stops = write_lines(tmp_path / "same.csv", ("x_m", "y_m", "v"), [(*place, value) for place in PLACES.tolist()])
    said = run("field", "--stops", stops, "--at", at, "--value", "v", "--out", tmp_path / "out.csv")
    assert said.code == 0
    assert f"All values are {value:g}" in said.out
    np.testing.assert_array_equal(kriged(tmp_path / "out.csv"), np.tile([value, 0.0], (25, 1)))


def test_one_value_needs_a_variogram(run: Run, at: Path, tmp_path: Path) -> None:
    """Ordinary kriging of one value gives it everywhere, with twice what the two places do not share."""
    stops = write_lines(tmp_path / "one.csv", ("x_m", "y_m", "v"), [(50.0, 50.0, 7.0)])
    chosen = ("field", "--stops", stops, "--at", at, "--value", "v", "--out", tmp_path / "out.csv")
    said = run(*chosen)
    assert (said.code, said.out) == (2, "")
    assert "One value does not tell how much values vary." in said.err
    assert run(*chosen, "--variogram", "exponential!:0.5:2:30").code == 0
    away = np.hypot(*(AT - 50.0).T)
    variance = 2.0 * (2.0 - 1.5 * np.exp(-away / 30.0))
    np.testing.assert_allclose(kriged(tmp_path / "out.csv"), np.column_stack([0 * away + 7.0, variance]), rtol=1e-9)


def test_southern_degrees_answer_as_metres_do(run: Run, tmp_path: Path) -> None:
    found = []
    frame = frame_for(*SOUTH_DEG)
    lonlat = {name: np.array([degrees(SOUTH_DEG, *place) for place in each]) for name, each in (("v", PLACES), ("at", AT))}
    assert (lonlat["v"][:, 1] < 0.0).all()
    metres = {name: np.column_stack(to_local(frame, *places.T)) for name, places in lonlat.items()}
    for columns, given in ((("lon", "lat"), lonlat), (("x_m", "y_m"), metres)):
        lines = [(*place, value) for place, value in zip(given["v"].tolist(), VALUES, strict=True)]
        stops = write_lines(tmp_path / "v.csv", (*columns, "v"), lines)
        at = write_lines(tmp_path / "at.csv", columns, given["at"].tolist())
        out = tmp_path / "out.csv"
        chosen = ("--value", "v", "--variogram", "exponential:0.1:1.5:40:0.5:20")
        said = run("field", "--stops", stops, "--at", at, *chosen, "--out", out)
        assert (said.code, said.err) == (0, "")
        found.append(kriged(out))
    np.testing.assert_allclose(found[0], found[1], rtol=1e-6)


def test_decimal_commas_read_the_same_and_accents_may_be_written_in_two(
    run: Run, stops: Path, at: Path, tmp_path: Path
) -> None:
    comma = tmp_path / "comma.csv"
    text = stops.read_text(encoding="utf-8").replace(",", ";").replace(".", ",").replace("ö", "o\u0308")
    comma.write_text(text, encoding="utf-8")
    for path in (stops, comma):
        chosen = ("--value", "Größe", "--variogram", "exponential:0.1:1.5:40", "--out", tmp_path / f"{path.stem}.out")
        said = run("field", "--stops", path, "--at", at, *chosen)
        assert (said.code, said.err) == (0, "")
    assert (tmp_path / "comma.out").read_bytes() == (tmp_path / "values.out").read_bytes()


def test_a_bad_value_is_left_out_and_said(run: Run, at: Path, tmp_path: Path) -> None:
    bad = ["", "12 kg", "1e101", "nan", "1_0"]
    lines = [(*place, value) for place, value in zip(PLACES.tolist(), [*bad, *VALUES[5:]], strict=True)]
    stops = write_lines(tmp_path / "bad.csv", ("x_m", "y_m", "v"), lines)
    said = run("field", "--stops", stops, "--at", at, "--value", "v", "--out", tmp_path / "out.csv")
    assert said.code == 0
    assert [line.split(":")[1].strip() for line in said.err.splitlines()] == [f"bad.csv, line {n}" for n in range(2, 7)]


REFUSED = {
    "two at one place": ("x_m,y_m,v\n1,2,3\n4,5,6\n1.0004,2,3\n", "lines.csv, line 2 and line 4: two exact values stand"),
    "nothing": ("", "is empty"),
    "no line": ("x_m,y_m,v\n", "nothing under it"),
    "no column": ("x_m,y_m,w\n1,2,3\n", "has no column “v”; it has x_m, y_m, w."),
    "no number": ("x_m,y_m,v\n1,2,x\n", "has no usable stop. lines.csv, line 2: v = x: is not a number"),
    "no place": ("a,v\n1,2\n", "does not say where its points are"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_values_of_no_use_are_refused(run: Run, at: Path, tmp_path: Path, case: str) -> None:
    text, words = REFUSED[case]
    stops = tmp_path / "lines.csv"
    stops.write_text(text, encoding="utf-8")
    chosen = ("--value", "v", "--report", tmp_path / "r.json", "--out", tmp_path / "out.csv")
    said = run("field", "--stops", stops, "--at", at, *chosen)
    assert (said.code, said.out) == (2, "")
    assert words in said.err
    assert said.err.count("\n") == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["at.csv", "lines.csv"]


CHOICES = {
    "--method binomial": "A plain number can only be kriged",
    "--method inverse-distance": "A plain number can only be kriged",
    "--threshold 0.1": "a plain number has none. Leave out --threshold",
    "--variogram gaussian:0:1:500": "too close together for this variogram",
}


@pytest.mark.parametrize("chosen", CHOICES)
def test_choices_that_do_not_go_with_values(run: Run, stops: Path, at: Path, tmp_path: Path, chosen: str) -> None:
    out = tmp_path / "out.csv"
    said = run("field", "--stops", stops, "--at", at, "--value", "größe", "--out", out, *chosen.split())
    assert (said.code, said.out, out.exists()) == (2, "", False)
    assert CHOICES[chosen] in said.err
    assert said.err.count("\n") == 1


def test_a_result_is_not_named_twice(run: Run, stops: Path, tmp_path: Path) -> None:
    at = write_lines(tmp_path / "at.csv", ("x_m", "y_m", "Variance"), [(1, 2, 3)])
    said = run("field", "--stops", stops, "--at", at, "--value", "größe", "--out", tmp_path / "out.csv")
    assert (said.code, "already has a column “variance”" in said.err) == (2, True)
