"""New numbers for the rows of a block, in the order in which they lie."""

from __future__ import annotations

import numpy as np

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.ground.block import Block
from vinemap.ground.rowmaker import letters_of
from vinemap.ground.vines import row_frame_m, usual_bearing_deg

TOWARD_DEG = {"north": 0.0, "east": 90.0, "south": 180.0, "west": 270.0}
OPPOSITE = {"north": "south", "east": "west", "south": "north", "west": "east"}
FLATTEST_DEG = 15.0
"""Rows that run this near to a direction can't be told apart by it."""
_SAME_LINE = 0.25


def renumbered(block: Block, first: int, step: int, from_side: str) -> tuple[str, ...]:
    """New labels, one for each row in the order of the table: ``first``, ``first + step`` ... from a side of the block.

    ``from_side``: north, east, south or west. Pieces of one line keep one number, the later ones with a letter, from the end
    where vine 1 stands. Raises InputError when the numbers or the side can't be used.
    """
    if first < 0 or step < 1:
        raise InputError(
            f"Rows can't be numbered from {first} in steps of {step}.", "Begin at 0 or more, in steps of 1 or more."
        )
    groups = lines_across(block, from_side)
    labels = [""] * len(block.rows)
    for number, group in enumerate(groups):
        for piece, row in enumerate(group):
            labels[row] = f"{first + number * step}{letters_of(piece)}"
    return tuple(labels)


def across_sign(bearing_deg: float, from_side: str) -> float:
    """1 where going away from a side goes to the right of rows of this bearing [degrees], -1 to the left.

    Raises InputError when the rows run that way themselves.
    """
    if from_side not in TOWARD_DEG:
        raise InputError(f"“{from_side}” is not a side.", f"Use one of {', '.join(TOWARD_DEG)}.")
    away_deg = TOWARD_DEG[OPPOSITE[from_side]]
    turn = float(np.cos(np.radians(away_deg - bearing_deg - 90.0)))
    if abs(turn) < np.sin(np.radians(FLATTEST_DEG)):
        others = ("west", "east") if from_side in ("north", "south") else ("north", "south")
        raise InputError(
            f"The rows run at {bearing_deg % 360.0:.0f}°, so none is nearer to the {from_side}.",
            f"Number them from the {others[0]} or from the {others[1]}.",
        )
    return float(np.sign(turn))


def lines_across(block: Block, from_side: str) -> list[list[int]]:
    """Rows in the order in which they lie from a side; pieces of one line stand together, in order along it.

    Raises InputError when the rows run toward that side.
    """
    bearing_deg = usual_bearing_deg(block.rows)
    sign = across_sign(bearing_deg, from_side)
    ends = [_ends(block.rows.line_m(row), bearing_deg) for row in range(len(block.rows))]
    order = sorted(range(len(ends)), key=lambda row: (sign * ends[row][2], ends[row][0]))
    groups: list[list[int]] = []
    for row in order:
        group = next((group for group in groups[-1:] if _go_on(ends, group, row, block.row_spacing_m)), None)
        if group is None:
            groups.append([row])
        else:
            group.append(row)
    first = block.rows.line_m(order[0]) if order else np.zeros((2, 2))
    step = first[-1] - first[0]
    backward = -1.0 if row_frame_m(step[:1], step[1:], bearing_deg)[0][0] < 0 else 1.0
    return [sorted(group, key=lambda row: backward * ends[row][0]) for group in groups]


def _ends(line_m: Floats, bearing_deg: float) -> tuple[float, float, float]:
    """Lowest and highest distance along [m] and the mean across [m] of a row."""
    along, across = row_frame_m(line_m[:, 0], line_m[:, 1], bearing_deg)
    return float(along.min()), float(along.max()), float((across.min() + across.max()) / 2.0)


def _go_on(ends: list[tuple[float, float, float]], group: list[int], row: int, row_spacing_m: float) -> bool:
    """Does a row lie on the line of the others, before or behind all of them?"""
    low, high, across = ends[row]
    is_level = abs(across - ends[group[0]][2]) < _SAME_LINE * row_spacing_m
    return is_level and all(low >= ends[each][1] or high <= ends[each][0] for each in group)
