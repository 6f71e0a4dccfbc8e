"""Trying a map on what it has not seen."""

from __future__ import annotations

import numpy as np
import pytest
from made_up import BEARING_DEG, made_up_block
from scipy.stats import betabinom  # noqa: TID253 - a test may take its time

from vinemap.errors import InputError, TooFewData
from vinemap.surface.counts import Counts
from vinemap.surface.field import INVERSE_DISTANCE, METHODS, FieldOptions, field_at
from vinemap.surface.score import count_log_chance, leave_out_stops, score_field


def test_chances_of_all_counts_add_up_to_one():
    infected = np.arange(11.0)
    counts = Counts(np.column_stack([infected, infected]), np.full(11, 10.0), infected)
    log_chance = count_log_chance(counts, np.full(11, -1.8), np.full(11, 1.4))
    assert np.exp(log_chance).sum() == pytest.approx(1.0, abs=1e-9)
    # close to the beta-binomial of the same mean and likeness, which is another shape: a tenth in the chance of none
    assert np.exp(log_chance[0]) == pytest.approx(betabinom.pmf(0, 10, 0.82, 3.0), abs=0.1)


@pytest.mark.parametrize("method", METHODS)
def test_a_strong_pattern_gains_and_none_does_not(method):
    gains = {}
    for name, shared, own in (("pattern", 3.0, 0.2), ("none", 0.0, 1.5)):
        block = made_up_block(np.random.default_rng(12), middle=-1.0, shared=shared, own=own, range_m=50.0, stops=120)
        options = FieldOptions(method, bearing_deg=BEARING_DEG)
        gains[name] = leave_out_stops(block.stops_m, block.examined, block.infected, options).gain
    assert gains["pattern"] > 0.1
    assert gains["none"] < 0.05


def test_too_few_stops_to_try():
    with pytest.raises(TooFewData, match="Three stops"):
        leave_out_stops([[0, 0], [9, 0]], [10, 10], [1, 2])


def test_scores_by_hand():
    field = field_at([[0, 0], [30, 0]], [10, 10], [1, 3], [[0, 0], [30, 0]], FieldOptions(INVERSE_DISTANCE))
    score = score_field(field, np.array([0.1, 1.0]))
    assert score.coverage == 0.5
    assert score.rmse == pytest.approx(np.sqrt(0.7**2 / 2))
    assert score.bias == pytest.approx(-0.35)
    assert score.log_score == pytest.approx((np.log(1 - field.chance_above[0]) + np.log(field.chance_above[1])) / 2)


def test_truth_of_other_vines_is_refused():
    field = field_at([[0, 0]], [10], [1], [[0, 0]])
    with pytest.raises(InputError, match="differ in the number of vines"):
        score_field(field, np.array([0.1, 0.2]))
