"""The field at every vine: told in words, moved by what should move it, and by nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_up import BEARING_DEG, made_up_block
from scipy.special import expit, logit

from vinemap.errors import Cancelled, InputError, TooFewData
from vinemap.surface.choose import BLOCK
from vinemap.surface.field import (
    BINOMIAL,
    FIRST_LOOK,
    INVERSE_DISTANCE,
    KNOWN,
    KRIGING,
    METHODS,
    NOT_KNOWN,
    FieldOptions,
    chance_above,
    field_at,
)
from vinemap.surface.pattern import Habit


def map_of(block, at_m=None, method=BINOMIAL, **figures):
    options = FieldOptions(method, bearing_deg=BEARING_DEG, **figures)
    return field_at(block.stops_m, block.examined, block.infected, block.vines_m if at_m is None else at_m, options)


def test_figures_follow_from_the_mixture():
    field = map_of(made_up_block(np.random.default_rng(1), stops=20))
    np.testing.assert_allclose(field.incidence, field.mixture.share(), rtol=1e-6)
    np.testing.assert_allclose(field.high, np.maximum(expit(field.mixture.quantile(0.95)), field.incidence), rtol=1e-6)
    np.testing.assert_allclose(field.low, np.minimum(expit(field.mixture.quantile(0.05)), field.incidence), rtol=1e-6)
    mean, sd = field.mixture.moments()
    np.testing.assert_allclose(field.latent_mean, mean)
    np.testing.assert_allclose(field.latent_sd, sd)
    assert not field.incidence.flags.writeable


def test_inverse_distance_by_hand():
    # power 2, two stops of ten: 1/10 and 5/10; a vine half-way sees their mean, a stop's own vine its own share
    stops_m = [[0.0, 0.0], [10.0, 0.0], [5.0, 500.0]]
    at_m = [[0.0, 0.0], [10.0, 0.0], [5.0, 0.0], [5.0, 3000.0], [9000.0, 0.0]]
    field = field_at(stops_m, [10, 10, 10], [1, 5, 0], at_m, FieldOptions(INVERSE_DISTANCE, neighbours=2))
    np.testing.assert_allclose(field.incidence[:3], [0.1, 0.5, 0.3])
    # beyond all stops the block's own share
    assert field.incidence[3] == field.incidence[4]
    assert field.certainty[3] == NOT_KNOWN


@pytest.mark.parametrize("method", METHODS)
def test_far_from_any_stop_is_not_known_and_wide(method):
    block = made_up_block(np.random.default_rng(2), stops=60)
    field = map_of(block, np.vstack([block.stops_m, [[2000.0, 0.0]]]), method)
    assert field.certainty[-1] == NOT_KNOWN
    # inverse distance gives a stop's own vine its count alone, which leaves the logit of a clean one wide open
    if method != INVERSE_DISTANCE:
        assert field.latent_sd[-1] > field.latent_sd[:-1].max()
    assert (field.high - field.low)[-1] > np.median((field.high - field.low)[:-1])
    assert field.nearest_stop_m[-1] >= field.recipe.reach_m


def test_pattern_is_found_along_the_rows_and_said():
    rng = np.random.default_rng(4)
    block = made_up_block(rng, middle=-1.5, shared=3.0, own=0.2, range_m=50.0, ratio=0.4, stops=150, per_vine=20)
    field = map_of(block, method="auto")
    recipe = field.recipe
    assert recipe.variogram is not None
    reach = f"{recipe.range_along_m:.0f} m along the row and {recipe.range_across_m:.0f} m across"
    assert recipe.notes[-1] == f"A stop tells of vines up to {reach}."
    assert recipe.notes[0].startswith("Chosen: ")
    # within a factor of two of what was put in: 50 m and 20 m
    assert 25.0 < recipe.range_along_m < 100.0
    assert 10.0 < recipe.range_across_m < 40.0
    assert recipe.no_pattern_chance < 0.01
    assert (field.certainty[block.stop] == KNOWN).mean() > 0.9


def test_a_block_alone_is_flat_and_says_so():
    block = made_up_block(np.random.default_rng(9), stops=5)
    field = map_of(block, method="auto")
    assert field.recipe.method == BLOCK
    assert field.recipe.variogram is None
    assert field.recipe.notes[0].startswith("No pattern found: 5 stops are too few")
    # float32 along the way
    assert np.ptp(field.incidence[block.others]) < 1e-5
    # a vine that was looked at keeps its own count
    assert np.ptp(field.incidence[block.stop]) > 0.0 or np.ptp(block.infected) == 0
    assert (field.certainty[field.nearest_stop_m > field.recipe.reach_m + 0.001] == NOT_KNOWN).all()


def test_what_was_learned_before_helps_few_stops():
    # a habit that knows the pattern to be long and strong makes six stops speak for more vines than the weak prior does
    block = made_up_block(np.random.default_rng(11), middle=-1.0, shared=3.0, own=0.1, range_m=50.0, stops=10)
    sure = Habit((0.5 * np.log(3.1), 3.4, np.log(50.0), np.log(0.6)), (0.05, 0.1, 0.05, 0.05), "other blocks")
    weak, told = map_of(block), map_of(block, habit=sure)
    assert told.recipe.habit.source == "other blocks"
    assert told.recipe.range_along_m == pytest.approx(50.0, rel=0.2)
    near = (weak.nearest_stop_m > 0.1) & (weak.nearest_stop_m < 6.0)
    assert told.latent_sd[near].mean() < 0.9 * weak.latent_sd[near].mean()


@pytest.mark.parametrize("method", METHODS)
def test_chance_above_moves_with_the_threshold(method):
    block = made_up_block(np.random.default_rng(5), stops=20)
    field, again = map_of(block, method=method), map_of(block, method=method, threshold=0.2)
    np.testing.assert_allclose(chance_above(field, 0.10), field.chance_above, rtol=1e-12)
    np.testing.assert_allclose(chance_above(field, 0.20), again.chance_above, rtol=1e-12)
    assert (chance_above(field, 0.05) > chance_above(field, 0.3)).all()
    # half the chance lies above the middle
    middle = expit(field.mixture.quantile(0.5))
    for vine in (0, 400, 1200):
        assert chance_above(field, float(middle[vine]))[vine] == pytest.approx(0.5, abs=2e-3)
    with pytest.raises(InputError, match="threshold"):
        chance_above(field, 1.0)


ROUND = st.integers(0, 1000).map(np.random.default_rng)


@settings(max_examples=5)
@given(rng=ROUND, method=st.sampled_from(METHODS))
def test_order_and_place_of_the_stops_do_not_matter(rng, method):
    block = made_up_block(rng, shared=2.0, own=0.3, stops=int(rng.integers(2, 25)))
    at_m = block.vines_m[::20]
    order = rng.permutation(len(block.stop))
    shift = rng.integers(-500, 500, 2).astype(float)
    options = FieldOptions(method, bearing_deg=BEARING_DEG)
    before = field_at(block.stops_m, block.examined, block.infected, at_m, options)
    after = field_at((block.stops_m + shift)[order], block.examined, block.infected[order], at_m + shift, options)
    # float32 along the way, and a climb to the best parameters that rests within a hundredth of a deviation
    for name in ("incidence", "low", "high", "chance_above"):
        np.testing.assert_allclose(getattr(after, name), getattr(before, name), atol=2e-3, err_msg=name)
    np.testing.assert_array_equal(after.certainty, before.certainty)


@settings(max_examples=5)
@given(rng=ROUND, method=st.sampled_from(METHODS[1:]), turn_deg=st.sampled_from([37.0, 90.0, 250.0]))
def test_a_turned_block_with_turned_rows_is_the_same(rng, method, turn_deg):
    block = made_up_block(rng, shared=2.0, own=0.3, stops=20)
    sin, cos = np.sin(np.radians(turn_deg)), np.cos(np.radians(turn_deg))
    # clockwise, as bearings go
    turn = np.array([[cos, -sin], [sin, cos]])
    at_m = block.vines_m[::20]
    before = field_at(block.stops_m, block.examined, block.infected, at_m, FieldOptions(method, bearing_deg=BEARING_DEG))
    after = field_at(
        block.stops_m @ turn,
        block.examined,
        block.infected,
        at_m @ turn,
        FieldOptions(method, bearing_deg=BEARING_DEG + turn_deg),
    )
    for name in ("incidence", "low", "high"):
        np.testing.assert_allclose(getattr(after, name), getattr(before, name), atol=2e-3, err_msg=name)


def test_rows_that_run_another_way_are_another_map():
    block = made_up_block(np.random.default_rng(3), middle=-1.0, shared=3.0, own=0.2, range_m=50.0, ratio=0.3, stops=60)
    right, wrong = map_of(block), map_of(block, method=BINOMIAL)
    across = field_at(
        block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(BINOMIAL, bearing_deg=BEARING_DEG + 90.0)
    )
    np.testing.assert_array_equal(right.incidence, wrong.incidence)
    assert np.abs(right.incidence - across.incidence).max() > 0.02


@settings(max_examples=5)
@given(rng=ROUND, method=st.sampled_from(METHODS))
def test_a_count_in_two_parts_is_one_count(rng, method):
    block = made_up_block(rng, shared=2.0, own=0.3, stops=12)
    at_m = block.vines_m[::20]
    options = FieldOptions(method, bearing_deg=BEARING_DEG)
    whole = field_at(block.stops_m, block.examined, block.infected, at_m, options)
    # four of the ten clusters in one visit, six in the other
    part = np.clip(rng.integers(0, 5, 12), np.maximum(block.infected - 6, 0), np.minimum(block.infected, 4))
    halves = field_at(
        np.vstack([block.stops_m, block.stops_m]),
        np.concatenate([np.full(12, 4), block.examined - 4]),
        np.concatenate([part, block.infected - part]),
        at_m,
        options,
    )
    np.testing.assert_allclose(halves.incidence, whole.incidence, atol=1e-9)
    np.testing.assert_allclose(halves.high, whole.high, atol=1e-9)


@pytest.mark.parametrize("method", [BINOMIAL, KRIGING, INVERSE_DISTANCE])
def test_more_infected_clusters_raise_the_map_there(method):
    block = made_up_block(np.random.default_rng(7), stops=40)
    worse = block.infected.copy()
    worse[0] = 10
    options = FieldOptions(method, bearing_deg=BEARING_DEG)
    before, after = (field_at(block.stops_m, block.examined, x, block.stops_m[:1], options) for x in (block.infected, worse))
    assert block.infected[0] < 10
    assert after.incidence[0] > before.incidence[0] + 0.1


def test_stops_left_out_are_told_by_the_others():
    block = made_up_block(np.random.default_rng(12), middle=-1.0, shared=3.0, own=0.2, range_m=50.0, stops=60)
    field = map_of(block)
    told = field.foretold
    assert told is not None
    assert len(told.share) == len(field.counts) == 60
    seen = field.counts.infected / field.counts.examined
    # sixty pairs that have nothing to do with each other reach 0.33 once in two hundred rounds
    assert np.corrcoef(told.share, seen)[0, 1] > 0.33
    # it does not see its own count: nearer to the middle than the map at that stop
    own = map_of(block, field.counts.stops_m).incidence
    assert np.abs(own - seen).mean() < np.abs(told.share - seen).mean()
    assert map_of(block, method=KRIGING).foretold is None


def test_a_first_look_is_near_the_map_and_says_what_it_is():
    block = made_up_block(np.random.default_rng(13), middle=-1.5, shared=2.0, own=0.5, stops=40)
    first, whole = map_of(block, method=FIRST_LOOK), map_of(block)
    assert first.recipe.method == FIRST_LOOK
    assert first.recipe.notes[0].startswith("First look, ")
    assert np.corrcoef(first.latent_mean, whole.latent_mean)[0, 1] > 0.9
    assert np.abs(first.incidence - whole.incidence).mean() < 0.03
    # one set of parameters, where the map sums over many
    assert (len(first.mixture.weight), len(whole.mixture.weight) > 1) == (1, True)


def test_can_be_stopped_and_tells_how_far():
    block = made_up_block(np.random.default_rng(8), shared=3.0, own=0.2, stops=30)
    done = []
    field_at(block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(), tick=done.append)
    assert done == sorted(done)
    assert 0.0 <= done[0] <= done[-1] == pytest.approx(1.0)

    def stop(fraction):
        raise Cancelled

    for method in METHODS:
        with pytest.raises(Cancelled):
            field_at(block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(method), tick=stop)


@pytest.mark.parametrize(
    ("stops_m", "examined", "infected", "error", "words"),
    [
        ([[0.0, 0.0]], [0], [0], TooFewData, "No stop has examined clusters"),
        (np.empty((0, 2)), [], [], TooFewData, "no stops"),
        ([[0.0, 0.0]], [5], [6], InputError, "more infected"),
        ([[0.0, np.nan]], [5], [1], InputError, "no place"),
    ],
)
@pytest.mark.parametrize("method", METHODS)
def test_counts_that_cannot_be_are_refused(method, stops_m, examined, infected, error, words):
    with pytest.raises(error, match=words):
        field_at(stops_m, examined, infected, [[0.0, 0.0]], FieldOptions(method))


def test_figures_that_cannot_be_are_refused():
    with pytest.raises(InputError, match="not a way to make a map"):
        FieldOptions("guess")
    with pytest.raises(InputError, match="threshold"):
        FieldOptions(threshold=0.0)
    with pytest.raises(InputError, match="A vine has no place"):
        field_at([[0.0, 0.0]], [5], [1], [[np.nan, 0.0]])


def test_threads_do_not_change_the_map():
    block = made_up_block(np.random.default_rng(10), stops=40)
    one, two = map_of(block), map_of(block, threads=2)
    np.testing.assert_array_equal(one.incidence, two.incidence)
    assert logit(one.incidence).std() > 0.1
