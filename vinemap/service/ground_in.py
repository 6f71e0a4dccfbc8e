"""Outlines and rows from files, put into a season that may have blocks already."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from vinemap.files.cells import Entry
from vinemap.files.outlines import OutlineDraft
from vinemap.files.placing import place_blocks, rows_problem
from vinemap.files.projection import to_lonlat
from vinemap.files.row_lines import RowDraft
from vinemap.ground.block import Block, RowTable
from vinemap.ground.frame import Frame
from vinemap.ground.planting import STAND_IN_SPACING_M
from vinemap.season import edits
from vinemap.season.ground_edits import what_stands_on
from vinemap.season.value import Season
from vinemap.service.report import Report, counted

SAME_PLACE_M = 0.03
"""Two outlines or rows nearer than this are the same, written twice: files keep seven decimals of a degree."""
_SAME_SHARE = 1e-3
_MOST_NAMED = 4


@dataclass(frozen=True, slots=True)
class Came:
    """How many outlines and rows came in, by the name of their file."""

    outlines: Mapping[str, int]
    rows: Mapping[str, int]

    def words(self, file: str, outlines: int, rows: int) -> tuple[str, ...]:
        """How many of the outlines and rows that were read in a file came in: 2 outlines, 1 of 20 rows."""
        held = (("outline", outlines, self.outlines), ("row", rows, self.rows))
        return tuple(share_of(min(came.get(file, 0), count), count, thing) for thing, count, came in held if count)


def share_of(came: int, count: int, thing: str) -> str:
    """How many of some things came in: 20 rows, 3 of 20 rows, none of 20 rows."""
    whole = counted(count, thing)
    return whole if came == count else f"{came or 'none'} of {whole}"


@dataclass(frozen=True, slots=True, eq=False)
class _Again:
    """A block of the season that a file names: its outline there, and the rows to place in it."""

    old: Block
    outline: OutlineDraft | None
    rows: Sequence[RowDraft]
    keeps_rows: bool = False


def with_ground(
    season: Season, found_outlines: Sequence[OutlineDraft], found_rows: Sequence[RowDraft], report: Report
) -> tuple[Season, Came]:
    """The season with new blocks, with other outlines for blocks that nothing names yet, and with other rows for blocks on
    whose rows nothing stands yet; and what of the files came in."""
    same: list[str] = []
    again = {
        block.name: asked
        for block in season.blocks
        if (asked := _asked(season, block, found_outlines, found_rows, report, same)) is not None
    }
    known = {block.name for block in season.blocks}
    outlines = [draft for draft in found_outlines if draft.block not in known]
    rows = [row for row in found_rows if row.block not in known]
    for name, each in again.items():
        first = each.outline or _draft_of(season.estate.frame, each.old, each.rows)
        others = [draft for draft in found_outlines if draft.block == name] if each.outline is not None else []
        outlines += [first, *others[1:]]
        rows += each.rows
    placed = place_blocks(outlines, rows, season.estate.frame)
    kept_places = {row.entry.place for each in again.values() if each.keeps_rows for row in each.rows}
    report.problems.extend(each for each in placed.problems if each.place not in kept_places)
    made = {block.name: block for block in placed.value}
    put = {name: _put(each, made.pop(name), report, same) for name, each in again.items() if name in made}
    if same:
        report.notes.append(_same_note(list(dict.fromkeys(same))))
    # a window shows the first notes only, and what became of blocks that were there matters most
    report.notes.extend(placed.notes)
    kept = [put.get(block.name, block) for block in season.blocks]
    came = _came(found_outlines, found_rows, again, put, made)
    return edits.with_blocks(season, [*kept, *made.values()]), came


def _asked(
    season: Season,
    old: Block,
    found_outlines: Sequence[OutlineDraft],
    found_rows: Sequence[RowDraft],
    report: Report,
    same: list[str],
) -> _Again | None:
    """What files want of a block that is in the season, so far as it may be done; the rest is told, or in ``same``."""
    frame = season.estate.frame
    outlines = [draft for draft in found_outlines if draft.block == old.name]
    outline = outlines[0] if outlines else None
    rows = [row for row in found_rows if row.block == old.name]
    named_by = _what_names(season, old)
    if outline is not None and named_by:
        for draft in outlines:
            if _same_outline(old, _placed([replace(_completed(draft, old), bearing_deg=None)], [], frame)):
                same.append(old.name)
                continue
            why = f"a block of this name is already in the season, with {named_by}"
            do = "Put its corners right one by one, or give the new one another name."
            report.problems.append(draft.entry.problem("block", old.name, why, do))
        outline = None
    stands = what_stands_on(season, old)
    if rows and stands:
        if _same_rows(old, _placed([_draft_of(frame, old, rows)], rows, frame)):
            same.append(old.name)
        else:
            why = f"the block already has {stands}, which stand on its present rows"
            report.problems.append(rows_problem(rows, why, "Put its rows right one by one, or begin a new season."))
        rows = []
    if outline is not None:
        outline = _completed(outline, old)
        if not rows and len(old.rows) and not _says_other_rows(outline, old):
            return _Again(old, outline, _rows_of(frame, old, outline.entry), keeps_rows=True)
    return _Again(old, outline, rows) if outline is not None or rows else None


def _same_note(names: Sequence[str]) -> str:
    if len(names) > _MOST_NAMED:
        return f"{len(names)} blocks stand in the season already as the files have them."
    stand = "stands" if len(names) == 1 else "stand"
    return f"{', '.join(names)} {stand} in the season already, as the files have it."


def _what_names(season: Season, block: Block) -> str:
    """What is written against a block, in words; nothing where its outline can be replaced."""
    stands = what_stands_on(season, block)
    if stands:
        return stands
    if any(each.block == block.name for each in season.passes):
        return "passes"
    if any(each.block == block.name for each in season.sprays):
        return "sprays"
    return "notes of rods" if any(each.block == block.name for each in season.rods) else ""


def _completed(draft: OutlineDraft, old: Block) -> OutlineDraft:
    """An outline with what the season knows of its block, where the file is silent."""
    row_spacing_m, vine_spacing_m = _told_spacings(old)
    has_varieties = draft.entry.text("varieties") or draft.entry.text("variety")
    return replace(
        draft,
        row_spacing_m=draft.row_spacing_m or row_spacing_m,
        vine_spacing_m=draft.vine_spacing_m or vine_spacing_m,
        varieties=draft.varieties if has_varieties else old.varieties,
        training=draft.training if draft.entry.text("training") else old.training,
        vigour=draft.vigour if draft.entry.text("vigour") else old.vigour,
        wall=draft.wall or old.wall,
        lie_deg=draft.lie_deg or (old.slope_deg, old.aspect_deg),
    )


def _told_spacings(block: Block) -> tuple[float | None, float | None]:
    """Spacings [m] of a block; none where they only stand in until it has rows."""
    spacings = block.row_spacing_m, block.vine_spacing_m
    return (None, None) if not len(block.rows) and spacings == STAND_IN_SPACING_M else spacings


def _says_other_rows(outline: OutlineDraft, old: Block) -> bool:
    """Whether an outline says how its rows run and that they stand otherwise than they do."""
    if outline.bearing_deg is None:
        return False
    return (outline.row_spacing_m, outline.vine_spacing_m) != (old.row_spacing_m, old.vine_spacing_m)


def _put(asked: _Again, made: Block, report: Report, same: list[str]) -> Block:
    """The block as it is now, what the files can't say kept; the old one itself where nothing is new."""
    old, name = asked.old, asked.old.name
    if asked.keeps_rows:
        if made.rows.labels != old.rows.labels and asked.outline is not None:
            outside = counted(len(old.rows) - len(made.rows), "row")
            why = f"{outside} of the block would lie outside this outline"
            do = "Bring in its rows with it, or put the corners right."
            report.problems.append(asked.outline.entry.problem("block", name, why, do))
            return old
        if (made.row_spacing_m, made.vine_spacing_m) != (old.row_spacing_m, old.vine_spacing_m):
            stay = f"{name}: its rows stay {old.row_spacing_m:g} m apart, with vines every {old.vine_spacing_m:g} m"
            report.notes.append(f"{stay}; for the spacings of the file make them again.")
        made = replace(made, rows=old.rows, row_spacing_m=old.row_spacing_m, vine_spacing_m=old.vine_spacing_m)
    elif asked.rows and not len(made.rows) and (len(old.rows) or asked.outline is None):
        # each row was refused, which is told
        return old
    has_same_outline, has_same_rows = _same_outline(old, made), _same_rows(old, made)
    if has_same_outline and has_same_rows:
        same.append(name)
        return old
    if asked.outline is not None and not has_same_outline:
        report.notes.append(f"{name}: its outline was replaced.")
    if len(old.rows) and not has_same_rows:
        report.notes.append(f"{name}: its {counted(len(old.rows), 'row')} gave way to {len(made.rows):,} from the file.")
    return made


def _came(
    outlines: Sequence[OutlineDraft],
    rows: Sequence[RowDraft],
    again: Mapping[str, _Again],
    put: Mapping[str, Block],
    new: Mapping[str, Block],
) -> Came:
    """What came in of each file: an outline or row counts once, and not where the season stayed as it was."""
    changed = {name: block for name, block in put.items() if block is not again[name].old}
    first = {draft.block: draft for draft in reversed(outlines)}
    with_outline = {*new, *(name for name in changed if again[name].outline is not None)}
    free = {(name, label) for name, block in {**changed, **new}.items() for label in block.rows.labels}
    free -= {(name, label) for name, label in free if name in again and again[name].keeps_rows}
    of_rows: Counter[str] = Counter()
    for row in rows:
        if (row.block, row.row) in free:
            free.remove((row.block, row.row))
            of_rows[row.entry.file] += 1
    return Came(Counter(draft.entry.file for name, draft in first.items() if name in with_outline), of_rows)


def _placed(outlines: Sequence[OutlineDraft], rows: Sequence[RowDraft], frame: Frame) -> Block | None:
    """The block that an outline and its rows make, to compare it; None where they make none, or not all of it."""
    placed = place_blocks(outlines, rows, frame)
    return placed.value[0] if placed.value and not placed.problems else None


def _same_outline(old: Block, new: Block | None) -> bool:
    if new is None or shapely.hausdorff_distance(old.outline, new.outline) > SAME_PLACE_M:
        return False
    figures = (old.row_spacing_m, old.vine_spacing_m, old.vigour), (new.row_spacing_m, new.vine_spacing_m, new.vigour)
    rest = [(each.varieties, each.training, each.wall, each.slope_deg, each.aspect_deg) for each in (old, new)]
    return rest[0] == rest[1] and bool(np.allclose(*figures, rtol=_SAME_SHARE, atol=0.0))


def _same_rows(old: Block, new: Block | None) -> bool:
    if new is None or old.rows.labels != new.rows.labels:
        return False
    one, other = old.rows, new.rows
    if not (np.array_equal(one.start, other.start) and np.array_equal(one.vine_count, other.vine_count)):
        return False
    is_near = bool((abs(one.xy_m - other.xy_m) < SAME_PLACE_M).all())
    return is_near and bool(np.allclose(one.vine_spacing_m, other.vine_spacing_m, rtol=_SAME_SHARE))


def _draft_of(frame: Frame, block: Block, rows: Sequence[RowDraft]) -> OutlineDraft:
    """The outline of a block as if it had just been read, to place rows in it."""
    outline: shapely.Polygon = block.outline
    rings = tuple(
        np.column_stack(to_lonlat(frame, *np.array(ring.coords).T)) for ring in (outline.exterior, *outline.interiors)
    )
    entry = Entry(rows[0].entry.file, f"block {block.name}", {})
    spacings = _told_spacings(block)
    draft = OutlineDraft(entry, block.name, rings, *spacings, None, block.varieties, block.training, block.vigour)
    return _completed(draft, block)


def _rows_of(frame: Frame, block: Block, of: Entry) -> list[RowDraft]:
    """The rows of a block as if they had just been read, to see whether they lie in another outline."""
    table: RowTable = block.rows
    lon, lat = to_lonlat(frame, table.xy_m[:, 0], table.xy_m[:, 1])
    points = np.column_stack([lon, lat])
    return [
        RowDraft(
            Entry(of.file, f"row {label} of {block.name} in the season", {}),
            block.name,
            label,
            points[table.start[row] : table.start[row + 1]],
            float(table.vine_spacing_m[row]),
            int(table.vine_count[row]),
        )
        for row, label in enumerate(table.labels)
    ]
