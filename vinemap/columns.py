"""Column tables: frozen records whose fields are read-only numpy columns of one length."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int32]
Bytes = npt.NDArray[np.int8]
Bools = npt.NDArray[np.bool_]
Seconds = npt.NDArray[np.int64]


def zeros_where_empty(record: Any, like: str, *names: str) -> None:
    """Fill the named fields of a frozen record that were left empty with zeros, as many as ``like`` has."""
    for name in names:
        if not len(getattr(record, name)):
            object.__setattr__(record, name, np.zeros(len(getattr(record, like))))


def nothing() -> npt.NDArray[Any]:
    """A column that was left empty."""
    return np.empty(0, np.int8)


def freeze(record: Any, **kinds: Any) -> None:
    """Turn the named fields of a frozen record into contiguous read-only columns of the dtypes given.

    Raises ValueError when the columns differ in length: that is a defect, not bad input.
    """
    lengths = set()
    for name, kind in kinds.items():
        column = np.ascontiguousarray(getattr(record, name), dtype=kind)
        if column.flags.writeable:
            column = column.copy() if column is getattr(record, name) else column
            column.setflags(write=False)
        object.__setattr__(record, name, column)
        lengths.add(len(column))
    if len(lengths) > 1:
        raise ValueError(f"columns of {type(record).__name__} differ in length: {sorted(lengths)}")
