"""Columns that may help: used when they tell left-out stops better, and not otherwise."""

from __future__ import annotations

import numpy as np
import pytest
from exact_posterior import LEVEL, covariance_of
from made_up import BEARING_DEG, made_up_block
from scipy.special import expit, logit

from vinemap.surface.binomial import read_binomial
from vinemap.surface.counts import Counts
from vinemap.surface.drifts import EFFECT_SD, LEAST_GAIN, Drift, choose_drifts, with_drift
from vinemap.surface.field import BINOMIAL, KRIGING, FieldOptions, field_at

OPTIONS = FieldOptions(BINOMIAL, bearing_deg=BEARING_DEG)


def driven(seed, column, effect, stops=50):
    """A made-up block whose logits also follow a column (n,), and the stops' counts."""
    rng = np.random.default_rng(seed)
    block = made_up_block(rng, middle=-2.0, shared=0.4, own=0.3, stops=stops)
    truth = expit(logit(block.truth) + effect * column)
    examined = np.full(stops, 10)
    counts = Counts(block.stops_m, examined, rng.binomial(examined, truth[block.stop]))
    return block, truth, counts


def drift_of(name, block, column):
    column = np.asarray(column, float).reshape(len(block.vines_m), -1)
    return Drift(name, column[block.stop], column)


def smooth_column(block):
    """A column of deviation 1 that rises and falls along the block, as height or vigour would."""
    wave = np.sin(block.vines_m[:, 0] / 11.0) + np.cos(block.vines_m[:, 1] / 7.0)
    return (wave - wave.mean()) / wave.std()


def test_a_column_that_drives_the_logit_is_used_and_helps():
    better = []
    for seed in (1, 2, 3):
        column = np.random.default_rng(seed + 50).standard_normal(28 * 45)
        block, truth, counts = driven(seed, column, 1.2)
        drift = drift_of("vigour", block, 40.0 + 7.0 * column)
        made = [
            field_at(counts.stops_m, counts.examined, counts.infected, block.vines_m, OPTIONS, drifts)
            for drifts in ((), (drift,))
        ]
        assert made[0].recipe.tried == ()
        (tried,) = made[1].recipe.tried
        assert tried.name == "vigour"
        assert tried.is_used
        assert tried.gain * len(counts) > LEAST_GAIN
        errors = [np.sqrt(np.mean((field.incidence - truth)[block.others] ** 2)) for field in made]
        better.append(errors[1] / errors[0])
        held = (truth >= made[1].low) & (truth <= made[1].high)
        assert held.mean() > 0.8
        assert made[1].drift.shape == (len(truth), 1)
    assert max(better) < 0.95, better


def test_a_smooth_column_is_used_too():
    block = made_up_block(np.random.default_rng(0))
    column = smooth_column(block)
    block, _, counts = driven(7, column, 1.2)
    used, tried = choose_drifts(read_binomial(counts, BEARING_DEG), [drift_of("height", block, column)])
    assert [drift.name for drift in used] == ["height"]
    assert tried[0].is_used


def test_noise_is_left_out():
    taken = []
    for seed in range(12):
        rng = np.random.default_rng(400 + seed)
        block = made_up_block(rng, middle=-2.0, shared=1.0, own=0.5, stops=30)
        counts = Counts(block.stops_m, block.examined, block.infected)
        found = read_binomial(counts, BEARING_DEG)
        columns = {"speckled": rng.standard_normal(len(block.truth)), "sloping": block.vines_m @ rng.standard_normal(2)}
        for name, column in columns.items():
            used, tried = choose_drifts(found, [drift_of(name, block, column)])
            assert np.isfinite(tried[0].gain)
            taken.append(bool(used))
    # one in ten by chance: of 24, 3 at most
    assert sum(taken) <= 3, taken


def test_the_best_column_comes_first_and_its_copy_not_at_all():
    rng = np.random.default_rng(4)
    column = rng.standard_normal(28 * 45)
    block, _, counts = driven(4, column, 1.5)
    drifts = [
        drift_of("noise", block, rng.standard_normal(28 * 45)),
        drift_of("true", block, column),
        drift_of("copy", block, -3.0 * column + 1.0),
    ]
    used, tried = choose_drifts(read_binomial(counts, BEARING_DEG), drifts)
    assert len(used) == 1
    assert used[0].name in ("true", "copy")
    assert [each.name for each in tried] == ["noise", "true", "copy"]
    assert sum(each.is_used for each in tried) == 1


def test_kinds_are_used():
    # four varieties in runs of five vines, two of them much worse
    kind = (np.arange(28 * 45) // 5) % 4
    rank = np.array([-1.0, 1.0, -1.0, 1.0])[kind]
    block, truth, counts = driven(5, rank, 1.3)
    columns = (kind[:, None] == np.arange(4)).astype(float)
    drift = Drift("variety", columns[block.stop], columns)
    used, _ = choose_drifts(read_binomial(counts, BEARING_DEG), [drift])
    assert used == (drift,)
    made = field_at(counts.stops_m, counts.examined, counts.infected, block.vines_m, OPTIONS, [drift])
    assert made.drift.shape == (28 * 45, 4)
    assert made.incidence[rank > 0].mean() > 1.5 * made.incidence[rank < 0].mean()
    plain = field_at(counts.stops_m, counts.examined, counts.infected, block.vines_m, OPTIONS)
    errors = [np.sqrt(np.mean((field.incidence - truth)[block.others] ** 2)) for field in (plain, made)]
    assert errors[1] < errors[0]


def test_columns_are_centred_and_scaled():
    drift = Drift("height", np.array([[120.0], [130.0]]), np.array([[100.0], [120.0], [140.0]]))
    at_stops, at_vines = drift.scaled()
    # by hand: mean 120, deviation sqrt(800 / 3)
    np.testing.assert_allclose(at_vines[:, 0], EFFECT_SD * np.array([-20.0, 0.0, 20.0]) / np.sqrt(800.0 / 3.0))
    np.testing.assert_allclose(at_stops[:, 0], EFFECT_SD * np.array([0.0, 10.0]) / np.sqrt(800.0 / 3.0))
    kinds = Drift("kind", np.array([[1.0, 0.0]]), np.array([[1.0, 0.0], [0.0, 1.0]]))
    np.testing.assert_allclose(kinds.scaled()[1], EFFECT_SD * np.array([[0.5, -0.5], [-0.5, 0.5]]))


@pytest.mark.parametrize("column", [np.zeros(28 * 45), np.full(28 * 45, 1e6), np.full((28 * 45, 3), [0.0, 1.0, 0.0])])
def test_a_column_that_says_nothing_is_harmless(column):
    block, _, counts = driven(6, np.zeros(28 * 45), 0.0, stops=15)
    plain = field_at(counts.stops_m, counts.examined, counts.infected, block.vines_m, OPTIONS)
    made = field_at(
        counts.stops_m, counts.examined, counts.infected, block.vines_m, OPTIONS, [drift_of("same", block, column)]
    )
    (tried,) = made.recipe.tried
    assert not tried.is_used
    assert tried.gain == pytest.approx(0.0, abs=1e-4)
    np.testing.assert_array_equal(made.incidence, plain.incidence)


def test_kriging_takes_no_columns():
    block, _, counts = driven(6, np.zeros(28 * 45), 0.0, stops=15)
    made = field_at(
        counts.stops_m,
        counts.examined,
        counts.infected,
        block.vines_m,
        FieldOptions(KRIGING),
        [drift_of("same", block, np.arange(28.0 * 45))],
    )
    assert made.recipe.tried == ()
    assert made.drift.shape == (28 * 45, 0)


def test_a_round_with_a_column_beside_the_plain_formula():
    rng = np.random.default_rng(8)
    places_m = rng.uniform(0, 50, (12, 2))
    counts = Counts(places_m, np.full(12, 10), rng.binomial(10, 0.2, 12))
    column = rng.standard_normal((12, 1))
    more = with_drift(read_binomial(counts, BEARING_DEG), column)
    assert sum(part.weight for part in more.parts) == pytest.approx(1.0)
    part = more.parts[0]
    prior = covariance_of(places_m, part.curve, drift=column)
    sites = part.said.sites
    joined = np.linalg.inv(np.linalg.inv(prior) + np.diag(sites.precision))
    np.testing.assert_allclose(part.said.variance, np.diag(joined), rtol=1e-5)
    np.testing.assert_allclose(part.said.mean, joined @ sites.shift, rtol=1e-4, atol=1e-6)
    # the mean of all is no more than the level and what the counts say
    assert np.isfinite(LEVEL + part.said.mean).all()


def test_stops_at_one_vine_keep_their_columns_apart_from_others():
    # the middle stop is visited twice, one stop was not looked at: rows of the columns must follow the counts
    stops_m = np.array([[9.0, 0.0], [0.0, 0.0], [30.0, 0.0], [0.0, 0.0], [60.0, 0.0], [20.0, 20.0]])
    column = np.array([[1.0], [2.0], [np.nan], [2.0], [5.0], [6.0]])
    vines = np.array([[1.0], [2.0], [5.0], [6.0]])
    field = field_at(
        stops_m,
        [10, 10, 0, 10, 10, 10],
        [1, 0, 0, 1, 5, 6],
        stops_m[[0, 1, 4, 5]],
        OPTIONS,
        [Drift("height", column, vines)],
    )
    assert np.isfinite(field.recipe.tried[0].gain)
    assert np.isfinite(field.incidence).all()
