"""Choices between rules that published work leaves open: which the estate goes by."""

from __future__ import annotations

from dataclasses import dataclass

from vinemap.vineclock.infection import EVENT, HOURS_12_15, INFECTION_RULES, MILLS, UCCE
from vinemap.vineclock.pressure import HEAT_1999, HEAT_2013, HEAT_RULES

__all__ = [
    "BELIEFS",
    "EVENT",
    "HEAT_1999",
    "HEAT_2013",
    "HEAT_RULES",
    "HOURS_12_15",
    "INFECTION_RULES",
    "MILLS",
    "PRACTICE",
    "TRIALS",
    "UCCE",
    "Rules",
]

TRIALS, PRACTICE = "trials", "practice"
BELIEFS = (TRIALS, PRACTICE)
"""Does opening from five weeks after bloom on act on mildew? No (Austin & Wilcox 2011), or yes (common practice)."""


@dataclass(frozen=True, slots=True)
class Rules:
    """What the estate goes by. ``station_of``: (block, station) where a block does not go by the first station."""

    heat: str = HEAT_1999
    infection: str = EVENT
    late_opening: str = TRIALS
    station_of: tuple[tuple[str, str], ...] = ()

    def station(self, block: str) -> str:
        """The station a block goes by, "" for the first one."""
        return dict(self.station_of).get(block, "")
