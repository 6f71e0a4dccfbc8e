"""What the sky does, small, in a corner of the map: where the wind comes from, and the sun on the faces of a row."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

from vinemap.canopy.faces import SunClock
from vinemap.canopy.wind import WindRose
from vinemap.desk.fonts import measure
from vinemap.season.value import Season
from vinemap.service.row_faces import row_clock
from vinemap.sheets.fit import Box
from vinemap.sheets.ink import Ink
from vinemap.sheets.marks import Page
from vinemap.sheets.rose import rose_marks
from vinemap.sheets.sun_clock import sun_clock_marks
from vinemap.vineclock.stage import date_words

PER_MM = 4.0
"""Px for a millimetre: words as large as in the ledger."""

ROSE_MM, CLOCK_MM, LANE_MM = (46.0, 44.0), 62.0, 9.0
_clock = lru_cache(maxsize=2)(row_clock)


def rose_corner(rose: WindRose, north_deg: float, ink: Ink) -> Page:
    """The wind rose of the estate; ``north_deg``: bearing of true north from grid north [degrees]."""
    wide, high = ROSE_MM
    marks = rose_marks(rose, Box(0.0, 0.0, wide, high), ink, measure, north_deg)
    return Page("Where the wind comes from", wide, high, tuple(marks))


def clock_name(block: str, label: str, date: dt.date) -> str:
    """What a sun clock is of: "Sun on row 12, 12 June"."""
    return f"Sun on row {label} of {block}, {date_words(date)}"


def clock_of(season: Season, chosen: tuple[str, int] | None, date: dt.date) -> tuple[str, SunClock] | None:
    """The sun clock of a chosen row with its name, or None where none is chosen."""
    block = season.block(chosen[0]) if chosen is not None else None
    if block is None or chosen is None or not 0 <= chosen[1] < len(block.rows):
        return None
    return clock_name(block.name, block.rows.labels[chosen[1]], date), _clock(season, block, chosen[1], date)


def clock_corner(name: str, clock: SunClock, ink: Ink) -> Page:
    """The sun clock of a row; that of a free-standing vine has eight lanes and is higher."""
    high = 22.0 + LANE_MM * len(clock.faces) * (1.0 if len(clock.faces) < 4 else 0.6)
    marks = sun_clock_marks(clock, name, Box(0.0, 0.0, CLOCK_MM, high), ink, measure)
    return Page(name, CLOCK_MM, high, tuple(marks))
