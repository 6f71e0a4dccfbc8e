"""Stops that lie a little beside their row are moved to its nearest vine, in a copy of their file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from vinemap.columns import Floats
from vinemap.errors import VinemapError
from vinemap.files.cells import Refused
from vinemap.files.geojson import is_json, read_json
from vinemap.files.ground_reader import read_ground
from vinemap.files.kinds import kind_of
from vinemap.files.placing import local_points
from vinemap.files.projection import from_projected, to_lonlat
from vinemap.files.repairs import SNAP, Mended, MendedText, move_points
from vinemap.files.stop_reader import StopDraft, read_stops
from vinemap.files.table import records_as_written, table_text
from vinemap.files.table_repairs import write_record
from vinemap.ground.block import Block, Vines
from vinemap.ground.locate import nearest_block, nearest_vine
from vinemap.ground.snapping import snap, snap_to_row
from vinemap.ground.vines import place_vines
from vinemap.season.value import Season


@dataclass(frozen=True, slots=True, eq=False)
class Move:
    """A stop and the place (2,) [m] of the vine it is moved to."""

    draft: StopDraft
    to_m: Floats
    what: str


def snapped(path: Path, season: Season, most_m: float) -> MendedText | None:
    """A file of stops with those moved that would be left out for lying beside their row, or that name another row."""
    try:
        kind = kind_of(path)
        if kind == "stops":
            drafts: Sequence[StopDraft] = read_stops(path).value
        elif kind == "mixed":
            drafts = read_ground(path).value.stops
        else:
            return None
        content = read_json(path)[0] if is_json(path) else None
        moves = moves_of(drafts, season, most_m)
        if not moves:
            return None
        if content is None:
            return _moved_lines(path, moves, season)
    except VinemapError:
        # it is refused in words where it is read
        return None
    if content.get("type") != "FeatureCollection":
        return None
    places = {int(re.findall(r"[0-9]+", move.draft.entry.place)[0]): move for move in moves}
    return move_points(path.name, content, {number: (_lonlat(move, season), move.what) for number, move in places.items()})


def moves_of(drafts: Sequence[StopDraft], season: Season, most_m: float) -> list[Move]:
    """Which stops are moved, and where to: to the nearest living vine of the row they name, or else of any row, if that
    is at most ``most_m`` [m] away."""
    vines: dict[str, Vines] = {}
    moves = []
    for draft in drafts:
        point = _point(draft, season)
        offered = [block for block in season.blocks if draft.block in ("", block.name)]
        if point is None or not offered:
            continue
        x_m, y_m = point[:1], point[1:]
        found, away_m = nearest_block(offered, x_m, y_m)
        block = offered[int(found[0])]
        if block.name not in vines:
            vines[block.name] = place_vines(block)
        move = _move(draft, block, vines[block.name], point, float(away_m[0]), most_m)
        if move is not None:
            moves.append(move)
    return moves


def _move(draft: StopDraft, block: Block, on: Vines, point: Floats, away_m: float, most_m: float) -> Move | None:
    if not len(on):
        return None
    x_m, y_m = point[:1], point[1:]
    reach_m = max(block.row_spacing_m, block.vine_spacing_m)
    nearest, vine_m = nearest_vine(on, x_m, y_m)
    is_taken = away_m <= reach_m and float(vine_m[0]) <= reach_m
    label = draft.entry.text("row")
    row = block.rows.labels.index(label) if label in block.rows.labels else -1
    if row >= 0:
        if is_taken and on.row[nearest[0]] == row:
            return None
        vine, distance_m = snap_to_row(on, row, float(point[0]), float(point[1]), most_m)
    else:
        if is_taken:
            return None
        vines, distances_m = snap(on, x_m, y_m, most_m)
        vine, distance_m = int(vines[0]), float(distances_m[0])
    if vine < 0:
        return None
    address = f"{block.name} / {block.rows.labels[on.row[vine]]} / {on.ordinal[vine]}"
    to_m = np.array([on.x_m[vine], on.y_m[vine]])
    return Move(draft, to_m, f"the stop was moved {distance_m:.1f} m to {address}")


def _point(draft: StopDraft, season: Season) -> Floats | None:
    """Where a stop lies (2,) [m]; None where it names its vine, or lies far from the estate."""
    frame = season.estate.frame
    if draft.row:
        return None
    if draft.easting_m is not None:
        return np.array(from_projected(frame, *draft.easting_m))
    try:
        return local_points(frame, np.array([draft.lonlat_deg])).reshape(2)
    except Refused:
        return None


def _lonlat(move: Move, season: Season) -> Floats:
    lon, lat = to_lonlat(season.estate.frame, move.to_m[:1], move.to_m[1:])
    return np.array([lon[0], lat[0]])


def _moved_lines(path: Path, moves: Sequence[Move], season: Season) -> MendedText | None:
    table = records_as_written(table_text(path)[0])
    if table is None:
        return None
    at = {move.draft.entry.place: move for move in moves}
    frame = season.estate.frame
    lines, mended = list(table.lines), []
    for record in table.records:
        move = at.get(record.place)
        if move is None:
            continue
        if move.draft.lonlat_deg is not None:
            place = {name: f"{part:.9f}" for name, part in zip(("lon", "lat"), _lonlat(move, season), strict=True)}
        else:
            there_m = move.to_m + np.array([frame.origin_x_m, frame.origin_y_m])
            place = {name: f"{part:.3f}" for name, part in zip(("x_m", "y_m"), there_m, strict=True)}
        cells = [place.get(name, cell) for name, cell in zip(table.columns, record.cells, strict=False)]
        write_record(lines, record.start, record.end, cells, table.separator)
        mended.append(Mended(path.name, record.place, SNAP, move.what))
    return MendedText("\n".join(lines), tuple(mended)) if mended else None
