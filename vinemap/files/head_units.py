"""Units beside the names of other people's columns that only have to be multiplied: feet to metres, gallons to litres.

Source: BIPM, The International System of Units, 9th edition (2019); NIST Special Publication 811 (2008), appendix B, for the
foot, inch, yard, acre, pound and US gallon.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

_FOOT_M = 0.3048
_ACRE_HA = 0.40468564224
_LENGTHS = {
    **dict.fromkeys(("ft", "feet", "foot", "pies", "pieds"), _FOOT_M),
    **dict.fromkeys(("in", "inch", "inches"), _FOOT_M / 12.0),
    **dict.fromkeys(("yd", "yard", "yards"), 3.0 * _FOOT_M),
    "cm": 0.01,
    "mm": 0.001,
}
_FACTORS: dict[str, tuple[str, dict[str, float]]] = {
    "row_spacing_m": ("m", _LENGTHS),
    "vine_spacing_m": ("m", _LENGTHS),
    "hours": ("hours", dict.fromkeys(("min", "minutes", "minutos", "minuten", "minuti"), 1.0 / 60.0)),
    "rate_kg_per_ha": ("kg/ha", {"g ha": 0.001, **dict.fromkeys(("lb ac", "lbs ac", "lb acre"), 0.45359237 / _ACRE_HA)}),
    "water_l_per_ha": ("L/ha", {"hl ha": 100.0, **dict.fromkeys(("gal ac", "gal acre", "gpa"), 3.785411784 / _ACRE_HA)}),
}
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
_FIGURES = 9
_UTC = ("utc", "gmt")
_IN_UTC = ("time", "clock", "date")
_CLOCK_LAST = re.compile(r".*[0-9]:[0-9]{2}(?::[0-9]{2}(?:[.,][0-9]+)?)?(?: ?[ap]\.?m\.?)?", re.IGNORECASE | re.DOTALL)
_SAYS_ZONE = re.compile(r".*[+-][0-9]{2}:?[0-9]{2}", re.DOTALL)
_BARE_HOUR = re.compile(r"([0-9]{1,2})([0-9]{2})?")

UNIT_WORDS = frozenset(unit for _, units in _FACTORS.values() for unit in units) | frozenset(_UTC)
"""Every unit that can be turned, as it stands in a column's name without accents, capitals and signs."""


@dataclass(frozen=True, slots=True)
class Turn:
    """Figures of a column in their ``unit``, to be multiplied by ``factor`` for ours, whose unit is ``to``."""

    unit: str
    to: str
    factor: float

    def __call__(self, cell: str) -> str | None:
        """The figure in our unit, None where the cell is no number."""
        cell = cell.strip()
        written = cell.replace(",", ".") if _DECIMAL_COMMA.fullmatch(cell) else cell
        return f"{float(written) * self.factor:.{_FIGURES}g}" if _NUMBER.fullmatch(written) else None

    def shown(self, now: str) -> str:
        """The turned figure with its unit."""
        return f"{float(now):.4g} {self.to}"


@dataclass(frozen=True, slots=True)
class TurnUtc:
    """Times under a column that is called UTC in its name, which say so themselves then."""

    unit: str
    to: str = "UTC, not as local time"

    def __call__(self, cell: str) -> str | None:
        """The time with its zone, None where the cell holds no time of day or says its zone itself."""
        cell = cell.strip()
        hour = _BARE_HOUR.fullmatch(cell)
        if hour is not None:
            return f"{hour[1]}:{hour[2] or '00'}Z"
        return f"{cell}Z" if _CLOCK_LAST.fullmatch(cell) and not _SAYS_ZONE.fullmatch(cell) else None

    def shown(self, now: str) -> str:
        """The time as it is taken."""
        return now


def turn_for(ours: str, unit: str) -> Turn | TurnUtc | None:
    """How figures in a unit are turned for a column of ours; None where they need not or can't be."""
    if unit in _UTC:
        return TurnUtc(unit.upper()) if ours in _IN_UTC else None
    to, units = _FACTORS.get(ours, ("", {}))
    return Turn(unit, to, units[unit]) if unit in units else None


def turns_of(units: Mapping[str, str]) -> dict[str, Turn | TurnUtc]:
    """The turns for columns of ours whose unit is told, by column."""
    found = {ours: turn_for(ours, unit) for ours, unit in units.items()}
    return {ours: turn for ours, turn in found.items() if turn is not None}
