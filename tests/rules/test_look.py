"""The shades of the map keep their order for every eye and in grey; the typeface is whole and free to pass on."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from fontTools.ttLib import TTFont
from numpy.typing import NDArray

RESOURCES = Path(__file__).resolve().parents[2] / "resources"
TOKENS = json.loads((RESOURCES / "look" / "tokens.json").read_text(encoding="utf-8"))
THEMES = ("light", "dark", "outdoor")

# Linear sRGB to CIE XYZ (D65), IEC 61966-2-1:1999.
XYZ_FROM_RGB = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
# Severity 1.0, on linear RGB: Machado, Oliveira and Fernandes 2009, table of matrices.
MACHADO = {
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritan": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
EYES = ("usual", *MACHADO, "grey")
Colours = NDArray[np.float64]


def light_of(shades: list[str]) -> Colours:
    rgb = np.array([[int(shade[i : i + 2], 16) for i in (1, 3, 5)] for shade in shades]) / 255
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def seen_by(light: Colours, eye: str) -> Colours:
    if eye == "usual":
        return light
    if eye == "grey":
        return np.repeat((light @ XYZ_FROM_RGB[1])[:, None], 3, axis=1)
    return np.clip(light @ np.array(MACHADO[eye]).T, 0, 1)


def lightness(light: Colours) -> Colours:
    """CIE 1976 L*, ISO/CIE 11664-4."""
    y = light @ XYZ_FROM_RGB[1]
    return np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, 24389 / 27 * y)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of WCAG 2.1."""
    low, high = sorted(float(y) for y in light_of([one, other]) @ XYZ_FROM_RGB[1])
    return (high + 0.05) / (low + 0.05)


def test_lightness_and_contrast_of_known_colours() -> None:
    # L* of sRGB mid grey #777777 is 50.03 and its contrast on white 4.48, the usual WCAG example.
    assert lightness(light_of(["#000000", "#777777", "#FFFFFF"])) == pytest.approx([0, 50.03, 100], abs=0.02)
    assert contrast("#FFFFFF", "#000000") == pytest.approx(21, abs=0.01)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("eye", EYES)
@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("ramp", ["incidence", "gain"])
def test_steps_go_one_way_and_can_be_told_apart(theme: str, ramp: str, eye: str) -> None:
    colours = TOKENS["themes"][theme][ramp]
    steps = lightness(seen_by(light_of(colours["steps"] if ramp == "incidence" else colours), eye))
    rise = np.diff(steps) * np.sign(steps[-1] - steps[0])
    assert rise.min() >= 6
    if ramp == "incidence":
        assert rise.max() / rise.min() < 1.45


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_shading_table_is_smooth_and_meets_its_steps(theme: str) -> None:
    incidence = TOKENS["themes"][theme]["incidence"]
    table = incidence["table_256"]
    assert len(table) == 256
    assert (table[0], table[-1]) == (incidence["steps"][0], incidence["steps"][-1])
    for eye in ("usual", "grey"):
        rise = np.diff(lightness(seen_by(light_of(table), eye))) * (1 if theme == "dark" else -1)
        assert rise.min() >= 0, "a shade steps back"
        assert rise.max() < 1.0, "a shade jumps"  # about one just noticeable difference


@pytest.mark.parametrize("theme", THEMES)
def test_words_and_letters_can_be_read(theme: str) -> None:
    colours = TOKENS["themes"][theme]
    for name, over, least in (
        ("ink", "ground", 12),
        ("ink_soft", "ground", 5.5),
        ("ink_faint", "ground", 3),
        ("focus", "ground", 4.5),
        ("caution_ink", "caution", 7),
    ):
        assert contrast(colours[name], colours[over]) >= least, name
    for kind, shade in colours["work"].items():
        assert contrast(shade, colours["ground"]) >= 4.5, kind


def test_every_kind_of_work_has_a_family_and_its_own_pattern() -> None:
    work = TOKENS["work"]
    assert len({kind["pattern"] for kind in work.values()}) == len(work)
    assert {kind["family"] for kind in work.values()} == set(TOKENS["themes"]["light"]["work"])
    for theme in THEMES:
        assert TOKENS["themes"][theme]["work"].keys() == TOKENS["themes"]["light"]["work"].keys()


def test_no_theme_leaves_a_value_out() -> None:
    light = TOKENS["themes"]["light"]
    for theme in THEMES:
        colours = TOKENS["themes"][theme]
        assert colours.keys() == light.keys()
        assert all(re.fullmatch(r"#[0-9A-F]{6}", value) for value in colours.values() if isinstance(value, str))


@pytest.mark.parametrize("cut", TOKENS["type"]["ship"])
def test_the_typeface_is_whole(cut: str) -> None:
    name, weight = cut.split()
    with TTFont(RESOURCES / "fonts" / f"Vollkorn-{name}.ttf", lazy=True) as font:
        assert font["OS/2"].usWeightClass == int(weight)
        assert font["OS/2"].fsType == 0, "may be embedded without limits"
        letters = font.getBestCmap()
        missing = [letter for letter in "áéíóúüñÁÉÍÓÚÜÑ¿¡ºª0123456789°±×·–—‘’“”…½€%→" if ord(letter) not in letters]
        assert missing == []
        features = {record.FeatureTag for record in font["GSUB"].table.FeatureList.FeatureRecord}
        assert {"lnum", "tnum"} <= features
    licence = (RESOURCES / "fonts" / "OFL.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    assert "Vollkorn Project Authors" in licence
