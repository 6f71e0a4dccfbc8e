"""Seconds to krige 300 stops to 50,000 vines, beside two other programs on the same work in the same run.

    python tests/benchmarks/bench_kriging.py

The programs take turns, five times round, and the least of each is taken, because other work on the machine only adds.
The answers are checked against each other.
Beside the exact answer stands the other program's compiled search of the nearest 32 stops, which is another, smaller answer.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import gstools
import numpy as np
from pykrige.ok import OrdinaryKriging

from vinemap.surface.field import FieldOptions, chance_above, field_at
from vinemap.surface.kriging import krige
from vinemap.surface.variogram import Variogram

STOPS, VINES, TIMES = 300, 50_000, 5
VARIOGRAM = Variogram("exponential", 0.4, 1.6, 40.0, 0.5, 30.0)

Answer = tuple[np.ndarray, np.ndarray]


def in_turn(works: dict[str, Callable[[], Answer]]) -> dict[str, tuple[float, Answer]]:
    """Least seconds of each work, and its answer."""
    told: dict[str, tuple[float, Answer]] = {}
    for _ in range(TIMES):
        for name, work in works.items():
            start = time.perf_counter()
            answer = work()
            seconds = time.perf_counter() - start
            told[name] = (min(seconds, told[name][0]) if name in told else seconds, answer)
    return told


def by_pykrige(points: np.ndarray, values: np.ndarray, at: np.ndarray, **options: object) -> Answer:
    """Mean and variance by PyKrige; its angle is counter-clockwise from east."""
    program = OrdinaryKriging(
        points[:, 0],
        points[:, 1],
        values,
        variogram_model=VARIOGRAM.kind,
        variogram_parameters={"psill": VARIOGRAM.structured_sill, "range": VARIOGRAM.range_m, "nugget": VARIOGRAM.nugget},
        anisotropy_angle=90.0 - VARIOGRAM.bearing_deg,
        anisotropy_scaling=1.0 / VARIOGRAM.ratio,
    )
    mean, variance = program.execute("points", at[:, 0], at[:, 1], **options)
    return np.asarray(mean), np.asarray(variance)


def by_gstools(points: np.ndarray, values: np.ndarray, at: np.ndarray) -> Answer:
    """Mean and variance by GSTools; its exponential falls by e at the length over three."""
    model = gstools.Exponential(
        dim=2,
        var=VARIOGRAM.structured_sill,
        len_scale=VARIOGRAM.range_m,
        nugget=VARIOGRAM.nugget,
        rescale=3.0,
        anis=VARIOGRAM.ratio,
        angles=np.radians(90.0 - VARIOGRAM.bearing_deg),
    )
    mean, variance = gstools.krige.Ordinary(model, points.T, values, exact=True)(at.T, return_var=True)
    return np.asarray(mean), np.asarray(variance)


def main() -> None:
    """Time, check and print."""
    rng = np.random.default_rng(1)
    points, at = rng.uniform(0, 400, (STOPS, 2)), rng.uniform(0, 400, (VINES, 2))
    values = rng.normal(-2.0, 1.2, STOPS)

    def ours() -> Answer:
        kriged = krige(points, values, np.zeros(STOPS), VARIOGRAM, at)
        return kriged.mean, kriged.variance

    told = in_turn(
        {
            "Vinemap, all stops": ours,
            "PyKrige, all stops, vectorized": lambda: by_pykrige(points, values, at, backend="vectorized"),
            "GSTools, all stops": lambda: by_gstools(points, values, at),
            "PyKrige, nearest 32, compiled": lambda: by_pykrige(points, values, at, backend="C", n_closest_points=32),
        }
    )
    own_seconds, own = told["Vinemap, all stops"]
    print(f"{STOPS} stops to {VINES:,} vines, least of {TIMES}")
    for name, (seconds, (mean, variance)) in told.items():
        print(f"{name:38}{seconds:8.3f} s {seconds / own_seconds:8.1f} times ours, ", end="")
        print(
            f"means differ by at most {np.abs(mean - own[0]).max():.1e}, variances by {np.abs(variance - own[1]).max():.1e}"
        )
        if "all stops" in name:
            np.testing.assert_allclose(own[0], mean, rtol=1e-6, atol=1e-6)
            np.testing.assert_allclose(own[1], variance, rtol=1e-6, atol=1e-6)
    infected = rng.binomial(10, 0.15, STOPS)
    start = time.perf_counter()
    field = field_at(points, np.full(STOPS, 10), infected, at, FieldOptions(bearing_deg=30.0))
    print(f"{'counts to field, pattern and all':38}{time.perf_counter() - start:8.3f} s")
    start = time.perf_counter()
    chance_above(field, 0.2)
    print(f"{'another threshold':38}{1000 * (time.perf_counter() - start):8.2f} ms")


if __name__ == "__main__":
    main()
