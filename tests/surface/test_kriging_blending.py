"""Many stops: overlapping patches blended, beside one system of all."""

from __future__ import annotations

import numpy as np
import pytest

from vinemap.errors import Cancelled
from vinemap.surface import blending, kriging
from vinemap.surface.blending import patches
from vinemap.surface.kriging import LEVEL, data_covariance, krige, linear_drift
from vinemap.surface.variogram import Variogram, covariance, in_ranges


def weights(points, places):
    total, seen = np.zeros(len(places)), np.zeros(len(places))
    for patch in patches(points, places):
        assert len(patch.points) == len(set(patch.points.tolist()))
        assert (patch.weight > 0.0).all()
        total[patch.places] += patch.weight
        seen[patch.places] += 1
    return total, seen


def crowds(name):
    """2,000 points [ranges]: even, half of them crowded into a corner, on one row, on a lattice, on two."""
    rng = np.random.default_rng(31)
    points = rng.uniform(0, 10, (2000, 2))
    if name == "corner":
        points[:1000] *= 0.05
    elif name == "row":
        points[:, 0] = 3.0
    elif name == "lattice":
        points = np.stack(np.meshgrid(np.arange(50.0) / 5, np.arange(40.0) / 4), axis=-1).reshape(-1, 2)
    elif name == "two rows":
        points[:, 0] = rng.integers(0, 2, 2000) * 5.0
    return points


@pytest.mark.parametrize("name", ["even", "corner", "row", "lattice", "two rows"])
def test_weights_add_up_and_patches_stay_small(name):
    rng = np.random.default_rng(32)
    places = np.vstack([rng.uniform(-3, 13, (3000, 2)), crowds(name)])
    points = crowds(name)
    total, seen = weights(points, places)
    np.testing.assert_allclose(total, 1.0, rtol=1e-12)
    assert seen.max() <= 16
    sizes = [len(patch.points) for patch in patches(points, places)]
    rim = 4 * blending.RIM_SITES * blending.RIM_NEAREST
    assert max(sizes) <= blending.PATCH_POINTS + rim
    assert len(sizes) > 10


@pytest.mark.parametrize("name", ["even", "corner", "two rows"])
def test_weights_go_smoothly(name):
    """Half as long steps change every weight about half as much at most."""
    largest = []
    for steps in (20_001, 40_001):
        walk = np.column_stack([np.linspace(-1, 11, steps), np.linspace(2, 7, steps)])
        weight = np.zeros(steps)
        change = 0.0
        for patch in patches(crowds(name), walk):
            weight[:] = 0.0
            weight[patch.places] = patch.weight
            change = max(change, np.abs(np.diff(weight)).max())
        largest.append(change)
    assert 0.0 < largest[1] < 0.6 * largest[0]


def drawn(rng, points, noise_var, variogram):
    matrix = data_covariance(in_ranges(variogram, points), noise_var, variogram)
    return np.linalg.cholesky(matrix) @ rng.normal(size=len(points))


@pytest.mark.parametrize("count", [1600, 1900])
@pytest.mark.parametrize("range_m", [20.0, 120.0])
def test_comes_close_to_all_at_once(monkeypatch, count, range_m):
    rng = np.random.default_rng(33)
    points, noise_var = rng.uniform(0, 400, (count, 2)), np.full(count, 0.3)
    variogram = Variogram("exponential", 0.3, 1.5, range_m, 0.5, 30.0)
    values = drawn(rng, points, noise_var, variogram)
    at = np.vstack([rng.uniform(-30, 430, (500, 2)), points[:20]])
    patched = krige(points, values, noise_var, variogram, at)
    monkeypatch.setattr(kriging, "ALL_AT_ONCE", count)
    whole = krige(points, values, noise_var, variogram, at)
    off = (patched.mean - whole.mean) / np.sqrt(whole.variance)
    assert np.abs(off).max() < 0.1
    assert np.sqrt((off**2).mean()) < 0.02
    # never surer than the whole, and hardly less sure
    assert (patched.variance > whole.variance * (1.0 - 1e-3)).all()
    np.testing.assert_allclose(patched.variance, whole.variance, rtol=0.02)


def test_drift_comes_close_to_all_at_once(monkeypatch):
    rng = np.random.default_rng(34)
    points, noise_var = rng.uniform(0, 400, (1700, 2)), np.full(1700, 0.3)
    variogram = Variogram("spherical", 0.3, 1.5, 60.0, 0.5, 30.0)
    values = drawn(rng, points, noise_var, variogram) + points @ np.array([0.05, -0.02])
    at = rng.uniform(-30, 430, (300, 2))
    patched = krige(points, values, noise_var, variogram, at, trend=linear_drift(points, at))
    monkeypatch.setattr(kriging, "ALL_AT_ONCE", 1700)
    whole = krige(points, values, noise_var, variogram, at, trend=linear_drift(points, at))
    # whatever the patches lose, their variance owns up to: it differs from the whole's by the square of what means differ by
    lost = patched.variance - whole.variance
    assert ((patched.mean - whole.mean) ** 2).mean() < 2.0 * lost.mean()
    np.testing.assert_allclose(patched.variance, whole.variance, rtol=0.02)


@pytest.mark.parametrize(
    ("name", "kind"),
    [("corner", "matern"), ("corner", "exponential"), ("row", "matern"), ("lattice", "exponential"), ("two rows", "matern")],
)
def test_any_crowd_comes_close(monkeypatch, name, kind):
    points = crowds(name) * 40.0
    rng = np.random.default_rng(35)
    values, noise_var = np.sin(points[:, 0] / 30.0) + rng.normal(size=2000) * 0.5, np.full(2000, 0.25)
    at = np.vstack([points[::40], points[::40] + rng.normal(size=(50, 2)) * 5.0, rng.uniform(0, 400, (100, 2))])
    variogram = Variogram(kind, 0.1, 1.0, 40.0)
    patched = krige(points, values, noise_var, variogram, at)
    assert np.isfinite([patched.mean, patched.variance]).all()
    monkeypatch.setattr(kriging, "ALL_AT_ONCE", 2000)
    whole = krige(points, values, noise_var, variogram, at)
    off = np.abs(patched.mean - whole.mean) / np.sqrt(whole.variance)
    assert np.median(off) < 0.02
    assert off.max() < 0.25
    assert (patched.variance > whole.variance * (1.0 - 1e-3)).all()
    assert (patched.variance < whole.variance * 1.1).all()


def test_thousands_of_visits_at_few_vines_are_one_system_of_vines():
    rng = np.random.default_rng(40)
    vines, which = rng.uniform(0, 100, (30, 2)), rng.integers(0, 30, 1600)
    values, noise_var, variogram = (
        rng.normal(size=1600),
        rng.uniform(0.5, 2.0, 1600),
        Variogram("exponential", 0.3, 1.0, 30.0),
    )
    at = np.vstack([vines[:5], rng.uniform(0, 100, (20, 2))])
    found = krige(vines[which], values, noise_var, variogram, at)
    # every visit in one system, as the book writes it (Cressie 1993, section 3.2)
    matrix = data_covariance(in_ranges(variogram, vines[which]), noise_var, variogram)
    across = at[:, None] - vines[which]
    to_points = covariance(variogram, across[..., 0], across[..., 1])
    solved = np.linalg.solve(matrix, np.column_stack([values, np.ones(1600), to_points.T]))
    level, weight = solved[:, 0].sum() / solved[:, 1].sum(), solved[:, 1].sum()
    mean = level + to_points @ (solved[:, 0] - level * solved[:, 1])
    slack = 1.0 - solved[:, 2:].sum(axis=0)
    variance = variogram.sill - (to_points.T * solved[:, 2:]).sum(axis=0) + slack**2 / weight
    np.testing.assert_allclose(found.mean, mean, rtol=1e-7, atol=1e-9)
    np.testing.assert_allclose(found.variance, variance, rtol=1e-7)


def test_gives_exact_values_back():
    rng = np.random.default_rng(36)
    points, values = rng.uniform(0, 400, (1600, 2)), rng.normal(size=1600)
    found = krige(points, values, np.zeros(1600), Variogram("exponential", 0.3, 1.0, 30.0), points)
    np.testing.assert_allclose(found.mean, values, rtol=1e-8, atol=1e-8)
    np.testing.assert_allclose(found.variance, 0.0, atol=1e-8)


def test_threads_and_order_change_nothing():
    rng = np.random.default_rng(37)
    points, values, noise_var = rng.uniform(0, 400, (1600, 2)), rng.normal(size=1600), rng.uniform(0.1, 0.5, 1600)
    at, variogram = rng.uniform(0, 400, (2000, 2)), Variogram("exponential", 0.3, 1.0, 30.0)
    alone = krige(points, values, noise_var, variogram, at)
    together = krige(points, values, noise_var, variogram, at, threads=3)
    np.testing.assert_array_equal(together.mean, alone.mean)
    np.testing.assert_array_equal(together.variance, alone.variance)
    order, turn = rng.permutation(1600), rng.permutation(2000)
    mixed = krige(points[order], values[order], noise_var[order], variogram, at[turn], trend=LEVEL)
    np.testing.assert_allclose(mixed.mean, alone.mean[turn], rtol=1e-8, atol=1e-10)
    np.testing.assert_allclose(mixed.variance, alone.variance[turn], rtol=1e-8)


@pytest.mark.parametrize("threads", [1, 2])
def test_tells_how_far_and_stops_when_asked(threads):
    rng = np.random.default_rng(38)
    points, at = rng.uniform(0, 400, (1600, 2)), rng.uniform(0, 400, (3000, 2))
    curve, seen = Variogram("exponential", 0.3, 1.0, 30.0), []
    krige(points, points[:, 0], np.ones(1600), curve, at, seen.append, threads=threads)
    assert seen == sorted(seen)
    assert len(seen) > 8
    assert seen[-1] == 1.0

    def stop(fraction):
        if fraction > 0.3:
            raise Cancelled

    with pytest.raises(Cancelled):
        krige(points, points[:, 0], np.ones(1600), curve, at, stop, threads=threads)


def test_no_places_among_many_stops():
    rng = np.random.default_rng(39)
    points = rng.uniform(0, 400, (1600, 2))
    found = krige(points, points[:, 0], np.ones(1600), Variogram("spherical", 0.0, 1.0, 30.0), np.empty((0, 2)))
    assert found.mean.shape == (0,)
