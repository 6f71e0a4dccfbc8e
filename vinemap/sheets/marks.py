"""A page as data: marks in millimetres from the top left corner, y downwards. One painter turns them into ink."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from vinemap.columns import Floats

Measure = Callable[[str, float, int, bool], float]
"""Width [mm] of words at a size [pt], weight (400..800) and italic or not; given by whoever owns the fonts."""

MM_PER_PT = 25.4 / 72


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """A line, or a filled shape when ``fill`` is set. ``rings``: one (k, 2) array for a line; outline and holes for a shape.

    Colours are "#RRGGBB" or "" for none; ``dash`` is [mm] on, off, ...; ``is_closed`` joins the last point to the first.
    """

    rings: tuple[Floats, ...]
    stroke: str = ""
    width_mm: float = 0.2
    dash: tuple[float, ...] = ()
    fill: str = ""
    is_closed: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Strokes:
    """Many short straight lines of one pen: ``ends`` (n, 4) x1, y1, x2, y2 [mm]. Used for hatching and ticks."""

    ends: Floats
    stroke: str
    width_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Dots:
    """Many discs of one pen: ``points`` (n, 2) [mm], ``radius_mm`` (n,)."""

    points: Floats
    radius_mm: Floats
    fill: str = ""
    stroke: str = ""
    width_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Words:
    """One line of words; ``y_mm`` is the base line; ``anchor`` is "start", "middle" or "end"."""

    x_mm: float
    y_mm: float
    text: str
    size_pt: float
    weight: int = 400
    is_italic: bool = False
    anchor: str = "start"
    fill: str = "#26221D"
    angle_deg: float = 0.0
    is_small_caps: bool = False
    halo: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Shade:
    """A picture of cells, ``rgba`` (rows, columns, 4) uint8, row 0 at the top, over a rectangle [mm], clipped to rings."""

    rgba: np.ndarray
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    clip: tuple[Floats, ...] = ()


Mark = Path | Strokes | Dots | Words | Shade


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """One page: its title (for the document's outline), its size [mm] and its marks, first below, last on top."""

    title: str
    width_mm: float
    height_mm: float
    marks: tuple[Mark, ...]
