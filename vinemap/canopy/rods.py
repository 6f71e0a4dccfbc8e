"""Rods passed through the fruit zone: what each touched, as it was typed in, and the figures that follow."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vinemap.errors import InputError, TooFewData

LEAF, CLUSTER, GAP = "L", "C", "G"
USUAL_RODS = 50
"""Rods that a figure should rest on (Smart & Robinson 1991)."""
MOST_TOUCHED = 40
"""More leaves and clusters than any rod meets: then two rods were written as one."""


@dataclass(frozen=True, slots=True)
class RodNote:
    """Rods of one place on one day: ``insertions`` such as ("LCL", "", "LL"), L a leaf, C a cluster, "" a gap.

    ``row``: "" for the whole block. Source: point quadrat of Smart & Robinson 1991, Sunlight into Wine.
    """

    block: str
    row: str
    date: dt.date
    insertions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Quadrat:
    """Figures of point quadrat: ``rods`` and ``gaps`` counted; ``layers``: leaves touched by a rod;

    ``interior_leaf_frac``, ``interior_cluster_frac``: share 0..1 that lies inside, NaN where there was none to judge.
    """

    rods: int
    gaps: int
    layers: float
    interior_leaf_frac: float
    interior_cluster_frac: float

    @property
    def gap_frac(self) -> float:
        """Share 0..1 of the rods that touched neither leaf nor cluster."""
        return self.gaps / self.rods


def read_insertions(text: str) -> tuple[str, ...]:
    """Insertions written one after the other, as “LCL G L LL”: L a leaf, C a cluster, G for a rod that touched nothing.

    Blanks, commas, semicolons, points in the middle, strokes and bars part them; small letters do as well.
    Raises InputError.
    """
    parts = re.sub(r"[\s,;·•|/]+", " ", text).upper().split()
    if not parts:
        raise InputError("No rods are written.", "Write what each touched, for example LCL G L LL.")
    for part in parts:
        if part != GAP and set(part) - {LEAF, CLUSTER}:
            raise InputError(
                f"“{part}” is not what a rod can touch.",
                "Write L for a leaf, C for a cluster, G for a rod that touched nothing.",
            )
        if len(part) > MOST_TOUCHED:
            raise InputError(
                f"A rod can't touch {len(part)} leaves and clusters.", "Put a blank between one rod and the next."
            )
    return tuple("" if part == GAP else part for part in parts)


def written_insertions(insertions: Sequence[str]) -> str:
    """Insertions as ``read_insertions`` takes them."""
    return " ".join(each or GAP for each in insertions)


def point_quadrat(insertions: Sequence[str]) -> Quadrat:
    """Layers, gaps and what lies inside, of insertions such as ("LCL", "", "LL"). Raises TooFewData where there is none.

    A leaf is exterior where it is the first or the last leaf of its rod; a cluster where no leaf lies before it or none
    behind it. Shoots do not count. Source: Smart & Robinson 1991, Sunlight into Wine.
    """
    if not insertions:
        raise TooFewData("No rods were passed through these vines.", f"Pass {USUAL_RODS} or so and write what each touched.")
    leaves = sum(each.count(LEAF) for each in insertions)
    clusters = sum(each.count(CLUSTER) for each in insertions)
    inner_leaves = sum(max(each.count(LEAF) - 2, 0) for each in insertions)
    # between the first and the last leaf: what lies outside them has no leaf on one side
    inner_clusters = sum(each.strip(CLUSTER).count(CLUSTER) for each in insertions)
    return Quadrat(
        len(insertions),
        sum(not each for each in insertions),
        leaves / len(insertions),
        inner_leaves / leaves if leaves else np.nan,
        inner_clusters / clusters if clusters else np.nan,
    )


def quadrat_words(quadrat: Quadrat) -> str:
    """The figures in a line, with how much they rest on."""
    parts = [f"{quadrat.layers:.1f} layers of leaves", f"{100 * quadrat.gap_frac:.0f} % gaps"]
    inside = ((quadrat.interior_leaf_frac, "leaves"), (quadrat.interior_cluster_frac, "clusters"))
    parts += [f"{100 * share:.0f} % of the {what} inside" for share, what in inside if not np.isnan(share)]
    few = f"; {USUAL_RODS} are usual" if quadrat.rods < USUAL_RODS else ""
    rods = "1 rod" if quadrat.rods == 1 else f"{quadrat.rods} rods"
    return f"{', '.join(parts)} ({rods}{few})"
