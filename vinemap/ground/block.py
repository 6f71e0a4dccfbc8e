"""Blocks, rows and the vines that are not as the row says, as columns."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely

from vinemap.columns import Bools, Bytes, Floats, Ints, freeze

LIVING, MISSING, DEAD, REPLANT = 0, 1, 2, 3
STATUS_WORDS = ("living", "missing", "dead", "replant")
SPAN_VINES = 10
"""Vines in a span, the smallest piece of work that is planned (design default)."""

WALL, FREE = "row wall", "free-standing"
TRAININGS = (WALL, FREE)


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class RowTable:
    """Rows of one block. Row ``i`` runs through ``xy_m[start[i]:start[i + 1]]``; vine 1 stands at its first point.

    ``labels``: n unique labels; ``xy_m``: (k, 2) [m]; ``start``: (n + 1,) offsets into ``xy_m``;
    ``vine_spacing_m``: (n,) [m] along the row; ``vine_count``: (n,) places, living or not.
    """

    labels: tuple[str, ...]
    xy_m: Floats
    start: Ints
    vine_spacing_m: Floats
    vine_count: Ints

    def __post_init__(self) -> None:
        freeze(self, xy_m=np.float64)
        freeze(self, start=np.int32)
        freeze(self, vine_spacing_m=np.float64, vine_count=np.int32)
        if len(self.start) != len(self.labels) + 1 or len(self.vine_count) != len(self.labels):
            raise ValueError("rows: labels, offsets and columns do not match")

    def __len__(self) -> int:
        return len(self.labels)

    def line_m(self, row: int) -> Floats:
        """Points (k, 2) [m] of row number ``row``, from vine 1 on."""
        return self.xy_m[self.start[row] : self.start[row + 1]]


def no_rows() -> RowTable:
    """The rows of a block of which only the outline is known."""
    nothing = np.empty(0)
    return RowTable((), np.empty((0, 2)), np.zeros(1, np.int32), nothing, nothing.astype(np.int32))


@dataclass(frozen=True, slots=True, eq=False)
class VineExceptions:
    """Vines that differ from what their block and row say.

    ``vine``: (k,) ascending index of the vine in the block (rows in order, vine 1 first); ``status``: (k,) code;
    ``variety``: (k,) index into the block's varieties, or -1 for the block's first variety.
    """

    vine: Ints
    status: Bytes
    variety: Bytes

    def __post_init__(self) -> None:
        freeze(self, vine=np.int32, status=np.int8, variety=np.int8)


def no_exceptions() -> VineExceptions:
    """Every vine is as its row says."""
    return VineExceptions(np.empty(0, np.int32), np.empty(0, np.int8), np.empty(0, np.int8))


@dataclass(frozen=True, slots=True)
class Wall:
    """The row wall, or the height and width of a free-standing vine: its top, width and the height of its fruit [m].

    Each default is a stated assumption for an old, vigorous vine; the block's own are entered on step Ground.
    """

    top_m: float = 1.8
    width_m: float = 0.8
    fruit_m: float = 1.0


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Block:
    """A block: outline (with holes) [m], rows, spacing [m], varieties, training, vigour 0..1 (0.5 is usual).

    ``slope_deg`` [degrees from level], ``aspect_deg``: the bearing [degrees] down the slope; level where nobody said.
    """

    name: str
    outline: shapely.Polygon
    rows: RowTable
    row_spacing_m: float
    vine_spacing_m: float
    varieties: tuple[str, ...] = ("unknown",)
    training: str = WALL
    vigour: float = 0.5
    exceptions: VineExceptions = field(default_factory=no_exceptions)
    wall: Wall = field(default_factory=Wall)
    slope_deg: float = 0.0
    aspect_deg: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Vines:
    """Every vine place of a block, rows in order.

    ``row``: (n,) index of the row; ``ordinal``: (n,) from 1; ``x_m``, ``y_m``: (n,) [m] east and north;
    ``along_m``, ``across_m``: (n,) [m] in the block's row frame (along its usual row bearing, across to the right);
    ``status``: (n,) code; ``variety``: (n,) index into the block's varieties. ``row_start``: (rows + 1,) offsets, so that
    vine ``k`` of row ``r`` is number ``row_start[r] + k - 1``.
    """

    row: Ints
    ordinal: Ints
    x_m: Floats
    y_m: Floats
    along_m: Floats
    across_m: Floats
    status: Bytes
    variety: Bytes
    row_start: Ints

    def __post_init__(self) -> None:
        freeze(
            self,
            row=np.int32,
            ordinal=np.int32,
            x_m=np.float64,
            y_m=np.float64,
            along_m=np.float64,
            across_m=np.float64,
            status=np.int8,
            variety=np.int8,
        )
        freeze(self, row_start=np.int32)

    def __len__(self) -> int:
        return len(self.row)

    @property
    def is_living(self) -> Bools:
        """(n,) true where a vine can carry fruit: living or replant."""
        living: Bools = (self.status == LIVING) | (self.status == REPLANT)
        return living
