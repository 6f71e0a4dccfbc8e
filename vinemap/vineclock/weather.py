"""Weather hours as columns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vinemap.columns import Floats, Seconds, freeze


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Weather:
    """Readings of one station, hourly or finer, ascending in time.

    ``station``: its name; ``offset_hours``: local STANDARD time minus UTC [h], never daylight time;
    ``time_utc``: (n,) unix seconds at the start of each reading's interval; ``temp_degc`` (n,) [degC]; ``rain_mm`` (n,)
    [mm in the interval]; ``wet_frac`` (n,) share of the interval with wet leaves 0..1; ``rh_frac`` (n,) relative humidity
    0..1; ``wind_ms`` (n,) [m/s]; ``wind_from_deg`` (n,) where the wind comes from [degrees clockwise from true north].
    NaN where missing.
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

    def __post_init__(self) -> None:
        freeze(
            self,
            time_utc=np.int64,
            temp_degc=np.float64,
            rain_mm=np.float64,
            wet_frac=np.float64,
            rh_frac=np.float64,
            wind_ms=np.float64,
            wind_from_deg=np.float64,
        )

    def __len__(self) -> int:
        return len(self.time_utc)
