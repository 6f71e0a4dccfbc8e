"""Spans: runs of vines inside a row, as columns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vinemap.columns import Floats, Ints, freeze
from vinemap.ground.block import SPAN_VINES, Vines


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """Spans of one block, rows in order.

    ``row``: (n,) index of the row; ``first_vine``, ``last_vine``: (n,) ordinals; ``living``: (n,) vines that can carry
    fruit; ``along_m``, ``across_m``: (n,) [m] of the middle in the block's row frame; ``length_m``: (n,) [m];
    ``of_vine``: (vines,) the span of each vine place.
    """

    row: Ints
    first_vine: Ints
    last_vine: Ints
    living: Ints
    along_m: Floats
    across_m: Floats
    length_m: Floats
    of_vine: Ints

    def __post_init__(self) -> None:
        freeze(
            self,
            row=np.int32,
            first_vine=np.int32,
            last_vine=np.int32,
            living=np.int32,
            along_m=np.float64,
            across_m=np.float64,
            length_m=np.float64,
        )
        freeze(self, of_vine=np.int32)

    def __len__(self) -> int:
        return len(self.row)


def spans_of(vines: Vines, vine_spacing_m: Floats) -> Spans:
    """Cut every row into spans of ten vines, the last one as short as it comes. Spacing (rows,) [m] gives their length."""
    in_row = (vines.ordinal - 1) // SPAN_VINES
    key = vines.row.astype(np.int64) * (1 + int(in_row.max(initial=0))) + in_row
    _, first, of_vine, count = np.unique(key, return_index=True, return_inverse=True, return_counts=True)
    total = len(first)

    def mean(column: Floats) -> Floats:
        means: Floats = np.bincount(of_vine, column, total) / count
        return means

    return Spans(
        row=vines.row[first],
        first_vine=vines.ordinal[first],
        last_vine=vines.ordinal[first] + count - 1,
        living=np.bincount(of_vine, vines.is_living, total).astype(np.int32),
        along_m=mean(vines.along_m),
        across_m=mean(vines.across_m),
        length_m=count * vine_spacing_m[vines.row[first]],
        of_vine=of_vine,
    )
