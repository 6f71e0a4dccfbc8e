"""Stops that lie a little beside their row are moved to its nearest vine."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from vinemap.columns import Floats
from vinemap.errors import VinemapError
from vinemap.files.cells import Refused
from vinemap.files.coordinates import known_system
from vinemap.files.geojson import is_drawn
from vinemap.files.kinds import kind_of
from vinemap.files.matching import read_heads
from vinemap.files.mending import Mending
from vinemap.files.placing import local_points
from vinemap.files.projection import from_projected, to_lonlat, to_system
from vinemap.files.repairs import SNAP, Mended, Moves
from vinemap.files.stop_reader import StopDraft, read_stops
from vinemap.files.table import records_as_written, table_text
from vinemap.files.table_repairs import MendedText, write_record
from vinemap.ground.block import Block
from vinemap.ground.locate import nearest_block, nearest_vine
from vinemap.ground.snapping import snap, snap_to_row
from vinemap.ground.vines import place_vines
from vinemap.season.value import Season
from vinemap.service.matched import Agreed


@dataclass(frozen=True, slots=True, eq=False)
class Move:
    """A stop and the place (2,) [m] of the vine it is moved to."""

    draft: StopDraft
    to_m: Floats
    what: str


def stops_to_move(path: Path, season: Season, agreed: Agreed, left_out: Collection[str], mend: Mending) -> list[Move]:
    """Stops of a file to be moved: of those that were ``left_out``, by their place in it, for lying beside their row, and
    those that name another row than the nearest. Its shapes were read by ``mend`` before."""
    try:
        is_table = not is_drawn(path)
        if not (is_table or path in mend.row_named) or not (left_out or mend.row_named.get(path) or _names_rows(path)):
            return []
        if kind_of(path) not in ("stops", "mixed"):
            return []
        drafts = read_stops(path, agreed.crs, mend).value
    except VinemapError:
        # it is refused in words where it is read
        return []
    asked = [each for each in drafts if each.entry.place in left_out or each.entry.text("row")]
    return moves_of(asked, season, agreed.snap_m)


def points_to_move(moves: Sequence[Move], season: Season, before: Mapping[str, int]) -> Moves:
    """Where Points go, by their number in their file; ``before``: how many features stand before each of its layers."""
    return {_number(move.draft.entry.place, before): (_lonlat(move, season), move.what) for move in moves}


def _number(place: str, before: Mapping[str, int]) -> int:
    for layer, count in before.items():
        if place.startswith(f"{layer}, feature "):
            return count + _first_number(place.removeprefix(f"{layer}, feature "))
    return _first_number(place)


def _first_number(text: str) -> int:
    return int(re.findall(r"[0-9]+", text)[0])


def _names_rows(path: Path) -> bool:
    """Whether stops of a table may name a row beside a point."""
    read = read_heads(path)
    heads = {head.strip().casefold() for head in read[0]} if read is not None else set()
    return "row" in heads and bool(heads & {"lon", "x_m"})


def moves_of(drafts: Sequence[StopDraft], season: Season, most_m: float) -> list[Move]:
    """Which stops are moved, and where to: to the nearest living vine of the row they name, or else of any row, if that
    is at most ``most_m`` [m] away."""
    points = [_point(draft, season) for draft in drafts]
    offers: dict[str, list[int]] = {}
    for index, (draft, point) in enumerate(zip(drafts, points, strict=True)):
        if point is not None and (not draft.block or season.block(draft.block) is not None):
            offers.setdefault(draft.block, []).append(index)
    moves: dict[int, Move] = {}
    for name, asked in offers.items():
        offered = [block for block in season.blocks if name in ("", block.name)]
        at_m = np.array([points[index] for index in asked])
        found, away_m = nearest_block(offered, at_m[:, 0], at_m[:, 1])
        for choice in np.unique(found):
            here = np.flatnonzero(found == choice)
            for each, move in _moves_in(
                offered[int(choice)], [drafts[asked[at]] for at in here], at_m[here], away_m[here], most_m
            ):
                moves[asked[here[each]]] = move
    return [moves[index] for index in sorted(moves)]


def _moves_in(
    block: Block, drafts: Sequence[StopDraft], at_m: Floats, away_m: Floats, most_m: float
) -> Iterator[tuple[int, Move]]:
    """Moves of the stops in or beside one block, by their position in the list."""
    on = place_vines(block)
    if not len(on):
        return
    reach_m = max(block.row_spacing_m, block.vine_spacing_m)
    nearest, vine_m = nearest_vine(on, at_m[:, 0], at_m[:, 1])
    beside, distance_m = snap(on, at_m[:, 0], at_m[:, 1], most_m)
    for index, draft in enumerate(drafts):
        is_taken = bool(away_m[index] <= reach_m and vine_m[index] <= reach_m)
        vine, moved_m = int(beside[index]), float(distance_m[index])
        label = draft.entry.text("row")
        if label in block.rows.labels:
            row = block.rows.labels.index(label)
            is_taken = is_taken and bool(on.row[nearest[index]] == row)
            vine, moved_m = snap_to_row(on, row, float(at_m[index, 0]), float(at_m[index, 1]), most_m)
        if vine < 0 or is_taken:
            continue
        address = f"{block.name} / {block.rows.labels[on.row[vine]]} / {on.ordinal[vine]}"
        to_m = np.array([on.x_m[vine], on.y_m[vine]])
        yield index, Move(draft, to_m, f"the stop was moved {moved_m:.1f} m to {address}")


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


def _metres(move: Move, season: Season, crs: str) -> Floats:
    """Where a stop is moved to, in the map system that its table was read in."""
    if move.draft.lonlat_deg is not None:
        lonlat_deg = _lonlat(move, season)
        x_m, y_m = to_system(known_system(crs), lonlat_deg[:1], lonlat_deg[1:])
        return np.array([x_m[0], y_m[0]])
    frame = season.estate.frame
    return np.array([move.to_m[0] + frame.origin_x_m, move.to_m[1] + frame.origin_y_m])


def table_with_moves(path: Path, moves: Sequence[Move], season: Season, crs: str) -> MendedText | None:
    """A table of stops with these moved, None where nothing is changed; ``crs`` is the map system of its metres."""
    table = records_as_written(table_text(path)[0])
    if table is None:
        return None
    at = {move.draft.entry.place: move for move in moves}
    lines, mended = list(table.lines), []
    for record in table.records:
        move = at.get(record.place)
        if move is None:
            continue
        if "lon" in table.columns and move.draft.lonlat_deg is not None:
            place = {name: f"{part:.9f}" for name, part in zip(("lon", "lat"), _lonlat(move, season), strict=True)}
        else:
            place = {name: f"{part:.3f}" for name, part in zip(("x_m", "y_m"), _metres(move, season, crs), strict=True)}
        cells = [place.get(name, cell) for name, cell in zip(table.columns, record.cells, strict=False)]
        write_record(lines, record.start, record.end, cells, table.separator)
        mended.append(Mended(path.name, record.place, SNAP, move.what))
    return MendedText("\n".join(lines), tuple(mended)) if mended else None
