"""Incidence of spans, rows and the block."""

from __future__ import annotations

import numpy as np
import pytest
from made_up import BEARING_DEG, made_up_block

from vinemap.errors import InputError
from vinemap.surface.field import BINOMIAL, INVERSE_DISTANCE, KRIGING, NOT_KNOWN, UNSURE, FieldOptions, field_at
from vinemap.surface.spans import DRAWS, chance_among_worst, draw_groups, incidence_of, merged

VINES = 28 * 45
SPANS, ROW_OF_SPAN = np.arange(VINES) // 9, np.arange(VINES // 9) // 5
MAPS = (BINOMIAL, KRIGING, INVERSE_DISTANCE)


@pytest.fixture(scope="module")
def block():
    return made_up_block(np.random.default_rng(3), shared=3.0, own=0.4, range_m=50.0, stops=60)


@pytest.fixture(scope="module")
def fields(block):
    return {
        method: field_at(
            block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(method, bearing_deg=BEARING_DEG)
        )
        for method in MAPS
    }


@pytest.fixture(scope="module")
def field(fields):
    return fields[BINOMIAL]


@pytest.fixture(scope="module")
def draws(field, block):
    return draw_groups(field, block.vines_m, SPANS)


def test_mean_is_the_weighted_mean(field, block):
    weight = np.where(np.arange(VINES) % 3 == 0, 0.0, 1.0 + np.arange(VINES) % 2)
    found = draw_groups(field, block.vines_m, SPANS, weight)
    for span in (0, 17, 139):
        chosen = span == SPANS
        assert found.mean[span] == pytest.approx(np.average(field.incidence[chosen], weights=weight[chosen]))
        assert found.weight[span] == weight[chosen].sum()
        assert found.unsure_frac[span] == pytest.approx(np.average(field.certainty[chosen] == UNSURE, weights=weight[chosen]))
        assert found.not_known_frac[span] == pytest.approx(
            np.average(field.certainty[chosen] == NOT_KNOWN, weights=weight[chosen])
        )


def test_a_heavy_vine_is_its_group(field, block):
    # one vine carries the whole span: the span is as unsure as that vine
    heavy = np.where(np.arange(VINES) % 9 == 4, 1.0, 1e-9)
    found = incidence_of(draw_groups(field, block.vines_m, SPANS, heavy, draws=2000), 0.1)
    np.testing.assert_allclose(found.mean, field.incidence[4::9], rtol=1e-6)
    # 2,000 draws tell a chance to a hundredth, three standard errors to 0.034
    np.testing.assert_allclose(found.chance_above, field.chance_above[4::9], atol=0.05)
    spread = field.high[4::9] - field.low[4::9]
    np.testing.assert_allclose((found.high - found.low) / spread, 1.0, atol=0.25)
    assert np.mean((found.high - found.low) / spread) == pytest.approx(1.0, abs=0.02)


def test_the_same_field_gives_the_same_draws(field, block, draws):
    again = draw_groups(field, block.vines_m, SPANS)
    np.testing.assert_array_equal(again.share, draws.share)
    assert draws.share.shape == (VINES // 9, DRAWS)
    assert not draws.share.flags.writeable


def test_the_order_of_vines_within_rows_stays_what_it_was(field, block, draws):
    # groups may be numbered in any way: group 3 of one numbering is group 0 of the other
    turned = draw_groups(field, block.vines_m, (SPANS + 1) % 140)
    np.testing.assert_allclose(turned.mean[(np.arange(140) + 1) % 140], draws.mean, rtol=1e-9)


def test_rows_are_averages_of_their_spans(draws):
    rows = merged(draws, ROW_OF_SPAN)
    assert len(rows) == 28
    for row in (0, 13, 27):
        spans = row == ROW_OF_SPAN
        np.testing.assert_allclose(rows.share[row], draws.share[spans].mean(axis=0), rtol=1e-5)
        assert rows.mean[row] == pytest.approx(draws.mean[spans].mean())
        assert rows.weight[row] == 45.0
    # spans of unequal weight, one of them left out
    share = np.where(np.arange(140) % 5 == 0, 0.25, 1.0)
    part = merged(draws, np.where(np.arange(140) % 5 == 4, -1, ROW_OF_SPAN), share)
    expected = np.average(draws.share[:4], axis=0, weights=[0.25, 1.0, 1.0, 1.0])
    np.testing.assert_allclose(part.share[0], expected, rtol=1e-5)
    assert part.weight[0] == pytest.approx(9.0 * 3.25)
    block = merged(rows, np.zeros(28, int))
    np.testing.assert_allclose(block.share[0], draws.share.mean(axis=0), rtol=1e-5)


@pytest.mark.parametrize("method", MAPS)
def test_the_block_is_surer_than_its_rows_and_rows_than_spans(fields, block, method):
    spans = draw_groups(fields[method], block.vines_m, SPANS)
    rows = merged(spans, ROW_OF_SPAN)
    whole = merged(rows, np.zeros(28, int))
    vines = draw_groups(fields[method], block.vines_m, np.arange(VINES))
    widths = [
        float(np.mean(found.high - found.low)) for found in (incidence_of(each, 0.1) for each in (vines, spans, rows, whole))
    ]
    assert widths == sorted(widths, reverse=True)
    # yet a block is never known exactly: what its vines share does not average away
    assert widths[-1] > 0.01


def test_intervals_and_chances_belong_to_the_draws(draws):
    found = incidence_of(draws, 0.10)
    low, high = np.quantile(draws.share, [0.05, 0.95], axis=1)
    np.testing.assert_allclose(found.low, np.minimum(low, draws.mean), rtol=1e-6)
    np.testing.assert_allclose(found.high, np.maximum(high, draws.mean), rtol=1e-6)
    np.testing.assert_allclose(found.chance_above, (draws.share > 0.10).mean(axis=1))
    assert (incidence_of(draws, 0.02).chance_above >= incidence_of(draws, 0.5).chance_above).all()


def test_chance_among_the_worst_by_hand(draws):
    found = chance_among_worst(draws, 14)
    assert found.sum() == pytest.approx(14.0)
    worst = np.argsort(-draws.mean)
    assert found[worst[:5]].min() > found[worst[-70:]].max()
    np.testing.assert_array_equal(chance_among_worst(draws, 140), np.ones(140))
    assert np.isnan(chance_among_worst(draws, 0)).all()


def test_a_span_without_living_vines_has_no_figure(field, block):
    found = draw_groups(field, block.vines_m, SPANS, (SPANS != 4).astype(float))
    told = incidence_of(found, 0.1)
    assert found.weight[4] == 0.0
    for column in (found.mean, told.low, told.high, told.chance_above, chance_among_worst(found, 5)):
        assert np.isnan(column[4])
        assert np.isfinite(np.delete(column, 4)).all()
    assert np.isnan(found.share[4]).all()
    rows = merged(found, ROW_OF_SPAN)
    assert rows.weight[0] == 36.0
    np.testing.assert_allclose(rows.share[0], found.share[:4].mean(axis=0), rtol=1e-5)


def test_nothing_that_counts_is_nothing_told(field, block):
    found = draw_groups(field, block.vines_m, SPANS, np.zeros(VINES))
    assert np.isnan(found.share).all()
    assert np.isnan(incidence_of(found, 0.1).mean).all()
    assert np.isnan(merged(found, ROW_OF_SPAN).mean).all()
    assert np.isnan(chance_among_worst(found, 3)).all()


def test_columns_that_do_not_match_are_refused(field, block):
    for group, weight in ((SPANS[:-1], None), (SPANS - 1, None), (SPANS, np.ones(3)), (SPANS, -np.ones(VINES))):
        with pytest.raises(InputError, match="do not match"):
            draw_groups(field, block.vines_m, group, weight)
    with pytest.raises(InputError, match="do not match"):
        draw_groups(field, block.vines_m[:-1], SPANS)


def test_intervals_hold_the_truth():
    """Over made-up blocks of several kinds nine of ten spans, rows and vines lie inside their 90 % interval."""
    held = {"vines": [], "spans": [], "rows": []}
    kinds = [(1.5, 0.5, 25.0, 40), (3.0, 0.2, 50.0, 60), (0.8, 0.8, 15.0, 30)]
    for seed in range(9):
        shared, own, range_m, stops = kinds[seed % 3]
        made = made_up_block(np.random.default_rng(100 + seed), -2.0, shared, own, range_m, stops=stops)
        options = FieldOptions(BINOMIAL, bearing_deg=BEARING_DEG)
        field = field_at(made.stops_m, made.examined, made.infected, made.vines_m, options)
        spans = draw_groups(field, made.vines_m, SPANS)
        held["vines"].append(((made.truth >= field.low) & (made.truth <= field.high)).mean())
        for name, drawn, group in (
            ("spans", spans, SPANS),
            ("rows", merged(spans, ROW_OF_SPAN), np.arange(VINES) // 45),
        ):
            truth = np.bincount(group, made.truth) / np.bincount(group)
            found = incidence_of(drawn, 0.1)
            held[name].append(((truth >= found.low) & (truth <= found.high)).mean())
    rates = {name: float(np.mean(each)) for name, each in held.items()}
    # blocks differ by a tenth in the share held, so that the mean of nine is good to 0.03
    assert 0.86 < rates["vines"] < 0.94, rates
    assert 0.85 < rates["spans"] < 0.95, rates
    assert 0.82 < rates["rows"] < 0.98, rates
