"""What can be given out of a season, and what is asked for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

WHATS = {
    "blocks": "outlines of the blocks",
    "rows": "rows from vine 1 on; to a phone their ends",
    "vines": "every vine place",
    "marks": "vines that differ from their row",
    "stops": "stops of all rounds, or of one",
    "walk": "where to look next",
    "field": "incidence at every living vine",
    "work": "rows in order, as runs of vines",
    "zones": "strips to spray this week, with a rate",
    "passes": "canopy work done",
    "sprays": "sprays made",
    "rods": "rods passed through the leaves",
    "weather": "hours of weather",
    "columns": "figures that may help the map, by vine",
    "estate": "the estate and its dates",
}
"""What can be given out, and a word on each."""

OF_A_ROUND = ("field", "work", "zones")
CELL_M = 1.0


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be given out and where to; the rate [L/ha] and the size of cells [m] are for ``zones``."""

    what: str
    out: Path
    rate_l_per_ha: float | None = None
    cell_m: float = CELL_M
