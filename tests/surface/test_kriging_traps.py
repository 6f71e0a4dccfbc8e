"""Where kriging goes wrong without a word: one test for each trap."""

from __future__ import annotations

import gstools
import numpy as np
import pytest
from pykrige.ok import OrdinaryKriging

from vinemap.errors import InputError
from vinemap.surface import kriging
from vinemap.surface.kriging import krige
from vinemap.surface.variogram import Variogram


def made_up(count=30):
    rng = np.random.default_rng(21)
    return rng.uniform(0, 60, (count, 2)), rng.normal(size=count)


def test_two_visits_at_one_vine():
    """Two exact values contradict each other: others answer without a word, surer than sure."""
    points, values = made_up()
    points, values = np.vstack([points, points[0]]), np.append(values, values[0] + 5.0)
    at, variogram = np.array([[30.0, 30.0], points[0]]), Variogram("exponential", 0.2, 1.0, 30.0)
    figures = {"psill": 0.8, "range": 30.0, "nugget": 0.2}
    program = OrdinaryKriging(*points.T, values, variogram_model="exponential", variogram_parameters=figures)
    assert program.execute("points", *at.T)[1][1] < 0.01
    model = gstools.Exponential(dim=2, var=0.8, len_scale=30.0, rescale=3.0, nugget=0.2)
    assert gstools.krige.Ordinary(model, points.T, values, exact=True)(at.T)[1][1] < 0.01
    with pytest.raises(InputError, match="Two stops stand at the same vine"):
        krige(points, values, np.zeros(31), variogram, at)
    # half a millimetre apart is the same vine
    points[-1] += [3e-4, 4e-4]
    with pytest.raises(InputError, match="Two stops stand at the same vine"):
        krige(points, values, np.zeros(31), variogram, at)
    # visits have errors, and with them the answer is theirs
    noise_var = np.full(31, 0.5)
    points[-1] = points[0]
    found = krige(points, values, noise_var, variogram, at)
    pooled_values, pooled_noise = values[:-1].copy(), np.full(30, 0.5)
    pooled_values[0], pooled_noise[0] = values[[0, -1]].mean(), 0.25
    pooled = krige(points[:-1], pooled_values, pooled_noise, variogram, at)
    np.testing.assert_allclose(found.mean, pooled.mean, rtol=1e-9)
    np.testing.assert_allclose(found.variance, pooled.variance, rtol=1e-9)


def test_no_spikes_at_noisy_stops():
    """With the noise told as a nugget an exact program jumps at each stop; the mean of what vines share must not."""
    points, values = made_up()
    step = np.array([1e-3, 1e-3])
    noise_var = np.full(30, 0.6)
    variogram = Variogram("exponential", 0.0, 1.0, 30.0)
    there, beside = (krige(points, values, noise_var, variogram, at) for at in (points, points + step))
    assert np.abs(there.mean - beside.mean).max() < 1e-3
    assert np.abs(there.mean - values).max() > 0.5
    # the exact program on the same data: a spike up to the value itself
    model = gstools.Exponential(dim=2, var=1.0, len_scale=30.0, rescale=3.0, nugget=0.6)
    program = gstools.krige.Ordinary(model, points.T, values, exact=True)
    spike = np.abs(program(points.T)[0] - program((points + step).T)[0]).max()
    assert spike > 0.5


def test_a_vine_with_a_nugget_of_its_own_is_known_at_the_stop_only():
    points, values = made_up()
    variogram, noise_var = Variogram("exponential", 0.4, 1.0, 30.0), np.full(30, 0.1)
    there, beside = (krige(points, values, noise_var, variogram, at) for at in (points, points + 0.002))
    # the stop's own vine shares its nugget, the next one has it all still to come
    assert (there.variance < 0.1).all()
    assert (beside.variance > 0.4).all()
    assert np.abs(there.mean - values).max() < 0.2
    assert np.abs(beside.mean - values).max() > 0.4


def test_the_variance_of_a_new_value_holds_the_nugget():
    """Far off it is the sill and the level's; without the nugget it would promise too much."""
    points, values = made_up()
    far = np.array([[1e4, 1e4]])
    found = krige(points, values, np.zeros(30), Variogram("spherical", 0.4, 1.0, 30.0), far)
    assert found.variance[0] - found.structured_variance[0] == pytest.approx(0.4)
    assert found.variance[0] > 1.0
    mean, variance = gstools.krige.Ordinary(
        gstools.Spherical(dim=2, var=0.6, len_scale=30.0, nugget=0.4), points.T, values, exact=True
    )(far.T)
    assert found.mean[0] == pytest.approx(mean[0])
    assert found.variance[0] == pytest.approx(variance[0])


def test_neighbours_are_near_in_ranges_not_in_metres(monkeypatch):
    """With rows that carry ten times as far, the plainly nearest stops are those that tell least."""
    rng = np.random.default_rng(22)
    points = np.column_stack([rng.uniform(0, 100, 2000), rng.uniform(0, 1000, 2000)])
    values, noise_var = rng.normal(size=2000), np.full(2000, 0.05)
    at = np.column_stack([rng.uniform(0, 100, 200), rng.uniform(0, 1000, 200)])
    variogram = Variogram("exponential", 0.1, 1.0, 300.0, 0.02, 0.0)
    patched = krige(points, values, noise_var, variogram, at)
    monkeypatch.setattr(kriging, "ALL_AT_ONCE", 2000)
    whole = krige(points, values, noise_var, variogram, at)
    # the 32 nearest in metres of each place, by hand
    lost = []
    for place, sure in zip(at, whole.variance, strict=True):
        near = np.argsort(np.hypot(*(points - place).T))[:32]
        lost.append(krige(points[near], values[near], noise_var[near], variogram, place).variance[0] / sure - 1.0)
    ours = patched.variance / whole.variance - 1.0
    assert np.mean(lost) > 0.05
    assert ours.mean() < 0.002
    assert ours.max() < 0.05


def largest_change(mean_at, step_m):
    """Largest change of the mean over one step of a walk of 240 m, and over a tenth of a step thereabouts."""
    start, ahead = np.array([20.0, 30.0]), np.array([0.8, 0.6])
    wide = np.abs(np.diff(mean_at(start + step_m * np.arange(round(240.0 / step_m))[:, None] * ahead)))
    most = int(np.argmax(wide))
    narrow = np.abs(np.diff(mean_at(start + step_m * (most + np.linspace(-2.0, 3.0, 51)[:, None]) * ahead)))
    return float(wide[most]), float(narrow.max())


def test_no_jumps_where_the_nearest_stops_change():
    """A step ten times shorter changes a smooth mean ten times less; with so many nearest stops it jumps all the same."""
    rng = np.random.default_rng(23)
    points, values, noise_var = rng.uniform(0, 300, (1700, 2)), rng.normal(size=1700), np.full(1700, 0.3)
    variogram = Variogram("matern", 0.2, 1.0, 60.0, 0.6, 20.0)
    wide, narrow = largest_change(lambda at: krige(points, values, noise_var, variogram, at).mean, 0.08)
    assert narrow < 0.15 * wide
    wide, narrow = largest_change(lambda at: krige(points, values, noise_var, variogram, at).structured_variance, 0.08)
    assert narrow < 0.15 * wide
    # the usual way on the same walk
    figures = {"psill": 0.8, "range": 60.0, "nugget": 0.5}
    program = OrdinaryKriging(*points.T, values, variogram_model="exponential", variogram_parameters=figures)
    wide, narrow = largest_change(lambda at: program.execute("points", *at.T, backend="C", n_closest_points=12)[0], 0.08)
    assert narrow > 0.8 * wide
