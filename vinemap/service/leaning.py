"""What a block with few stops may lean on: the pattern of other blocks in the round, and its own in the round before."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vinemap.errors import TooFewData
from vinemap.ground.block import Block
from vinemap.ground.vines import usual_bearing_deg
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.value import Season
from vinemap.surface.binomial import read_binomial
from vinemap.surface.counts import pool_counts
from vinemap.surface.pattern import WEAK, Habit, pooled_habit

if TYPE_CHECKING:
    from vinemap.service.answers import BlockRead

FEW_STOPS = 25
"""Below so many stops a block's own counts hardly tell how far mildew reaches (a choice)."""
MOST_NAMED = 3


def has_few_stops(scouted: Round, block: Block) -> bool:
    """Whether the block has stops in the round, but few."""
    return 0 < scouted.stops.count_in(block.name) < FEW_STOPS


def round_before(season: Season, scouted: Round) -> Round | None:
    """The last round before another, by date."""
    earlier = [each for each in season.rounds if each.date < scouted.date]
    return max(earlier, key=lambda each: (each.date, each.number), default=None)


def habit_for(block: Block, before: Round | None, others: dict[str, BlockRead]) -> Habit:
    """What a pattern is likely to be in a block with few stops, from the blocks that have many and from the round before."""
    learned, names = [], []
    for name, read in others.items():
        if read.field is not None and len(read.stops) >= FEW_STOPS and read.field.recipe.learned[0]:
            learned.append(read.field.recipe.learned)
            names.append(name)
    if before is not None and before.stops.count_in(block.name) >= FEW_STOPS:
        try:
            learned.append(_learned(block, before.stops.of_block(block.name)))
            names.append(f"this block in round {before.number}")
        except TooFewData:
            pass
    return pooled_habit(learned, _listed(names)) if learned else WEAK


def _learned(block: Block, stops: Stops) -> tuple[tuple[float, ...], tuple[float, ...]]:
    stops_m = np.column_stack([stops.x_m, stops.y_m])
    counts = pool_counts(stops_m, stops.examined.astype(np.float64), stops.infected.astype(np.float64))
    middle, sd = read_binomial(counts, usual_bearing_deg(block.rows)).learned
    return tuple(float(each) for each in middle), tuple(float(each) for each in sd)


def _listed(names: list[str]) -> str:
    if len(names) > MOST_NAMED:
        return f"{', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more"
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
