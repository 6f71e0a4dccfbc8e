"""Spans in a plain grid, for the tests beside this file."""

import numpy as np

from vinemap.work.epidemic import Growth
from vinemap.work.gains import Drivers
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


def drivers(spans: int, days: int = 28, **changes) -> Drivers:
    values = {
        "growth": Growth(np.full(days, 0.08), np.ones((days, spans)), 0.3),
        "opened": np.zeros((days, spans)),
        "new_open": np.ones(days),
        "cover": np.zeros((days, spans)),
        "new_cover": np.linspace(1.0, 0.0, days),
        "burn": (np.zeros(spans), np.zeros(spans)),
        "closed": np.ones(spans),
        "is_too_hot": False,
        "spray_stop": "",
    }
    return Drivers(**(values | changes))
