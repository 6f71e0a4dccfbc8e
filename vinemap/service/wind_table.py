"""The wind as tables: the rose of a station, and what the drying wind does at each row of an estate."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from vinemap.canopy.faces import Face, compass_word, faces_of
from vinemap.canopy.shelter import WindLeft, left_behind_edges, wind_left
from vinemap.canopy.wind import DRYING_RH_FRAC, SECTORS, WindRose, across_share, along_share, wind_rose, windward
from vinemap.columns import Floats
from vinemap.errors import InputError, Problem, TooFewData
from vinemap.files.weather_times import WeatherAsk
from vinemap.ground.block import WALL, Block
from vinemap.ground.vines import row_bearings_deg
from vinemap.season.value import Season
from vinemap.service.pressure_table import read_named_weather

ROSE_COLUMNS = ("from", "from_deg", "share", "mean_ms", "drying_share", "drying_ms", "across", "face", "why")
ROW_COLUMNS = (
    *("block", "row", "bearing_deg", "along", "across", "windward_face", "onto_it"),
    *("behind_edges", "among_rows", "wind_left", "why"),
)
ALIKE = 0.10
"""Faces whose shares of the drying wind differ by less are told as alike (stated assumption)."""
_STEP_DEG = 360.0 / SECTORS
_WORDS = (
    *("north", "north-north-east", "north-east", "east-north-east", "east", "east-south-east", "south-east"),
    *("south-south-east", "south", "south-south-west", "south-west", "west-south-west", "west", "west-north-west"),
    *("north-west", "north-north-west"),
)
_PARTS = (1 / 6, 1 / 2, 5 / 6)
"""Places along a row at which its shelter is looked at."""
_Lines = list[tuple[str, ...]]


def rose_table(
    weather: Path, lat_deg: float, lon_deg: float, hours: WeatherAsk, bearing_deg: float | None
) -> tuple[_Lines, tuple[Problem, ...]]:
    """Head, sixteen sectors, calm and all, of the readings in a file; and what was left out of it.

    ``bearing_deg`` of rows from true north, None where only the rose is asked for. Raises InputError, FileError, TooFewData.
    """
    if not (-90 <= lat_deg <= 90 and -180 <= lon_deg <= 180):
        raise InputError(
            "That is no place on the globe.", "Latitude lies between -90 and 90, longitude between -180 and 180."
        )
    read = read_named_weather(weather, hours)
    rose = wind_rose(read.value, lat_deg, lon_deg)
    windy = 1.0 - rose.calm_share
    lines: _Lines = [ROSE_COLUMNS]
    for sector in range(SECTORS):
        from_deg = sector * _STEP_DEG
        across, face, why = _meets(from_deg, bearing_deg)
        figures = (rose.share[sector] * windy, rose.mean_ms[sector], rose.drying_share[sector], rose.drying_ms[sector])
        written = (f"{figures[0]:.4f}", f"{figures[1]:.2f}", f"{figures[2]:.4f}", f"{figures[3]:.2f}")
        lines.append((_WORDS[sector], f"{from_deg:g}", *written, across, face, why))
    lines.append(("calm", "", f"{rose.calm_share:.4f}", "", "", "", "", "", "below 0.5 m/s: no direction worth counting"))
    across = "" if bearing_deg is None else f"{across_share(bearing_deg, rose):.4f}"
    best = "" if bearing_deg is None else _by_wind(faces_of(bearing_deg, WALL), rose)[0][1]
    why = rose_words(rose) + ("" if bearing_deg is None else " " + _row_words(bearing_deg, faces_of(bearing_deg, WALL), rose))
    speeds = (f"{rose.all_ms:.2f}", "1.0000", f"{rose.all_drying_ms:.2f}")
    lines.append(("all", f"{rose.prevailing_from_deg:.0f}", "1.0000", *speeds, across, best, why))
    return lines, read.problems


def rows_table(season: Season) -> _Lines:
    """Head and a line a row: how the drying wind meets it, and what is left of it there.

    Blocks without wind have only their rows and why. Raises InputError where there is no row.
    """
    roses: dict[int, WindRose | None] = {}
    lines: _Lines = [ROW_COLUMNS]
    for block in season.blocks:
        weather = season.weather_of(block.name)
        if id(weather) not in roses:
            roses[id(weather)] = _rose_of(season, block.name)
        lines += _block_lines(season, block, roses[id(weather)])
    if len(lines) == 1:
        raise InputError("There are no rows yet.", "Bring in the rows, or make them from an outline.")
    return lines


def row_wind(season: Season, block: Block, rose: WindRose) -> WindLeft:
    """What is left of the drying wind at each row (rows,) of a block, in the mean of three places along it."""
    points, bearings = _places(block, _PARTS), np.tile(row_bearings_deg(block.rows), len(_PARTS))
    ring = np.asarray(block.outline.exterior.coords)[:, :2]
    left = wind_left(points, bearings, ring, season.edges, rose, season.estate.frame.convergence_deg)
    columns = (left.behind_edges, left.among_rows, left.both)
    return WindLeft(*(column.reshape(len(_PARTS), -1).mean(axis=0) for column in columns))


def row_behind_edges(season: Season, block: Block, rose: WindRose | None) -> Floats:
    """Share (rows,) 0..1 of the drying wind that tall edges leave to the middle of each row; 1 where no wind was read."""
    if rose is None or not season.edges:
        return np.ones(len(block.rows))
    return left_behind_edges(_places(block, (1 / 2,)), season.edges, rose, season.estate.frame.convergence_deg)


def _places(block: Block, parts: Sequence[float]) -> Floats:
    """Places (parts x rows, 2) [m] along the rows, the first part of all rows first."""
    rows = block.rows
    first, last = rows.xy_m[rows.start[:-1]], rows.xy_m[rows.start[1:] - 1]
    return np.concatenate([first + part * (last - first) for part in parts])


def rose_words(rose: WindRose) -> str:
    """A rose in a few sentences, with what counts as drying."""
    share = rose.drying_count / rose.count
    steady = "steadily" if rose.steadiness >= 0.7 else "mostly" if rose.steadiness >= 0.3 else "a little more"
    return (
        f"Of {rose.count:,} readings {100 * rose.calm_share:.0f} % were calm; in {100 * share:.0f} % the wind dried: by day, "
        f"no rain, humidity below {100 * DRYING_RH_FRAC:.0f} %, at least 0.5 m/s. Drying wind came {steady} from the "
        f"{_WORDS[round(rose.prevailing_from_deg / _STEP_DEG) % SECTORS]}, {rose.all_drying_ms:.1f} m/s."
    )


def _rose_of(season: Season, block: str) -> WindRose | None:
    weather, frame = season.weather_of(block), season.estate.frame
    if weather is None:
        return None
    try:
        return wind_rose(weather, frame.lat_deg, frame.lon_deg)
    except TooFewData:
        return None


def _block_lines(season: Season, block: Block, rose: WindRose | None) -> _Lines:
    labels, bearings = block.rows.labels, row_bearings_deg(block.rows)
    if rose is None:
        why = "No drying wind was read: bring in wind speed and direction."
        empty = ("",) * (len(ROW_COLUMNS) - 4)
        return [(block.name, label, f"{at:.1f}", *empty, why) for label, at in zip(labels, bearings, strict=True)]
    convergence = season.estate.frame.convergence_deg
    left = row_wind(season, block, rose)
    lines: _Lines = []
    for row, (label, bearing) in enumerate(zip(labels, bearings.tolist(), strict=True)):
        faces = faces_of(bearing, block.training, convergence)
        onto, face = _by_wind(faces, rose)[0]
        true_deg = bearing + convergence
        along, across = along_share(true_deg, rose), across_share(true_deg, rose)
        shares = (float(column[row]) for column in (left.behind_edges, left.among_rows, left.both))
        why = f"{_row_words(true_deg, faces, rose)} {_left_words(season, left, row)}"
        figures = (f"{along:.4f}", f"{across:.4f}", face, f"{onto:.4f}", *(f"{each:.4f}" for each in shares))
        lines.append((block.name, label, f"{bearing:.1f}", *figures, why))
    return lines


def _by_wind(faces: tuple[Face, ...], rose: WindRose) -> list[tuple[float, str]]:
    """The share of the drying wind that blows onto each face, and the face; the most first."""
    return sorted(((windward(face.normal_true_deg, rose), face.name) for face in faces), reverse=True)


def _row_words(true_deg: float, faces: tuple[Face, ...], rose: WindRose) -> str:
    (onto, face), (other, next_face), *_ = _by_wind(faces, rose)
    more_across = across_share(true_deg, rose) - along_share(true_deg, rose)
    lies = "as much along as across" if abs(more_across) < ALIKE else "mostly across" if more_across > 0 else "mostly along"
    if onto - other < ALIKE:
        meets = f"the {face} and the {next_face} face get about the same of it, {100 * onto:.0f} and {100 * other:.0f} %"
    else:
        meets = f"{100 * onto:.0f} % of it blows onto the {face} face, {100 * other:.0f} % onto the {next_face} face"
    return f"The drying wind blows {lies} this row; {meets}."


def _left_words(season: Season, left: WindLeft, row: int) -> str:
    behind, among, both = (100 * float(column[row]) for column in (left.behind_edges, left.among_rows, left.both))
    if not season.edges or behind >= 99.5:
        return f"Among the rows {among:.0f} % of it is left."
    return f"Behind tall edges {behind:.0f} % of it is left, among the rows {among:.0f} %: {both:.0f} % in all."


def _meets(from_deg: float, bearing_deg: float | None) -> tuple[str, str, str]:
    """How squarely wind meets the rows, the face it blows onto, and both in words."""
    if bearing_deg is None:
        return "", "", ""
    side = float(np.sin(np.radians(from_deg - bearing_deg)))
    if abs(side) < np.sin(np.radians(_STEP_DEG / 2)):
        return f"{abs(side):.4f}", "", "along the rows"
    face = compass_word((bearing_deg + (90.0 if side > 0 else -90.0)) % 360.0)
    how = "straight" if abs(side) > np.cos(np.radians(_STEP_DEG)) else "aslant"
    return f"{abs(side):.4f}", face, f"{how} onto the {face} face"
