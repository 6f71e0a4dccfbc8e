"""Distances between stops along and across the rows, measured once and scaled again for every range that is tried."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vinemap.columns import Floats
from vinemap.surface.variogram import Variogram, in_ranges


@dataclass(frozen=True, slots=True, eq=False)
class Gaps:
    """Squared distances (n, n) [m2] between stops along and across the row, measured once for all ranges."""

    along_m2: Floats
    across_m2: Floats


def gaps_between(stops_m: Floats, bearing_deg: float) -> Gaps:
    """Gaps between stops (n, 2) [m] in rows along ``bearing_deg`` [degrees]."""
    turned = in_ranges(Variogram("exponential", 0.0, 1.0, 1.0, 1.0, bearing_deg), stops_m)
    along_m2, across_m2 = ((axis[:, None] - axis) ** 2 for axis in turned.T)
    return Gaps(along_m2, across_m2)


def reach_between(gaps: Gaps, curve: Variogram) -> Floats:
    """Distances (n, n) in ranges of a curve."""
    reach: Floats = np.sqrt(gaps.along_m2 / curve.range_m**2 + gaps.across_m2 / curve.range_across_m**2)
    return reach
