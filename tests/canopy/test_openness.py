"""How leaves close again after an opening."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.canopy.openness import CLOSED_BY_LIGHT, closed_by_layers, regrowth
from vinemap.scouting.rounds import LIGHT_WORDS

WARMTH = st.floats(0.0, 2000.0)
VIGOUR = st.floats(-0.5, 1.5)


def test_leaves_close_in_step_with_warmth():
    assert regrowth([0, 150, 300, 900]).tolist() == [0, 0.5, 1, 1]
    # a weak vine takes half as long again, a rank one half as long
    assert regrowth([75, 75, 75], [0, 0.5, 1]).tolist() == pytest.approx([1 / 6, 0.25, 0.5])
    assert regrowth([np.nan, np.inf, -3]).tolist() == [1, 1, 0]
    assert regrowth(100.0, 0.5, 200.0) == 0.5


@given(WARMTH, WARMTH, VIGOUR, VIGOUR)
@settings(derandomize=True, max_examples=200)
def test_more_warmth_and_more_vigour_never_stay_open_longer(one, two, weak, strong):
    assert regrowth(min(one, two), weak) <= regrowth(max(one, two), weak)
    assert regrowth(one, min(weak, strong)) <= regrowth(one, max(weak, strong))
    assert 0.0 <= regrowth(one, weak) <= 1.0


def test_one_to_one_and_a_half_layers_are_open():
    """The aim of Smart & Robinson 1991."""
    assert closed_by_layers([0.0, 1.0, 1.5, 2.25, 3.0, 5.0]).tolist() == [0, 0, 0, 0.5, 1, 1]


def test_each_word_for_light_says_how_closed_the_leaves_are():
    assert dict(zip(LIGHT_WORDS[1:], CLOSED_BY_LIGHT[1:], strict=True)) == {"daylight": 0.0, "some": 0.5, "none": 1.0}
