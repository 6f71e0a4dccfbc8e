"""An invented scout: where she stops in each round and what she counts there, from the true incidence of those vines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from dice import draw_counts, pick

from vinemap.columns import Bools, Floats, Ints
from vinemap.ground.block import Block, Vines

EXAMINED, EXAMINED_SHARES = np.array([10, 12, 15, 20]), (0.70, 0.12, 0.12, 0.06)
LEAVES = 10


@dataclass(frozen=True, eq=False)
class Counts:
    """Stops of one block in one round: ``vine`` (n,) index in the block and what was counted there."""

    vine: Ints
    is_targeted: Bools
    examined: Ints
    infected: Ints
    leaves_examined: Ints
    leaves_infected: Ints


def stops_wanted(area_ha: float) -> int:
    """Stops in a block: 47 in one hectare, more in a larger one but fewer to the hectare (110 in 14 ha)."""
    return round(47.0 * float(area_ha**0.32))


def _systematic(vines: Vines, wanted: int, rng: np.random.Generator) -> Ints:
    """Every k-th row from a random start, and in those rows every m-th living vine from a random start."""
    rows = int(vines.row[-1]) + 1
    step = max(1, round(rows / (1.6 * float(np.sqrt(wanted)))))
    chosen = vines.row % step == int(rng.random() * step)
    walk = np.flatnonzero(chosen & vines.is_living)
    gap = len(walk) / wanted
    return walk[((np.arange(wanted) + rng.random()) * gap).astype(np.int64)].astype(np.int32)


def _targeted(vines: Vines, before: Counts | None, wary: Floats, wanted: int, rng: np.random.Generator) -> Ints:
    """Vines near the worst stops of the last round; in the first round, vines in shade and shelter."""
    if before is None:
        worst = np.argsort(-np.round(wary, 6), kind="stable")
        return worst[(rng.random(wanted) * len(worst) * 0.08).astype(np.int64)].astype(np.int32)
    share = before.infected / before.examined
    worst = before.vine[np.argsort(-share, kind="stable")][: max(3, wanted // 2)]
    around = worst[np.arange(wanted) % len(worst)]
    along = vines.along_m[around] + 24.0 * (rng.random(wanted) - 0.5)
    across = vines.across_m[around] + 12.0 * (rng.random(wanted) - 0.5)
    away = np.hypot(vines.along_m[None, :] - along[:, None], vines.across_m[None, :] - across[:, None])
    away[:, ~vines.is_living] = np.inf
    return np.argmin(np.round(away, 6), axis=1).astype(np.int32)


def count_stops(
    block: Block, vines: Vines, incidence: Floats, before: Counts | None, wary: Floats, rng: np.random.Generator
) -> Counts:
    """A round in one block: two thirds of the stops by rule, one third where trouble is expected; then the counts.

    ``incidence`` (n,) is the true share of clusters with mildew; ``wary`` (n,) where a scout who knows the block looks first.
    """
    wanted = stops_wanted(block.outline.area / 10_000)
    by_rule = _systematic(vines, round(wanted * 2 / 3), rng)
    wary = np.where(vines.is_living, wary, -np.inf)
    by_eye = np.setdiff1d(_targeted(vines, before, wary, wanted - len(by_rule), rng), by_rule)
    vine = np.concatenate([by_rule, by_eye])
    targeted = np.arange(len(vine)) >= len(by_rule)
    order = np.argsort(vine, kind="stable")
    vine, targeted = vine[order].astype(np.int32), targeted[order]
    examined = EXAMINED[pick(rng, len(vine), EXAMINED_SHARES)].astype(np.int32)
    leaves = np.full(len(vine), LEAVES, np.int32)
    on_leaves = 1.0 - (1.0 - incidence[vine]) ** 1.3
    return Counts(
        vine,
        targeted,
        examined,
        draw_counts(rng, examined, incidence[vine]),
        leaves,
        draw_counts(rng, leaves, on_leaves),
    )
