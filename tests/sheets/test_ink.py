"""The colours in the code are those of the published tokens, and the ramp goes one way."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from vinemap.sheets.ink import FAMILY_OF_KIND, INCIDENCE_TICKS, LIGHT, THEMES, grey_of, place_on_ramp, ramp_rgba
from vinemap.work.diary import KINDS

TOKENS = Path(__file__).parents[2] / "resources" / "look" / "tokens.json"
PLAIN = [
    "ground",
    "sheet",
    "ink",
    "ink_soft",
    "ink_faint",
    "rule",
    "hair",
    "wash",
    "focus",
    "selection",
    "selection_halo",
    "caution",
    "caution_ink",
    "water",
]


@pytest.fixture(scope="module")
def tokens() -> dict:
    if not TOKENS.exists():
        pytest.skip("the tokens are not in this copy")
    return json.loads(TOKENS.read_text(encoding="utf-8"))


@pytest.mark.parametrize("theme", sorted(THEMES))
def test_colours_agree_with_the_tokens(tokens: dict, theme: str) -> None:
    told, ink = tokens["themes"][theme], THEMES[theme]
    assert {name: getattr(ink, name) for name in PLAIN} == {name: told[name] for name in PLAIN}
    assert {family: getattr(ink, f"work_{family}") for family in told["work"]} == told["work"]
    assert list(ink.gain) == told["gain"]
    assert list(ink.steps) == told["incidence"]["steps"]
    if "table_256" in told["incidence"]:
        assert list(ink.ramp) == told["incidence"]["table_256"]


def test_families_and_ticks_agree_with_the_tokens(tokens: dict) -> None:
    assert {letter: kind["family"] for letter, kind in tokens["work"].items()} == FAMILY_OF_KIND
    assert list(INCIDENCE_TICKS) == tokens["incidence_scale"]["ticks"]


@pytest.mark.parametrize("theme", sorted(THEMES))
def test_more_mildew_is_always_further_from_the_paper(theme: str) -> None:
    ink = THEMES[theme]
    assert len(ink.ramp) == 256
    grey = np.array([int(grey_of(colour)[1:3], 16) for colour in ink.ramp])
    paper = int(grey_of(ink.sheet)[1:3], 16)
    # one count of slack: a grey of 8 bits rounds
    assert np.all(np.diff(np.abs(grey - paper)) >= -1)
    assert abs(int(grey[-1]) - paper) > 150


def test_place_on_the_ramp_follows_the_stated_power() -> None:
    # 255 * (0.1 / 0.4) ** 0.62 = 107.96, by hand
    assert place_on_ramp(np.array([0.0, 0.10, 0.40, 0.90])).tolist() == [0, 108, 255, 255]


def test_table_of_the_ramp_has_the_colours_in_order() -> None:
    table = ramp_rgba(LIGHT)
    assert table.shape == (256, 4)
    assert table[0].tolist() == [0xF6, 0xED, 0xDD, 255]
    assert table[255].tolist() == [0x36, 0x1F, 0x3A, 255]


def test_every_kind_of_work_has_a_colour() -> None:
    assert all(LIGHT.of_kind(kind).startswith("#") for kind in KINDS)


def test_grey_of_a_colour() -> None:
    # BT.601 weights sum to one, so that white stays white; pure green is 0.587 * 255 = 149.7
    assert (grey_of("#FFFFFF"), grey_of("#00FF00")) == ("#FFFFFF", "#969696")
