"""Outlines and rows from files, put into a season that may have blocks already."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from vinemap.files.cells import Entry
from vinemap.files.outlines import OutlineDraft
from vinemap.files.placing import place_blocks
from vinemap.files.projection import to_lonlat
from vinemap.files.row_lines import RowDraft
from vinemap.ground.block import Block
from vinemap.season import edits
from vinemap.season.value import Season
from vinemap.service.report import Report, counted


def with_ground(
    season: Season, found_outlines: Sequence[OutlineDraft], found_rows: Sequence[RowDraft], report: Report
) -> Season:
    """The season with new blocks, and with other rows for blocks on whose rows nothing stands yet."""
    known = {block.name: block for block in season.blocks}
    new = [draft for draft in found_outlines if draft.block not in known]
    for draft in found_outlines:
        if draft.block in known:
            why = "a block of this name is already in the season"
            report.problems.append(
                draft.entry.problem("block", draft.block, why, "Give it another name, or remove the old one.")
            )
    waiting = {row.block for row in found_rows} & set(known)
    free = {name for name in waiting if _may_change_rows(season, known[name])}
    for name in sorted(waiting - free):
        rows = [row for row in found_rows if row.block == name]
        why = "the block already has stops, marked vines or work, which stand on its present rows"
        do = f"{counted(len(rows), 'row')} left out. Begin a new season for them."
        report.problems.append(rows[0].entry.problem("block", name, why, do))
    outlines = new + [_draft_of(season, known[name], found_rows) for name in sorted(free)]
    rows = [row for row in found_rows if row.block not in waiting - free]
    placed = place_blocks(outlines, rows, season.estate.frame)
    report.problems.extend(placed.problems)
    report.notes.extend(placed.notes)
    made = {block.name: block for block in placed.value}
    kept = [made.pop(block.name, block) for block in season.blocks]
    return edits.with_blocks(season, [*kept, *made.values()])


def _may_change_rows(season: Season, block: Block) -> bool:
    has_stops = any(each.stops.count_in(block.name) for each in season.rounds)
    named = [(each.block, each.rows) for each in season.passes] + [(each.block, each.rows) for each in season.sprays]
    has_work = any(name == block.name and rows for name, rows in named)
    return not has_stops and not has_work and not len(block.exceptions.vine)


def _draft_of(season: Season, block: Block, rows: Sequence[RowDraft]) -> OutlineDraft:
    """The outline of a block as if it had just been read, to place rows in it."""
    outline: shapely.Polygon = block.outline
    rings = tuple(
        np.column_stack(to_lonlat(season.estate.frame, *np.array(ring.coords).T))
        for ring in (outline.exterior, *outline.interiors)
    )
    entry = Entry(rows[0].entry.file, f"block {block.name}", {})
    return OutlineDraft(
        entry,
        block.name,
        rings,
        block.row_spacing_m,
        block.vine_spacing_m,
        None,
        block.varieties,
        block.training,
        block.vigour,
    )
