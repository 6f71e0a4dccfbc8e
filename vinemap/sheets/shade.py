"""The field as shade on a sheet: colour says how much, and the shade wears out where it is not known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import cKDTree

from vinemap.columns import Bytes, Floats
from vinemap.sheets.ink import LIGHT, place_on_ramp, ramp_rgba
from vinemap.sheets.marks import Mark, Path, Shade, Strokes
from vinemap.surface.field import NOT_KNOWN, UNSURE

CELL_MM = 0.6
NEIGHBOURS = 4
WORN_GAP_MM, WORN_PEN_MM = 1.30, 0.36
TICK_GAP_MM, TICK_MM = 3.8, 1.1
PAPER = "#FFFFFF"


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The field in square cells over a rectangle that begins at (x, y) [mm]: incidence and certainty (rows, columns)."""

    x_mm: float
    y_mm: float
    incidence: Floats
    certainty: Bytes

    def at(self, xy_mm: Floats) -> Bytes:
        """Certainty (n,) of the cells under points (n, 2) [mm]; points outside take the nearest cell."""
        rows, columns = self.certainty.shape
        column = np.clip(((xy_mm[:, 0] - self.x_mm) / CELL_MM).astype(int), 0, columns - 1)
        row = np.clip(((xy_mm[:, 1] - self.y_mm) / CELL_MM).astype(int), 0, rows - 1)
        under: Bytes = self.certainty[row, column]
        return under


def field_cells(vines_mm: Floats, incidence: Floats, certainty: Bytes, outline: shapely.Polygon) -> Cells:
    """Cells over an outline [mm] from vines (n, 2) [mm]: the mean of the four nearest by 1 / distance squared, and the
    certainty of the nearest."""
    x0, y0, x1, y1 = outline.bounds
    columns, rows = int(np.ceil((x1 - x0) / CELL_MM)), int(np.ceil((y1 - y0) / CELL_MM))
    x, y = np.meshgrid(x0 + (np.arange(columns) + 0.5) * CELL_MM, y0 + (np.arange(rows) + 0.5) * CELL_MM)
    count = min(NEIGHBOURS, len(vines_mm))
    found = cKDTree(vines_mm).query(np.column_stack([x.ravel(), y.ravel()]), k=np.arange(1, count + 1))
    away, near = np.asarray(found[0], np.float64), np.asarray(found[1], np.int64)
    weight = 1.0 / np.maximum(away, 1e-3) ** 2
    mean = np.sum(weight * incidence[near], axis=1) / weight.sum(axis=1)
    return Cells(x0, y0, mean.reshape(rows, columns), certainty[near[:, 0]].reshape(rows, columns).astype(np.int8))


def shade_marks(cells: Cells, rings: tuple[Floats, ...], threshold: float) -> list[Mark]:
    """Shade inside the outline, worn where unsure, ticked where not known, and the line of the threshold."""
    rgba = ramp_rgba(LIGHT)[place_on_ramp(cells.incidence)]
    rgba[cells.certainty == NOT_KNOWN, 3] = 0
    rows, columns = cells.certainty.shape
    shape = shapely.Polygon(rings[0], rings[1:])
    marks: list[Mark] = [Shade(rgba, cells.x_mm, cells.y_mm, columns * CELL_MM, rows * CELL_MM, rings)]
    worn = _worn_strokes(cells, shape)
    ticks = _ticks(cells, shape)
    if len(worn):
        marks.append(Strokes(worn, PAPER, WORN_PEN_MM))
    if len(ticks):
        marks.append(Strokes(ticks, LIGHT.ink_soft, 0.2))
    return marks + threshold_marks(cells, shape, threshold)


def _worn_strokes(cells: Cells, shape: shapely.Polygon) -> Floats:
    """Strokes (n, 4) [mm] at 45 degrees over the unsure parts."""
    x0, y0, x1, y1 = shape.bounds
    beats = np.arange(0.0, (x1 - x0 + y1 - y0) / WORN_GAP_MM) * WORN_GAP_MM
    steps = np.arange(0.0, (y1 - y0) + CELL_MM, CELL_MM / 2)
    found = []
    for beat in beats:
        points = np.column_stack([x0 + beat - steps, y0 + steps])
        on = (cells.at(points) == UNSURE) & (points[:, 0] >= x0) & (points[:, 0] <= x1)
        on &= shapely.contains_xy(shape, points[:, 0], points[:, 1])
        edges = np.flatnonzero(np.diff(np.concatenate([[0], on.astype(np.int8), [0]])))
        for first, last in zip(edges[::2], edges[1::2] - 1, strict=True):
            if last > first:
                found.append([*points[first], *points[last]])
    return np.array(found, np.float64).reshape(-1, 4)


def _ticks(cells: Cells, shape: shapely.Polygon) -> Floats:
    """Two slanted ticks (n, 4) [mm] in each square that is not known."""
    x0, y0, x1, y1 = shape.bounds
    x, y = np.meshgrid(np.arange(x0 + 1, x1, TICK_GAP_MM), np.arange(y0 + 1, y1, TICK_GAP_MM))
    first = np.column_stack([x.ravel(), y.ravel()])
    points = np.vstack([first, first + TICK_GAP_MM / 2])
    keep = (cells.at(points) == NOT_KNOWN) & shapely.contains_xy(shape.buffer(-0.8), points[:, 0], points[:, 1])
    middle = points[keep]
    half = np.array([TICK_MM / 2, -TICK_MM / 3])
    return np.hstack([middle - half, middle + half])


def threshold_marks(cells: Cells, shape: shapely.Polygon, threshold: float) -> list[Mark]:
    """The line where incidence passes the threshold, dashed on a halo, where it is known."""
    from contourpy import contour_generator

    rows, columns = cells.incidence.shape
    if rows < 2 or columns < 2:
        return []
    known = np.ma.masked_array(cells.incidence, cells.certainty == NOT_KNOWN)
    x = cells.x_mm + (np.arange(columns) + 0.5) * CELL_MM
    y = cells.y_mm + (np.arange(rows) + 0.5) * CELL_MM
    lines = [line for line in contour_generator(x, y, known).lines(threshold) if len(line) > 1]
    parts = [part for line in lines for part in shapely.get_parts(shapely.intersection(shapely.LineString(line), shape))]
    paths = [shapely.get_coordinates(part) for part in parts if part.geom_type == "LineString" and part.length > 1.0]
    halo = [Path((path,), stroke=PAPER, width_mm=0.9) for path in paths]
    return [*halo, *(threshold_line(path) for path in paths)]


def threshold_line(path: Floats) -> Path:
    """The line of the threshold along a path (k, 2) [mm]."""
    return Path((path,), stroke=LIGHT.ink, width_mm=0.34, dash=(1.8, 0.65, 0.4, 0.65))
