"""Conversions, used only where a figure is read, shown or printed. Inside, everything is SI."""

from __future__ import annotations

FEET_PER_M = 1 / 0.3048
ACRES_PER_HA = 10_000 / 4046.8564224
POUNDS_PER_KG = 1 / 0.45359237


def degc_from_degf(temp_degf: float) -> float:
    """Temperature [degC] of a temperature [degF]. Exact by definition of the scales."""
    return (temp_degf - 32.0) * 5.0 / 9.0


def degf_from_degc(temp_degc: float) -> float:
    """Temperature [degF] of a temperature [degC]. Exact by definition of the scales."""
    return temp_degc * 9.0 / 5.0 + 32.0
