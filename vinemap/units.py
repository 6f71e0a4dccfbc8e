"""Conversions, used only where a figure is read, shown or printed. Inside, everything is SI."""

from __future__ import annotations

MM_PER_INCH = 25.4
"""Exact by definition of the inch."""
MS_PER_KMH = 1.0 / 3.6
MS_PER_MPH = 0.44704
"""Exact by definition of the mile, 1609.344 m."""
MS_PER_KNOT = 1852.0 / 3600.0
"""Exact by definition of the nautical mile, 1852 m."""
ZERO_DEGC_K = 273.15


def degc_from_degf(temp_degf: float) -> float:
    """Temperature [degC] of a temperature [degF]. Exact by definition of the scales."""
    return (temp_degf - 32.0) * 5.0 / 9.0


def degf_from_degc(temp_degc: float) -> float:
    """Temperature [degF] of a temperature [degC]. Exact by definition of the scales."""
    return temp_degc * 9.0 / 5.0 + 32.0
