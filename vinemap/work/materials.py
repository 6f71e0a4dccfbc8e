"""The built-in list of materials: generic, by active ingredient only, conservative. Check your label.

FRAC codes from the FRAC code list. Re-entry and pre-harvest are the long end of typical label ranges, from memory; days of
cover are the short end of the published intervals by pressure class (Gubler et al. 1999 for sulfur and the synthetics,
from memory for the rest). What the label in hand says always rules.
"""

from __future__ import annotations

from collections.abc import Sequence

from vinemap.work.diary import Material

CHECK_LABEL = "Check your label: it always rules, with your local law."

MATERIALS = (
    Material("sulfur", "M02", 24.0, 0, (14.0, 10.0, 7.0), "Gubler et al. 1999; re-entry and pre-harvest from memory"),
    Material("myclobutanil", "3", 24.0, 21, (21.0, 21.0, 14.0), "Gubler et al. 1999; rest from memory"),
    Material("tebuconazole", "3", 24.0, 21, (21.0, 21.0, 14.0), "Gubler et al. 1999; rest from memory"),
    Material("difenoconazole", "3", 24.0, 21, (21.0, 21.0, 14.0), "Gubler et al. 1999; rest from memory"),
    Material("penconazole", "3", 24.0, 21, (21.0, 21.0, 14.0), "Gubler et al. 1999; rest from memory"),
    Material("spiroxamine", "5", 24.0, 28, (14.0, 14.0, 10.0), "from memory"),
    Material("boscalid", "7", 12.0, 14, (21.0, 21.0, 14.0), "from memory"),
    Material("fluopyram", "7", 12.0, 14, (21.0, 21.0, 14.0), "from memory"),
    Material("trifloxystrobin", "11", 12.0, 14, (21.0, 21.0, 14.0), "Gubler et al. 1999; rest from memory"),
    Material("azoxystrobin", "11", 12.0, 14, (21.0, 21.0, 14.0), "Gubler et al. 1999; rest from memory"),
    Material("quinoxyfen", "13", 12.0, 14, (21.0, 21.0, 14.0), "from memory"),
    Material("metrafenone", "50", 12.0, 14, (21.0, 21.0, 14.0), "from memory"),
    Material("cyflufenamid", "U06", 12.0, 14, (21.0, 21.0, 14.0), "from memory"),
    Material("potassium bicarbonate", "NC", 4.0, 1, (10.0, 7.0, 7.0), "from memory"),
    Material("petroleum oil", "NC", 12.0, 1, (14.0, 10.0, 7.0), "from memory"),
    Material("Bacillus subtilis", "BM02", 4.0, 0, (7.0, 7.0, 5.0), "from memory"),
)

UNKNOWN = Material("unknown", "?", 72.0, 30, (7.0, 7.0, 7.0), "not in the list: the longest times are assumed")


def material_named(name: str) -> Material:
    """The built-in material of that active ingredient, or the cautious stand-in where it is not in the list."""
    wanted = name.strip().casefold()
    return next((each for each in MATERIALS if each.name.casefold() == wanted), UNKNOWN)


def reentry_hours(names: Sequence[str]) -> float:
    """The longest re-entry time [h] of the materials in one tank."""
    return max((material_named(name).reentry_hours for name in names), default=UNKNOWN.reentry_hours)


def preharvest_days(names: Sequence[str]) -> int:
    """The longest pre-harvest interval [days] of the materials in one tank."""
    return max((material_named(name).preharvest_days for name in names), default=UNKNOWN.preharvest_days)


def cover_days(names: Sequence[str], pressure_class: int) -> float:
    """Days of cover of a tank at a pressure class (0 low, 1 moderate, 2 high): that of its longest-lasting material."""
    return max((material_named(name).cover_days[pressure_class] for name in names), default=0.0)
