"""Where the sun stands, and how strong its beam is under a clear sky."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vinemap.canopy.air import warm_weight
from vinemap.columns import Floats, freeze
from vinemap.errors import InputError

_UNIX_J2000_SECONDS = 946_728_000
"""2000-01-01 12:00 UTC."""
_UNIX_DAY_ONE = dt.date(1970, 1, 1).toordinal()
STEP_SECONDS = 600
MOST_DAYS = 20
"""Of longer times so many days are reckoned, evenly spread; each stands for its neighbours too, and for their warmth."""


@dataclass(frozen=True, slots=True, eq=False)
class SunTrack:
    """Where the sun stands every ten minutes while it is up, from one date to another; columns are (n,).

    ``hour``: of local standard time, ``by_sun``: by the sun, whose noon is 12 [h]; ``elevation_deg``; ``azimuth_deg``
    [degrees clockwise from true north]; ``east``, ``north``, ``up``: parts of the direction to the sun, together of length 1;
    ``beam_kw_m2``: clear sky; ``hot_weight``: how much a moment counts by the warmth of the air, 0..2; ``hours``: how long
    each stands for over all the days [h]; ``day_count``: days.
    """

    hour: Floats
    by_sun: Floats
    elevation_deg: Floats
    azimuth_deg: Floats
    east: Floats
    north: Floats
    up: Floats
    beam_kw_m2: Floats
    hot_weight: Floats
    hours: Floats
    day_count: int

    def __post_init__(self) -> None:
        columns = (
            "hour",
            "by_sun",
            "elevation_deg",
            "azimuth_deg",
            "east",
            "north",
            "up",
            "beam_kw_m2",
            "hot_weight",
            "hours",
        )
        freeze(self, **dict.fromkeys(columns, np.float64))


def sun_track(
    lat_deg: float, lon_deg: float, first_date: dt.date, last_date: dt.date, offset_hours: float, air_degc: Floats
) -> SunTrack:
    """The sun over a place between two dates, both included, with the air's warmth.

    ``offset_hours``: local standard time minus UTC; ``air_degc``: (24,) of every day, or (24 x days,) in order [degC], in the
    middle of each hour of local standard time. Raises InputError when the dates are in the wrong order or hours are missing.
    Source: ``sun_position``, ``clear_beam_kw_m2``.
    """
    if last_date < first_date:
        raise InputError("The last day comes before the first.", "Correct the expected date of harvest.")
    days = (last_date - first_date).days + 1
    air = np.asarray(air_degc, np.float64)
    if air.shape not in ((24,), (24 * days,)) or np.isnan(air).any():
        raise InputError(
            "The usual warmth of the day needs all 24 hours.", "Bring in weather without gaps, or use a typical day."
        )
    count = min(days, MOST_DAYS)
    group = np.arange(days) * count // days
    stands_for = np.bincount(group)
    day = np.searchsorted(group, np.arange(count)) + (stands_for - 1) // 2
    weight = np.add.reduceat(
        warm_weight(np.resize(air, 24 * days)).reshape(days, 24), np.searchsorted(group, np.arange(count))
    )
    weight /= stands_for[:, None]
    in_day = np.arange(STEP_SECONDS // 2, 86_400, STEP_SECONDS)
    time_utc = (86_400 * day[:, None] + in_day).ravel() - round(offset_hours * 3600)
    time_utc += (first_date.toordinal() - _UNIX_DAY_ONE) * 86_400
    elevation, azimuth = sun_position(time_utc, lat_deg, lon_deg)
    lit = elevation > 0
    elevation, azimuth = elevation[lit], azimuth[lit]
    which = (86_400 * np.arange(count)[:, None] + in_day).ravel()[lit]
    height, turn = np.radians(elevation), np.radians(azimuth)
    return SunTrack(
        which % 86_400 / 3600.0,
        12.0 + np.degrees(sun_angles(time_utc[lit], lon_deg)[0]) / 15.0,
        elevation,
        azimuth,
        np.cos(height) * np.sin(turn),
        np.cos(height) * np.cos(turn),
        np.sin(height),
        clear_beam_kw_m2(elevation),
        np.interp(which / 3600.0, np.arange(24 * count) + 0.5, weight.ravel()),
        stands_for[which // 86_400] * (STEP_SECONDS / 3600.0),
        days,
    )


def sun_position(time_utc: npt.ArrayLike, lat_deg: float, lon_deg: float, refracted: bool = True) -> tuple[Floats, Floats]:
    """Elevation (n,) [deg above the horizon] and azimuth (n,) [degrees clockwise from true north] at unix seconds (n,).

    Longitudes are positive eastward. With ``refracted`` the bending of light by ordinary air at sea level is included.
    Source: Michalsky 1988, Solar Energy 40:227; refraction after Saemundsson (Meeus 1991, Astronomical Algorithms, eq. 16.4).
    Limits: years 1950 to 2050; compared with Reda & Andreas 2004 over the globe and four years, the sun's height differed by
    at most 0.013 deg and its place sideways (azimuth times the cosine of elevation) by at most 0.010 deg.
    """
    hour_angle, declination = sun_angles(time_utc, lon_deg)
    lat = np.radians(lat_deg)
    east = -np.cos(declination) * np.sin(hour_angle)
    north = np.sin(declination) * np.cos(lat) - np.cos(declination) * np.cos(hour_angle) * np.sin(lat)
    up = np.sin(declination) * np.sin(lat) + np.cos(declination) * np.cos(hour_angle) * np.cos(lat)
    elevation: Floats = np.degrees(np.arctan2(up, np.hypot(east, north)))
    azimuth: Floats = np.degrees(np.arctan2(east, north)) % 360.0
    if refracted:
        # Below this nothing of the sun is seen, and the formula runs away.
        seen = np.maximum(elevation, -0.8333)
        bend = 1.02 / 60 / np.tan(np.radians(seen + 10.3 / (seen + 5.11)))
        elevation = np.where(elevation > -0.8333, elevation + bend, elevation)
    return elevation, azimuth


def sun_angles(time_utc: npt.ArrayLike, lon_deg: float) -> tuple[Floats, Floats]:
    """Hour angle (n,) [rad, -pi..pi, 0 at solar noon, afternoon positive] and declination (n,) [rad] at unix seconds (n,).

    Source: Michalsky 1988, Solar Energy 40:227.
    """
    days = (np.asarray(time_utc, np.float64) - _UNIX_J2000_SECONDS) / 86_400
    mean_longitude = np.radians((280.460 + 0.9856474 * days) % 360.0)
    anomaly = np.radians((357.528 + 0.9856003 * days) % 360.0)
    longitude = mean_longitude + np.radians(1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly))
    obliquity = np.radians(23.439 - 0.0000004 * days)
    right_ascension = np.arctan2(np.cos(obliquity) * np.sin(longitude), np.cos(longitude))
    declination: Floats = np.arcsin(np.sin(obliquity) * np.sin(longitude))
    # 18.697374558 h is Greenwich mean sidereal time at that noon.
    sidereal = np.radians((15 * (18.697374558 + 24.06570982441908 * days) + lon_deg) % 360.0)
    hour_angle: Floats = (sidereal - right_ascension + np.pi) % (2 * np.pi) - np.pi
    return hour_angle, declination


def clear_beam_kw_m2(elevation_deg: npt.ArrayLike) -> Floats:
    """Strength (n,) of the sun's beam on a surface that faces it [kW/m2], clear sky, sea level; 0 when the sun is down.

    Source: Meinel & Meinel 1976, Applied Solar Energy (1.353 x 0.7^(AM^0.678)); air mass of
    Kasten & Young 1989, Appl. Opt. 28:4735.
    """
    elevation = np.asarray(elevation_deg, np.float64)
    up = np.maximum(elevation, 0.0)
    air_mass = 1.0 / (np.sin(np.radians(up)) + 0.50572 * (up + 6.07995) ** -1.6364)
    return np.asarray(np.where(elevation > 0, 1.353 * 0.7 ** (air_mass**0.678), 0.0), np.float64)
