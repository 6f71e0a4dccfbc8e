"""From every vine to every stop: what the stops tell of the vines, the one costly loop of all maps."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.spatial.distance import cdist

from vinemap.columns import Floats
from vinemap.errors import Tick, no_tick
from vinemap.surface.variogram import Variogram, fade, in_ranges

Figures = npt.NDArray[Any]

CHUNK_CELLS = 98_304
"""Places times points worked at once: about the processor's near memory (measured in tests/benchmarks/bench_kriging.py)."""
LEAST_ROWS, MOST_ROWS = 64, 1024
BAND_BYTES = 512
"""Rows of ``inward`` multiplied at once take so many bytes a column, so that the zeros above a diagonal cost half."""


def told(
    variogram: Variogram,
    points_m: Floats,
    at_m: Floats,
    pull: Figures,
    inward: Figures,
    *,
    threads: int = 1,
    tick: Tick = no_tick,
) -> tuple[Figures, Figures]:
    """What ``points_m`` (n, 2) [m] tell of places ``at_m`` (m, 2) [m], by their shared covariance k (m, n).

    ``pull``: (n,) or (n, c); ``inward``: (r, n), zeros right of its filled part cost nothing. Returns k @ pull, (m,) or
    (m, c), and the sums (m,) over r of (k @ inward.T)^2. Worked in the precision of ``pull``, float32 or float64. Chunks
    are the same for any ``threads``, so the answer is too. Hold linear algebra to one thread around it: chunks are small.

    Source: the two sums of kriging; Cressie 1993, Statistics for Spatial Data, section 3.2.
    """
    cross = _Crossing(variogram, points_m, pull, inward)
    places = _centred(variogram, at_m, cross.centre, cross.pull.dtype)
    count, rows = len(places), cross.rows
    mean = np.empty((count, cross.pull.shape[1]), cross.pull.dtype)
    lost = np.empty(count, cross.pull.dtype)

    def work(start: int) -> None:
        chunk = slice(start, start + rows)
        mean[chunk], lost[chunk] = cross.chunk(places[chunk])

    starts = range(0, count, rows)
    if threads <= 1 or len(starts) <= 1:
        for start in starts:
            tick(start / count)
            work(start)
    else:
        with ThreadPoolExecutor(threads) as pool:
            try:
                for start, _ in zip(starts, pool.map(work, starts), strict=True):
                    tick(start / count)
            except BaseException:
                pool.shutdown(cancel_futures=True)
                raise
    tick(1.0)
    return (mean[:, 0] if np.ndim(pull) == 1 else mean), lost


def _centred(variogram: Variogram, places_m: Floats, centre: Floats, dtype: npt.DTypeLike) -> Figures:
    """Places (m, 2) [m] in ranges from ``centre``, small enough for float32."""
    return (in_ranges(variogram, np.asarray(places_m, np.float64).reshape(-1, 2)) - centre).astype(dtype)


@dataclass(slots=True, eq=False)
class _Crossing:
    """What one call of ``told`` needs in every chunk, and the buffers that its chunks hand on to each other."""

    variogram: Variogram
    points_m: Floats
    pull: Figures
    inward: Figures
    centre: Floats = field(init=False)
    points: Figures = field(init=False)
    bands: list[tuple[int, Figures]] = field(init=False)
    rows: int = field(init=False)
    spare: list[Figures] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        dtype = np.float32 if self.pull.dtype == np.float32 else np.float64
        points = in_ranges(self.variogram, np.asarray(self.points_m, np.float64))
        self.centre = points.mean(axis=0)
        self.points = (points - self.centre).astype(dtype)
        # the sill goes into the small matrices, not into every covariance
        sill = self.variogram.structured_sill
        self.pull = np.multiply(self.pull, sill, dtype=dtype).reshape(len(points), -1)
        self.bands = _bands(np.multiply(self.inward, sill, dtype=dtype))
        rows = CHUNK_CELLS // len(points) // LEAST_ROWS * LEAST_ROWS
        self.rows = min(max(rows, LEAST_ROWS), MOST_ROWS)

    def chunk(self, places: Figures) -> tuple[Figures, Figures]:
        """Both sums for up to ``rows`` places (b, 2)."""
        try:
            buffer = self.spare.pop()
        except IndexError:
            buffer = np.empty((2, self.rows, len(self.points)), self.pull.dtype)
        alike, second = buffer[:, : len(places)]
        _distances(places, self.points, alike, second)
        fade(self.variogram.kind, alike, second)
        mean = alike @ self.pull
        lost = np.zeros(len(places), self.pull.dtype)
        for end, band in self.bands:
            spread = alike[:, :end] @ band
            lost += np.einsum("ij,ij->i", spread, spread)
        self.spare.append(buffer)
        return mean, lost


def _bands(inward: Figures) -> list[tuple[int, Figures]]:
    """Bands (end, height) of ``inward`` (r, n) turned over, each as far as it is filled."""
    bands = []
    height = BAND_BYTES // inward.itemsize
    for start in range(0, len(inward), height):
        rows = inward[start : start + height]
        filled = np.flatnonzero(rows.any(axis=0))
        end = int(filled[-1]) + 1 if len(filled) else 0
        if end:
            bands.append((end, np.ascontiguousarray(rows[:, :end].T)))
    return bands


def _distances(places: Figures, points: Figures, out: Figures, second: Figures) -> None:
    """Distances (m, n) into ``out``; ``second`` is overwritten."""
    if out.dtype == np.float64:
        cdist(places, points, out=out)
        return
    np.subtract(places[:, :1], points[:, 0], out=out)
    np.multiply(out, out, out=out)
    np.subtract(places[:, 1:], points[:, 1], out=second)
    np.multiply(second, second, out=second)
    np.add(out, second, out=out)
    np.sqrt(out, out=out)
