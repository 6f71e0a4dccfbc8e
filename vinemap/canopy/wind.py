"""The wind: where it comes from, above all while it dries, and which face it meets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vinemap.canopy.air import Readings
from vinemap.canopy.sun import sun_position
from vinemap.columns import Floats, freeze
from vinemap.errors import TooFewData

SECTORS = 16
CALM_MS = 0.5
"""Slower wind has no direction worth counting (common practice)."""
DRYING_RH_FRAC = 0.85
"""In damper air leaves may stay wet or become so: humidity alone tells wetness from 0.83 to 0.92 on (from memory, Sentelhas
et al. 2008, Agric. For. Meteorol. 148:392); taken low."""


@dataclass(frozen=True, slots=True, eq=False)
class WindRose:
    """Where the wind came from, in 16 sectors of 22.5 degrees, number 0 centred on true north, clockwise.

    ``share``, ``drying_share``: (16,) share 0..1 of windy readings, all and drying ones; ``mean_ms``, ``drying_ms``: (16,)
    mean speed [m/s], 0 where none; ``calm_share``: share 0..1 of all readings below 0.5 m/s; ``drying_count``: drying
    readings; ``count``: all with speed and direction; ``all_ms``, ``all_drying_ms``: mean speed [m/s] of all, calm ones too,
    and of the drying ones; ``prevailing_from_deg``: vector mean of the drying wind, where it comes from [deg clockwise from
    true north]; ``steadiness``: 0 (from all round) .. 1 (always from there).
    """

    share: Floats
    mean_ms: Floats
    drying_share: Floats
    drying_ms: Floats
    calm_share: float
    drying_count: int
    prevailing_from_deg: float
    steadiness: float
    count: int
    all_ms: float
    all_drying_ms: float

    def __post_init__(self) -> None:
        freeze(self, share=np.float64, mean_ms=np.float64, drying_share=np.float64, drying_ms=np.float64)


def wind_rose(readings: Readings, lat_deg: float, lon_deg: float) -> WindRose:
    """The wind rose of a station at ``lat_deg``, ``lon_deg``, from every reading with wind speed and direction.

    A reading dries when the sun is up, no rain fell and relative humidity is below 0.85; where rain or humidity was not
    read, that part of the test is left out. Raises TooFewData when no drying wind was read.
    Source: common practice for the rose; the drying test is a stated assumption on the humidity of Sentelhas et al. 2008.
    """
    known = ~(np.isnan(readings.wind_ms) | np.isnan(readings.wind_from_deg))
    speed, bearing = readings.wind_ms[known], readings.wind_from_deg[known]
    windy = speed >= CALM_MS
    elevation, _ = sun_position(readings.time_utc[known], lat_deg, lon_deg)
    wet = (np.nan_to_num(readings.rain_mm[known]) > 0) | (np.nan_to_num(readings.rh_frac[known]) >= DRYING_RH_FRAC)
    drying = windy & (elevation > 0) & ~wet
    if not drying.any():
        raise TooFewData("There is no drying wind in the readings.", "Bring in wind speed and direction for some dry days.")
    share, mean_ms = _sectors(bearing[windy], speed[windy])
    drying_share, drying_ms = _sectors(bearing[drying], speed[drying])
    angle = np.radians(bearing[drying])
    east, north = float(np.sum(speed[drying] * np.sin(angle))), float(np.sum(speed[drying] * np.cos(angle)))
    return WindRose(
        share,
        mean_ms,
        drying_share,
        drying_ms,
        calm_share=float(1.0 - windy.mean()),
        drying_count=int(drying.sum()),
        prevailing_from_deg=float(np.degrees(np.arctan2(east, north)) % 360.0),
        steadiness=float(np.hypot(east, north) / np.sum(speed[drying])),
        count=len(speed),
        all_ms=float(speed.mean()),
        all_drying_ms=float(speed[drying].mean()),
    )


def _sectors(from_deg: Floats, speed_ms: Floats) -> tuple[Floats, Floats]:
    """Share (16,) 0..1 and mean speed (16,) [m/s] of each sector."""
    sector = ((from_deg % 360.0) / (360.0 / SECTORS) + 0.5).astype(np.intp) % SECTORS
    count = np.bincount(sector, minlength=SECTORS)
    total = np.bincount(sector, speed_ms, minlength=SECTORS)
    return count / count.sum(), total / np.maximum(count, 1)


def windward(normal_true_deg: float, rose: WindRose) -> float:
    """Share 0..1 of the drying wind that blows onto a face whose normal points to ``normal_true_deg`` [degrees, true north].

    Each sector counts by the distance that its air travels, and by how squarely it meets the face. Source: plane geometry.
    """
    return float(np.sum(run_shares(rose) * np.maximum(0.0, np.cos(_angles() - np.radians(normal_true_deg)))))


def along_share(bearing_true_deg: float, rose: WindRose) -> float:
    """Share 0..1 of the drying wind that blows along rows at ``bearing_true_deg`` [degrees, true north], either way.

    Source: plane geometry, sectors weighted as in ``windward``.
    """
    return float(np.sum(run_shares(rose) * np.abs(np.cos(_angles() - np.radians(bearing_true_deg)))))


def across_share(bearing_true_deg: float, rose: WindRose) -> float:
    """Share 0..1 of the drying wind that blows across rows at ``bearing_true_deg`` [degrees, true north], onto either face.

    Source: plane geometry, sectors weighted as in ``windward``.
    """
    return along_share(bearing_true_deg + 90.0, rose)


def run_shares(rose: WindRose) -> Floats:
    """Share (16,) of the distance travelled by drying air, by sector."""
    run = rose.drying_share * rose.drying_ms
    return np.asarray(run / run.sum(), np.float64)


def _angles() -> Floats:
    """Middles (16,) of the sectors [rad clockwise from true north]."""
    return np.asarray(np.radians(360.0 / SECTORS * np.arange(SECTORS)), np.float64)
