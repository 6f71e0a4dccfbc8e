"""Weather for tests: days of hours worked by hand, and stations of them."""

from __future__ import annotations

import datetime as dt

import numpy as np

from vinemap.units import degc_from_degf
from vinemap.vineclock.weather import Weather

BUDBREAK = dt.date(2025, 4, 1)
# Hourly readings [degF] from midnight, worked by hand from the rules of Gubler et al. 1999.
DAY_A = [50] * 8 + [60, 66, 70, 74, 78, 80, 82, 83, 82, 79, 74, 69, 64, 60, 57, 55]
DAY_B = [55] * 6 + [62, 68, 72, 77, 82, 84, 88, 92, 95, 96, 94, 90, 86, 84, 80, 75, 71, 66]
DAY_C = [55] * 9 + [68, 70, 72, 75, 78, 76, 71, 69, *[60] * 7]
DAY_D = [55] * 9 + [68, 70, 72, 75, 78, 76, 69, 68, *[60] * 7]


def station(temp_degc, start=BUDBREAK, step=3600, offset_hours=-8.0, **columns) -> Weather:
    """Weather of readings from a local midnight on."""
    count = len(temp_degc)
    midnight = (start.toordinal() - dt.date(1970, 1, 1).toordinal()) * 86_400 - round(offset_hours * 3600)
    empty = np.full(count, np.nan)
    names = ("rain_mm", "wet_frac", "rh_frac", "wind_ms", "wind_from_deg")
    return Weather(
        "invented", offset_hours, midnight + step * np.arange(count), np.asarray(temp_degc, float),
        *(columns.get(name, empty) for name in names),
    )  # fmt: skip


def degc(readings_degf):
    """Temperatures [degC] of readings [degF]."""
    return [degc_from_degf(reading) for reading in readings_degf]
