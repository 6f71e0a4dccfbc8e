"""Where one more stop would tell most, against the whole covariance written out, and where a hand would look itself."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.special import expit

from vinemap.surface.doubt import Doubt, DoubtPart
from vinemap.surface.next_stop import MOST_CANDIDATES, next_stops
from vinemap.surface.variogram import Variogram, in_ranges

ROWS, VINES = 12, 20
X, Y = np.meshgrid(2.5 * np.arange(ROWS), 1.5 * np.arange(VINES), indexing="ij")
AT_M = np.column_stack([X.ravel(), Y.ravel()])
LIVING = np.ones(len(AT_M), bool)
ALL = np.arange(len(AT_M), dtype=np.int32)
CURVE = Variogram("exponential", 0.4, 1.2, 12.0, 0.7, 0.0)


def field_with(parts, stops):
    """As much of a field as is asked for: its doubt about stops at vines (by index), and logits that rise to the north."""
    return SimpleNamespace(
        doubt=Doubt(AT_M[stops], tuple(parts), np.zeros((len(stops), 0))),
        drift=np.zeros((len(AT_M), 0)),
        latent_mean=-2.5 + 0.03 * AT_M[:, 1],
        latent_sd=np.full(len(AT_M), 1.1),
    )


def part_of(stops, curve=CURVE, weight=1.0):
    return DoubtPart(weight, curve, np.full(len(stops), 1.3), 2.0)


STOPS = np.array([3, 47, 101, 150, 155, 228])


@pytest.fixture(scope="module")
def field():
    return field_with([part_of(STOPS)], STOPS)


def shared_left(stops, precision, nugget=CURVE.nugget):
    """Covariance (vines, vines) that stops leave of level and pattern: the whole normal, conditioned at once."""
    places = in_ranges(CURVE, AT_M)
    reach = np.hypot(*(places[:, None] - places).transpose(2, 0, 1))
    prior = 4.0 + CURVE.structured_sill * np.exp(-3.0 * reach)
    told = prior[np.ix_(stops, stops)] + np.diag(nugget + 1.0 / np.asarray(precision))
    return prior - prior[:, stops] @ np.linalg.solve(told, prior[stops])


def test_the_gain_is_what_the_whole_covariance_says(field):
    z = np.linspace(-8.0, 8.0, 4001)
    bell = np.exp(-0.5 * z**2)
    share = expit(field.latent_mean[:, None] + field.latent_sd[:, None] * z)
    slope = (share * (1.0 - share)) @ (bell / bell.sum())
    left = shared_left(STOPS, np.full(6, 1.3))
    doubt = slope**2 @ np.diag(left)
    for best in next_stops(field, AT_M, ALL, LIVING, 10.0):
        more = shared_left(np.append(STOPS, best.vine), [*np.full(6, 1.3), 10.0 * slope[best.vine]])
        assert best.gain_frac == pytest.approx(1.0 - slope**2 @ np.diag(more) / doubt, rel=1e-4)


def test_no_other_vine_tells_more(field):
    best = next_stops(field, AT_M, ALL, LIVING, 10.0)[0]
    alone = {vine: next_stops(field, AT_M, np.array([vine], np.int32), LIVING, 10.0) for vine in (0, 60, 120, 180, 239)}
    assert all(each[0].gain_frac <= best.gain_frac for each in alone.values())
    assert 0.0 < best.gain_frac < 1.0


def test_they_lie_a_range_apart_best_first(field):
    best = next_stops(field, AT_M, ALL, LIVING, 10.0)
    places = in_ranges(CURVE, AT_M[[each.vine for each in best]])
    assert len(best) == 3
    assert min(np.hypot(*(places[a] - places[b])) for a, b in ((0, 1), (0, 2), (1, 2))) >= 1.0
    assert [each.gain_frac for each in best] == sorted((each.gain_frac for each in best), reverse=True)


def test_a_small_block_has_them_half_a_range_apart():
    wide = Variogram("exponential", 0.4, 1.2, 34.0, 1.0, 0.0)
    best = next_stops(field_with([part_of(STOPS, wide)], STOPS), AT_M, ALL, LIVING, 10.0)
    places = in_ranges(wide, AT_M[[each.vine for each in best]])
    apart = [np.hypot(*(places[a] - places[b])) for a, b in ((0, 1), (0, 2), (1, 2))]
    assert 0.5 <= min(apart) < 1.0


def test_one_looks_where_no_stop_is():
    stops = np.flatnonzero(AT_M[:, 0] < 12.0)[::7]
    best = next_stops(field_with([part_of(stops)], stops), AT_M, ALL, LIVING, 10.0)[0]
    assert AT_M[best.vine, 0] > 15.0


def test_more_clusters_tell_more(field):
    few, many = (next_stops(field, AT_M, ALL, LIVING, clusters)[0] for clusters in (2.0, 50.0))
    assert few.gain_frac < many.gain_frac


def test_no_stop_is_made_twice(field):
    assert next_stops(field, AT_M, STOPS.astype(np.int32), LIVING, 10.0) == ()


def test_a_moved_block_has_the_same_places(field):
    away = np.array([5000.0, -3000.0])
    moved = field_with([part_of(STOPS)], STOPS)
    moved.doubt = Doubt(AT_M[STOPS] + away, field.doubt.parts, field.doubt.drift)
    there = next_stops(moved, AT_M + away, ALL, LIVING, 10.0)
    assert [each.vine for each in there] == [each.vine for each in next_stops(field, AT_M, ALL, LIVING, 10.0)]


def test_without_a_likely_pattern_no_place_stands_out(field):
    flat = Variogram("exponential", 1.2, 1.2, 1.0)
    assert next_stops(field_with([part_of(STOPS, flat)], STOPS), AT_M, ALL, LIVING, 10.0) == ()
    unlikely = [part_of(STOPS, flat, 0.6), part_of(STOPS, CURVE, 0.4)]
    assert next_stops(field_with(unlikely, STOPS), AT_M, ALL, LIVING, 10.0) == ()
    likely = [part_of(STOPS, flat, 0.4), part_of(STOPS, CURVE, 0.3), part_of(STOPS, CURVE, 0.3)]
    assert next_stops(field_with(likely, STOPS), AT_M, ALL, LIVING, 10.0) == next_stops(field, AT_M, ALL, LIVING, 10.0)


def test_a_block_without_living_vines_has_none(field):
    assert next_stops(field, AT_M, ALL, np.zeros(len(AT_M), bool), 10.0) == ()
    assert next_stops(field, AT_M, np.zeros(0, np.int32), LIVING, 10.0) == ()


def test_many_candidates_are_thinned_evenly(field):
    many = np.repeat(AT_M, 5, axis=0) + np.tile(np.array([[0.3 * step, 0.0] for step in range(5)]), (len(AT_M), 1))
    mean, sd = (np.repeat(column, 5) for column in (field.latent_mean, field.latent_sd))
    big = SimpleNamespace(doubt=field.doubt, drift=np.zeros((len(many), 0)), latent_mean=mean, latent_sd=sd)
    assert len(many) > MOST_CANDIDATES
    every = np.arange(len(many), dtype=np.int32)
    best = next_stops(big, many, every, np.ones(len(many), bool), 10.0)
    close = next_stops(field, AT_M, ALL, LIVING, 10.0)
    assert np.hypot(*(many[best[0].vine] - AT_M[close[0].vine])) < 4.0
    assert best[0].gain_frac == pytest.approx(close[0].gain_frac, rel=0.1)
