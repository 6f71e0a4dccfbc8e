"""How the proof judges a map: against the truth of invented vines, and against counts that it has not seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from proof_methods import Case, Told, told
from proof_worlds import FRESH_CLUSTERS, World

BINS = np.array([0.0, 0.02, 0.1, 0.3, 0.6, 0.9, 1.0])
CLEAN = 0.05


@dataclass(frozen=True)
class Judged:
    """One map's marks.

    ``held``: share of vines whose truth lies in the 90 % interval; ``clean``: vines that are truly below 5 %, ``clean_held``:
    how many of them lie in it; ``rmse``, ``bias`` of the share; ``brier_10``, ``brier_5`` of the chance to be above;
    ``log_chance`` of fresh counts, mean; ``said``, ``came``, ``vines`` (bins,): chances above 10 %, and what came of them.
    """

    held: float
    clean: int
    clean_held: int
    rmse: float
    bias: float
    brier_10: float
    brier_5: float
    log_chance: float
    said: np.ndarray
    came: np.ndarray
    vines: np.ndarray


def case_of(block: World) -> tuple[Case, np.ndarray]:
    """The world's counts and all its vines as a case, fresh counts at some; and which vines those are (n,)."""
    examined, infected = np.zeros(len(block.truth)), np.zeros(len(block.truth))
    examined[block.fresh], infected[block.fresh] = FRESH_CLUSTERS, block.fresh_infected
    is_fresh = examined > 0
    case = Case(block.stops_m, block.examined, block.infected, block.vines_m, examined, infected, block.bearing_deg)
    return case, is_fresh


def judge(method: str, block: World) -> Judged:
    """Make the map of a world by a method and judge it by every vine that had no stop."""
    case, is_fresh = case_of(block)
    return judged(told(method, case), block, is_fresh)


def judged(said: Told, block: World, is_fresh: np.ndarray) -> Judged:
    """Marks of what was said of all vines of a world."""
    other = np.ones(len(block.truth), bool)
    other[block.stop] = False
    truth = block.truth[other]
    is_held = (truth >= said.low[other] - 1e-12) & (truth <= said.high[other] + 1e-12)
    miss = said.share[other] - truth
    chance, is_above = np.clip(said.above_10[other], 0.0, 1.0), truth > 0.10
    place = np.clip(np.digitize(chance, BINS) - 1, 0, len(BINS) - 2)
    vines = np.bincount(place, minlength=len(BINS) - 1)
    sums = [np.bincount(place, column, minlength=len(BINS) - 1) for column in (chance, is_above.astype(float))]
    is_clean = truth < CLEAN
    return Judged(
        float(is_held.mean()),
        int(is_clean.sum()),
        int(is_held[is_clean].sum()),
        float(np.sqrt((miss**2).mean())),
        float(miss.mean()),
        float(((chance - is_above) ** 2).mean()),
        float(((said.above_5[other] - (truth > 0.05)) ** 2).mean()),
        float(said.log_chance[is_fresh].mean()),
        sums[0],
        sums[1],
        vines,
    )


def mean_of(marks: Sequence[Judged], name: str) -> float:
    """Mean of one mark over maps; ``clean_held`` as a share of all clean vines."""
    if name == "clean_held":
        return sum(mark.clean_held for mark in marks) / max(sum(mark.clean for mark in marks), 1)
    return float(np.mean([getattr(mark, name) for mark in marks]))


def reliability(marks: Sequence[Judged]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mean chance said, share that came true, and vines (bins,), over all maps."""
    said, came, vines = (sum(columns) for columns in zip(*((m.said, m.came, m.vines) for m in marks), strict=True))
    return said / np.maximum(vines, 1), came / np.maximum(vines, 1), vines


def left_out_log_chance(
    method: str, places_m: np.ndarray, examined: np.ndarray, infected: np.ndarray, folds: int = 10
) -> np.ndarray:
    """Log chance (n,) of each count at places (n, 2) [m] in rows running north, by a map made anew without its fold."""
    fold = np.random.default_rng(7).permutation(len(examined)) % folds
    log_chance = np.empty(len(examined))
    for number in range(folds):
        out = fold == number
        stops, left = ([column[which] for column in (places_m, examined, infected)] for which in (~out, out))
        log_chance[out] = told(method, Case(*stops, *left)).log_chance
    return log_chance
