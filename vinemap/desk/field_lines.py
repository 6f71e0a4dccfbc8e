"""The line of one incidence through a block's field, ready to follow a slider, and the middle of what is not known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.desk.map_scene import BlockScene
from vinemap.desk.shading import Lattice, make_lattice

MOST_CELLS = 20_000
"""Cells of the grid that the line is drawn from: with so many it is found within a frame."""

LOST_DOUBT = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class FieldLines:
    """Finds threshold lines. ``lost_at_m``: place [m] furthest inside what is not known, ``lost_room_m``: room there [m]."""

    outline: shapely.Polygon
    lattice: Lattice
    generator: Any
    lost_at_m: tuple[float, float]
    lost_room_m: float

    def at(self, incidence: float) -> list[Floats]:
        """Lines (k, 2) [m] inside the outline along which the field has that incidence."""
        places = [_to_m(self.lattice, line) for line in self.generator.lines(incidence)]
        inside = shapely.intersection(self.outline, shapely.MultiLineString([line for line in places if len(line) > 1]))
        parts = shapely.get_parts(inside)
        return [shapely.get_coordinates(part) for part in parts[shapely.get_type_id(parts) == 1]]


def make_field_lines(scene: BlockScene) -> FieldLines | None:
    """Prepare the lines of a block; None when nothing of its field is known."""
    from contourpy import LineType, contour_generator
    from scipy.ndimage import distance_transform_edt

    each = max(1, int(np.ceil(np.sqrt(len(scene.vines) / MOST_CELLS))))
    lattice = make_lattice(scene, each, each)
    if lattice is None:
        return None
    # One ring of cells more, so that lines run out to the edge of the block.
    incidence, doubt = np.pad(lattice.incidence, 1, mode="edge"), np.pad(lattice.doubt, 1, mode="edge")
    is_lost = doubt > LOST_DOUBT
    down, right = np.mgrid[-1 : incidence.shape[0] - 1, -1 : incidence.shape[1] - 1]
    places = _to_m(lattice, np.stack([right, down], axis=-1).reshape(-1, 2).astype(np.float64))
    # On a copy: what shapely prepares for many points inside a polygon is not safe between threads.
    outline = shapely.from_wkb(shapely.to_wkb(scene.block.outline))
    is_in = shapely.contains_xy(outline, places).reshape(is_lost.shape)
    generator = contour_generator(
        x=np.arange(-1, incidence.shape[1] - 1),
        y=np.arange(-1, incidence.shape[0] - 1),
        z=np.ma.masked_where(is_lost, incidence.astype(np.float64)),
        line_type=LineType.Separate,
    )
    room = np.pad(is_lost & is_in, 1)
    away = distance_transform_edt(room, sampling=lattice.cell_m)[1:-1, 1:-1]
    deepest = int(np.argmax(away))
    return FieldLines(outline, lattice, generator, tuple(places[deepest].tolist()), float(away.flat[deepest]))


def _to_m(lattice: Lattice, cells: Floats) -> Floats:
    """Places (k, 2) [m] of cells (k, 2), along first."""
    along = lattice.origin_m[1] + (cells[:, 0] + 0.5) * lattice.cell_m[1]
    across = lattice.origin_m[0] + (cells[:, 1] + 0.5) * lattice.cell_m[0]
    sin, cos = np.sin(np.radians(lattice.bearing_deg)), np.cos(np.radians(lattice.bearing_deg))
    return np.column_stack([along * sin + across * cos, along * cos - across * sin])
