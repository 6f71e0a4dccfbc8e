"""Edits that are written instead of drawn, made in an open season; and rows made from an outline."""

from __future__ import annotations

import numpy as np

from vinemap.files.projection import to_local
from vinemap.ground.planting import RowPlan, bearing_between_deg, planned_rows
from vinemap.season.ground_edits import with_rows
from vinemap.season.typed_edits import Done, typed_edit
from vinemap.season.typed_words import resolved_block
from vinemap.season.value import Season
from vinemap.service.book import Book

Place = tuple[float, float]


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
    named = resolved_block(season, block)
    rows = planned_rows(named.outline, plan)
    return with_rows(season, named.name, rows, plan.row_spacing_m, plan.vine_spacing_m)


def bearing_along_deg(season: Season, first: Place, last: Place) -> float:
    """Bearing [degrees] from one place (lon, lat) [degrees] along a row to another. Raises InputError."""
    return bearing_between_deg(np.array(local_place(season, *first)), np.array(local_place(season, *last)))
