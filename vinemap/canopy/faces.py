"""The faces of a row or of a free-standing vine, and the direct sun that falls on each."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from vinemap.canopy.sun import clear_beam_kw_m2, sun_angles, sun_position
from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.ground.block import FREE, WALL

COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
MORNING_UNTIL_HOURS, LATE_FROM_HOURS = 10.0, 15.0
"""Hours by the sun, whose noon is 12."""

_STEP_SECONDS = 600
_UNIX_DAY_ONE = dt.date(1970, 1, 1).toordinal()


@dataclass(frozen=True, slots=True)
class Face:
    """One face. ``name``: compass word of its true normal; ``normal_deg`` [degrees clockwise from grid north] and
    ``normal_true_deg`` [from true north] point out of the leaves; ``side``: +1 right of the row as seen from vine 1, -1 left,
    0 on a free-standing vine.
    """

    name: str
    normal_deg: float
    normal_true_deg: float
    side: int


@dataclass(frozen=True, slots=True)
class Neighbour:
    """The next row: top of its leaves [m], height of the fruit [m] and distance between rows [m]."""

    top_m: float
    fruit_m: float
    row_spacing_m: float


@dataclass(frozen=True, slots=True)
class FaceSun:
    """Direct sun on an upright face under a clear sky, from one date to another, both included.

    ``normal_deg`` [degrees clockwise from true north]; ``sun_hours`` [h/day] with sun on the face; ``energy_kwh_m2``,
    ``morning_kwh_m2`` (before 10 by the sun), ``late_kwh_m2`` (from 15 by the sun) [kWh/m2 a day];
    ``hot_sun_kwh_m2`` [kWh/m2 over all the days], each hour weighted by how warm the air is.
    """

    normal_deg: float
    sun_hours: float
    energy_kwh_m2: float
    morning_kwh_m2: float
    late_kwh_m2: float
    hot_sun_kwh_m2: float


def compass_word(bearing_deg: float) -> str:
    """The nearest of the eight compass words to a bearing [degrees clockwise from north]."""
    return COMPASS[int((bearing_deg + 22.5) % 360.0 // 45.0)]


def faces_of(bearing_deg: float, training: str, convergence_deg: float = 0.0) -> tuple[Face, ...]:
    """Faces of a row [degrees clockwise from grid north]: right, then left. Of a free-standing vine: eight, from north.

    ``convergence_deg`` is added to a grid bearing to make it true. Raises InputError for an unknown training.
    """
    if training == WALL:
        sides = ((1, bearing_deg + 90.0), (-1, bearing_deg - 90.0))
        return tuple(
            Face(compass_word(normal + convergence_deg), normal % 360.0, (normal + convergence_deg) % 360.0, side)
            for side, normal in sides
        )
    if training == FREE:
        return tuple(
            Face(word, (45.0 * number - convergence_deg) % 360.0, 45.0 * number, 0) for number, word in enumerate(COMPASS)
        )
    raise InputError(f"“{training}” is not a way of training that is known here.", f"Use “{WALL}” or “{FREE}”.")


def warm_weight(air_degc: Floats) -> Floats:
    """How much an hour of sun counts (n,) 0..2, for the warmth of the air (n,) [degC]: 0 at 20, 1 at 35, 2 from 50 on.

    Source: stated assumption: berries in the sun run 5 to 10 degC above the air, so that skin nears the 40 to 43 degC at
    which it browns when the air nears 35 (Gambetta et al. 2021 on sunburn; thresholds from memory).
    """
    return np.asarray(np.clip((np.asarray(air_degc, np.float64) - 20.0) / 15.0, 0.0, 2.0), np.float64)


def face_sun(
    normal_deg: float,
    lat_deg: float,
    lon_deg: float,
    first_date: dt.date,
    last_date: dt.date,
    offset_hours: float,
    air_degc: Floats,
    neighbour: Neighbour | None = None,
) -> FaceSun:
    """Direct sun on an upright face whose normal points to ``normal_deg`` [degrees clockwise from TRUE north].

    ``first_date`` to ``last_date``: usually today to the expected harvest; ``offset_hours``: local standard time minus UTC;
    ``air_degc``: (24,) usual warmth of the air in each hour of local standard time [degC]; ``neighbour`` cuts off the sun
    whose shadow line from the next row reaches the fruit. Clear sky, no diffuse light, level ground.
    Raises InputError when the dates are in the wrong order or the air has not 24 hours.
    Source: angle between sun and wall by plane geometry; weight as in ``warm_weight``.
    """
    if last_date < first_date:
        raise InputError("The last day comes before the first.", "Correct the expected date of harvest.")
    air = np.asarray(air_degc, np.float64)
    if air.shape != (24,) or np.isnan(air).any():
        raise InputError(
            "The usual warmth of the day needs all 24 hours.", "Bring in weather without gaps, or use a typical day."
        )
    count = (last_date - first_date).days + 1
    midnight = (first_date.toordinal() - _UNIX_DAY_ONE) * 86_400
    local = midnight + np.arange(_STEP_SECONDS // 2, count * 86_400, _STEP_SECONDS)
    time_utc = local - round(offset_hours * 3600)
    elevation, azimuth = sun_position(time_utc, lat_deg, lon_deg)
    by_sun = 12.0 + np.degrees(sun_angles(time_utc, lon_deg)[0]) / 15.0
    facing = np.cos(np.radians(azimuth - normal_deg))
    lit = (elevation > 0) & (facing > 0)
    if neighbour is not None:
        rise = max(0.0, neighbour.top_m - neighbour.fruit_m)
        lit &= np.tan(np.radians(elevation)) * neighbour.row_spacing_m > rise * facing
    hours = _STEP_SECONDS / 3600.0
    beam = np.where(lit, clear_beam_kw_m2(elevation) * np.cos(np.radians(elevation)) * facing, 0.0) * hours
    weight = warm_weight(_air_at(local, air))
    return FaceSun(
        normal_deg=float(normal_deg % 360.0),
        sun_hours=float(lit.sum()) * hours / count,
        energy_kwh_m2=float(beam.sum()) / count,
        morning_kwh_m2=float(beam[by_sun < MORNING_UNTIL_HOURS].sum()) / count,
        late_kwh_m2=float(beam[by_sun >= LATE_FROM_HOURS].sum()) / count,
        hot_sun_kwh_m2=float((beam * weight).sum()),
    )


def _air_at(local: np.ndarray, air_degc: Floats) -> Floats:
    """Warmth of the air (n,) [degC] at local seconds (n,), between the middles of the hours."""
    hour = (local % 86_400) / 3600.0
    return np.asarray(np.interp(hour, np.arange(24) + 0.5, air_degc, period=24.0), np.float64)
