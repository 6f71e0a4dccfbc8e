"""Rods passed through the fruit zone: what each touched, as it was typed in."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RodNote:
    """Rods of one place on one day: ``insertions`` such as ("LCL", "", "LL"), L a leaf, C a cluster, "" a gap.

    ``row``: "" for the whole block. Source: point quadrat of Smart & Robinson 1991, Sunlight into Wine.
    """

    block: str
    row: str
    date: dt.date
    insertions: tuple[str, ...]
