"""A variogram written in one word: what is taken and what is refused, for numbers and for counts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from cli_running import Run
from estate_makers import table, write_lines
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.service.asked_variogram import read_variogram, variogram_words
from vinemap.surface.field import KRIGING, FieldOptions, field_at
from vinemap.surface.variogram import KINDS, Variogram, range_of_scale

STOPS = [(0, 0, 20, 1), (10, 0, 20, 3), (0, 20, 20, 0), (30, 10, 20, 10), (25, 30, 15, 4)]
POINTS = [(1, 2), (5.5, -5), (0, 20), (400, 400)]


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    stops = write_lines(tmp_path / "stops.csv", ("x_m", "y_m", "examined", "infected"), STOPS)
    return stops, write_lines(tmp_path / "points.csv", ("x_m", "y_m"), POINTS)


BROKEN = {
    "": "it has 1 part instead of 4 to 6. Write it as MODEL:NUGGET:SILL:RANGE[:RATIO[:BEARING]]",
    "exponential:0.1:1": "it has 3 parts instead of 4 to 6",
    "exponential:0.1:1:30:1:5:9": "it has 7 parts instead of 4 to 6",
    "exponential 0.1 1 30": "it has 1 part instead of 4 to 6",
    "0.1:1:30:exponential": "part 1, “0.1”, is not a model. Choose one of: spherical, exponential, gaussian, matern.",
    "Exponential:0.1:1:30": "part 1, “Exponential”, is not a model",
    "exponential!!:0.1:1:30": "part 1, “exponential!!”, is not a model",
    "!:0.1:1:30": "part 1, “!”, is not a model",
    "exponential:little:1:30": "part 2, the nugget, is “little”, which is not a number",
    "exponential:0.1:one:30": "part 3, the sill, is “one”, which is not a number",
    "exponential:0.1:1:30m": "part 4, the range, is “30m”, which is not a number",
    "exponential:0,1:1:30": "part 2, the nugget, is “0,1”. Write a decimal point: 0.1.",
    "exponential:0.1:1:30:0,5": "part 5, the ratio, is “0,5”. Write a decimal point: 0.5.",
    "exponential::1:30": "part 2, the nugget, is empty. Fill it in.",
    "exponential:0.1:1:30:": "part 5, the ratio, is empty",
    "exponential:0.1:1:30:1:north": "part 6, the bearing, is “north”, which is not a number",
    "exponential:nan:1:30": "part 2, the nugget, is “nan”, which is not a number",
    "exponential:0.1:inf:30": "part 3, the sill, is “inf”, which is not a number",
    "exponential:0.1:1e400:30": "the sill, inf, must be from 1e-30 to 1e+30",
    "exponential:0:1e-31:30": "the sill, 1e-31, must be from 1e-30 to 1e+30",
    "exponential:0:1:1e31": "the range is 1e+31 m, and must be from 0.001 to 1e+09 m",
    "exponential:0:1:30:1e-99": "the range across, RANGE times RATIO, is 3e-98 m, and must be from",
    "exponential:0:1:30:1:1e999": "the bearing, inf, is far too large",
    "exponential:0.1:1_0:30": "part 3, the sill, is “1_0”, which is not a number",
    "exponential:2:1:30": "the nugget, 2, must lie between 0 and the sill, 1",
    "exponential:-0.1:1:30": "the nugget, -0.1, must lie between 0 and the sill, 1",
    "exponential:0:0:30": "the sill, 0, must be above 0",
    "exponential:0:-1:30": "the sill, -1, must be above 0",
    "exponential:0:1:0": "the range, 0, must be above 0",
    "exponential!:0:1:-5": "the range, -5, must be above 0",
    "exponential:0:1:30:0": "the ratio, 0, must be above 0",
}


@pytest.mark.parametrize("text", BROKEN)
def test_a_broken_variogram_is_told_by_its_part(text: str) -> None:
    with pytest.raises(InputError) as raised:
        read_variogram(text, 0.0)
    said = str(raised.value)
    assert said.startswith(f"The variogram “{text}” can't be used: ")
    assert BROKEN[text] in said
    assert raised.value.do


@pytest.mark.parametrize("more", [(), ("--method", "kriging")])
def test_the_command_refuses_it_in_one_line(
    run: Run, files: tuple[Path, Path], tmp_path: Path, more: tuple[str, ...]
) -> None:
    chosen = (*more, "--variogram", "exponential:0,1:1:30") if more else ("--value", "infected", "--variogram", "a:b")
    said = run("field", "--stops", files[0], "--at", files[1], *chosen, "--out", tmp_path / "out.csv")
    assert (said.code, said.out, said.err.count("\n")) == (2, "", 1)
    assert said.err.startswith("The variogram “")
    assert not (tmp_path / "out.csv").exists()


POSITIVE = st.floats(0.05, 1e3)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.sampled_from(KINDS), st.floats(0.0, 1.0), POSITIVE, POSITIVE, POSITIVE, st.floats(-720.0, 720.0), st.integers(0, 2))
def test_every_variogram_is_read_as_it_is_written(
    kind: str, share: float, sill: float, range_m: float, ratio: float, bearing_deg: float, left_out: int
) -> None:
    parts = [share * sill, sill, range_m, ratio, bearing_deg]
    text = ":".join([kind, *(repr(part) for part in parts[: 5 - left_out])])
    found = read_variogram(text, 12.0)
    expected = Variogram(
        kind, share * sill, sill, range_m, 1.0 if left_out == 2 else ratio, 12.0 if left_out else bearing_deg
    )
    assert found == expected
    scaled = read_variogram(text.replace(":", "!:", 1), 12.0)
    assert scaled.range_m == pytest.approx(range_of_scale(kind, range_m))
    assert (scaled.nugget, scaled.sill, scaled.ratio) == (expected.nugget, expected.sill, expected.ratio)


def test_a_variogram_in_words() -> None:
    words = variogram_words(read_variogram("matern:0.25:1.5:30:0.5:12", 0.0))
    assert words == "matern, nugget 0.25, sill 1.5, range 30 m along bearing 12 and 15 m across"


def test_counts_are_kriged_with_the_given_variogram(run: Run, files: tuple[Path, Path], tmp_path: Path) -> None:
    """Five stops are too few to find a pattern; a given one is taken all the same."""
    out, known = tmp_path / "out.csv", np.array(STOPS, float)
    text = "spherical:0.2:1.2:30:0.5:20"
    chosen = ("--method", "kriging", "--variogram", text, "--bearing", 70)
    said = run("field", "--stops", files[0], "--at", files[1], *chosen, "--out", out)
    assert (said.code, said.err) == (0, "")
    assert "up to 30 m along the row and 15 m across" in said.out
    found = np.array([[float(line["logit_mean"]), float(line["logit_sd"])] for line in table(out)])
    options = FieldOptions(KRIGING, variogram=Variogram("spherical", 0.2, 1.2, 30.0, 0.5, 20.0))
    field = field_at(known[:, :2], known[:, 2], known[:, 3], np.array(POINTS, float), options)
    assert field.recipe.variogram == options.variogram
    np.testing.assert_allclose(found, np.column_stack([field.latent_mean, field.latent_sd]), atol=1e-6)
    # far away nothing is known but the level, which ordinary kriging is never surer of than of a new vine
    assert found[3, 1] > np.sqrt(1.2)
    wide = run("field", "--stops", files[0], "--at", files[1], "--method", "kriging", "--out", out)
    assert "No pattern found" in wide.out


@pytest.mark.parametrize("method", ["auto", "binomial", "inverse-distance"])
def test_other_methods_refuse_a_variogram(run: Run, files: tuple[Path, Path], tmp_path: Path, method: str) -> None:
    out = tmp_path / "out.csv"
    chosen = ("--method", method, "--variogram", "spherical:0.2:1.2:30", "--out", out)
    said = run("field", "--stops", files[0], "--at", files[1], *chosen)
    assert (said.code, said.out, out.exists()) == (2, "", False)
    assert said.err == (
        "A given variogram is for kriging only. Add --method kriging, or leave out --variogram: one is fitted.\n"
    )
    with pytest.raises(InputError, match="for kriging only"):
        FieldOptions(method, variogram=Variogram("spherical", 0.2, 1.2, 30.0))


ODD = [
    "exponential:1:1:30",
    "matern:0:1e-9:30",
    "spherical:0:1e9:1e-3",
    "exponential:0:1:1e9:1e-12:-9999",
    "exponential:1e-30:1e-30:0.001:1:1e6",
    "gaussian:0:100:1e9",
    "spherical:0:1e30:0.001:1e12",
]


@pytest.mark.parametrize("text", ODD)
def test_odd_variograms_answer_or_are_refused(run: Run, files: tuple[Path, Path], tmp_path: Path, text: str) -> None:
    out = tmp_path / "out.csv"
    whole = ("field", "--stops", files[0], "--at", files[1], "--variogram", text, "--out", out)
    said = run(*whole, "--method", "kriging")
    if read_variogram(text, 0.0).sill > 100.0:
        assert (said.code, "is too large for the logits of shares" in said.err, out.exists()) == (2, True, False)
    else:
        assert (said.code, said.err) == (0, "")
        for line in table(out):
            low, middle, high = (float(line[name]) for name in ("low", "incidence", "high"))
            assert 0.0 <= low <= middle <= high <= 1.0
        out.unlink()
    said = run(*whole, "--value", "infected")
    if text.startswith("gaussian"):
        assert (said.code, "too close together for this variogram" in said.err, out.exists()) == (2, True, False)
        return
    assert (said.code, said.err) == (0, "")
    assert all(np.isfinite(float(line["value"])) and float(line["variance"]) >= 0.0 for line in table(out))
