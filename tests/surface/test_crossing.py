"""The two sums from every vine to every stop."""

from __future__ import annotations

import numpy as np
import pytest

from vinemap.errors import Cancelled
from vinemap.surface import crossing
from vinemap.surface.crossing import told
from vinemap.surface.variogram import KINDS, Variogram, covariance


def made_up(kind="exponential", stops=150, places=700):
    rng = np.random.default_rng(3)
    variogram = Variogram(kind, 0.4, 1.6, 40.0, 0.5, 30.0)
    points, at = rng.uniform(3000, 3300, (stops, 2)), rng.uniform(3000, 3300, (places, 2))
    return variogram, points, at, rng.normal(size=stops), np.tril(rng.normal(size=(stops, stops))) / stops


def plainly(variogram, points, at, pull, inward):
    step = at[:, None] - points
    shared = covariance(Variogram(variogram.kind, 0.0, 1.2, 40.0, 0.5, 30.0), step[..., 0], step[..., 1])
    return shared @ pull, ((shared @ inward.T) ** 2).sum(axis=1)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("dtype", "bound"), [(np.float64, 1e-12), (np.float32, 3e-5)])
def test_is_the_plain_sum(kind, dtype, bound):
    variogram, points, at, pull, inward = made_up(kind)
    mean, lost = told(variogram, points, at, pull.astype(dtype), inward.astype(dtype))
    plain_mean, plain_lost = plainly(variogram, points, at, pull, inward)
    assert mean.dtype == lost.dtype == dtype
    # float32 keeps seven digits, and 150 terms are added
    np.testing.assert_allclose(mean, plain_mean, atol=bound)
    np.testing.assert_allclose(lost, plain_lost, atol=bound)


def test_any_inward_and_many_pulls():
    variogram, points, at, pull, _ = made_up()
    inward = np.random.default_rng(4).normal(size=(7, 150))
    mean, lost = told(variogram, points, at, np.column_stack([pull, np.ones(150)]), inward)
    plain_mean, plain_lost = plainly(variogram, points, at, np.column_stack([pull, np.ones(150)]), inward)
    assert mean.shape == (700, 2)
    np.testing.assert_allclose(mean, plain_mean, rtol=1e-10, atol=1e-12)
    np.testing.assert_allclose(lost, plain_lost, rtol=1e-10)


@pytest.mark.parametrize("dtype", [np.float64, np.float32])
def test_threads_change_no_bit(dtype):
    variogram, points, at, pull, inward = made_up(places=3000)
    alone = told(variogram, points, at, pull.astype(dtype), inward.astype(dtype))
    for threads in (2, 5):
        together = told(variogram, points, at, pull.astype(dtype), inward.astype(dtype), threads=threads)
        np.testing.assert_array_equal(together, alone)


def test_chunks_change_rounding_only(monkeypatch):
    made = made_up()
    whole = told(*made)
    monkeypatch.setattr(crossing, "CHUNK_CELLS", 150 * 64)
    np.testing.assert_allclose(told(*made), whole, rtol=1e-12, atol=1e-14)


def test_no_places_and_empty_inward():
    variogram, points, _, pull, inward = made_up()
    mean, lost = told(variogram, points, np.empty((0, 2)), pull, inward)
    assert mean.shape == lost.shape == (0,)
    assert told(variogram, points, points[:3], pull, np.empty((0, 150)))[1].tolist() == [0.0, 0.0, 0.0]


@pytest.mark.parametrize("threads", [1, 3])
def test_tells_how_far_and_stops_when_asked(threads):
    seen = []
    told(*made_up(places=3000), threads=threads, tick=seen.append)
    assert seen == sorted(seen)
    assert len(seen) > 3
    assert seen[-1] == 1.0

    def stop(fraction):
        if fraction > 0.3:
            raise Cancelled

    with pytest.raises(Cancelled):
        told(*made_up(places=3000), threads=threads, tick=stop)
