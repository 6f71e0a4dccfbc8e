"""Edits that are written instead of drawn, made in an open season; and rows made from an outline."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vinemap.errors import InputError
from vinemap.files.projection import to_local
from vinemap.ground.block import RowTable
from vinemap.ground.renumber import across_sign
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.rows_along_edge import edge_along, make_rows_along
from vinemap.season.ground_edits import block_named, with_rows
from vinemap.season.typed_edits import Done, typed_edit
from vinemap.season.value import Season
from vinemap.service.book import Book

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class RowPlan:
    """How rows are to be made: bearing [degrees clockwise from grid north], or two places ``along`` (lon, lat) [degrees].

    Spacings and headland in metres; ``from_side``: where the first row stands, "" for the left of the bearing.
    """

    bearing_deg: float | None
    along: tuple[Place, Place] | None
    row_spacing_m: float
    vine_spacing_m: float
    headland_m: float = 0.0
    first_row: int = 1
    from_side: str = ""
    is_along_edge: bool = False
    is_offset: bool = False


def local_place(season: Season, lon_deg: float, lat_deg: float) -> Place:
    """Metres east and north in the season's frame of a place [degrees]. Raises InputError."""
    x_m, y_m = to_local(season.estate.frame, [lon_deg], [lat_deg])
    return float(x_m[0]), float(y_m[0])


def read_typed(season: Season, text: str) -> Done:
    """The season after a typed edit, not yet saved. Raises InputError."""
    return typed_edit(season, text, lambda lon, lat: local_place(season, lon, lat))


def do_typed(book: Book, text: str) -> Done:
    """Make a typed edit in an open season, as one step that can be undone. Raises InputError or FileError."""
    done = read_typed(book.season, text)
    book.apply(done.label, lambda _: done.season)
    return done


def plan_rows(season: Season, block: str, plan: RowPlan) -> Season:
    """The season with rows made from the outline of a block, as planned. Raises InputError."""
    outline = block_named(season, block).outline
    bearing_deg = _bearing_deg(season, plan)
    sign = across_sign(bearing_deg, plan.from_side) if plan.from_side else 1.0
    rows: RowTable
    if plan.is_along_edge:
        edge_m = edge_along(outline, bearing_deg, plan.from_side)
        rows = make_rows_along(
            outline, edge_m, plan.row_spacing_m, plan.vine_spacing_m, plan.headland_m, plan.first_row, plan.is_offset
        )
    else:
        rows = make_rows(
            outline,
            bearing_deg,
            plan.row_spacing_m,
            plan.vine_spacing_m,
            plan.headland_m,
            first_row=plan.first_row,
            is_from_left=sign > 0,
            is_offset=plan.is_offset,
        )
    return with_rows(season, block, rows, plan.row_spacing_m, plan.vine_spacing_m)


def _bearing_deg(season: Season, plan: RowPlan) -> float:
    if plan.along is None:
        if plan.bearing_deg is None or not np.isfinite(plan.bearing_deg):
            raise InputError("It is not said which way the rows run.", "Give their bearing, or two places along a row.")
        return plan.bearing_deg
    first, last = (np.array(local_place(season, *place)) for place in plan.along)
    step = last - first
    if np.hypot(*step) < 1.0:
        raise InputError("The two places along a row are the same.", "Give two that lie at least a metre apart.")
    return float(np.degrees(np.arctan2(step[0], step[1])) % 360.0)
