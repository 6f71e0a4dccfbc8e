"""How long the binomial field takes, parameters and all, and what a move of the threshold costs.

    python tests/benchmarks/bench_binomial.py

300 stops in an invented block of 50,000 vines: the whole field; the first look that stands until it is there; the rows at
another threshold, beside the whole field made again. Times are the best of three; nothing here gates a test.
"""

from __future__ import annotations

import resource
import time
from collections.abc import Callable

import numpy as np
from scipy.special import expit

from vinemap.service.threads import one_thread
from vinemap.surface.field import BINOMIAL, FIRST_LOOK, FieldOptions, field_at
from vinemap.surface.gaps import gaps_between
from vinemap.surface.pattern import prior_covariance
from vinemap.surface.spans import draw_groups, incidence_of, merged
from vinemap.surface.variogram import Variogram

STOPS, ROWS, VINES_A_ROW = 300, 200, 250
BUDGET_S, FIRST_BUDGET_S = 2.0, 0.3


def best_of(times: int, work: Callable[[], object]) -> float:
    """Shortest time [s] of some runs."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def invented() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Vines (m, 2) [m], index of stops, clusters examined and infected; invented."""
    rng = np.random.default_rng(5)
    row, vine = np.divmod(np.arange(ROWS * VINES_A_ROW), VINES_A_ROW)
    vines_m = np.column_stack([row * 2.5, vine * 1.5])
    stop = rng.choice(len(vines_m), STOPS, replace=False)
    curve = Variogram("exponential", 0.5, 2.0, 60.0, 0.6)
    covariance = prior_covariance(gaps_between(vines_m[stop], 0.0), np.zeros((STOPS, STOPS)), curve)
    logit = -3.0 + np.linalg.cholesky(covariance) @ rng.standard_normal(STOPS)
    examined = np.full(STOPS, 10.0)
    return vines_m, stop, examined, rng.binomial(10, expit(logit)).astype(float)


def main() -> None:
    """Time the field, its first look and the threshold, and print them beside their budgets."""
    vines_m, stop, examined, infected = invented()
    span = np.arange(len(vines_m)) // 10

    def made(method: str) -> Callable[[], object]:
        return lambda: field_at(vines_m[stop], examined, infected, vines_m, FieldOptions(method, threads=2))

    with one_thread():
        whole, first = best_of(3, made(BINOMIAL)), best_of(3, made(FIRST_LOOK))
        field = field_at(vines_m[stop], examined, infected, vines_m, FieldOptions(BINOMIAL, threads=2))
        drawing = best_of(3, lambda: draw_groups(field, vines_m, span))
        rows = merged(draw_groups(field, vines_m, span), np.arange(span[-1] + 1) // 25)
    moved = best_of(5, lambda: incidence_of(rows, 0.07))
    print(f"{STOPS} stops to {len(vines_m):,} vines, two threads")
    print(f"binomial field, parameters and all   {whole:6.2f} s  (wanted below {BUDGET_S:g} s)")
    print(f"first look                           {first:6.2f} s  (wanted below {FIRST_BUDGET_S:g} s)")
    print(f"{rows.share.shape[1]} joint draws of {span[-1] + 1:,} spans    {drawing:6.2f} s")
    print(
        f"rows at another threshold            {1e3 * moved:6.1f} ms ({whole / moved:,.0f} times as fast as the field again)"
    )
    print(f"most memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:,.0f} MB")


if __name__ == "__main__":
    main()
