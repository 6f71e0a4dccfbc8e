"""Which face to open in each row of a block, from the sun until harvest and the drying wind."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vinemap.canopy.air import ExpectedAir, expected_air
from vinemap.canopy.choose import FaceChoice, choose_faces
from vinemap.canopy.faces import Face, FaceSun, SunClock, faces_of, faces_sun, sun_clock
from vinemap.canopy.shade import Lie, Neighbour, edge_light, horizons
from vinemap.canopy.sun import SunTrack, sun_track
from vinemap.canopy.wind import WindRose, along_share
from vinemap.columns import Floats, Ints
from vinemap.ground.block import FREE, Block, Vines, Wall
from vinemap.ground.vines import row_bearings_deg
from vinemap.season.value import Season
from vinemap.service.threads import one_thread
from vinemap.service.wind_table import row_behind_edges
from vinemap.work.conditions import RowFaces, row_growth
from vinemap.work.spans import Spans

BEARING_STEP_DEG = 1.0
"""Rows whose bearings fall into the same step share one answer about sun."""
CELL_M = 10.0
"""Spans in the same square of this size see the same tall edges."""
USUAL_SPACING_M = 2.5
"""How sunny a row is, is told against rows so far apart, on level ground, of every bearing (stated assumption)."""


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """A block with its vines and spans, the day until which its sun counts, and the wind that its station read, if it did."""

    block: Block
    vines: Vines
    spans: Spans
    harvest: dt.date
    rose: WindRose | None = None


def expected_air_of(season: Season, block: str, first_date: dt.date, last_date: dt.date) -> ExpectedAir:
    """Warmth expected at a block between two dates: of its station, else of a typical year. Raises InputError."""
    weather = season.weather_of(block)
    return expected_air([weather] if weather is not None else [], season.estate.frame.lat_deg, first_date, last_date)


def track_of(season: Season, block: str, first_date: dt.date, last_date: dt.date) -> SunTrack:
    """The sun over the estate between two dates, with the warmth expected at a block. Raises InputError."""
    frame = season.estate.frame
    air = expected_air_of(season, block, first_date, last_date)
    return sun_track(frame.lat_deg, frame.lon_deg, first_date, last_date, season.estate.offset_hours, air.degc)


def neighbour_of(block: Block) -> Neighbour:
    """The row beside a row of a block; single vines leave gaps of what they do not fill."""
    wall = block.wall
    gaps = max(0.0, 1.0 - wall.width_m / block.vine_spacing_m) if block.training == FREE else 0.0
    return Neighbour(wall.top_m, wall.fruit_m, block.row_spacing_m, wall.width_m, gaps)


def estate_faces(season: Season, stands: Sequence[Stand], date: dt.date) -> dict[str, RowFaces]:
    """Which face to open in each row of each block, from sun until harvest and the drying wind.

    The sun is reckoned once for all blocks that go by one station and are picked on one day. Raises InputError.
    """
    tracks: dict[tuple[int, dt.date], tuple[SunTrack, float]] = {}
    made = {}
    with one_thread():
        for stand in stands:
            last = max(stand.harvest, date)
            key = id(season.weather_of(stand.block.name)), last
            if key not in tracks:
                track = track_of(season, stand.block.name, date, last)
                tracks[key] = track, _usual_kwh_m2(track)
            made[stand.block.name] = _block_faces(season, stand, *tracks[key])
    return made


def _block_faces(season: Season, stand: Stand, track: SunTrack, usual_kwh_m2: float) -> RowFaces:
    """Each distinct pair of row bearing and shade gets one choice."""
    block, spans, rose = stand.block, stand.spans, stand.rose
    convergence = season.estate.frame.convergence_deg
    steps = np.rint(row_bearings_deg(block.rows) / BEARING_STEP_DEG) * BEARING_STEP_DEG % 360.0
    bearings, of_row = np.unique(steps, return_inverse=True)
    shaded = _light(season, stand, track)
    kinds = 1 if shaded is None else len(shaded[0])
    pairs, which = np.unique(of_row if shaded is None else of_row[spans.row] * kinds + shaded[1], return_inverse=True)
    choices: list[FaceChoice] = []
    alike = season.assumptions.faces_alike
    sunny, along = np.empty(len(pairs)), np.full(len(pairs), 0.5)
    for index, bearing in enumerate(bearings.tolist()):
        here = np.flatnonzero(pairs // kinds == index)
        light = None if shaded is None else shaded[0][pairs[here] % kinds]
        for pair, sun in zip(here, _faces_at(block, bearing, convergence, track, light), strict=True):
            choices.append(choose_faces(bearing, block.training, sun, rose, convergence, alike))
            sunny[pair] = float(np.mean([each.energy_kwh_m2 for each in sun])) / usual_kwh_m2 / 2.0
            if rose is not None:
                along[pair] = along_share(bearing + convergence, rose)
    # a tall edge to windward leaves less of the wind
    behind = row_behind_edges(season, block, rose)
    growth = row_growth(sunny[which], along[which] * (behind if shaded is None else behind[spans.row]))
    if shaded is None:
        return RowFaces(tuple(choices), which.astype(np.int32), growth)
    count = len(block.rows)
    mean = np.bincount(spans.row, growth, count) / np.maximum(np.bincount(spans.row, minlength=count), 1)
    return RowFaces(tuple(choices), _most_frequent(spans.row, which, count), mean, which.astype(np.int32), growth)


def _faces_at(
    block: Block, bearing_deg: float, convergence_deg: float, track: SunTrack, light: Floats | None
) -> list[list[FaceSun]]:
    """The sun on the faces of a row, for each of several kinds of shade (kinds, n)."""
    normals = np.array([face.normal_true_deg for face in faces_of(bearing_deg, block.training, convergence_deg)])
    lie = Lie(block.slope_deg, block.aspect_deg + convergence_deg)
    return faces_sun(track, normals, bearing_deg + convergence_deg, neighbour_of(block), lie, light)


def _light(season: Season, stand: Stand, track: SunTrack) -> tuple[Floats, Ints] | None:
    """Light (kinds, n) let through by tall edges, and which kind each span (spans,) gets; None in the open."""
    block, vines, spans = stand.block, stand.vines, stand.spans
    if not season.edges or not len(spans):
        return None
    count = np.maximum(np.bincount(spans.of_vine, minlength=len(spans)), 1)
    middle = np.column_stack([np.bincount(spans.of_vine, column, len(spans)) / count for column in (vines.x_m, vines.y_m)])
    cell = np.floor(middle / CELL_M).astype(np.int64)
    _, at, of_span = np.unique(cell[:, 0] * 1_000_003 + cell[:, 1], return_index=True, return_inverse=True)
    seen = horizons(
        np.asarray((cell[at] + 0.5) * CELL_M, np.float64),
        season.edges,
        block.wall.fruit_m,
        Lie(block.slope_deg, block.aspect_deg),
    )
    if not seen:
        return None
    _, first, same = np.unique(
        np.concatenate([top for top, _ in seen], axis=1).astype(np.int8), axis=0, return_index=True, return_inverse=True
    )
    light = edge_light(track, [(top[first], share) for top, share in seen], season.estate.frame.convergence_deg)
    return light, same.reshape(-1)[of_span].astype(np.int32)


def _most_frequent(group: Ints, value: np.ndarray, count: int) -> Ints:
    """For each group (count,) the value that most of its members (n,) have."""
    size = int(value.max(initial=0)) + 1
    votes = np.bincount(group * size + value, minlength=count * size).reshape(count, size)
    return np.asarray(votes.argmax(axis=1), np.int32)


def _usual_kwh_m2(track: SunTrack) -> float:
    """Direct sun [kWh/m2 a day] on the fruit of an upright face, averaged over all bearings of usual rows."""
    wall = Wall()
    usual = Neighbour(wall.top_m, wall.fruit_m, USUAL_SPACING_M, wall.width_m)
    energy = [
        each.energy_kwh_m2
        for bearing in np.arange(0.0, 180.0, 22.5)
        for each in faces_sun(track, np.array([bearing + 90.0, bearing - 90.0]), bearing, usual)[0]
    ]
    return max(float(np.mean(energy)), 1e-6)


def row_sun(
    season: Season, block: Block, row: int, track: SunTrack, rose: WindRose | None
) -> tuple[tuple[Face, ...], list[FaceSun], FaceChoice]:
    """The faces of a row, the sun on each in its middle over a track, and which to open first."""
    convergence = season.estate.frame.convergence_deg
    bearing = float(row_bearings_deg(block.rows)[row])
    light = _light_amid(season, block, row, track)
    sun = _faces_at(block, bearing, convergence, track, light)[0]
    alike = season.assumptions.faces_alike
    choice = choose_faces(bearing, block.training, sun, rose, convergence, alike)
    return faces_of(bearing, block.training, convergence), sun, choice


def row_clock(season: Season, block: Block, row: int, date: dt.date) -> SunClock:
    """The sun on each face of a row over one day, in its middle, with the shade of the next row and of tall edges."""
    convergence = season.estate.frame.convergence_deg
    track = track_of(season, block.name, date, date)
    light = _light_amid(season, block, row, track)
    bearing = float(row_bearings_deg(block.rows)[row])
    lie = Lie(block.slope_deg, block.aspect_deg + convergence)
    through = 1.0 if light is None else light[0]
    return sun_clock(track, bearing, block.training, neighbour_of(block), lie, convergence, through)


def _light_amid(season: Season, block: Block, row: int, track: SunTrack) -> Floats | None:
    """Light (1, n) that tall edges let through to the middle of a row; None in the open."""
    middle = np.asarray(block.rows.line_m(row).mean(axis=0, keepdims=True), np.float64)
    seen = horizons(middle, season.edges, block.wall.fruit_m, Lie(block.slope_deg, block.aspect_deg))
    return edge_light(track, seen, season.estate.frame.convergence_deg) if seen else None
