"""Spans in a plain grid, for the tests beside this file."""

import numpy as np

from vinemap.work.spans import Spans


def row_of_spans(rows: int, per_row: int, length_m: float = 15.0, row_spacing_m: float = 2.5) -> Spans:
    row = np.repeat(np.arange(rows), per_row)
    place = np.tile(np.arange(per_row), rows)
    return Spans(
        row=row,
        first_vine=place * 10 + 1,
        last_vine=place * 10 + 10,
        living=np.full(len(row), 10),
        along_m=place * length_m + length_m / 2,
        across_m=row * row_spacing_m,
        length_m=np.full(len(row), length_m),
        of_vine=np.repeat(np.arange(len(row)), 10),
    )
