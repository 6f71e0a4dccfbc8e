"""Choices between rules that published work leaves open: which the estate goes by."""

from __future__ import annotations

from dataclasses import dataclass

HEAT_1999, HEAT_2013 = "1999", "2013"
HEAT_RULES = (HEAT_1999, HEAT_2013)
"""35 degC for a quarter of an hour (Gubler et al. 1999), or 38 degC for two hours (Peduto et al. 2013)."""
TRIALS, PRACTICE = "trials", "practice"
BELIEFS = (TRIALS, PRACTICE)
"""Does opening from five weeks after bloom on act on mildew? No (Austin & Wilcox 2011), or yes (common practice)."""
EVENT, UCCE, HOURS_12_15, MILLS = "event", "ucce", "12-15 h", "2/3 mills"
INFECTION_RULES = (EVENT, UCCE, HOURS_12_15, MILLS)
"""What counts as a primary infection."""


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
