"""Chance for the sample estates, from uniform draws only.

Only ``Generator.random`` is used: its stream is the plainest there is, so the files stay the same, byte for byte, when the
way another kind of draw is made changes between versions.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from vinemap.columns import Floats, Ints


def dice_for(*seed: int) -> np.random.Generator:
    """A generator of its own for one job of one block, so that a change in one block leaves the others as they were."""
    return np.random.Generator(np.random.PCG64(list(seed)))


def draw_normal(rng: np.random.Generator, count: int) -> Floats:
    """Nearly normal draws (count,), mean 0, deviation 1, never beyond 6: twelve uniforms summed (Irwin 1927, Hall 1927)."""
    return rng.random((count, 12)).sum(axis=1) - 6.0


def draw_counts(rng: np.random.Generator, tries: Ints, share_frac: Floats) -> Ints:
    """Binomial counts (n,) of ``tries`` (n,) at ``share_frac`` (n,) 0..1: each try is one uniform draw."""
    most = int(tries.max(initial=0))
    hits = rng.random((len(tries), most)) < share_frac[:, None]
    within = np.arange(most) < tries[:, None]
    return (hits & within).sum(axis=1).astype(np.int32)


def pick(rng: np.random.Generator, count: int, shares: npt.ArrayLike) -> Ints:
    """Indices (count,) drawn with the shares given (they sum to 1)."""
    edges = np.cumsum(np.asarray(shares, dtype=np.float64))
    return np.minimum(np.searchsorted(edges, rng.random(count), side="right"), len(edges) - 1).astype(np.int32)


def smooth_field(rng: np.random.Generator, x_m: Floats, y_m: Floats, shortest_m: float, longest_m: float) -> Floats:
    """A smooth field (n,), mean 0, deviation about 1, at points (n,) [m]: twelve plane waves of the lengths given [m]."""
    waves = 24
    length_m = shortest_m + (longest_m - shortest_m) * rng.random(waves)
    angle = 2.0 * np.pi * rng.random(waves)
    phase = 2.0 * np.pi * rng.random(waves)
    turns = 2.0 * np.pi / length_m
    field = np.zeros(len(x_m))
    for wave in range(waves):
        field += np.cos(turns[wave] * (x_m * np.sin(angle[wave]) + y_m * np.cos(angle[wave])) + phase[wave])
    return field / np.sqrt(waves / 2.0)
