"""Choosing between the ways to make a map."""

from __future__ import annotations

import numpy as np
import pytest
from made_up import BEARING_DEG, made_up_block

from vinemap.errors import Cancelled
from vinemap.surface.binomial import read_binomial
from vinemap.surface.choose import BINOMIAL, BLOCK, INVERSE_DISTANCE, KRIGING, LEAST_STOPS, WORDS, choose, chosen
from vinemap.surface.counts import Counts

ALL = (BINOMIAL, KRIGING, INVERSE_DISTANCE, BLOCK)


def choice_of(block):
    counts = Counts(block.stops_m, block.examined, block.infected)
    return choose(counts, read_binomial(counts, BEARING_DEG), BEARING_DEG, 2.0, 12)


def chances(**gains):
    """Log chances (40,) of left-out counts: the block's own, and others better by a gain that swings by 0.1 about it."""
    block = np.linspace(-3.0, -0.5, 40)
    swing = np.tile([0.1, -0.1], 20)
    return {BLOCK: block} | {name.replace("_", "-"): block + gain + swing for name, gain in gains.items()}


def test_a_strong_pattern_is_never_the_block_alone():
    methods, gained = [], []
    for seed in range(5):
        block = made_up_block(np.random.default_rng(300 + seed), middle=-1.0, shared=3.0, own=0.2, range_m=50.0, stops=50)
        choice = choice_of(block)
        methods.append(choice.method)
        gains = {score.method: score.gain for score in choice.scores}
        gained.append(gains[BINOMIAL])
        assert choice.note.startswith(f"Chosen: {WORDS[choice.method]}; it gives")
    assert BLOCK not in methods, methods
    # the binomial field is what usually tells counts best
    assert methods.count(BINOMIAL) >= 3, methods
    assert min(gained) > 0.0, gained
    assert np.mean(gained) > 0.1, gained


def test_without_a_pattern_one_is_claimed_at_times_but_costs_little():
    claimed, lost = [], []
    for seed in range(12):
        choice = choice_of(made_up_block(np.random.default_rng(200 + seed), middle=-1.5, shared=0.0, own=1.5, stops=50))
        gains = {score.method: score.gain for score in choice.scores}
        claimed.append(choice.method != BLOCK)
        lost.append(-gains[BINOMIAL])
    # fifty stops tell a weak pattern from none no better than this: see the rate in the message
    assert sum(claimed) <= 9, f"a pattern was claimed in {sum(claimed)} of {len(claimed)}"
    # the binomial field reads both, so that it loses next to nothing of the chance of a left-out count
    assert np.mean(lost) < 0.02, lost
    assert max(lost) < 0.06, lost


@pytest.mark.parametrize("stops", [1, 2, 5])
def test_few_stops_show_no_pattern(stops):
    counts = Counts(np.arange(2.0 * stops).reshape(stops, 2), np.full(stops, 10), np.arange(stops))
    choice = choose(counts, read_binomial(counts, 0.0), 0.0, 2.0, 12)
    assert stops < LEAST_STOPS
    few = "one stop is" if stops == 1 else f"{stops} stops are"
    assert choice.note == f"No pattern found: {few} too few to see one. The block's own share is given."
    assert (choice.method, choice.scores) == (BLOCK, ())


def test_scores_are_those_of_left_out_stops():
    block = made_up_block(np.random.default_rng(12), shared=2.0, stops=30)
    counts = Counts(block.stops_m, block.examined, block.infected)
    found = read_binomial(counts, BEARING_DEG)
    scores = {score.method: score for score in choose(counts, found, BEARING_DEG, 2.0, 12).scores}
    assert set(scores) == set(ALL)
    own, block_own = found.left_out(), found.without_pattern().left_out()
    assert scores[BINOMIAL].log_chance == pytest.approx(own.mean())
    assert scores[BINOMIAL].gain == pytest.approx((own - block_own).mean())
    assert scores[BINOMIAL].gain_se == pytest.approx((own - block_own).std(ddof=1) / np.sqrt(30))
    assert scores[BLOCK].gain == scores[BLOCK].gain_se == 0.0
    for score in scores.values():
        assert score.gain == pytest.approx(score.log_chance - scores[BLOCK].log_chance)
        # log chances of counts of ten: never certain, never absurd
        assert -6.0 < score.log_chance < 0.0


def test_the_order_of_stops_does_not_matter():
    block = made_up_block(np.random.default_rng(13), shared=2.0, stops=24)
    counts = Counts(block.stops_m, block.examined, block.infected)
    order = np.random.default_rng(0).permutation(24)
    turned = Counts(counts.stops_m[order], counts.examined[order], counts.infected[order])
    first, second = (choose(each, read_binomial(each, BEARING_DEG), BEARING_DEG, 2.0, 12) for each in (counts, turned))
    assert first.method == second.method
    for one, other in zip(first.scores, second.scores, strict=True):
        assert one.log_chance == pytest.approx(other.log_chance, abs=1e-3), one.method


def test_the_best_is_chosen_and_said():
    choice = chosen(chances(binomial=0.1, kriging=0.4, inverse_distance=-0.2))
    assert choice.method == KRIGING
    # exp(0.4), exp(0.1) and exp(-0.2)
    assert choice.note == (
        "Chosen: kriging; it gives stops that were left out 1.49 times the chance that the block's own share gives them "
        "(the binomial field 1.11, inverse distance 0.82)."
    )


def test_ties_keep_the_binomial_field():
    assert chosen(chances(binomial=0.2, kriging=0.2, inverse_distance=0.2)).method == BINOMIAL
    # better on average, yet by less than the standard error of the difference
    told = chances(binomial=0.2, kriging=0.2, inverse_distance=-0.2)
    told[KRIGING] = told[KRIGING] + np.tile([1.0, -0.9], 20)
    assert told[KRIGING].mean() > told[BINOMIAL].mean()
    assert chosen(told).method == BINOMIAL


def test_no_gain_is_no_pattern():
    choice = chosen(chances(binomial=-0.01, kriging=-0.3, inverse_distance=-0.5))
    assert choice.method == BLOCK
    assert choice.note.startswith("No pattern found")
    assert len(choice.scores) == 4


def test_a_gain_that_the_counts_do_not_bear_out_is_no_pattern():
    told = chances(binomial=0.1, kriging=-0.3, inverse_distance=-0.5)
    assert chosen(told, True).method == BINOMIAL
    assert chosen(told, False).method == BLOCK


def test_can_be_stopped_and_tells_how_far():
    block = made_up_block(np.random.default_rng(14), stops=12)
    counts = Counts(block.stops_m, block.examined, block.infected)
    found = read_binomial(counts, BEARING_DEG)
    done = []
    choose(counts, found, BEARING_DEG, 2.0, 12, done.append)
    assert done == sorted(done)
    assert done[-1] == 1.0

    def stop(fraction):
        raise Cancelled

    with pytest.raises(Cancelled):
        choose(counts, found, BEARING_DEG, 2.0, 12, stop)
