"""Draws of groups of vines, beside draws of every vine from the whole joint normal."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from exact_posterior import covariance_of
from made_up import BEARING_DEG
from scipy.special import expit, logit

from vinemap.surface.doubt import WAVES, _waves, share_out
from vinemap.surface.field import BINOMIAL, KRIGING, Field, FieldOptions, field_at
from vinemap.surface.spans import GroupDraws, chance_among_worst, draw_groups, merged
from vinemap.surface.variogram import Variogram

ROWS, PLACES, STOPS, A_SPAN = 10, 15, 12, 5
DRAWS, EXACT_DRAWS, WORST = 4000, 12_000, 8
SPAN = np.arange(ROWS * PLACES) // A_SPAN
ROW = np.arange(ROWS * PLACES // A_SPAN) * A_SPAN // PLACES


def a_block():
    """Vines (150, 2) [m] in ten rows along the bearing, stops at twelve of them and their infected clusters of ten."""
    rng = np.random.default_rng(5)
    across, along = (axis.ravel() for axis in np.meshgrid(2.5 * np.arange(ROWS), 1.5 * np.arange(PLACES), indexing="ij"))
    sin, cos = np.sin(np.radians(BEARING_DEG)), np.cos(np.radians(BEARING_DEG))
    vines_m = np.column_stack([along * sin + across * cos, along * cos - across * sin])
    curve = Variogram("exponential", 0.4, 2.4, 30.0, 0.6, BEARING_DEG)
    root = np.linalg.cholesky(covariance_of(vines_m, curve, 0.0))
    truth = expit(-1.5 + root @ rng.standard_normal(len(vines_m)))
    stop = rng.choice(len(vines_m), STOPS, replace=False)
    return vines_m, stop, rng.binomial(10, truth[stop])


def every_vine_drawn(field, vines_m, rng):
    """Incidence (n, d) of all vines in draws from each part's whole covariance, told by what its stops say."""
    stops_m = field.doubt.stops_m
    same = np.linalg.norm(vines_m[:, None] - stops_m, axis=2) < 0.01
    drawn = []
    for k, size in enumerate(np.rint(field.mixture.weight * EXACT_DRAWS).astype(int)):
        part = field.doubt.parts[k]
        both = covariance_of(np.vstack([vines_m, stops_m]), part.curve, part.level_sd)
        vines = len(vines_m)
        across = both[:vines, vines:] + part.curve.nugget * same
        told = across @ np.linalg.solve(both[vines:, vines:] + np.diag(1.0 / part.precision), across.T)
        root = np.linalg.cholesky(both[:vines, :vines] - told + 1e-9 * np.eye(vines))
        drawn.append(field.mixture.mean[k][:, None] + root @ rng.standard_normal((vines, size)))
    return expit(np.concatenate(drawn, axis=1))


def averaged(share, group):
    return np.array([share[group == each].mean(axis=0) for each in range(group.max() + 1)])


@dataclass(frozen=True)
class Beside:
    field: Field
    vines_m: np.ndarray
    drawn: GroupDraws
    vines: np.ndarray
    spans: np.ndarray


@pytest.fixture(scope="module")
def beside():
    vines_m, stop, infected = a_block()
    options = FieldOptions(BINOMIAL, bearing_deg=BEARING_DEG)
    field = field_at(vines_m[stop], np.full(STOPS, 10), infected, vines_m, options)
    vines = every_vine_drawn(field, vines_m, np.random.default_rng(1))
    return Beside(field, vines_m, draw_groups(field, vines_m, SPAN, draws=DRAWS), vines, averaged(vines, SPAN))


# standard errors of a deviation and of a correlation of so many near-normal draws, four of them
SD_ERROR = 4.0 / np.sqrt(2.0 * DRAWS)
CORRELATION_ERROR = 4.0 / np.sqrt(DRAWS)


def test_means(beside):
    error = 4.0 * beside.spans.std(axis=1)
    np.testing.assert_array_less(np.abs(beside.drawn.mean - beside.spans.mean(axis=1)), error / np.sqrt(EXACT_DRAWS))
    np.testing.assert_array_less(np.abs(beside.drawn.share.mean(axis=1) - beside.drawn.mean), error / np.sqrt(DRAWS))


def test_deviations_and_what_groups_share(beside):
    drawn, exact = logit(beside.drawn.share.astype(float)), logit(beside.spans)
    ratio = drawn.std(axis=1) / exact.std(axis=1)
    # what neighbours share is drawn at two places of a span: its vines hang together a little more than they should
    assert np.abs(ratio - 1.0).max() < SD_ERROR + 0.05, ratio
    assert 0.98 < ratio.mean() < 1.05, ratio.mean()
    off = np.corrcoef(drawn) - np.corrcoef(exact)
    # a few hundred waves for a pattern, and vines with a stop are drawn for themselves
    assert np.abs(off).max() < CORRELATION_ERROR + 0.08, np.abs(off).max()
    assert abs(off.mean()) < 0.05, off.mean()


def test_vines_without_a_stop_hang_together_as_they_should(beside):
    drawn = draw_groups(beside.field, beside.vines_m, np.arange(len(beside.vines_m)), draws=DRAWS)
    free = beside.field.nearest_stop_m > 0.01
    drawn, exact = logit(np.clip(drawn.share[free].astype(float), 1e-6, 1 - 1e-6)), logit(beside.vines[free])
    np.testing.assert_allclose(drawn.std(axis=1) / exact.std(axis=1), 1.0, atol=SD_ERROR + 0.02)
    off = np.corrcoef(drawn) - np.corrcoef(exact)
    apart_m = np.linalg.norm(beside.vines_m[free][:, None] - beside.vines_m[free], axis=2)
    for near_m, far_m in ((0.1, 2.0), (2.0, 5.0), (5.0, 10.0), (10.0, 40.0)):
        inside = (apart_m > near_m) & (apart_m <= far_m)
        assert abs(off[inside].mean()) < 0.03, (near_m, off[inside].mean())


def test_quantiles(beside):
    for chance in (0.05, 0.5, 0.95):
        drawn = np.quantile(beside.drawn.share, chance, axis=1)
        # where this quantile lies among the exact draws: four standard errors, and 1 % for the two places
        place = (beside.spans < drawn[:, None]).mean(axis=1)
        assert np.abs(place - chance).max() < 4.0 * np.sqrt(chance * (1 - chance) / DRAWS) + 0.015, (chance, place)


def test_chance_among_the_worst(beside):
    worst = np.argsort(-beside.spans, axis=0)[:WORST]
    exact = np.bincount(worst.ravel(), minlength=len(beside.spans)) / EXACT_DRAWS
    found = chance_among_worst(beside.drawn, WORST)
    assert found.sum() == pytest.approx(WORST)
    assert np.ptp(exact) > 0.2
    np.testing.assert_allclose(found, exact, atol=4.0 * 0.5 / np.sqrt(DRAWS) + 0.01)


def test_rows_and_the_block(beside):
    rows = merged(beside.drawn, ROW)
    exact = averaged(beside.vines, np.arange(ROWS * PLACES) // PLACES)
    ratio = logit(rows.share.astype(float)).std(axis=1) / logit(exact).std(axis=1)
    assert np.abs(ratio - 1.0).max() < SD_ERROR + 0.05, ratio
    block = merged(rows, np.zeros(ROWS, int))
    assert logit(block.share[0].astype(float)).std() / logit(beside.vines.mean(axis=0)).std() == pytest.approx(
        1.0, abs=SD_ERROR + 0.05
    )


def test_kriging_hangs_together_too():
    # many clusters at every stop, so that one normal tells each
    vines_m, stop, infected = a_block()
    field = field_at(vines_m[stop], np.full(STOPS, 10), infected, vines_m, FieldOptions(KRIGING, bearing_deg=BEARING_DEG))
    vines = logit(every_vine_drawn(field, vines_m, np.random.default_rng(2)).clip(1e-6, 1 - 1e-6))
    free = field.nearest_stop_m > 0.01
    drawn = draw_groups(field, vines_m, np.arange(len(vines_m)), draws=DRAWS)
    off = np.corrcoef(logit(np.clip(drawn.share[free].astype(float), 1e-6, 1 - 1e-6))) - np.corrcoef(vines[free])
    assert abs(off.mean()) < 0.03, off.mean()


def test_waves_fade_as_the_curve_does():
    # averaged over many sets of waves, the sum of cosines is the exponential fade at any bearing
    waves = np.concatenate([_waves(np.random.default_rng(seed)) for seed in range(200)], axis=1)
    assert waves.shape == (2, 200 * WAVES)
    for reach in (0.1, 0.3, 1.0):
        for bearing in (0.0, 0.7, 2.0):
            step = reach * np.array([np.sin(bearing), np.cos(bearing)])
            assert np.cos(step @ waves).mean() == pytest.approx(np.exp(-3.0 * reach), abs=0.02)


def test_draws_are_shared_out_by_weight():
    assert share_out(np.array([0.5, 0.3, 0.2]), 10) == [5, 3, 2]
    assert share_out(np.array([2.0, 2.0]), 7) in ([3, 4], [4, 3])
    rng = np.random.default_rng(1)
    for parts in (1, 3, 12):
        sizes = share_out(rng.dirichlet(np.ones(parts)), 256)
        assert sum(sizes) == 256
        assert min(sizes) >= 0
    assert share_out(np.array([1.0, 1e-300]), 256) == [256, 0]
