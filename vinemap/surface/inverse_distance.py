"""Counts of the nearest stops, weighted by distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from vinemap.columns import Bools, Floats, freeze
from vinemap.errors import InputError, Tick, no_tick
from vinemap.surface.counts import Counts
from vinemap.surface.kriging import check_places, nearest_points
from vinemap.surface.variogram import SAME_PLACE_M

CHUNK_PLACES = 16_384
TIES = 8
"""So many stops as far as the last neighbour count with it."""


@dataclass(frozen=True, slots=True, eq=False)
class Weighted:
    """``share``: (m,) weighted incidence; ``examined``: (m,) clusters that it is worth as a simple random sample."""

    share: Floats
    examined: Floats

    def __post_init__(self) -> None:
        freeze(self, share=np.float64, examined=np.float64)


def inverse_distance(
    counts: Counts,
    at_m: Floats,
    power: float = 2.0,
    neighbours: int = 12,
    rho: float = 0.0,
    threads: int = 1,
    tick: Tick = no_tick,
) -> Weighted:
    """Incidence at ``at_m`` (m, 2) [m] from counts at n stops: sum(w infected) / sum(w examined).

    w = distance^-power over the nearest ``neighbours`` stops; at a stop its own counts alone. ``rho``: correlation of
    clusters within a vine, used for the worth (sum w n)^2 / sum(w^2 n (1 + (n - 1) rho)).

    Raises TooFewData without stops, InputError for counts or options that can't be.
    Source: Shepard 1968, Proc. 23rd ACM National Conference:517; worth: Kish 1965, Survey Sampling.
    """
    at_m, examined, infected = np.asarray(at_m, float).reshape(-1, 2), counts.examined, counts.infected
    check_places(counts.stops_m, examined, infected)
    if (examined <= 0).any() or (infected < 0).any() or (infected > examined).any():
        raise InputError("A stop has no examined clusters, or more infected ones.", "Correct its counts, or leave it out.")
    if not np.isfinite(power) or power <= 0.0 or neighbours < 1:
        raise InputError("Power and neighbours must be above 0.", "Use power 2 and 12 neighbours if in doubt.")
    tree = cKDTree(counts.stops_m)
    share, worth = np.empty(len(at_m)), np.empty(len(at_m))
    for start in range(0, len(at_m), CHUNK_PLACES):
        tick(start / len(at_m))
        places = at_m[start : start + CHUNK_PLACES]
        found, tied = _weighted(tree, places, counts, power, neighbours, 1, threads)
        if tied.any():
            found[:, tied] = _weighted(tree, places[tied], counts, power, neighbours, TIES, threads)[0]
        share[start : start + CHUNK_PLACES] = found[0] / found[1]
        # n (1 + (n - 1) rho) is n (1 - rho) + n^2 rho
        worth[start : start + CHUNK_PLACES] = found[1] ** 2 / ((1.0 - rho) * found[2] + rho * found[3])
    tick(1.0)
    return Weighted(np.clip(share, 0.0, 1.0), worth)


def _weighted(
    tree: cKDTree, places: Floats, counts: Counts, power: float, neighbours: int, ties: int, threads: int
) -> tuple[Floats, Bools]:
    """Sums (4, m) of w infected, w n, w^2 n and (w n)^2, n examined, over the nearest stops and up to ``ties`` as far as the
    last; and whether the farthest that was looked at is one of these (m,), so that there may be more.
    """
    last, most = min(neighbours, tree.n) - 1, min(neighbours + ties, tree.n)
    distance, index = nearest_points(tree, places, most, threads)
    np.maximum(distance, SAME_PLACE_M, out=distance)
    reach = distance[:, last : last + 1] * (1.0 + 1e-9) + SAME_PLACE_M
    tied = distance[:, -1] <= reach[:, 0]
    # scaled by the nearest so that no power of a tiny distance overflows
    weight = (distance[:, :1] / distance) ** power
    # stops on a regular grid are often equally far: all of them count, or their order would decide
    if most > last + 1:
        beyond = distance[:, last + 1 :] > reach
        weight[:, last + 1 :][beyond] = 0.0
    at_stop = np.flatnonzero(distance[:, 0] == SAME_PLACE_M)
    weight[at_stop] = distance[at_stop] == SAME_PLACE_M
    many = weight * counts.examined.take(index)
    pairs = ((weight, counts.infected.take(index)), (weight, many), (many, many))
    ill, single, double = (np.einsum("ij,ij->i", first, second) for first, second in pairs)
    sums = np.stack([ill, many.sum(axis=1), single, double])
    return sums, tied & (most > last + 1)
