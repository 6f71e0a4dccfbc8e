"""From spans to pieces of work that a crew can walk: one run of spans in a row."""

from __future__ import annotations

import numpy as np

from vinemap.columns import Floats


def best_run(gain: Floats, hours: Floats, worth_per_hour: float) -> tuple[int, int] | None:
    """The run of neighbouring spans [first, last] that gains most beyond what its hours are worth elsewhere.

    ``gain`` (n,) and ``hours`` (n,) of the spans of one row in order; ``worth_per_hour`` is what an hour saves elsewhere.
    None where no span is worth its hours. The run is the maximum-sum stretch of gain - worth * hours (Bentley 1984,
    Communications of the ACM 27:865).
    """
    surplus = gain - worth_per_hour * hours
    best_sum, best = 0.0, None
    running, start = 0.0, 0
    for index, value in enumerate(surplus):
        if running <= 0.0:
            running, start = 0.0, index
        running += float(value)
        if running > best_sum:
            best_sum, best = running, (start, index)
    return best


def row_slices(row: np.ndarray) -> list[tuple[int, slice]]:
    """(row index, slice of its spans) for spans that stand in row order."""
    if len(row) == 0:
        return []
    cuts = np.flatnonzero(np.diff(row)) + 1
    starts = np.concatenate([[0], cuts])
    ends = np.concatenate([cuts, [len(row)]])
    return [(int(row[start]), slice(int(start), int(end))) for start, end in zip(starts, ends, strict=True)]
