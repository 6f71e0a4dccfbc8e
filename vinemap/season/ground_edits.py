"""Ground put right by hand: each edit is a function from a season to the next one, and nothing that names the ground is lost.

Rounds, passes, sprays, dates and the marks of vines follow. Where one can't, the edit is refused and says what is in the way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.ground import outline_by_hand, partition, rows_by_hand
from vinemap.ground.block import Block, RowTable, no_exceptions
from vinemap.ground.follow import Reshaped, stayed
from vinemap.ground.renumber import renumbered
from vinemap.season.edits import with_block
from vinemap.season.following import with_reshaped
from vinemap.season.value import Season

_LONGEST_NAME = 60
_OVERLAP_M2 = 1.0


def place_corner(season: Season, name: str, corner: int, to_m: Floats) -> Season:
    """The season with one corner (from 1) of a block's outline elsewhere (2,) [m]. Raises InputError."""
    block = block_named(season, name)
    return _with_outline(season, block, outline_by_hand.move_corner(block.outline, corner, to_m))


def shift_corner(season: Season, name: str, corner: int, step_m: Floats) -> Season:
    """The season with one corner (from 1) of a block's outline moved by a step (2,) [m east, north]. Raises InputError."""
    corners = outline_by_hand.corners_of(block_named(season, name).outline)
    here = corners[corner - 1] if 1 <= corner <= len(corners) else np.zeros(2)
    return place_corner(season, name, corner, here + step_m)


def add_corner(season: Season, name: str, after: int, at_m: Floats) -> Season:
    """The season with one more corner (2,) [m] in a block's outline, after another (from 1). Raises InputError."""
    block = block_named(season, name)
    return _with_outline(season, block, outline_by_hand.add_corner(block.outline, after, at_m))


def delete_corner(season: Season, name: str, corner: int) -> Season:
    """The season without one corner (from 1) of a block's outline. Raises InputError."""
    block = block_named(season, name)
    return _with_outline(season, block, outline_by_hand.delete_corner(block.outline, corner))


def split_along(season: Season, name: str, line_m: Floats, new_name: str) -> Season:
    """The season with a block cut in two along a line (k, 2) [m], the second called ``new_name``. Raises InputError."""
    block = block_named(season, name)
    new_name = free_name(season, new_name)
    return with_reshaped(season, [block.name], partition.split_along(block, line_m, new_name))


def split_after(season: Season, name: str, row: str, new_name: str) -> Season:
    """The season with a block cut in two after a row; the rows after it form the block ``new_name``. Raises InputError."""
    block = block_named(season, name)
    new_name = free_name(season, new_name)
    return with_reshaped(season, [block.name], partition.split_after(block, row, new_name))


def merge_blocks(season: Season, first: str, second: str, name: str) -> tuple[Season, tuple[tuple[str, str], ...]]:
    """The season with two blocks as one, and the rows that got another label, as (old, new). Raises InputError."""
    one, two = block_named(season, first), block_named(season, second)
    if one is two:
        raise InputError(f"{first} can't be merged with itself.", "Name two blocks.")
    if name not in (one.name, two.name):
        name = free_name(season, name)
    reshaped, relabelled = partition.merge(one, two, name)
    for other in season.blocks:
        if other is one or other is two:
            continue
        new_m2 = shapely.area(shapely.intersection(reshaped.blocks[0].outline, other.outline))
        was_m2 = sum(shapely.area(shapely.intersection(each.outline, other.outline)) for each in (one, two))
        if new_m2 > was_m2 + _OVERLAP_M2:
            raise InputError(f"Block {other.name} lies between {one.name} and {two.name}.", "Keep them as two blocks.")
    return with_reshaped(season, [one.name, two.name], reshaped), relabelled


def rename_block(season: Season, name: str, new_name: str) -> Season:
    """The season with another name for a block, wherever it stands. Raises InputError."""
    block = block_named(season, name)
    new_name = free_name(season, new_name, but=block.name)
    return _with(season, block, Reshaped((replace(block, name=new_name),), (stayed(block.rows),)))


def move_block(season: Season, name: str, east_m: float, north_m: float) -> Season:
    """The season with a block, its outline, rows and stops, moved by metres. Raises InputError."""
    block = block_named(season, name)
    return _with(season, block, rows_by_hand.move_block(block, east_m, north_m))


def move_row(season: Season, name: str, row: str, start_m: Floats, end_m: Floats) -> Season:
    """The season with the ends of a row moved by steps (2,) [m east, north], its vines spread over it. Raises InputError."""
    block = block_named(season, name)
    return _with(season, block, rows_by_hand.move_row(block, row, start_m, end_m))


def spread_vines(season: Season, name: str, rows: tuple[str, ...]) -> Season:
    """The season with the vines of rows spread evenly from end to end. Raises InputError."""
    block = block_named(season, name)
    return _with(season, block, rows_by_hand.spread_vines(block, rows))


def count_row(season: Season, name: str, row: str, count: int) -> Season:
    """The season with another number of vines in a row. Raises InputError, also where a stop would be lost."""
    block = block_named(season, name)
    return _with(season, block, rows_by_hand.count_row(block, row, count))


def add_row(season: Season, name: str, beside: str, toward_deg: float, label: str) -> Season:
    """The season with a new row beside another, on the side toward a bearing [degrees]. Raises InputError."""
    block = block_named(season, name)
    return _with(season, block, rows_by_hand.add_row(block, beside, toward_deg, checked_label(label)))


def delete_rows(season: Season, name: str, rows: tuple[str, ...]) -> Season:
    """The season without some rows. Raises InputError when stops or work name one of them."""
    block = block_named(season, name)
    return _with(season, block, rows_by_hand.delete_rows(block, rows))


def reverse_rows(season: Season, name: str, rows: tuple[str, ...]) -> Season:
    """The season with vine 1 of some rows at their other end; marks and stops stay with their vines. Raises InputError."""
    block = block_named(season, name)
    return _with(season, block, rows_by_hand.reverse_rows(block, rows))


def renumber_rows(season: Season, name: str, first: int, step: int, from_side: str) -> Season:
    """The season with new numbers for all rows of a block, from one side of it. Raises InputError."""
    block = block_named(season, name)
    return relabel_rows(season, name, renumbered(block, first, step, from_side))


def rename_row(season: Season, name: str, row: str, label: str) -> Season:
    """The season with another label for one row. Raises InputError."""
    block = block_named(season, name)
    at = rows_by_hand.row_number(block, row)
    labels = list(block.rows.labels)
    labels[at] = checked_label(label)
    return relabel_rows(season, name, labels)


def relabel_rows(season: Season, name: str, labels: Sequence[str]) -> Season:
    """The season with these labels for the rows of a block, in the order of its rows. Raises InputError."""
    block = block_named(season, name)
    if tuple(labels) == block.rows.labels:
        return season
    made = replace(block, rows=replace(block.rows, labels=tuple(labels)))
    return _with(season, block, Reshaped((made,), (stayed(block.rows),)))


def add_variety(season: Season, name: str, variety: str) -> Season:
    """The season with one more variety that vines of a block can be of. Raises InputError."""
    block = block_named(season, name)
    variety = _checked(variety, "a variety")
    if variety in block.varieties:
        return season
    if len(block.varieties) >= partition.MOST_VARIETIES:
        raise InputError(f"{name} has {partition.MOST_VARIETIES} varieties already.", "Split the block.")
    if block.varieties == ("unknown",) and not len(block.exceptions.vine[block.exceptions.variety >= 0]):
        return with_block(season, replace(block, varieties=(variety,)))
    return with_block(season, replace(block, varieties=(*block.varieties, variety)))


def with_rows(season: Season, name: str, rows: RowTable, row_spacing_m: float, vine_spacing_m: float) -> Season:
    """The season with other rows for a block on whose rows nothing stands yet. Raises InputError when something does."""
    block = block_named(season, name)
    in_the_way = what_stands_on(season, block)
    if in_the_way:
        raise InputError(
            f"{name} has {in_the_way}, which stand on its present rows.",
            "Put its rows right one by one, or begin a new season.",
        )
    made = replace(block, rows=rows, row_spacing_m=row_spacing_m, vine_spacing_m=vine_spacing_m, exceptions=no_exceptions())
    return with_block(season, made)


def what_stands_on(season: Season, block: Block) -> str:
    """What stands on the rows of a block, in words; nothing where they can be changed freely."""
    for each in season.rounds:
        if each.stops.count_in(block.name):
            return f"stops of round {each.number}"
    if any(done.block == block.name and done.rows for done in season.passes):
        return "passes on named rows"
    if any(done.block == block.name and done.rows for done in season.sprays):
        return "sprays on named rows"
    if any(note.block == block.name and note.row for note in season.rods):
        return "rods in named rows"
    return "marked vines" if len(block.exceptions.vine) else ""


def block_named(season: Season, name: str) -> Block:
    """The block of that name. Raises InputError."""
    block = season.block(name)
    if block is None:
        raise InputError(
            f"There is no block {name}.", f"The blocks are {', '.join(each.name for each in season.blocks) or 'none'}."
        )
    return block


def free_name(season: Season, name: str, but: str = "") -> str:
    """A name that a block can be given. Raises InputError."""
    name = _checked(name, "a block")
    if any(each.name.casefold() == name.casefold() and each.name != but for each in season.blocks):
        raise InputError(f"There is a block {name} already.", "Give another name.")
    return name


def checked_label(label: str) -> str:
    """A label that a row can be given. Raises InputError."""
    return _checked(label, "a row")


def _checked(name: str, of: str) -> str:
    name = name.strip()
    if not name or len(name) > _LONGEST_NAME or "/" in name or not name.isprintable():
        raise InputError(
            f"“{name[:_LONGEST_NAME]}” can't be the name of {of}.", f"Use 1 to {_LONGEST_NAME} letters, without /."
        )
    return name


def _with(season: Season, block: Block, reshaped: Reshaped) -> Season:
    return with_reshaped(season, [block.name], reshaped)


def _with_outline(season: Season, block: Block, outline: shapely.Polygon) -> Season:
    """The season with another outline for a block. Raises InputError when it would leave a row outside that was inside."""
    was = rows_by_hand.rows_inside(block.outline, block.rows, block.row_spacing_m)
    rows_by_hand.refuse_outside(outline, block.rows, was, block.row_spacing_m)
    return with_block(season, replace(block, outline=outline))
