"""Work that has been done: passes and sprays. And materials, as the manager's own label describes them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

KINDS = ("L", "F", "D", "R", "T", "P", "C", "V")
"""Letters of the kinds of work: open lightly, firmly, both faces, laterals, thin shoots, spray, cut out, look again."""

OPENINGS = ("L", "F", "D", "R", "T")


@dataclass(frozen=True, slots=True)
class Pass:
    """Opening work that has been done. ``rows`` empty: the whole block. ``face``: "east", "north-west", ... or "both"."""

    date: dt.date
    block: str
    rows: tuple[str, ...]
    kind: str
    face: str
    people: int
    hours: float


@dataclass(frozen=True, slots=True)
class Spray:
    """An application that has been made; times are local standard time. ``rows`` empty: the whole block."""

    start: dt.datetime
    end: dt.datetime
    block: str
    rows: tuple[str, ...]
    materials: tuple[str, ...]
    rate_kg_per_ha: float
    water_l_per_ha: float


@dataclass(frozen=True, slots=True)
class Material:
    """An active ingredient: FRAC code, re-entry [h], pre-harvest [days], days of cover at low, moderate and high pressure.

    Built-in values are generic and conservative; the label in hand always rules.
    """

    name: str
    frac: str
    reentry_hours: float
    preharvest_days: int
    cover_days: tuple[float, float, float]
    source: str
