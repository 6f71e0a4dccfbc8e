"""Which face to open in each row of a block, from the sun until harvest and the drying wind."""

from __future__ import annotations

import datetime as dt

import numpy as np

from vinemap.canopy.air import mean_air_by_hour, typical_air
from vinemap.canopy.choose import FaceChoice, choose_faces
from vinemap.canopy.faces import face_sun, faces_of
from vinemap.canopy.wind import along_share
from vinemap.columns import Floats
from vinemap.errors import TooFewData
from vinemap.ground.block import Block
from vinemap.ground.vines import row_bearings_deg
from vinemap.season.value import Season
from vinemap.service.weather_facts import WeatherFacts
from vinemap.work.conditions import RowFaces, row_growth

BEARING_STEP_DEG = 5.0
"""Rows whose bearings fall into the same step share one answer about sun."""

AIR_DAYS = 30


def row_faces(season: Season, block: Block, facts: WeatherFacts, date: dt.date, harvest: dt.date) -> RowFaces:
    """Which face to open in each row, from sun until harvest and the drying wind."""
    frame = season.estate.frame
    air = air_by_hour(season, date)
    steps = np.rint(row_bearings_deg(block.rows) / BEARING_STEP_DEG) * BEARING_STEP_DEG % 360.0
    bearings, of_row = np.unique(steps, return_inverse=True)
    last = max(harvest, date)
    choices: list[FaceChoice] = []
    along, sunny = np.full(len(bearings), 0.5), np.empty(len(bearings))
    usual = _usual_sun_kwh_m2(season, air, date, last)
    for index, bearing in enumerate(bearings):
        faces = faces_of(float(bearing), block.training, frame.convergence_deg)
        sun = [
            face_sun(face.normal_true_deg, frame.lat_deg, frame.lon_deg, date, last, season.estate.offset_hours, air)
            for face in faces
        ]
        choices.append(choose_faces(float(bearing), block.training, sun, facts.rose, frame.convergence_deg))
        sunny[index] = float(np.mean([each.energy_kwh_m2 for each in sun])) / usual / 2.0
        if facts.rose is not None:
            along[index] = along_share(float(bearing) + frame.convergence_deg, facts.rose)
    return RowFaces(tuple(choices), of_row.astype(np.int32), row_growth(sunny, along)[of_row])


def _usual_sun_kwh_m2(season: Season, air: Floats, first: dt.date, last: dt.date) -> float:
    """Direct sun [kWh/m2 a day] on an upright face between two dates, averaged over all the ways it can look."""
    frame = season.estate.frame
    looks = [
        face_sun(float(normal), frame.lat_deg, frame.lon_deg, first, last, season.estate.offset_hours, air).energy_kwh_m2
        for normal in range(0, 360, 45)
    ]
    return max(float(np.mean(looks)), 1e-6)


def air_by_hour(season: Season, until: dt.date) -> Floats:
    """Usual warmth (24,) [degC] of each hour over the last month, or that of a typical day where there are no readings."""
    if season.weather is None:
        return typical_air()
    try:
        return mean_air_by_hour(season.weather, until - dt.timedelta(days=AIR_DAYS), until)
    except TooFewData:
        return typical_air()
