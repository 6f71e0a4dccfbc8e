"""Where to look next in a block: one walk for the window, for paper and for a phone."""

from __future__ import annotations

import numpy as np

from vinemap.ground.block import Block, Vines
from vinemap.scouting.walk import Walk, plan_walk
from vinemap.season.value import Season
from vinemap.surface.field import Field

WALK_STOPS, LEAST_VINES_A_STOP = 36, 4


def next_walk(season: Season, block: Block, vines: Vines, field: Field | None) -> Walk:
    """The next walk of a block; the same one as long as its last round is the same."""
    seed = len(season.rounds) * 1000 + [each.name for each in season.blocks].index(block.name)
    most = -(-int(vines.is_living.sum()) // LEAST_VINES_A_STOP)
    high = field.high if field is not None else None
    return plan_walk(vines, high, min(WALK_STOPS, most), np.random.default_rng(seed))
