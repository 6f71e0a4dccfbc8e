"""Weather hours as columns."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from vinemap.columns import Bytes, Floats, Seconds, freeze, nothing, zeros_where_empty

READ, ESTIMATED, FORECAST, CLIMATE = range(4)
ORIGIN_WORDS = ("read", "estimated from the day's extremes", "forecast", "stand-in climate")
"""Where an hour's figures come from, by code."""
READING_COLUMNS = ("temp_degc", "rain_mm", "wet_frac", "rh_frac", "wind_ms", "wind_from_deg")
"""The columns of readings beside the time, in order."""
ALL_COLUMNS = ("time_utc", *READING_COLUMNS, "origin", "temp_max_degc")
"""Every column."""


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Weather:
    """Readings of one station, hourly or finer, ascending in time.

    ``station``: its name; ``offset_hours``: local STANDARD time minus UTC [h], never daylight time;
    ``time_utc``: (n,) unix seconds at the start of each reading's interval; ``temp_degc`` (n,) [degC]; ``rain_mm`` (n,)
    [mm in the interval]; ``wet_frac`` (n,) share of the interval with wet leaves 0..1; ``rh_frac`` (n,) relative humidity
    0..1; ``wind_ms`` (n,) [m/s]; ``wind_from_deg`` (n,) where the wind comes from [degrees clockwise from true north].
    NaN where missing. ``origin``: (n,) code of where each comes from, all ``READ`` where it is left out; ``at_m``: where the
    station stands, (x, y) [m] in the estate's frame, None where nobody said. ``temp_max_degc``: (n,) the highest in the
    interval [degC], as stations keep it beside the mean; all NaN where it is left out.
    """

    station: str
    offset_hours: float
    time_utc: Seconds
    temp_degc: Floats
    rain_mm: Floats
    wet_frac: Floats
    rh_frac: Floats
    wind_ms: Floats
    wind_from_deg: Floats
    origin: Bytes = field(default_factory=nothing)
    at_m: tuple[float, float] | None = None
    temp_max_degc: Floats = field(default_factory=nothing)

    def __post_init__(self) -> None:
        zeros_where_empty(self, "time_utc", "origin")
        if not len(self.temp_max_degc):
            object.__setattr__(self, "temp_max_degc", np.full(len(self.time_utc), np.nan))
        freeze(
            self,
            time_utc=np.int64,
            temp_degc=np.float64,
            rain_mm=np.float64,
            wet_frac=np.float64,
            rh_frac=np.float64,
            wind_ms=np.float64,
            wind_from_deg=np.float64,
            origin=np.int8,
            temp_max_degc=np.float64,
        )

    def __len__(self) -> int:
        return len(self.time_utc)
