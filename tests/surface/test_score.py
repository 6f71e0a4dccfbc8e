"""Trying a map on counts that it has not seen, and against a truth that is known."""

from __future__ import annotations

import numpy as np
import pytest
from made_up import BEARING_DEG, made_up_block
from scipy.special import expit
from scipy.stats import betabinom, binom, norm  # noqa: TID253 - a test may take its time

from vinemap.errors import InputError
from vinemap.surface.counts import Counts, count_log_chance
from vinemap.surface.field import BINOMIAL, INVERSE_DISTANCE, METHODS, FieldOptions, field_at
from vinemap.surface.score import score_counts, score_field


def test_chances_of_all_counts_add_up_to_one():
    infected = np.arange(11.0)
    counts = Counts(np.column_stack([infected, infected]), np.full(11, 10.0), infected)
    log_chance = count_log_chance(counts, np.full(11, -1.8), np.full(11, 1.4))
    assert np.exp(log_chance).sum() == pytest.approx(1.0, abs=1e-9)
    # close to the beta-binomial of the same mean and likeness, which is another shape: a tenth in the chance of none
    assert np.exp(log_chance[0]) == pytest.approx(betabinom.pmf(0, 10, 0.82, 3.0), abs=0.1)


@pytest.mark.parametrize("method", METHODS)
def test_fresh_counts_beside_a_sum_over_the_mixture(method):
    block = made_up_block(np.random.default_rng(2), stops=20)
    at_m = block.vines_m[block.others[::200]]
    field = field_at(block.stops_m, block.examined, block.infected, at_m, FieldOptions(method, bearing_deg=BEARING_DEG))
    # the code cuts its normals off at a logit of 13: two thousandths where a vine is as good as not known
    examined = np.full(len(at_m), 12)
    infected = np.arange(len(at_m)) % 13
    found, mixture = score_counts(field, examined, infected), field.mixture
    for vine in range(len(at_m)):
        total = 0.0
        for weight, mean, sd in zip(mixture.weight, mixture.mean[:, vine], mixture.sd[:, vine], strict=True):
            z = np.linspace(-9.0, 9.0, 4001)
            chance = binom.pmf(infected[vine], 12, expit(float(mean) + float(sd) * z))
            total += weight * float((norm.pdf(z) * chance).sum() * (z[1] - z[0]))
        assert found[vine] == pytest.approx(np.log(total), abs=5e-3)


def test_the_truth_scores_better_than_its_opposite():
    block = made_up_block(np.random.default_rng(3), middle=-1.0, shared=3.0, own=0.2, range_m=50.0, stops=60)
    field = field_at(
        block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(BINOMIAL, bearing_deg=BEARING_DEG)
    )
    examined = np.full(len(block.truth), 10)
    infected = np.random.default_rng(4).binomial(examined, block.truth)
    right, wrong = score_counts(field, examined, infected), score_counts(field, examined, 10 - infected)
    assert right.mean() > wrong.mean()
    good, bad = score_field(field, block.truth), score_field(field, 1.0 - block.truth)
    assert good.rmse < bad.rmse
    assert good.coverage > bad.coverage
    assert good.log_score > bad.log_score


def test_scores_by_hand():
    field = field_at([[0, 0], [30, 0]], [10, 10], [1, 3], [[0, 0], [30, 0]], FieldOptions(INVERSE_DISTANCE))
    score = score_field(field, np.array([0.1, 1.0]))
    assert score.coverage == 0.5
    assert score.rmse == pytest.approx(np.sqrt(0.7**2 / 2))
    assert score.bias == pytest.approx(-0.35)
    assert score.log_score == pytest.approx((np.log(1 - field.chance_above[0]) + np.log(field.chance_above[1])) / 2)


def test_what_does_not_match_is_refused():
    field = field_at([[0, 0]], [10], [1], [[0, 0]])
    with pytest.raises(InputError, match="differ in the number of vines"):
        score_field(field, np.array([0.1, 0.2]))
    with pytest.raises(InputError, match="differ in the number of vines"):
        score_counts(field, np.array([10, 10]), np.array([1, 2]))
