"""Incidence of groups of vines."""

from __future__ import annotations

import numpy as np
import pytest
from made_up import BEARING_DEG, made_up_block
from scipy.special import expit

from vinemap.errors import InputError
from vinemap.surface.field import INVERSE_DISTANCE, FieldOptions, field_at
from vinemap.surface.spans import group_incidence


@pytest.fixture(scope="module")
def block():
    return made_up_block(np.random.default_rng(3), shared=3.0, own=0.4, range_m=50.0, stops=120)


@pytest.fixture(scope="module")
def field(block):
    return field_at(block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(bearing_deg=BEARING_DEG))


SPANS = np.arange(28 * 45) // 9


def test_mean_is_the_weighted_mean(field):
    weight = np.where(np.arange(len(field)) % 3 == 0, 0.0, 1.0)
    found = group_incidence(field, SPANS, weight)
    for span in (0, 17, 139):
        chosen = (span == SPANS) & (weight > 0)
        assert found.mean[span] == pytest.approx(field.incidence[chosen].mean())
        assert found.vines[span] == chosen.sum()


def test_one_vine_is_the_vine(field):
    found = group_incidence(field, np.arange(len(field)))
    # the beta has the logit-normal's mean and variance, not its tails: a few hundredths apart
    np.testing.assert_allclose(found.mean, field.incidence, rtol=1e-12)
    assert np.abs(found.chance_above - field.chance_above).max() < 0.12
    assert np.abs(found.high - field.high).max() < 0.12


def test_spread_beside_a_simulation(field):
    rng = np.random.default_rng(1)
    chosen = SPANS == 40
    shared, own = rng.standard_normal((4000, 1)), rng.standard_normal((4000, int(chosen.sum())))
    logit = field.latent_mean[chosen] + field.structured_sd[chosen] * shared + field.nugget_sd[chosen] * own
    span = expit(logit).mean(axis=1)
    found = group_incidence(field, SPANS)
    assert found.mean[40] == pytest.approx(span.mean(), abs=4 * span.std() / np.sqrt(4000))
    low, high = np.quantile(span, [0.05, 0.95])
    assert found.low[40] == pytest.approx(low, abs=0.02)
    assert found.high[40] == pytest.approx(high, abs=0.02)
    assert found.chance_above[40] == pytest.approx((span > 0.1).mean(), abs=0.04)


def test_intervals_hold_the_truth():
    held, total = 0, 0
    for seed in range(6):
        made = made_up_block(np.random.default_rng(seed), shared=1.5, own=0.5, stops=80)
        spread = field_at(made.stops_m, made.examined, made.infected, made.vines_m, FieldOptions(bearing_deg=BEARING_DEG))
        found = group_incidence(spread, SPANS)
        truth = np.bincount(SPANS, made.truth) / np.bincount(SPANS)
        held += int(((truth >= found.low) & (truth <= found.high)).sum())
        total += len(truth)
    # 90 % intervals that err on the wide side
    assert 0.85 < held / total <= 1.0


@pytest.mark.parametrize("method", ["kriging", INVERSE_DISTANCE])
def test_rows_and_the_block_are_surer_than_spans(block, method):
    field = field_at(
        block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(method, bearing_deg=BEARING_DEG)
    )
    rows, whole = np.arange(len(field)) // 45, np.zeros(len(field), int)
    widths = [
        float(np.mean(found.high - found.low))
        for found in (
            group_incidence(field, np.arange(len(field))),
            group_incidence(field, SPANS),
            group_incidence(field, rows, at_m=block.vines_m),
            group_incidence(field, whole, at_m=block.vines_m),
        )
    ]
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] > 0.01


def test_threshold_can_be_asked(field):
    low, high = group_incidence(field, SPANS, threshold=0.02), group_incidence(field, SPANS, threshold=0.5)
    assert (low.chance_above > high.chance_above).all()
    np.testing.assert_array_equal(
        group_incidence(field, SPANS).chance_above, group_incidence(field, SPANS, threshold=0.10).chance_above
    )


def test_a_span_without_living_vines_has_no_figure(field):
    found = group_incidence(field, SPANS, (SPANS != 4).astype(float))
    assert found.vines[4] == 0.0
    assert np.isnan(found.mean[4])
    assert np.isfinite(np.delete(found.mean, 4)).all()


def test_an_all_clean_round_is_whole():
    stops_m = np.random.default_rng(0).uniform(0, 60, (20, 2))
    for method in ("kriging", INVERSE_DISTANCE):
        field = field_at(stops_m, np.full(20, 10), np.zeros(20), stops_m, FieldOptions(method))
        found = group_incidence(field, np.arange(20) // 5)
        assert ((found.low <= found.mean) & (found.mean <= found.high)).all()
        assert (found.chance_above < 0.2).all()


def test_columns_that_do_not_match_are_refused(field):
    with pytest.raises(InputError, match="do not match"):
        group_incidence(field, SPANS[:-1])
    with pytest.raises(InputError, match="do not match"):
        group_incidence(field, SPANS - 1)


@pytest.mark.parametrize("method", ["kriging", INVERSE_DISTANCE])
def test_a_short_run_is_no_surer_than_if_its_row_ended_there(block, method):
    field = field_at(
        block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(method, bearing_deg=BEARING_DEG)
    )
    rows, place = np.arange(len(field)) // 45, np.arange(len(field)) % 45
    in_run = (place >= 20) & (place < 26)
    run = group_incidence(field, rows, in_run.astype(float), block.vines_m)
    # shorter than what counts as one piece: where the vines stand can't make it surer
    plain = group_incidence(field, rows, in_run.astype(float))
    np.testing.assert_allclose(run.high - run.low, plain.high - plain.low)
    assert ((run.high - run.low) > 0.01).all()
