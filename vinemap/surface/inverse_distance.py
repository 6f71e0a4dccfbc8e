"""Counts of the nearest stops, weighted by distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from vinemap.columns import Floats, freeze
from vinemap.errors import InputError, Tick, no_tick
from vinemap.surface.kriging import check_places, nearest_points
from vinemap.surface.variogram import SAME_PLACE_M

CHUNK_PLACES = 50_000
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
    stops_m: Floats,
    examined: Floats,
    infected: Floats,
    at_m: Floats,
    power: float = 2.0,
    neighbours: int = 12,
    rho: float = 0.0,
    tick: Tick = no_tick,
) -> Weighted:
    """Incidence at ``at_m`` (m, 2) [m] from counts (n,) at ``stops_m`` (n, 2) [m]: sum(w infected) / sum(w examined).

    w = distance^-power over the nearest ``neighbours`` stops; at a stop its own counts alone. ``rho``: correlation of
    clusters within a vine, used for the worth (sum w n)^2 / sum(w^2 n (1 + (n - 1) rho)).

    Raises TooFewData without stops, InputError for counts or options that can't be.
    Source: Shepard 1968, Proc. 23rd ACM National Conference:517; worth: Kish 1965, Survey Sampling.
    """
    stops_m, at_m = np.asarray(stops_m, float), np.asarray(at_m, float).reshape(-1, 2)
    examined, infected = np.asarray(examined, float), np.asarray(infected, float)
    check_places(stops_m, examined, infected)
    if (examined <= 0).any() or (infected < 0).any() or (infected > examined).any():
        raise InputError("A stop has no examined clusters, or more infected ones.", "Correct its counts, or leave it out.")
    if not np.isfinite(power) or power <= 0.0 or neighbours < 1:
        raise InputError("Power and neighbours must be above 0.", "Use power 2 and 12 neighbours if in doubt.")
    tree = cKDTree(stops_m)
    last = min(neighbours, len(stops_m)) - 1
    most = min(neighbours + TIES, len(stops_m))
    share, worth = np.empty(len(at_m)), np.empty(len(at_m))
    for start in range(0, len(at_m), CHUNK_PLACES):
        tick(start / len(at_m))
        chunk = slice(start, start + CHUNK_PLACES)
        distance, index = nearest_points(tree, at_m[chunk], most)
        # scaled by the nearest so that no power of a tiny distance overflows
        weight = (np.maximum(distance[:, :1], SAME_PLACE_M) / np.maximum(distance, SAME_PLACE_M)) ** power
        # stops on a regular grid are often equally far: all of them count, or their order would decide
        weight[distance > distance[:, last : last + 1] * (1.0 + 1e-9) + SAME_PLACE_M] = 0.0
        at_stop = distance[:, 0] < SAME_PLACE_M
        weight[at_stop] = distance[at_stop] < SAME_PLACE_M
        count = examined[index]
        total = (weight * count).sum(axis=1)
        share[chunk] = (weight * infected[index]).sum(axis=1) / total
        worth[chunk] = total**2 / (weight**2 * count * (1.0 + (count - 1.0) * rho)).sum(axis=1)
    tick(1.0)
    return Weighted(np.clip(share, 0.0, 1.0), worth)
