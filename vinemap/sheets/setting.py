"""Setting words: wrapping, shrinking, two languages together; and plain lines."""

from __future__ import annotations

import numpy as np

from vinemap.sheets.marks import MM_PER_PT, Mark, Measure, Path, Words
from vinemap.sheets.words import Both

BLACK, SOFT, FAINT, PALE, WHITE = "#000000", "#3A3A3A", "#6E6E6E", "#A8A8A8", "#FFFFFF"
"""The greys of a sheet that is photocopied."""

LEAST_PT = 7.0
"""Nothing on a map is set smaller."""

LEAD = 1.22
"""Line to line, in sizes."""


def lead_mm(size_pt: float) -> float:
    """From one line of words to the next [mm]."""
    return size_pt * MM_PER_PT * LEAD


def line(x1_mm: float, y1_mm: float, x2_mm: float, y2_mm: float, width_mm: float = 0.2, stroke: str = BLACK) -> Path:
    """A straight line [mm]."""
    return Path((np.array([[x1_mm, y1_mm], [x2_mm, y2_mm]]),), stroke=stroke, width_mm=width_mm)


def rectangle(
    x_mm: float, y_mm: float, width_mm: float, height_mm: float, pen_mm: float = 0.2, stroke: str = BLACK, fill: str = ""
) -> Path:
    """A rectangle [mm]."""
    right, bottom = x_mm + width_mm, y_mm + height_mm
    ring = np.array([[x_mm, y_mm], [right, y_mm], [right, bottom], [x_mm, bottom]])
    return Path((ring,), stroke=stroke, width_mm=pen_mm, fill=fill, is_closed=True)


def wrap(
    text: str, width_mm: float, size_pt: float, measure: Measure, weight: int = 400, is_italic: bool = False
) -> list[str]:
    """Lines of words no wider than a width [mm]; a word that is wider alone is broken, never cut."""
    lines: list[str] = []
    current = ""
    for word in text.split():
        longer = f"{current} {word}".strip()
        if measure(longer, size_pt, weight, is_italic) <= width_mm:
            current = longer
            continue
        if current:
            lines.append(current)
        current = word
        while measure(current, size_pt, weight, is_italic) > width_mm and len(current) > 1:
            fits = next(
                (k for k in range(len(current) - 1, 1, -1) if measure(current[:k], size_pt, weight, is_italic) <= width_mm),
                1,
            )
            lines.append(current[:fits])
            current = current[fits:]
    return [*lines, current] if current else lines


def shrink(text: str, width_mm: float, size_pt: float, measure: Measure, weight: int = 400, is_italic: bool = False) -> float:
    """The size [pt], down to the least on maps, at which words are no wider than a width [mm]."""
    width = measure(text, size_pt, weight, is_italic)
    return size_pt if width <= width_mm else max(LEAST_PT, size_pt * width_mm / width)


def both(
    x_mm: float, y_mm: float, words: Both, size_pt: float, weight: int = 600, anchor: str = "start", halo: str = ""
) -> list[Mark]:
    """English upright and heavy, Spanish in italics beneath it, the same size; ``y_mm`` is the first base line."""
    return [
        Words(x_mm, y_mm, words.english, size_pt, weight, anchor=anchor, fill=BLACK, halo=halo),
        Words(x_mm, y_mm + lead_mm(size_pt), words.spanish, size_pt, 400, True, anchor, BLACK, halo=halo),
    ]


def width_of(words: Both, size_pt: float, measure: Measure, weight: int = 600) -> float:
    """Width [mm] of two languages one above the other."""
    return max(measure(words.english, size_pt, weight, False), measure(words.spanish, size_pt, 400, True))
