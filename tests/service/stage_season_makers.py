"""An invented season of two small blocks, A and B, for tests of growth and rot."""

from __future__ import annotations

import shapely

from vinemap.ground.block import Block
from vinemap.ground.frame import Frame
from vinemap.ground.rowmaker import make_rows
from vinemap.season.value import Estate, Season


def season_with(stages=(), varieties=("unknown",), is_southern=False):
    frame = Frame("EPSG:32610", 500000.0, 4200000.0, -35.0 if is_southern else 38.0, -123.0, 0.0)
    blocks = []
    for number, name in enumerate("AB"):
        outline = shapely.box(50 * number, 0, 50 * number + 20, 30)
        blocks.append(Block(name, outline, make_rows(outline, 0.0, 2.5, 1.5), 2.5, 1.5, varieties))
    return Season(Estate("Invented", frame, -8.0, True), tuple(blocks), stages=tuple(stages))
