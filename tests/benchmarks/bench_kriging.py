"""Seconds to krige from stops to every vine, beside two other programs and a plain C kernel, in one run.

    python tests/benchmarks/bench_kriging.py

Same work for all: a given variogram, mean and variance at every vine, two threads for ours. The programs take turns and the
least of each is taken, because other work on the machine only adds. Where a program would take minutes it does a part of the
vines and its time is scaled up; the table says so. PyKrige's compiled search of the nearest 32 stops gives another, smaller
answer; the full answers are checked against each other.
"""

from __future__ import annotations

import ctypes
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import gstools
import numpy as np
from pykrige.ok import OrdinaryKriging
from scipy.linalg import cholesky
from scipy.spatial import cKDTree

from vinemap.service.threads import one_thread
from vinemap.surface.counts import Counts
from vinemap.surface.inverse_distance import inverse_distance
from vinemap.surface.kriging import Trend, data_covariance, krige
from vinemap.surface.variogram import Variogram, in_ranges

VARIOGRAM = Variogram("exponential", 0.4, 1.6, 40.0, 0.5, 30.0)
THREADS = 2

Answer = tuple[np.ndarray, np.ndarray]

PLAIN_C = """
#include <math.h>
void krige(int n, long m, const double *points, const double *places, const double *pull, const double *inward,
           double sill, double *mean, double *left, double *k)
{
    for (long place = 0; place < m; place++) {
        double sum = 0.0, lost = 0.0;
        for (int i = 0; i < n; i++) {
            double dx = places[2 * place] - points[2 * i], dy = places[2 * place + 1] - points[2 * i + 1];
            k[i] = sill * exp(-3.0 * sqrt(dx * dx + dy * dy));
            sum += k[i] * pull[i];
        }
        for (int i = 0; i < n; i++) {
            const double *row = inward + (long)i * n;
            double part = 0.0;
            for (int j = 0; j <= i; j++) part += row[j] * k[j];
            lost += part * part;
        }
        mean[place] = sum;
        left[place] = sill - lost;
    }
}
"""


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Stops (n, 2) [m] with values (n,) and vines (m, 2) [m]."""

    points: np.ndarray
    values: np.ndarray
    at: np.ndarray


def made_up(rng: np.random.Generator, stops: int, vines: int, side_m: float) -> Block:
    """One square block, invented."""
    return Block(rng.uniform(0, side_m, (stops, 2)), rng.normal(-2.0, 1.2, stops), rng.uniform(0, side_m, (vines, 2)))


def ours(block: Block, trend: Trend | None = None) -> Answer:
    """Mean and variance by Vinemap."""
    with one_thread():
        found = krige(
            block.points,
            block.values,
            np.zeros(len(block.values)),
            VARIOGRAM,
            block.at,
            trend=trend or Trend(),
            threads=THREADS,
        )
    return found.mean, found.variance


def pykrige_program(block: Block) -> OrdinaryKriging:
    """PyKrige made ready; its angle is counter-clockwise from east."""
    return OrdinaryKriging(
        *block.points.T,
        block.values,
        variogram_model=VARIOGRAM.kind,
        variogram_parameters={"psill": VARIOGRAM.structured_sill, "range": VARIOGRAM.range_m, "nugget": VARIOGRAM.nugget},
        anisotropy_angle=90.0 - VARIOGRAM.bearing_deg,
        anisotropy_scaling=1.0 / VARIOGRAM.ratio,
    )


def by_pykrige_near(program: OrdinaryKriging, at: np.ndarray) -> Answer:
    """Mean and variance from the nearest 32 by PyKrige's compiled loop."""
    mean, variance = program.execute("points", *at.T, backend="C", n_closest_points=32)
    return np.asarray(mean), np.asarray(variance)


def by_gstools(block: Block, at: np.ndarray) -> Answer:
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
    mean, variance = gstools.krige.Ordinary(model, block.points.T, block.values, exact=True)(at.T, return_var=True)
    return np.asarray(mean), np.asarray(variance)


def compiled() -> ctypes.CDLL | None:
    """The plain kernel, or None without a C compiler."""
    compiler = shutil.which("cc")
    if compiler is None:
        print("No C compiler here: the plain kernel is left out.")
        return None
    folder = Path(tempfile.mkdtemp())
    (folder / "kernel.c").write_text(PLAIN_C)
    subprocess.run(
        [compiler, "-O3", "-march=native", "-shared", "-fPIC", "kernel.c", "-o", "kernel.so", "-lm"], cwd=folder, check=True
    )
    return ctypes.CDLL(str(folder / "kernel.so"))


def by_plain_c(library: ctypes.CDLL, block: Block, at: np.ndarray) -> Answer:
    """Simple kriging about 0: the factor made by scipy, then one C loop over the vines, one thread."""
    points, places = in_ranges(VARIOGRAM, block.points), in_ranges(VARIOGRAM, at)
    root = cholesky(data_covariance(points, np.zeros(len(points)), VARIOGRAM), lower=True)
    inward = np.ascontiguousarray(np.linalg.inv(root))
    pull = inward.T @ (inward @ block.values)
    mean, left, spare = np.empty(len(at)), np.empty(len(at)), np.empty(len(points))
    address = [a.ctypes.data_as(ctypes.c_void_p) for a in (points, places, pull, inward, mean, left, spare)]
    library.krige(
        ctypes.c_int(len(points)),
        ctypes.c_long(len(at)),
        *address[:4],
        ctypes.c_double(VARIOGRAM.structured_sill),
        *address[4:],
    )
    return mean, left + VARIOGRAM.nugget


def seconds_of(work: Callable[[], object]) -> float:
    """How long work takes [s]."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def in_turn(times: int, works: dict[str, tuple[float, Callable[[], object]]]) -> None:
    """Time each work, scaled by its factor, and print it beside the first."""
    least = {name: np.inf for name in works}
    for _ in range(times):
        for name, (scale, work) in works.items():
            least[name] = min(least[name], scale * seconds_of(work))
    own = next(iter(least.values()))
    for name, seconds in least.items():
        part = f"(did 1/{works[name][0]:.0f}) " if works[name][0] > 1 else ""
        print(f"  {name:44}{seconds:9.3f} s {seconds / own:8.2f} times the first {part}")
    sys.stdout.flush()


def check(block: Block) -> None:
    """Full answers agree with both programs."""
    few = Block(block.points, block.values, block.at[:1000])
    own = ours(few)
    theirs = pykrige_program(few).execute("points", *few.at.T, backend="vectorized")
    for mean, variance in (theirs, by_gstools(few, few.at)):
        np.testing.assert_allclose(own[0], mean, rtol=1e-6, atol=1e-6)
        np.testing.assert_allclose(own[1], variance, rtol=1e-6, atol=1e-6)


def recipe(block: Block) -> np.ndarray:
    """Inverse distance as it is usually written with a tree and numpy: no ties, no worth."""
    distance, index = cKDTree(block.points).query(block.at, k=12)
    weight = 1.0 / np.maximum(distance, 1e-12) ** 2
    return np.asarray((weight * block.values[index]).sum(axis=1) / weight.sum(axis=1))


def run_blocks(title: str, blocks: list[Block], times: int, part: int, gstools_too: bool = True) -> None:
    """Ours on every block; the others on every block's first 1/``part`` of vines."""
    print(title)
    ready = [(block, pykrige_program(block), block.at[: len(block.at) // part]) for block in blocks]
    works: dict[str, tuple[float, Callable[[], object]]] = {
        "Vinemap, all stops of a block": (1.0, lambda: [ours(block) for block in blocks]),
        "PyKrige, nearest 32, compiled": (part, lambda: [by_pykrige_near(program, at) for _, program, at in ready]),
    }
    if gstools_too:
        works["GSTools, all stops of a block"] = (part, lambda: [by_gstools(block, at) for block, _, at in ready])
    in_turn(times, works)


def run_wide(rng: np.random.Generator) -> None:
    """20,000 stops in one block, and the memory that it takes; before all others, as the peak of memory only rises."""
    wide = made_up(rng, 20_000, 1_000_000, 3000.0)
    ours(Block(wide.points, wide.values, wide.at[:1000]))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    ours(wide)
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    print(f"20,000 stops to 1,000,000 vines, one block: {grown:.0f} MB more at the peak")
    program = pykrige_program(wide)
    # its first run also makes room in memory, about 9 GB
    by_pykrige_near(program, wide.at[:10])
    hundred = [made_up(rng, 200, 10_000, 300.0) for _ in range(100)]
    in_turn(
        1,
        {
            "Vinemap, blended patches": (1.0, lambda: ours(wide)),
            "PyKrige, nearest 32, compiled": (1.0, lambda: by_pykrige_near(program, wide.at)),
            "Vinemap, the same in 100 blocks": (1.0, lambda: [ours(block) for block in hundred]),
        },
    )


def run_plain_c(block: Block) -> None:
    """Simple kriging beside the plain C kernel, answers compared."""
    library = compiled()
    if library is None:
        return
    known = Trend(0.0)
    for own, plain in zip(ours(block, known), by_plain_c(library, block, block.at), strict=True):
        np.testing.assert_allclose(own, plain, rtol=1e-8, atol=1e-8)
    in_turn(
        3,
        {
            "plain C kernel, one thread": (1.0, lambda: by_plain_c(library, block, block.at)),
            "Vinemap, known mean": (1.0, lambda: ours(block, known)),
        },
    )


def run_inverse_distance(rng: np.random.Generator, block: Block) -> None:
    """Inverse distance beside the usual recipe, which has one thread."""
    print("Inverse distance, 300 stops to 50,000 vines")
    examined, infected = np.full(300, 10.0), rng.binomial(10, 0.2, 300).astype(float)
    in_turn(
        15,
        {
            "Vinemap": (1.0, lambda: inverse_distance(Counts(block.points, examined, infected), block.at, threads=THREADS)),
            "tree and numpy, as usual": (1.0, lambda: recipe(block)),
        },
    )


def main() -> None:
    """Time, check and print."""
    rng = np.random.default_rng(1)
    run_wide(rng)
    hundred = [made_up(rng, 200, 10_000, 300.0) for _ in range(100)]
    run_blocks("20,000 stops to 1,000,000 vines, 100 blocks", hundred, 1, 10, gstools_too=False)
    one = made_up(rng, 300, 50_000, 400.0)
    check(one)
    run_blocks("300 stops to 50,000 vines", [one], 3, 5)
    run_plain_c(one)
    run_blocks("2,000 stops in 10 blocks to 250,000 vines", [made_up(rng, 200, 25_000, 300.0) for _ in range(10)], 3, 10)
    run_inverse_distance(rng, one)


if __name__ == "__main__":
    main()
