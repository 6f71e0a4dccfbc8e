"""On invented blocks of many kinds: the map is as sure as it should be and tells fresh counts better than common practice."""

from __future__ import annotations

import numpy as np
import pytest
from proof_methods import MEAN, PEERS, beta_binomial, fit_beta_binomial, usual_variogram
from proof_scores import Judged, judge, mean_of, reliability
from proof_worlds import KINDS, LEVELS, World, world

METHOD = "binomial"
SEEDS = range(2)
Marks = dict[str, dict[str, list[Judged]]]


@pytest.fixture(scope="module")
def worlds() -> dict[str, list[World]]:
    return {kind: [world(seed, kind) for seed in SEEDS] for kind in KINDS}


@pytest.fixture(scope="module")
def marks(worlds: dict[str, list[World]]) -> Marks:
    """Marks by method and kind of truth."""
    return {method: {kind: [judge(method, block) for block in worlds[kind]] for kind in KINDS} for method in (METHOD, *PEERS)}


def of_all(marks: Marks, method: str, leave_out: tuple[str, ...] = ()) -> list[Judged]:
    return [mark for kind, each in marks[method].items() if kind not in leave_out for mark in each]


def test_worlds_are_what_their_names_say(worlds: dict[str, list[World]]) -> None:
    for kind, blocks in worlds.items():
        for block in blocks:
            assert 15 <= len(block.stop) <= 150
            assert len(np.unique(block.stop)) == len(block.stop)
            assert (block.infected <= block.examined).all()
            assert not np.isin(block.fresh, block.stop).any()
            if kind in LEVELS:
                assert block.truth.mean() == pytest.approx(LEVELS[kind], rel=1e-6)
            assert (np.ptp(block.truth) < 1e-12) == (kind == "one share")
    again = world(1, "foci")
    np.testing.assert_array_equal(again.infected, worlds["foci"][1].infected)
    assert world(2, "foci").is_targeted.sum() == len(world(2, "foci").stop) // 4


def test_suspected_vines_are_worse_than_those_by_rule() -> None:
    blocks = [world(seed, "15 %", stops=60) for seed in (2, 5, 8)]
    for block in blocks:
        share = block.truth[block.stop]
        assert share[block.is_targeted].mean() > 1.3 * share[~block.is_targeted].mean()


def test_the_beta_binomial_of_common_practice_is_right() -> None:
    # chances of all counts of five clusters add up to one
    counts = np.arange(6.0)
    chance = np.exp(beta_binomial(np.full(6, 5.0), counts, np.array(0.3), np.array(0.2)))
    assert chance.sum() == pytest.approx(1.0, abs=1e-12)
    # mean n p, variance n p (1 - p) (1 + (n - 1) spread): Skellam 1948, J. R. Stat. Soc. B 10:257
    mean = float(chance @ counts)
    assert mean == pytest.approx(1.5, abs=1e-12)
    assert chance @ (counts - mean) ** 2 == pytest.approx(5 * 0.3 * 0.7 * (1 + 4 * 0.2), abs=1e-12)
    rng = np.random.default_rng(3)
    infected = rng.binomial(20, rng.beta(2.0, 6.0, 4000)).astype(float)
    found = fit_beta_binomial(np.full(4000, 20.0), infected)
    assert found == pytest.approx((0.25, 1.0 / 9.0), abs=0.012)


def test_the_variogram_of_common_practice_finds_a_known_one() -> None:
    rng = np.random.default_rng(4)
    places_m = rng.uniform(0.0, 250.0, (500, 2))
    apart_m = np.hypot(*(places_m[:, None] - places_m).transpose(2, 0, 1))
    root = np.linalg.cholesky(0.7 * np.exp(-3.0 * apart_m / 40.0) + 0.3 * np.eye(500))
    curves = [usual_variogram(places_m, root @ rng.standard_normal(500)) for _ in range(20)]
    figures = np.array([(curve.nugget, curve.sill, np.log(curve.range_m)) for curve in curves if curve is not None])
    assert len(figures) == 20
    # one draw says little (its range is off by half), so the mean of twenty, within three of its standard errors
    miss = figures.mean(axis=0) - (0.3, 1.0, np.log(40.0))
    assert (np.abs(miss) < 3.0 * figures.std(axis=0) / np.sqrt(20)).all()
    assert figures[:, 2].std() / np.sqrt(20) < 0.15


def test_nine_in_ten_vines_lie_in_the_ninety_percent_interval(marks: Marks) -> None:
    # where all vines are alike to the last digit every interval with a width holds them all
    ours = of_all(marks, METHOD, leave_out=("one share",))
    assert 0.85 <= mean_of(ours, "held") <= 0.95
    assert mean_of(ours, "clean_held") >= 0.85
    assert min(mark.held for mark in of_all(marks, METHOD)) > 0.6


def test_fresh_counts_are_told_better_than_by_common_practice(marks: Marks) -> None:
    ours = mean_of(of_all(marks, METHOD), "log_chance")
    for peer in PEERS:
        assert ours > mean_of(of_all(marks, peer), "log_chance"), peer


def test_no_kind_of_truth_costs_much_against_the_blocks_own_share(marks: Marks) -> None:
    for kind in KINDS:
        ours, plain = (mean_of(marks[method][kind], "log_chance") for method in (METHOD, MEAN))
        assert ours > plain - 0.05, kind


@pytest.mark.parametrize("name", ["brier_10", "brier_5", "rmse"])
def test_chances_and_shares_miss_less_than_common_practice(marks: Marks, name: str) -> None:
    ours = mean_of(of_all(marks, METHOD), name)
    for peer in PEERS:
        assert ours < mean_of(of_all(marks, peer), name), peer


def test_what_is_said_to_be_likely_comes_as_often(marks: Marks) -> None:
    said, came, vines = reliability(of_all(marks, METHOD))
    assert vines.sum() > 10_000
    assert np.abs(said - came)[vines > 300].max() < 0.12
    assert (np.diff(came) > 0.0).all()
