"""The curve that says how alike vines are."""

from __future__ import annotations

import numpy as np
import pytest

from vinemap.errors import InputError
from vinemap.surface.variogram import KINDS, Variogram, correlation, covariance, experimental, fade, range_of_scale


def test_spherical_by_hand():
    # 1 - 1.5 / 2 + 0.5 / 8 at half the range, 0 from the range on (Cressie 1993, section 2.3)
    np.testing.assert_allclose(correlation("spherical", np.array([0.0, 0.5, 1.0, 3.0])), [1.0, 0.3125, 0.0, 0.0], atol=1e-15)


@pytest.mark.parametrize("kind", ["exponential", "gaussian"])
def test_95_percent_at_the_range(kind):
    assert correlation(kind, np.array([1.0]))[0] == pytest.approx(np.exp(-3.0))
    assert 1.0 - correlation(kind, np.array([1.0]))[0] == pytest.approx(0.95, abs=0.001)


def test_matern_by_hand():
    # the range is where (1 + u) exp(-u) = 0.05; (1 + sqrt 3) exp(-sqrt 3) at its own scale (Stein 1999, section 2.7)
    assert correlation("matern", np.array([1.0]))[0] == pytest.approx(0.05, abs=1e-15)
    at_scale = correlation("matern", np.array([12.0 / range_of_scale("matern", 12.0)]))[0]
    assert at_scale == pytest.approx((1.0 + np.sqrt(3.0)) * np.exp(-np.sqrt(3.0)), rel=1e-14)


@pytest.mark.parametrize(
    ("kind", "by_hand"),
    [
        ("spherical", 1.0 - 1.5 * 0.5 + 0.5 * 0.125),
        ("exponential", np.exp(-0.5)),
        ("gaussian", np.exp(-0.25)),
        ("matern", (1.0 + np.sqrt(3.0) / 2.0) * np.exp(-np.sqrt(3.0) / 2.0)),
    ],
)
def test_half_of_its_own_scale(kind, by_hand):
    assert correlation(kind, np.array([6.0 / range_of_scale(kind, 12.0)]))[0] == pytest.approx(by_hand, rel=1e-14)


def test_scales_that_make_no_range_are_refused():
    with pytest.raises(InputError, match="not a kind"):
        range_of_scale("wavy", 3.0)
    for scale_m in (0.0, -1.0, np.inf, np.nan):
        with pytest.raises(InputError, match="scale of the variogram must be above 0"):
            range_of_scale("spherical", scale_m)


@pytest.mark.parametrize("kind", KINDS)
def test_in_place_in_float32_is_the_same_curve(kind):
    reach = np.linspace(0.0, 3.0, 200)
    short = reach.astype(np.float32)
    fade(kind, short, np.empty_like(short))
    assert short.dtype == np.float32
    np.testing.assert_allclose(short, correlation(kind, reach), atol=3e-7)
    np.testing.assert_array_equal(reach, np.linspace(0.0, 3.0, 200))


def test_range_runs_along_the_bearing():
    # rows that run east: 20 m along them is as far as 5 m north
    variogram = Variogram("spherical", 0.0, 2.0, 20.0, 0.25, 90.0)
    east, north = covariance(variogram, np.array([10.0, 0.0]), np.array([0.0, 2.5]))
    assert east == pytest.approx(2.0 * 0.3125)
    assert north == pytest.approx(2.0 * 0.3125)
    assert variogram.range_across_m == 5.0


def test_bearing_is_clockwise_from_north():
    # along a row at 30 degrees: sin 30 east, cos 30 north
    variogram = Variogram("exponential", 0.0, 1.0, 20.0, 0.5, 30.0)
    along = covariance(variogram, np.array(20.0 * 0.5), np.array(20.0 * np.sqrt(0.75)))
    across = covariance(variogram, np.array(10.0 * np.sqrt(0.75)), np.array(-10.0 * 0.5))
    assert float(along) == pytest.approx(np.exp(-3.0))
    assert float(across) == pytest.approx(np.exp(-3.0))


def test_nugget_is_shared_by_one_vine_only():
    variogram = Variogram("exponential", 0.4, 1.0, 20.0)
    same, near = covariance(variogram, np.array([0.0, 0.002]), np.zeros(2))
    assert same == 1.0
    assert near == pytest.approx(0.6, abs=1e-3)


@pytest.mark.parametrize(
    "figures",
    [
        ("wavy", 0.0, 1.0, 5.0),
        ("spherical", -0.1, 1.0, 5.0),
        ("spherical", 2.0, 1.0, 5.0),
        ("spherical", 0.0, 0.0, 5.0),
        ("spherical", 0.0, 1.0, 0.0),
        ("spherical", 0.0, 1.0, 5.0, 0.0),
        ("spherical", 0.0, np.nan, 5.0),
    ],
)
def test_figures_that_make_no_curve_are_refused(figures):
    with pytest.raises(InputError):
        Variogram(*figures)


def test_experimental_by_hand():
    # four stops, rows north: pairs along at 10 and 20 m, across at 6 m; (0, 20)-(6, 0) is 20.9 m and along
    points = np.array([[0.0, 0.0], [0.0, 10.0], [0.0, 20.0], [6.0, 0.0]])
    found = experimental(points, np.array([1.0, 2.0, 5.0, 4.0]), 0.0, np.array([0.0, 8.0, 15.0, 30.0]))
    np.testing.assert_array_equal(found.along_pairs, [0, 3, 2])
    np.testing.assert_array_equal(found.across_pairs, [1, 0, 0])
    assert np.isnan(found.along[0])
    # squares 1, 9 and (6, 0)-(0, 10): 4, halved and averaged over three pairs
    assert found.along[1] == pytest.approx(0.5 * (1 + 9 + 4) / 3)
    assert found.along[2] == pytest.approx(0.5 * (16 + 1) / 2)
    assert found.across[0] == pytest.approx(4.5)
    assert found.distance_m[0] == pytest.approx(6.0)
