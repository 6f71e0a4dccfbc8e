"""The sun on each face as a table: of any one row, or of every row of a season."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from vinemap.canopy.air import expected_air
from vinemap.canopy.choose import FaceChoice, choose_faces
from vinemap.canopy.faces import Face, FaceSun, faces_of, faces_sun
from vinemap.canopy.shade import LEVEL, Lie, Neighbour
from vinemap.canopy.sun import sun_track
from vinemap.canopy.wind import WindRose, wind_rose
from vinemap.errors import InputError, TooFewData
from vinemap.ground.block import WALL
from vinemap.season.value import Season
from vinemap.service.row_faces import row_sun, track_of
from vinemap.service.stage_facts import next_harvest, stage_of
from vinemap.service.weather_facts import weather_facts
from vinemap.vineclock.weather import Weather

FIRST_YEAR, LAST_YEAR, LONGEST_DAYS = 1950, 2100, 366
FIGURES = (
    *("sun_hours", "energy_kwh_m2", "morning_kwh_m2", "late_kwh_m2", "hot_sun_kwh_m2"),
    *("face_hours", "face_kwh_m2"),
)


@dataclass(frozen=True, slots=True)
class RowAsked:
    """A row on the globe: its bearing [degrees clockwise from true north], training, the next row, how the ground lies."""

    lat_deg: float
    lon_deg: float
    bearing_deg: float
    training: str = WALL
    neighbour: Neighbour | None = None
    lie: Lie = LEVEL


def row_table(row: RowAsked, date: dt.date, harvest: dt.date | None, weather: Weather | None = None) -> list[tuple[str, ...]]:
    """Head and one line a face of a row: its sun from ``date`` to harvest, and which comes first.

    The warmth is that of ``weather`` where it has those days or ran warmer or cooler before, else of a typical year.
    Raises InputError for a place, bearing or date that can't be.
    """
    last = _checked(row, date, harvest)
    offset = weather.offset_hours if weather is not None else float(round(row.lon_deg / 15.0))
    air = expected_air([weather] if weather is not None else [], row.lat_deg, date, last)
    track = sun_track(row.lat_deg, row.lon_deg, date, last, offset, air.degc)
    faces = faces_of(row.bearing_deg, row.training)
    normals = np.array([face.normal_true_deg for face in faces])
    sun = faces_sun(track, normals, row.bearing_deg, row.neighbour, row.lie)[0]
    rose = _rose(weather, row)
    choice = choose_faces(row.bearing_deg, row.training, sun, rose)
    return [("face", "order", *FIGURES, "why"), *_lines(faces, sun, choice, f"Warmth: {air.words()}.")]


def season_table(season: Season, date: dt.date) -> list[tuple[str, ...]]:
    """Head and one line a face of every row of a season, from ``date`` to the harvest of its block. Raises InputError.

    Shaded as in the middle of the row.
    """
    facts = weather_facts(season)
    lines: list[tuple[str, ...]] = [("block", "row", "face", "order", *FIGURES, "why")]
    for block in season.blocks:
        harvest = max(stage_of(season, block.name, facts.days, date).harvest, date)
        track = track_of(season, block.name, date, harvest)
        until = f"Sun from {date} to {harvest}."
        for row, label in enumerate(block.rows.labels):
            faces, sun, choice = row_sun(season, block, row, track, facts.rose)
            lines += [(block.name, label, *line) for line in _lines(faces, sun, choice, until)]
    if len(lines) == 1:
        raise InputError("The season has no rows.", "Bring in rows, or make them on step Ground.")
    return lines


def _checked(row: RowAsked, date: dt.date, harvest: dt.date | None) -> dt.date:
    """The last day of the sum. Raises InputError."""
    if not (-90 <= row.lat_deg <= 90 and -180 <= row.lon_deg <= 180):
        raise InputError(
            "That is no place on the globe.", "Latitude lies between -90 and 90, longitude between -180 and 180."
        )
    if not np.isfinite(row.bearing_deg):
        raise InputError("The bearing is not a number.", "Give degrees clockwise from true north.")
    if not FIRST_YEAR <= date.year <= LAST_YEAR:
        raise InputError(f"{date} is too far away to be meant.", "Check the year.")
    last = harvest or next_harvest(date, row.lat_deg < 0)
    if last < date:
        raise InputError(f"Harvest {last} lies before {date}.", "Give the date of the harvest that is still to come.")
    if last - date > dt.timedelta(days=LONGEST_DAYS):
        raise InputError(f"Harvest {last} lies more than a year after {date}.", "Give the date of the next harvest.")
    return last


def _rose(weather: Weather | None, row: RowAsked) -> WindRose | None:
    try:
        return wind_rose(weather, row.lat_deg, row.lon_deg) if weather is not None else None
    except TooFewData:
        return None


def _lines(faces: tuple[Face, ...], sun: list[FaceSun], choice: FaceChoice, said: str) -> list[tuple[str, ...]]:
    """One line a face, the first to open first; why stands with the first, what the others are for with them."""
    order = {choice.first: "first"} | dict.fromkeys(choice.spared, "in part")
    lines = []
    for face, light in sorted(zip(faces, sun, strict=True), key=lambda pair: order.get(pair[0], "second") != "first"):
        figures = [f"{getattr(light, name):.{1 if name == 'hot_sun_kwh_m2' else 2}f}" for name in FIGURES]
        place = order.get(face, "second")
        why = " ".join([*choice.reasons, said]) if place == "first" else _why_later(place, light)
        lines.append((face.name, place, *figures, why))
    return lines


def _why_later(place: str, light: FaceSun) -> str:
    hot, late = light.hot_sun_kwh_m2, light.late_kwh_m2
    told = f"{hot:.0f} kWh/m² of hot sun until harvest, {late:.1f} a day after three o’clock by the sun."
    return f"Only where infection is bad: {told}" if place == "in part" else f"After the first face: {told}"
