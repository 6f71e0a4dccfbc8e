"""Conversions, used only where a figure is read, shown or printed. Inside, everything is SI."""

from __future__ import annotations


def degc_from_degf(temp_degf: float) -> float:
    """Temperature [degC] of a temperature [degF]. Exact by definition of the scales."""
    return (temp_degf - 32.0) * 5.0 / 9.0


def degf_from_degc(temp_degc: float) -> float:
    """Temperature [degF] of a temperature [degC]. Exact by definition of the scales."""
    return temp_degc * 9.0 / 5.0 + 32.0
