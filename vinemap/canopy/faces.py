"""The faces of a row or of a free-standing vine, and the direct sun that falls on each."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from vinemap.canopy.shade import LEVEL, Lie, Neighbour, row_light, slope_light
from vinemap.canopy.sun import SunTrack, sun_track
from vinemap.columns import Floats, freeze
from vinemap.errors import InputError
from vinemap.ground.block import FREE, WALL

COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
MORNING_UNTIL_HOURS, LATE_FROM_HOURS = 10.0, 15.0
"""Hours by the sun, whose noon is 12."""


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
class FaceSun:
    """Direct sun on an upright face under a clear sky, from one date to another, both included.

    ``normal_deg`` [degrees clockwise from true north]. Where the fruit hangs: ``sun_hours`` [h/day]; ``energy_kwh_m2``,
    ``morning_kwh_m2`` (drying sun, before 10 by the sun), ``late_kwh_m2`` (from 15 by the sun) [kWh/m2 a day];
    ``hot_sun_kwh_m2`` [kWh/m2 over all the days], each hour weighted by how warm the air is. On the whole face, from the
    fruit to the top: ``face_hours`` [h/day] with sun on some of it, and ``face_kwh_m2`` [kWh/m2 a day] on its mean.
    """

    normal_deg: float
    sun_hours: float
    energy_kwh_m2: float
    morning_kwh_m2: float
    late_kwh_m2: float
    hot_sun_kwh_m2: float
    face_hours: float = 0.0
    face_kwh_m2: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class SunClock:
    """The sun on each face of a row over one day, every ten minutes while it is up; columns are (n,) and (faces, n).

    ``hour``: of local standard time, ``by_sun``: by the sun [h]; ``faces``: as ``faces_of`` gives them; ``fruit_kw_m2``:
    direct sun where the fruit hangs; ``hot_weight``: how much each moment counts by the warmth of the air, 0..2.
    """

    hour: Floats
    by_sun: Floats
    faces: tuple[Face, ...]
    fruit_kw_m2: Floats
    hot_weight: Floats

    def __post_init__(self) -> None:
        freeze(self, hour=np.float64, by_sun=np.float64, hot_weight=np.float64)
        self.fruit_kw_m2.setflags(write=False)


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


def face_beam(
    track: SunTrack, normals_deg: Floats, bearing_true_deg: float, neighbour: Neighbour | None = None, lie: Lie = LEVEL
) -> tuple[Floats, Floats, Floats]:
    """Direct sun on upright faces [kW/m2] (faces, n) with no row beside them, and the share 0..1 of it (n,) that the next row
    lets through to the fruit, and to the whole face.

    ``normals_deg``: (faces,) [degrees clockwise from TRUE north]; the rows run at ``bearing_true_deg``.
    Source: angle between sun and wall by plane geometry.
    """
    normal = np.radians(normals_deg)
    facing = np.column_stack([np.sin(normal), np.cos(normal)]) @ np.stack([track.east, track.north])
    facing[facing < 1e-12] = 0.0
    fruit, face = row_light(track, bearing_true_deg, neighbour, lie)
    return facing * (track.beam_kw_m2 * slope_light(track, lie)), fruit, face


def faces_sun(
    track: SunTrack,
    normals_deg: Floats,
    bearing_true_deg: float,
    neighbour: Neighbour | None = None,
    lie: Lie = LEVEL,
    light: Floats | None = None,
) -> list[list[FaceSun]]:
    """The sun on each face, as in ``face_beam``, for each of several spots.

    ``light``: (spots, n) share 0..1 of the beam that what stands around lets through; None for one spot in the open.
    Source: sums over the track; weight as in ``warm_weight``.
    """
    beam, fruit, face = face_beam(track, normals_deg, bearing_true_deg, neighbour, lie)
    hours = track.hours / track.day_count
    is_morning, is_late = track.by_sun < MORNING_UNTIL_HOURS, track.by_sun >= LATE_FROM_HOURS
    weights = np.stack([hours, hours * is_morning, hours * is_late, track.hours * track.hot_weight]) * fruit
    on_fruit = (beam > 0) * fruit * hours
    on_face = np.stack([(beam > 0) * (face > 0) * hours, beam * face * hours], axis=1)
    if light is None:
        sums = np.concatenate([on_fruit.sum(axis=1)[:, None], beam @ weights.T, on_face.sum(axis=2)], axis=1)[None]
    else:
        parts = np.concatenate([on_fruit[:, None], beam[:, None] * weights, on_face], axis=1)
        sums = (light @ parts.reshape(-1, len(hours)).T).reshape(len(light), len(beam), -1)
    return [
        [FaceSun(float(normal % 360.0), *each) for normal, each in zip(normals_deg, spot, strict=True)]
        for spot in sums.tolist()
    ]


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
    """Direct sun on an upright face on level ground; its normal points to ``normal_deg`` [degrees clockwise from TRUE north].

    ``first_date`` to ``last_date``: usually today to the expected harvest; the rest as in ``sun_track``. ``neighbour`` cuts
    off the sun whose shadow line from the next row reaches the fruit. Raises InputError as ``sun_track``.
    """
    track = sun_track(lat_deg, lon_deg, first_date, last_date, offset_hours, air_degc)
    normals = np.array([normal_deg], np.float64)
    return faces_sun(track, normals, normal_deg + 90.0, neighbour)[0][0]


def sun_clock(
    track: SunTrack,
    bearing_deg: float,
    training: str,
    neighbour: Neighbour | None = None,
    lie: Lie = LEVEL,
    convergence_deg: float = 0.0,
    light: Floats | float = 1.0,
) -> SunClock:
    """The hours with sun on each face of a row, from the track of one day; ``bearing_deg`` is from grid north.

    ``light``: (n,) share 0..1 of the beam that is let through by what stands around.
    Raises InputError for an unknown training, or when the track is not of one day. Source: as ``face_beam``.
    """
    if track.day_count != 1:
        raise InputError("A sun clock shows one day.", "Choose one date.")
    faces = faces_of(bearing_deg, training, convergence_deg)
    normals = np.array([face.normal_true_deg for face in faces])
    beam, fruit, _ = face_beam(track, normals, bearing_deg + convergence_deg, neighbour, lie)
    return SunClock(track.hour, track.by_sun, faces, beam * fruit * light, track.hot_weight)
