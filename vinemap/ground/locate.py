"""From a place on the ground to a block and a vine."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from scipy.spatial import cKDTree

from vinemap.columns import Floats, Ints
from vinemap.errors import InputError
from vinemap.ground.block import Block, Vines


def nearest_block(blocks: Sequence[Block], x_m: Floats, y_m: Floats) -> tuple[Ints, Floats]:
    """Index (n,) of the block that holds each place (n,) [m] or lies nearest, and its distance (n,) [m], 0 inside.

    Raises InputError when there are no blocks.
    """
    if not blocks:
        raise InputError("There are no blocks yet.", "Read the outlines and rows first.")
    places = shapely.points(np.asarray(x_m, np.float64), np.asarray(y_m, np.float64))
    distance_m = np.stack([shapely.distance(block.outline, places) for block in blocks])
    nearest = np.argmin(distance_m, axis=0)
    return nearest.astype(np.int32), np.take_along_axis(distance_m, nearest[None, :], axis=0)[0]


def nearest_vine(vines: Vines, x_m: Floats, y_m: Floats) -> tuple[Ints, Floats]:
    """Index (n,) of the vine nearest to each place (n,) [m], and its distance (n,) [m].

    Only vines that can carry fruit are offered, unless there are none. Raises InputError when there are no vine places.
    """
    if len(vines) == 0:
        raise InputError("The block has no vines.", "Read or make its rows first.")
    offered = np.flatnonzero(vines.is_living) if vines.is_living.any() else np.arange(len(vines))
    # rows are even enough: halving by middles is made in a fraction of the time that halving by medians takes
    tree = cKDTree(np.column_stack([vines.x_m[offered], vines.y_m[offered]]), balanced_tree=False, compact_nodes=False)
    distance_m, found = tree.query(np.column_stack([x_m, y_m]))
    return offered[np.asarray(found)].astype(np.int32), np.asarray(distance_m, np.float64)


def vine_index(rows: Sequence[str], counts: Ints, row: str, vine: int) -> int:
    """Number of a vine in its block, from its row label and ordinal. ``counts``: (n,) vine places of each row.

    Raises InputError when the row or the vine is not there.
    """
    if row not in rows:
        raise InputError(f"There is no row {row}.", "Use a row label as it stands on the map.")
    index = list(rows).index(row)
    if not 1 <= vine <= counts[index]:
        raise InputError(f"Row {row} has vines 1 to {counts[index]}, not {vine}.", "Count from the end where vine 1 stands.")
    return int(np.sum(counts[:index])) + vine - 1
