"""The wind rose, drawn: how often the wind comes from where, in all hours and in those that dry."""

from __future__ import annotations

import numpy as np

from vinemap.canopy.wind import SECTORS, WindRose
from vinemap.columns import Floats
from vinemap.sheets.fit import Box
from vinemap.sheets.ink import Ink
from vinemap.sheets.marks import Mark, Measure, Path, Words
from vinemap.sheets.setting import lead_mm, wrap

TOPS = (0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.50, 0.60, 0.80, 1.00)
"""Shares at which the outer ring may stand."""

ALL_DEG, DRYING_DEG = 19.0, 9.0
"""How wide the petals of a sector of 22.5 degrees are: all hours around, drying hours within."""

NAME_PT, WORDS_PT, RING_PT = 10.2, 9.6, 8.4
KEY_MM = 4.0


def rose_marks(rose: WindRose, box: Box, ink: Ink, measure: Measure, north_deg: float = 0.0) -> list[Mark]:
    """The rose in a box [mm], its words below; ``north_deg``: bearing of true north from the top of the sheet [degrees].

    A petal points to where the wind comes from; its area is its share of the windy hours.
    """
    lead = lead_mm(WORDS_PT)
    below = wrap(calm_words(rose), box.width_mm, WORDS_PT, measure)
    room = box.height_mm - lead_mm(NAME_PT) - lead * (1.2 + len(below))
    radius = max(min((room - 6.0) / 2, box.width_mm / 2 - 5.0), 4.0)
    middle = np.array([box.x_mm + box.width_mm / 2, box.y_mm + lead_mm(NAME_PT) + 5.0 + radius])
    top = rose_top(rose)
    marks: list[Mark] = [Words(box.x_mm, box.y_mm + 3.4, "Where the wind comes from", NAME_PT, 600, fill=ink.ink)]
    for share in (top / 4, top):
        marks.append(Path((_ring(middle, radius * (share / top) ** 0.5),), stroke=ink.rule, width_mm=0.15, is_closed=True))
    for sector in range(SECTORS):
        bearing = 360.0 / SECTORS * sector + north_deg
        around = _petal(middle, radius * float(rose.share[sector] / top) ** 0.5, bearing, ALL_DEG)
        within = _petal(middle, radius * float(rose.drying_share[sector] / top) ** 0.5, bearing, DRYING_DEG)
        marks.append(Path((around,), stroke=ink.ink, width_mm=0.2, is_closed=True))
        marks.append(Path((within,), fill=ink.ink_soft, is_closed=True))
    # the figure of the ring stands where the fewest petals are in its way
    free = 360.0 / SECTORS * int(np.argmin(_neighbours(np.maximum(rose.share, rose.drying_share)))) + north_deg
    x, y = middle + radius * _unit(free)
    percent = f"{100 * top:g} %"
    marks.append(Words(float(x), float(y) + 1.1, percent, RING_PT, 400, True, "middle", ink.ink_soft, halo=ink.sheet))
    x, y = middle + (radius + 2.2) * _unit(north_deg)
    marks.append(Words(float(x), float(y) + 1.2, "N", WORDS_PT, 600, anchor="middle", fill=ink.ink, halo=ink.sheet))
    return marks + _words(box, below, ink, measure)


def _words(box: Box, below: list[str], ink: Ink, measure: Measure) -> list[Mark]:
    """What the two kinds of petals are, and how often it is calm."""
    lead = lead_mm(WORDS_PT)
    y = box.bottom_mm - lead * len(below)
    marks: list[Mark] = []
    at = box.x_mm
    for text, is_drying in (("all hours", False), ("drying hours", True)):
        key = np.array([[at, y - 1.2], [at + KEY_MM, y - 2.4], [at + KEY_MM, y]])
        fill, stroke = (ink.ink_soft, "") if is_drying else ("", ink.ink)
        marks.append(Path((key,), stroke=stroke, width_mm=0.2, fill=fill, is_closed=True))
        marks.append(Words(at + KEY_MM + 1.2, y, text, WORDS_PT, 400, True, fill=ink.ink))
        at += KEY_MM + 4.0 + measure(text, WORDS_PT, 400, True)
    for number, text in enumerate(below, start=1):
        marks.append(Words(box.x_mm, y + lead * number, text, WORDS_PT, fill=ink.ink_soft))
    return marks


def calm_words(rose: WindRose) -> str:
    """How often it is calm."""
    return f"calm {100 * rose.calm_share:.0f} % of the time"


def rose_top(rose: WindRose) -> float:
    """The share at the outer ring 0..1: the least that holds every petal."""
    most = float(max(rose.share.max(), rose.drying_share.max()))
    return next((top for top in TOPS if top >= most), 1.0)


def _neighbours(share: Floats) -> Floats:
    """Each sector's share with those beside it (16,)."""
    return np.asarray(share + 0.5 * (np.roll(share, 1) + np.roll(share, -1)), np.float64)


def _unit(bearing_deg: float | Floats) -> Floats:
    """Unit vector (..., 2) on the sheet, y down, of a bearing [degrees clockwise from up]."""
    angle = np.radians(bearing_deg)
    return np.stack([np.sin(angle), -np.cos(angle)], axis=-1)


def _ring(middle: Floats, radius_mm: float) -> Floats:
    return np.asarray(middle + radius_mm * _unit(np.linspace(0.0, 357.5, 144)), np.float64)


def _petal(middle: Floats, length_mm: float, bearing_deg: float, wide_deg: float) -> Floats:
    """A wedge from the middle out, rounded at its end."""
    end = middle + length_mm * _unit(bearing_deg + np.linspace(-wide_deg / 2, wide_deg / 2, 7))
    return np.asarray(np.vstack([middle, end]), np.float64)
