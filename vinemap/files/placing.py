"""Outlines and rows from files become blocks on the estate's frame."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import InputError, Problem
from vinemap.files.cells import Entry, Refused, keep_good
from vinemap.files.geojson import ring_problem
from vinemap.files.outlines import OutlineDraft
from vinemap.files.projection import to_local
from vinemap.files.row_lines import RowDraft
from vinemap.files.text import Read
from vinemap.ground.block import Block, RowTable, Wall, no_rows
from vinemap.ground.frame import Frame
from vinemap.ground.planting import STAND_IN_SPACING_M, odd_spacings
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.vines import row_frame_m, usual_bearing_deg

FURTHEST_M = 50_000.0
_FULL_DEG_M = 111_320.0
SPREAD_LEAST_M, SPREAD_MOST = 0.03, 0.001
"""Less is the rounding of places to 7 decimals of a degree; more is a row that goes on beyond its last vine."""
_COUNT_SLACK = 1e-6
NO_ROWS = "it has no rows yet. Bring them in, or make them from the outline: Make rows on step Ground, or vinemap rows."
_NO_SPACING, _ADD_SPACING = "neither the row nor its block gives a vine spacing", "Add it, in metres."
_NO_ROW_USED = "none of its rows can be used. See what was said about them."
_FIRST_TO_LAST = "Draw a row from its first vine to its last."


def place_blocks(outlines: Sequence[OutlineDraft], rows: Sequence[RowDraft], frame: Frame) -> Read[tuple[Block, ...]]:
    """Blocks of the outlines with their rows in the order of the file; rows are made where an outline says how they run.

    Left out with a problem: a second outline of a name, a second row of a label, a row without block or outside it.
    """
    problems: list[Problem] = []
    notes: list[str] = []
    first: dict[str, OutlineDraft] = {}
    for outline in outlines:
        if outline.block in first:
            why = f"there is already a block of this name, at {first[outline.block].entry.place}"
            problems.append(outline.entry.problem("block", outline.block, why, "Give each block its own name."))
        else:
            first[outline.block] = outline
    of_block: dict[str, list[RowDraft]] = {name: [] for name in first}
    for row in rows:
        of_block.setdefault(row.block, []).append(row)
    for name, strays in of_block.items():
        if name not in first:
            do = f"The blocks are {', '.join(first) or 'none'}."
            problems.append(rows_problem(strays, "there is no outline of this block", do))
    blocks, refused = keep_good(
        ((outline.entry, outline) for outline in first.values()),
        lambda outline: _block(outline, of_block[outline.block], frame, problems, notes),
    )
    came = {block.name for block in blocks}
    for name in first:
        if name not in came and of_block[name]:
            do = "Mend its outline and bring both in again."
            refused.append(rows_problem(of_block[name], "the outline of this block was left out", do))
    return Read(tuple(blocks), (*problems, *refused), tuple(notes))


def rows_problem(rows: Sequence[RowDraft], why: str, do: str, field: str = "block") -> Problem:
    """The one problem of leaving out rows of one block, with their number; it stands where the first of them does."""
    if len(rows) > 1:
        why = f"{why}; {len(rows):,} rows of the block were left out"
    return rows[0].entry.problem(field, rows[0].block if field == "block" else "", why, do)


def local_points(frame: Frame, points_deg: Floats) -> Floats:
    """Points (k, 2) [m] of lon, lat (k, 2) [degrees]. Raises Refused when they lie far from the estate."""
    away = _distance_m(frame, points_deg)
    if away.max() > FURTHEST_M:
        far = points_deg[np.argmax(away)]
        shown = f"[{far[0]:.7g}, {far[1]:.7g}]"
        if _distance_m(frame, points_deg[:, ::-1]).max() < FURTHEST_M:
            do = "Put longitude first, then latitude."
            raise Refused("geometry", shown, "latitude and longitude seem to be swapped", do)
        why = f"lies {away.max() / 1000:,.0f} km from the rest of the estate"
        raise Refused("geometry", shown, why, "Check its position, or keep it in a season of its own.")
    try:
        return np.column_stack(to_local(frame, points_deg[:, 0], points_deg[:, 1]))
    except InputError as error:
        raise Refused("geometry", "", error.what.rstrip("."), error.do) from error


def local_points_each(frame: Frame, lines_deg: Sequence[Floats]) -> list[Floats | Refused]:
    """What ``local_points`` makes of each of many lines, or why it refused it; fast where most are good."""
    if not lines_deg:
        return []
    try:
        points = local_points(frame, np.concatenate(lines_deg))
    except Refused as refused:
        half = len(lines_deg) // 2
        if not half:
            return [refused]
        return local_points_each(frame, lines_deg[:half]) + local_points_each(frame, lines_deg[half:])
    end = np.cumsum([len(line) for line in lines_deg]).tolist()
    return [points[first:last] for first, last in zip([0, *end], end, strict=False)]


def _distance_m(frame: Frame, points_deg: Floats) -> Floats:
    """About how far (k,) [m] points (k, 2) [degrees] lie from the frame's origin, over a sphere (haversine)."""
    lat, lat_0 = np.radians(points_deg[:, 1]), np.radians(frame.lat_deg)
    half_lon = np.radians(points_deg[:, 0] - frame.lon_deg) / 2.0
    chord = np.sin((lat - lat_0) / 2.0) ** 2 + np.cos(lat) * np.cos(lat_0) * np.sin(half_lon) ** 2
    distance: Floats = 2.0 * np.degrees(np.arcsin(np.sqrt(np.clip(chord, 0.0, 1.0)))) * _FULL_DEG_M
    return distance


def _block(draft: OutlineDraft, rows: list[RowDraft], frame: Frame, problems: list[Problem], notes: list[str]) -> Block:
    rings = [local_points(frame, ring) for ring in draft.rings]
    outline = shapely.Polygon(rings[0], rings[1:])
    wrong = ring_problem(outline)
    if wrong:
        raise Refused("geometry", "Polygon", wrong, "Move the points so that the line runs once around the block.")
    table = _placed_rows(draft, rows, outline, frame, problems, notes) if rows else _made_rows(draft, outline, notes)
    if not len(table):
        usual_row_m, usual_vine_m = STAND_IN_SPACING_M
        spacings = (draft.row_spacing_m or usual_row_m, draft.vine_spacing_m or usual_vine_m)
        notes.extend(_odd(draft.block, *spacings))
        return _drawn(draft, outline, table, *spacings)
    row_spacing_m = draft.row_spacing_m
    if row_spacing_m is None:
        row_spacing_m = measured_row_spacing_m(table)
        if row_spacing_m is None:
            raise Refused("row_spacing_m", "", "can’t be measured from the rows", "Add it to the outline, in metres.")
        notes.append(f"{draft.block}: row spacing {row_spacing_m:.2f} m was measured from its rows.")
    vine_spacing_m = draft.vine_spacing_m or float(np.median(table.vine_spacing_m))
    notes.extend(_odd(draft.block, row_spacing_m, vine_spacing_m))
    return _drawn(draft, outline, table, row_spacing_m, vine_spacing_m)


def _drawn(
    draft: OutlineDraft, outline: shapely.Polygon, rows: RowTable, row_spacing_m: float, vine_spacing_m: float
) -> Block:
    slope_deg, aspect_deg = draft.lie_deg or (0.0, 0.0)
    return Block(
        draft.block,
        outline,
        rows,
        row_spacing_m,
        vine_spacing_m,
        draft.varieties,
        draft.training,
        draft.vigour,
        wall=draft.wall or Wall(),
        slope_deg=slope_deg,
        aspect_deg=aspect_deg,
    )


def _odd(block: str, row_spacing_m: float, vine_spacing_m: float) -> list[str]:
    return [f"{block}: {each}" for each in odd_spacings(row_spacing_m, vine_spacing_m)]


def measured_row_spacing_m(rows: RowTable) -> float | None:
    """Usual distance [m] between neighbouring rows, by their middles; None for fewer than two rows side by side."""
    middles = np.array([rows.line_m(row).mean(axis=0) for row in range(len(rows))])
    _, across = row_frame_m(middles[:, 0], middles[:, 1], usual_bearing_deg(rows))
    gaps = np.diff(np.sort(across))
    gaps = gaps[gaps > 0.3]
    return float(np.median(gaps)) if len(gaps) else None


def _made_rows(draft: OutlineDraft, outline: shapely.Polygon, notes: list[str]) -> RowTable:
    """Rows made from the outline where it says how they run; none where it does not. Raises Refused."""
    bearing_deg, row_spacing_m, vine_spacing_m = draft.bearing_deg, draft.row_spacing_m, draft.vine_spacing_m
    if bearing_deg is None or row_spacing_m is None or vine_spacing_m is None:
        notes.append(f"{draft.block}: {NO_ROWS}")
        return no_rows()
    try:
        rows = make_rows(outline, bearing_deg, row_spacing_m, vine_spacing_m)
    except InputError as error:
        raise Refused("row", "", error.what.rstrip("."), error.do) from error
    notes.append(f"{draft.block}: {len(rows)} rows were made from the outline; read the real ones when they are mapped.")
    return rows


def _placed_rows(
    draft: OutlineDraft,
    rows: list[RowDraft],
    outline: shapely.Polygon,
    frame: Frame,
    problems: list[Problem],
    notes: list[str],
) -> RowTable:
    if draft.vine_spacing_m is None and all(row.vine_spacing_m is None for row in rows):
        problems.append(rows_problem(rows, _NO_SPACING, _ADD_SPACING, "vine_spacing_m"))
        notes.append(f"{draft.block}: {_NO_ROW_USED}")
        return no_rows()
    seen: dict[str, Entry] = {}
    placed: list[tuple[Floats, float, int]] = []
    reach = outline.buffer(draft.row_spacing_m or 3.0)
    shapely.prepare(reach)
    lines = _lines_m(rows, frame)
    good = [line for line in lines if not isinstance(line, Refused)]
    which = np.repeat(np.arange(len(good)), [len(line) for line in good])
    drawn = shapely.linestrings(np.concatenate([np.empty((0, 2)), *good]), indices=which)
    asked = zip(drawn, shapely.contains_properly(reach, drawn).tolist(), shapely.length(drawn).tolist(), strict=True)
    of_row = [line if isinstance(line, Refused) else (line, *next(asked)) for line in lines]

    def place(index: int) -> None:
        row, found = rows[index], of_row[index]
        if row.row in seen:
            why = f"the block already has a row of this label, at {seen[row.row].place}"
            raise Refused("row", row.row, why, "Give each row of a block its own label.")
        if isinstance(found, Refused):
            raise found
        line, shape, is_inside, length_m = found
        if not is_inside:
            outside_m = shapely.length(shapely.difference(shape, reach))
            why = f"{outside_m:.0f} m of its {length_m:.0f} m lie outside the outline of {draft.block}"
            raise Refused("geometry", "LineString", why, "Move the row or the outline, or name the block it belongs to.")
        placed.append((line, *spacing_and_count(row.vine_spacing_m or draft.vine_spacing_m, row.vines, length_m)))
        seen[row.row] = row.entry

    _, refused = keep_good(((row.entry, index) for index, row in enumerate(rows)), place)
    problems.extend(refused)
    if not placed:
        notes.append(f"{draft.block}: {_NO_ROW_USED}")
        return no_rows()
    start = np.concatenate([[0], np.cumsum([len(line) for line, _, _ in placed])])
    spacings, counts = np.array([spacing for _, spacing, _ in placed]), np.array([count for _, _, count in placed])
    return RowTable(tuple(seen), np.concatenate([line for line, _, _ in placed]), start, spacings, counts)


def _lines_m(rows: Sequence[RowDraft], frame: Frame) -> list[Floats | Refused]:
    """Points (k, 2) [m] of each row, or why they can't be used."""
    lines = local_points_each(frame, [row.line for row in rows])
    for index, line in enumerate(lines):
        if isinstance(line, Refused) or (len(line) == 2 and line[0, 0] != line[1, 0]):
            continue
        # a point drawn twice adds nothing to the line and has no direction
        once = line[np.concatenate([[True], (line[1:] != line[:-1]).any(axis=1)])]
        lines[index] = once if len(once) > 1 else Refused("geometry", "LineString", "is a single point", _FIRST_TO_LAST)
    return lines


def spacing_and_count(spacing_m: float | None, vines: int | None, length_m: float) -> tuple[float, int]:
    """Vine spacing [m] and vine places of a row ``length_m`` [m] long; ``vines`` where they were counted. Raises Refused."""
    if spacing_m is None:
        raise Refused("vine_spacing_m", "", _NO_SPACING, _ADD_SPACING)
    count = vines or int(np.floor(length_m / spacing_m + _COUNT_SLACK)) + 1
    if (count - 1) * spacing_m > length_m + 1.5 * spacing_m:
        why = f"{count} vines every {spacing_m:g} m need {(count - 1) * spacing_m:.0f} m but the row is {length_m:.0f} m long"
        raise Refused("vines", str(count), why, "Check the count, the spacing and the ends of the row.")
    return _spread(spacing_m, count, length_m), count


def _spread(spacing_m: float, count: int, length_m: float) -> float:
    """The spacing at which the last vine stands at the end of its row, where it nearly does already.

    Lengths on the map differ from those on the ground by up to 1 in 1,000 (Snyder 1987, USGS Professional Paper 1395): over a
    long row whole vines. The mapped ends are right; the spacing of the file says only how many vines stand between.
    """
    over_m = length_m - (count - 1) * spacing_m
    if count < 2 or not SPREAD_LEAST_M < abs(over_m) <= SPREAD_MOST * length_m:
        return spacing_m
    return length_m / (count - 1)
