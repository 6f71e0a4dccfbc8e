"""Whole for any round that can be: one stop to thousands, all clean to all infected, wherever the stops stand."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from made_up import BEARING_DEG
from scipy.special import expit

from vinemap.surface.binomial import SURE_STOPS
from vinemap.surface.field import (
    AUTO,
    BINOMIAL,
    INVERSE_DISTANCE,
    KNOWN,
    KRIGING,
    METHODS,
    NOT_KNOWN,
    UNSURE,
    FieldOptions,
    field_at,
)
from vinemap.surface.kriging import ALL_AT_ONCE
from vinemap.surface.spans import chance_among_worst, draw_groups, incidence_of, merged

ACROSS, ALONG = (axis.ravel() for axis in np.meshgrid(np.arange(0.0, 50.0, 2.5), np.arange(0.0, 60.0, 1.5), indexing="ij"))
SIN, COS = np.sin(np.radians(BEARING_DEG)), np.cos(np.radians(BEARING_DEG))
VINES_M = np.column_stack([ALONG * SIN + ACROSS * COS, ALONG * COS - ACROSS * SIN])
COLUMNS = ("incidence", "low", "high", "chance_above", "nearest_stop_m", "latent_mean", "latent_sd")


def check_whole(field):
    """Nothing missing, nothing outside its bounds."""
    for name in COLUMNS:
        assert np.isfinite(getattr(field, name)).all(), name
    assert (field.low >= 0.0).all()
    assert (field.low <= field.incidence).all()
    assert (field.incidence <= field.high).all()
    assert (field.high <= 1.0).all()
    assert (field.low < field.high).all()
    assert ((field.chance_above >= 0.0) & (field.chance_above <= 1.0)).all()
    assert (field.latent_sd > 0.0).all()
    assert np.isin(field.certainty, (KNOWN, UNSURE, NOT_KNOWN)).all()
    mixture = field.mixture
    assert mixture.weight.sum() == pytest.approx(1.0)
    assert np.isfinite(mixture.mean).all()
    assert (mixture.sd > 0.0).all()
    assert len(field.doubt.parts) == len(mixture.weight)
    assert np.isfinite(field.recipe.reach_m)
    assert field.recipe.notes
    if field.foretold is not None:
        assert ((field.foretold.share > 0.0) & (field.foretold.share < 1.0)).all()
        assert np.isfinite(field.foretold.log_chance).all()
        assert (field.foretold.log_chance <= 1e-9).all()


def check_draws(field, at_m):
    """Draws of spans, rows and the block are whole too."""
    group = np.arange(len(at_m)) // 10
    drawn = draw_groups(field, at_m, group, draws=64)
    assert np.isfinite(drawn.share).all()
    assert ((drawn.share >= 0.0) & (drawn.share <= 1.0)).all()
    block = merged(drawn, np.zeros(len(drawn), int))
    for each in (drawn, block):
        told = incidence_of(each, 0.1)
        for column in dataclasses.fields(told):
            assert np.isfinite(getattr(told, column.name)).all(), column.name
        assert ((told.low >= 0.0) & (told.low <= told.mean) & (told.mean <= told.high) & (told.high <= 1.0)).all()
    worst = min(3, len(drawn))
    assert chance_among_worst(drawn, worst).sum() == pytest.approx(worst)


def whole_field(method, stops_m, examined, infected, at_m=VINES_M):
    field = field_at(stops_m, examined, infected, at_m, FieldOptions(method, bearing_deg=BEARING_DEG))
    check_whole(field)
    check_draws(field, at_m)
    return field


ROUNDS = {
    "one stop": (VINES_M[[400]], [10], [2]),
    "one clean cluster": (VINES_M[[400]], [1], [0]),
    "two stops": (VINES_M[[10, 700]], [10, 10], [0, 9]),
    "two stops at one vine": (VINES_M[[300, 300]], [10, 6], [1, 6]),
    "two stops a hair apart": (VINES_M[[300, 300]] + np.array([[0.0, 0.0], [0.0, 0.3]]), [10, 10], [0, 10]),
    "stops outside the block": (VINES_M[:9] + 400.0, np.full(9, 10), np.arange(9)),
    "stops beyond and within": (np.vstack([VINES_M[::80], VINES_M[:4] - 900.0]), np.full(14, 10), np.arange(14) % 5),
    "stops along one line": (VINES_M[80:120:3], np.full(14, 10), np.arange(14) % 4),
    "stops across all rows": (VINES_M[7::40], np.full(20, 10), np.arange(20) % 6),
    "one to a thousand clusters": (VINES_M[::60], np.geomspace(1, 1000, 14).astype(int), np.geomspace(1, 90, 14).astype(int)),
    "one cluster each": (VINES_M[::40], np.ones(20, int), (np.arange(20) % 5 == 0).astype(int)),
    "a stop without clusters": (VINES_M[::90], np.r_[0, np.full(8, 10)], np.r_[0, np.arange(8)]),
    "all the same": (VINES_M[::50], np.full(16, 10), np.full(16, 1)),
    "clean but one": (VINES_M[::40], np.full(20, 20), np.r_[20, np.zeros(19, int)]),
}


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("kind", ROUNDS)
def test_any_round_is_whole(method, kind):
    stops_m, examined, infected = ROUNDS[kind]
    field = whole_field(method, stops_m, np.asarray(examined), np.asarray(infected))
    assert field.recipe.examined == np.sum(examined)
    if kind.startswith("stops outside"):
        assert (field.certainty == NOT_KNOWN).all()


@pytest.mark.parametrize("method", METHODS)
def test_all_clean_says_at_most(method):
    stops_m = VINES_M[13::27]
    field = whole_field(method, stops_m, np.full(30, 10), np.zeros(30))
    # clean stops are not clean vines: above nothing, and at most something
    assert (field.incidence > 0.0).all() or method == INVERSE_DISTANCE
    assert (field.low >= 0.0).all()
    assert field.high.max() < 0.5
    # 300 clean clusters: 95 % sure that the block's share is below 1 - 0.05^(1/300) = 1 %; single vines may be worse
    assert field.incidence.mean() < 0.03
    assert field.chance_above.max() < 0.25
    if method == BINOMIAL:
        # a vine that was looked at is no worse than one that was not
        at_stop = field.nearest_stop_m < 0.1
        assert field.high[at_stop].max() <= field.high[~at_stop].min() + 1e-6


@pytest.mark.parametrize("method", METHODS)
def test_all_infected_says_at_least(method):
    field = whole_field(method, VINES_M[13::27], np.full(30, 10), np.full(30, 10))
    assert field.incidence.min() > 0.8
    assert field.low.min() > 0.3
    assert field.chance_above.min() > 0.95


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("bearing_deg", [0.0, 90.0])
def test_a_block_with_one_row(method, bearing_deg):
    way = np.radians(bearing_deg)
    row_m = np.arange(0.0, 150.0, 1.5)[:, None] * np.array([np.sin(way), np.cos(way)])
    infected = np.r_[8, 9, 6, 2, 1, 0, 0, 0, 0, 1]
    field = field_at(row_m[::10], np.full(10, 10), infected, row_m, FieldOptions(method, bearing_deg=bearing_deg))
    check_whole(field)
    check_draws(field, row_m)
    # the end with the mildew is the worse one
    assert field.incidence[:25].mean() > field.incidence[-25:].mean()


@pytest.mark.parametrize("method", METHODS)
def test_one_vine_and_no_vine(method):
    options = FieldOptions(method)
    one = field_at(VINES_M[::100], np.full(8, 10), np.arange(8), VINES_M[:1], options)
    check_whole(one)
    check_draws(one, VINES_M[:1])
    none = field_at(VINES_M[::100], np.full(8, 10), np.arange(8), np.empty((0, 2)), options)
    assert len(none) == 0
    assert len(draw_groups(none, np.empty((0, 2)), np.empty(0, int))) == 0


def test_more_stops_make_a_surer_map():
    rng = np.random.default_rng(1)
    open_sd = []
    for stops in (3, 12, 48, 192):
        chosen = rng.permutation(len(VINES_M))[:stops]
        wave = expit(-1.5 + np.sin(VINES_M[chosen, 0] / 9.0) + np.cos(VINES_M[chosen, 1] / 9.0))
        field = whole_field(BINOMIAL, VINES_M[chosen], np.full(stops, 20), rng.binomial(20, wave))
        open_sd.append(float(field.latent_sd.mean()))
    assert open_sd == sorted(open_sd, reverse=True), open_sd


# the choice is made on some groups of stops beyond SURE_STOPS already; all other ways change at ALL_AT_ONCE
@pytest.mark.parametrize(
    ("method", "stops"),
    [(AUTO, SURE_STOPS + 20), (BINOMIAL, 2000), (KRIGING, ALL_AT_ONCE + 1), (INVERSE_DISTANCE, ALL_AT_ONCE + 1)],
)
def test_a_very_large_round(method, stops):
    rng = np.random.default_rng(2)
    across, along = (axis.ravel() for axis in np.meshgrid(2.5 * np.arange(50), 1.5 * np.arange(100), indexing="ij"))
    vines_m = np.column_stack([across, along])
    stop = rng.permutation(len(vines_m))[:stops]
    truth = expit(-2.0 + np.sin(across / 12.0) + np.cos(along / 15.0))
    field = field_at(vines_m[stop], np.full(stops, 10), rng.binomial(10, truth[stop]), vines_m, FieldOptions(method))
    check_whole(field)
    check_draws(field, vines_m)
    assert field.recipe.stops == stops
    assert np.corrcoef(field.incidence, truth)[0, 1] > 0.7
    if method in (AUTO, BINOMIAL):
        # these vines have no part of their own: intervals that leave room for one hold the truth
        held = (truth >= field.low) & (truth <= field.high)
        assert 0.85 < held.mean() <= 1.0
    if method == AUTO:
        assert len(field.recipe.scores) == 4
