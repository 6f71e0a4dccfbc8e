"""What may help the map of a block: its varieties, the distance to its edge, and the columns of the season."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from scipy.spatial import cKDTree

from vinemap.columns import Floats
from vinemap.ground.block import Block, Vines
from vinemap.ground.covariates import Covariate, smoothed_at, value_at
from vinemap.surface.drifts import Drift

VARIETY, EDGE = "variety", "distance to the edge"
EDGE_FADE_M = 10.0
"""Distance [m] over which an edge fades to a third: about four rows (a choice)."""
LEAST_FRAC = 0.05
"""A variety on fewer vines than this is too rare to learn from."""
KNOWN_FRAC = 0.5
"""A column known at fewer vines than this is told from the places around, as a note made at stops is."""


def drifts_of(block: Block, vines: Vines, stops_m: Floats, covariates: Sequence[Covariate]) -> tuple[Drift, ...]:
    """Columns at stops (n, 2) [m] and at all vines of the block, each complete; those that differ nowhere are left out."""
    at_m = np.column_stack([vines.x_m, vines.y_m])
    drifts = [_variety(block, vines, stops_m), _edge(block, stops_m, at_m)]
    drifts += [_column(covariate, stops_m, at_m) for covariate in covariates]
    return tuple(drift for drift in drifts if drift is not None and (np.ptp(drift.at_stops, axis=0) > 0.0).any())


def _variety(block: Block, vines: Vines, stops_m: Floats) -> Drift | None:
    share = np.bincount(vines.variety, minlength=len(block.varieties)) / max(len(vines), 1)
    kinds = np.flatnonzero(share >= LEAST_FRAC)
    if len(kinds) < 2:
        return None
    at_m = np.column_stack([vines.x_m, vines.y_m])
    nearest = cKDTree(at_m).query(stops_m)[1]
    at_vines = (vines.variety[:, None] == kinds).astype(np.float64)
    return Drift(VARIETY, at_vines[nearest], at_vines)


def _edge(block: Block, stops_m: Floats, at_m: Floats) -> Drift:
    edge = block.outline.boundary
    shapely.prepare(edge)
    columns = [np.exp(-shapely.distance(edge, shapely.points(each)) / EDGE_FADE_M)[:, None] for each in (stops_m, at_m)]
    return Drift(EDGE, columns[0], columns[1])


def _column(covariate: Covariate, stops_m: Floats, at_m: Floats) -> Drift | None:
    """The column at stops and vines; where it is not known, its middle value."""
    values = value_at(covariate, at_m)
    at_stops = value_at(covariate, stops_m)
    if np.isfinite(values).mean() < KNOWN_FRAC:
        values, at_stops = smoothed_at(covariate, at_m), smoothed_at(covariate, stops_m)
    known = np.isfinite(values)
    if not known.any():
        return None
    middle = float(np.median(values[known]))
    columns = [np.where(np.isfinite(each), each, middle)[:, None] for each in (at_stops, values)]
    return Drift(covariate.name, columns[0], columns[1])
