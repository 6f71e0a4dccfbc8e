"""Ground drawn by hand: a new block from its corners, and the openings in an outline put right."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.polygon import orient

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.ground import rows_by_hand
from vinemap.ground.block import Block
from vinemap.ground.planting import RowPlan, planned_rows
from vinemap.season.edits import with_block
from vinemap.season.ground_edits import block_named, free_name
from vinemap.season.value import Season

_OVERLAP_M2 = 1.0
"""Neighbours may overlap by this: a hand does not draw to the centimetre (a choice)."""


def add_drawn_block(season: Season, name: str, corners_m: Floats, plan: RowPlan) -> Season:
    """The season with a new block of these corners (k, 2) [m], filled with rows as planned.

    Raises InputError when the corners make no outline, it lies over another block, the name is taken, or no row fits.
    """
    name = free_name(season, name)
    outline = drawn_outline(corners_m)
    for other in season.blocks:
        if shapely.area(shapely.intersection(outline, other.outline)) > _OVERLAP_M2:
            raise InputError(f"The outline lies over block {other.name}.", "Draw it beside, or move that block's corners.")
    rows = planned_rows(outline, plan)
    return with_block(season, Block(name, outline, rows, plan.row_spacing_m, plan.vine_spacing_m))


def drawn_outline(corners_m: Floats) -> shapely.Polygon:
    """The outline of corners (k, 2) [m] put down one after the other. Raises InputError when they make none."""
    if len(np.unique(corners_m, axis=0)) < 3 or not np.isfinite(corners_m).all():
        raise InputError("An outline needs three corners.", "Draw it again.")
    outline = shapely.Polygon(corners_m)
    if not outline.is_valid or outline.area <= 0.0:
        raise InputError("The outline crosses itself.", "Draw it again, corner after corner in one direction.")
    return orient(outline)


def put_opening(season: Season, name: str, opening: int, corners_m: Floats) -> Season:
    """The season with other corners (k, 2) [m] for one opening (from 1) in a block's outline.

    Raises InputError when it would cross itself or leave the outline, or a row would run through it.
    """
    block = block_named(season, name)
    rings = [np.asarray(ring.coords)[:-1, :2] for ring in block.outline.interiors]
    if not 1 <= opening <= len(rings):
        raise InputError(f"{name} has no opening {opening}.", "Choose one of its openings.")
    if len(corners_m) < 3:
        raise InputError("An opening needs three corners.", "Move this one instead.")
    rings[opening - 1] = corners_m
    outline = shapely.Polygon(block.outline.exterior, rings)
    if not outline.is_valid or outline.area <= 0.0:
        raise InputError("The opening would cross itself, or the outline.", "Move the corner another way.")
    was = rows_by_hand.rows_inside(block.outline, block.rows, block.row_spacing_m)
    rows_by_hand.refuse_outside(outline, block.rows, was, block.row_spacing_m)
    return with_block(season, replace(block, outline=outline))
