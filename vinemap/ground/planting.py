"""How the rows of an outline are planned, and the rows that come of it: straight, or along an edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.ground.block import RowTable
from vinemap.ground.renumber import across_sign
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.rows_along_edge import edge_along, make_rows_along

STAND_IN_SPACING_M = (2.5, 1.5)
"""Between rows and between vines where nobody has said either yet; a block says so until it has rows (a choice)."""

WIDEST_USUAL_M, CLOSEST_USUAL_ROWS_M = (6.0, 4.0), 0.9
"""Rows or vines farther apart than this, or rows closer, may be feet or a slip of the pen (a stated assumption)."""


@dataclass(frozen=True, slots=True)
class RowPlan:
    """How rows are to be made: their bearing [degrees clockwise from grid north], spacings and headland [m].

    ``from_side``: north, east, south or west, where the first row stands; "" for the left of the bearing.
    """

    bearing_deg: float
    row_spacing_m: float
    vine_spacing_m: float
    headland_m: float = 0.0
    first_row: int = 1
    from_side: str = ""
    is_along_edge: bool = False
    is_offset: bool = False


def planned_rows(outline: shapely.Polygon, plan: RowPlan) -> RowTable:
    """Rows [m] in an outline [m], as planned. Raises InputError where the plan can't be used or no vine fits."""
    if not np.isfinite(plan.bearing_deg):
        raise InputError("It is not said which way the rows run.", "Give their bearing, or two places along a row.")
    spacings = (plan.row_spacing_m, plan.vine_spacing_m, plan.headland_m, plan.first_row)
    if plan.is_along_edge:
        edge_m = edge_along(outline, plan.bearing_deg, plan.from_side)
        return make_rows_along(outline, edge_m, *spacings, is_offset=plan.is_offset)
    is_from_left = not plan.from_side or across_sign(plan.bearing_deg, plan.from_side) > 0
    return make_rows(outline, plan.bearing_deg, *spacings, is_from_left=is_from_left, is_offset=plan.is_offset)


def bearing_between_deg(first_m: Floats, last_m: Floats) -> float:
    """Bearing [degrees, 0..360) from one place (2,) [m] along a row to another. Raises InputError when they are one."""
    east_m, north_m = (float(part) for part in np.subtract(last_m, first_m))
    if np.hypot(east_m, north_m) < 1.0:
        raise InputError("The two places along a row are the same.", "Give two that lie at least a metre apart.")
    return float(np.degrees(np.arctan2(east_m, north_m)) % 360.0)


def planned_words(outline: shapely.Polygon, plan: RowPlan, rows: RowTable) -> str:
    """What a plan gives, in words, beside what the area alone would hold."""
    vines = int(rows.vine_count.sum())
    cells = outline.area / (plan.row_spacing_m * plan.vine_spacing_m)
    lines = "1 row" if len(rows) == 1 else f"{len(rows):,} rows"
    told = f"{lines} with {vines:,} vines; the outline alone would hold {cells:,.0f}."
    return " ".join([told, *(each[0].upper() + each[1:] for each in odd_spacings(plan.row_spacing_m, plan.vine_spacing_m))])


def odd_spacings(row_spacing_m: float, vine_spacing_m: float) -> tuple[str, ...]:
    """What is asked of spacings [m] that are seldom planted; nothing where both are usual."""
    told = []
    for what, spacing_m, widest_m in zip(("rows", "vines"), (row_spacing_m, vine_spacing_m), WIDEST_USUAL_M, strict=True):
        if spacing_m > widest_m:
            told.append(f"{what} {spacing_m:.3g} m apart: is that feet?")
    if row_spacing_m < CLOSEST_USUAL_ROWS_M:
        told.append(f"rows {row_spacing_m:.3g} m apart: is that so?")
    return tuple(told)
