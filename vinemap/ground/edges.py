"""Tall edges that were mapped: tree lines, hedges, walls and houses that shade vines or shelter them from wind."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from vinemap.columns import Floats, freeze


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Edge:
    """A tall edge: its line (k, 2) [m], height [m], and the share of wind and light that comes through, 0..1."""

    name: str
    line_m: Floats
    height_m: float
    open_frac: float = 0.0

    def __post_init__(self) -> None:
        freeze(self, line_m=np.float64)


def free_name(edges: Iterable[Edge]) -> str:
    """A name for an edge that has none: the first of "tall edge 1", "tall edge 2" and so on that none of these has."""
    taken = {edge.name for edge in edges}
    number = 1
    while f"tall edge {number}" in taken:
        number += 1
    return f"tall edge {number}"
