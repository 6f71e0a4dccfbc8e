"""Tall edges that were mapped: tree lines, hedges, walls and houses that shade vines or shelter them from wind."""

from __future__ import annotations

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
