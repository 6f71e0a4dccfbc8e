"""Between longitude and latitude, an estate's projected system and its metric frame. The only place that uses PROJ."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.ground.frame import Frame

if TYPE_CHECKING:
    from pyproj import Transformer

_ORIGIN_STEP_M = 100.0
_SCALE_TOLERANCE = 0.01


def utm_crs(lon_deg: float, lat_deg: float) -> str:
    """Name of the UTM zone on WGS 84 that holds a place; plain six-degree zones (Snyder 1987, p. 57)."""
    zone = min(max(int((lon_deg + 180.0) // 6.0) + 1, 1), 60)
    return f"EPSG:{(32700 if lat_deg < 0 else 32600) + zone}"


def frame_for(lon_deg: float, lat_deg: float, crs: str = "") -> Frame:
    """The metric frame of an estate around a place [degrees]; in its UTM zone unless ``crs`` names another system.

    The origin is on a whole 100 m of easting and northing. Lengths are those of the projection: in a UTM zone at most
    0.04 % short in its middle and 0.1 % long at its edge. Raises InputError when the place or the system can't be used.
    """
    if not (math.isfinite(lon_deg) and math.isfinite(lat_deg) and abs(lon_deg) <= 180 and abs(lat_deg) <= 84):
        raise InputError(
            f"Longitude {lon_deg:g}, latitude {lat_deg:g} is not a place where vines grow.",
            "Check that longitude comes first and that both are in degrees.",
        )
    crs = crs.strip() or utm_crs(lon_deg, lat_deg)
    transformer = _transformer(crs)
    easting, northing = transformer.transform(lon_deg, lat_deg)
    if not (math.isfinite(easting) and math.isfinite(northing)):
        raise InputError(
            f"The map system {crs} does not reach longitude {lon_deg:g}, latitude {lat_deg:g}.",
            "Choose one for this part of the world, or none to use the UTM zone.",
        )
    origin_x = round(easting / _ORIGIN_STEP_M) * _ORIGIN_STEP_M
    origin_y = round(northing / _ORIGIN_STEP_M) * _ORIGIN_STEP_M
    lon, lat = transformer.transform(origin_x, origin_y, direction="INVERSE")
    convergence_deg, scale = _meridian_step(transformer, lon, lat)
    if abs(scale - 1.0) > _SCALE_TOLERANCE:
        raise InputError(
            f"In the map system {crs} a metre at longitude {lon_deg:g}, latitude {lat_deg:g} is drawn {scale:.3g} m long.",
            "Choose one made for this part of the world, or none to use the UTM zone.",
        )
    return Frame(crs, origin_x, origin_y, lat, lon, convergence_deg)


def to_local(frame: Frame, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Metres east and north (n,) in the frame of places (n,) [degrees]. Raises InputError when one is out of reach."""
    lon = np.asarray(lon_deg, np.float64)
    lat = np.asarray(lat_deg, np.float64)
    easting, northing = _transformer(frame.crs).transform(lon, lat)
    return _checked(frame, np.asarray(easting) - frame.origin_x_m, np.asarray(northing) - frame.origin_y_m)


def to_lonlat(frame: Frame, x_m: npt.ArrayLike, y_m: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Longitude and latitude (n,) [degrees] of places (n,) [m] in the frame. Raises InputError when out of reach."""
    easting = np.asarray(x_m, np.float64) + frame.origin_x_m
    northing = np.asarray(y_m, np.float64) + frame.origin_y_m
    lon, lat = _transformer(frame.crs).transform(easting, northing, direction="INVERSE")
    return _checked(frame, np.asarray(lon), np.asarray(lat))


def to_system(system: str, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Places (n,) [degrees] in any map system, east or longitude first, in its own unit; not finite where out of its reach.

    Without grid files the shift between datums is the best that PROJ has by formula, off by a metre or two at worst in
    systems in use today (from memory). Raises InputError when the system can't be used.
    """
    x, y = _any_transformer(system).transform(np.asarray(lon_deg, np.float64), np.asarray(lat_deg, np.float64))
    return np.asarray(x), np.asarray(y)


def from_system(system: str, x: npt.ArrayLike, y: npt.ArrayLike) -> tuple[Floats, Floats]:
    """The way back from ``to_system``: longitude and latitude (n,) [degrees]. Raises InputError."""
    x, y = np.asarray(x, np.float64), np.asarray(y, np.float64)
    lon, lat = _any_transformer(system).transform(x, y, direction="INVERSE")
    return np.asarray(lon), np.asarray(lat)


def system_name(system: str) -> str:
    """What a map system is called in the register. Raises InputError when it can't be used."""
    target = _any_transformer(system).target_crs
    return target.name if target is not None else system


def is_projected(system: str) -> bool:
    """True where a map system has eastings and northings, and not degrees. Raises InputError."""
    target = _any_transformer(system).target_crs
    return target is not None and target.is_projected


def from_projected(frame: Frame, easting_m: npt.ArrayLike, northing_m: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Metres east and north (n,) in the frame of eastings and northings (n,) [m] in its projected system."""
    return np.asarray(easting_m, np.float64) - frame.origin_x_m, np.asarray(northing_m, np.float64) - frame.origin_y_m


def _checked(frame: Frame, first: Floats, second: Floats) -> tuple[Floats, Floats]:
    if not (np.isfinite(first).all() and np.isfinite(second).all()):
        raise InputError(
            f"A place lies where the map system {frame.crs} does not reach.",
            "Check that longitude comes first and that the estate is where you expect it.",
        )
    return first, second


@lru_cache(maxsize=16)
def _transformer(crs: str) -> Transformer:
    from pyproj import CRS, Transformer
    from pyproj.exceptions import CRSError, ProjError

    do = "Name one in metres, for example EPSG:32610, or none to use the UTM zone."
    try:
        system = CRS.from_user_input(crs)
        transformer = Transformer.from_crs("EPSG:4326", system, always_xy=True)
    except (CRSError, ProjError, UnicodeError) as error:
        raise InputError(f"“{crs}” is not a map system.", do) from error
    axes = system.axis_info[:2]
    is_metric = all(axis.unit_name == "metre" for axis in axes)
    if not system.is_projected or not is_metric or {axis.direction for axis in axes} != {"east", "north"}:
        raise InputError(f"The map system {crs} is not measured in metres east and north.", do)
    return transformer


@lru_cache(maxsize=16)
def _any_transformer(system: str) -> Transformer:
    from pyproj import CRS, Transformer
    from pyproj.exceptions import CRSError, ProjError

    try:
        return Transformer.from_crs("EPSG:4326", CRS.from_user_input(system), always_xy=True)
    except (CRSError, ProjError, UnicodeError) as error:
        shown = system if len(system) <= 40 else "given"
        raise InputError(
            f"The map system {shown} can't be used.", "Export it in longitude and latitude, or in its UTM zone."
        ) from error


def _meridian_step(transformer: Transformer, lon_deg: float, lat_deg: float) -> tuple[float, float]:
    """Convergence [degrees] (what to add to a grid bearing to get a true one) and scale, from a short step north."""
    from pyproj import Geod

    lats = [lat_deg - 1e-4, lat_deg + 1e-4]
    x, y = transformer.transform([lon_deg, lon_deg], lats)
    true_m = Geod(ellps="WGS84").line_length([lon_deg, lon_deg], lats)
    return -math.degrees(math.atan2(x[1] - x[0], y[1] - y[0])), math.hypot(x[1] - x[0], y[1] - y[0]) / true_m
