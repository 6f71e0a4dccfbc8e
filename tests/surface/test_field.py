"""The field at every vine: whole for any round that can be, and honest."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_up import BEARING_DEG, made_up_block
from scipy.special import logit

from vinemap.errors import Cancelled, InputError, TooFewData
from vinemap.surface.field import (
    INVERSE_DISTANCE,
    KNOWN,
    KRIGING,
    METHODS,
    NOT_KNOWN,
    FieldOptions,
    chance_above,
    field_at,
)

PLACES = np.column_stack([axis.ravel() for axis in np.meshgrid(np.linspace(-30, 130, 9), np.linspace(-30, 130, 9))])


def check_whole(field):
    for column in dataclasses.fields(field):
        if column.name != "recipe":
            values = getattr(field, column.name)
            assert np.isfinite(values).all(), column.name
            assert not values.flags.writeable
    assert (field.low >= 0.0).all()
    assert (field.low <= field.incidence).all()
    assert (field.incidence <= field.high).all()
    assert (field.high <= 1.0).all()
    assert ((field.chance_above >= 0.0) & (field.chance_above <= 1.0)).all()
    np.testing.assert_allclose(field.structured_sd**2 + field.nugget_sd**2, field.latent_sd**2, rtol=1e-9)
    assert np.isfinite(field.recipe.reach_m)
    assert field.recipe.notes


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("stops", [1, 2, 3, 9, 60, 1000])
@pytest.mark.parametrize("share", [0.0, 0.02, 0.3, 1.0])
def test_any_number_of_stops_and_any_share(method, stops, share):
    rng = np.random.default_rng(stops)
    stops_m, examined = rng.uniform(0, 100, (stops, 2)), rng.integers(1, 21, stops)
    at_m = np.vstack([PLACES, stops_m[:3]])
    check_whole(field_at(stops_m, examined, rng.binomial(examined, share), at_m, FieldOptions(method)))


@settings(derandomize=True, max_examples=40, deadline=None)
@given(
    rows=st.lists(
        st.tuples(st.integers(0, 12), st.integers(0, 12), st.integers(0, 25), st.floats(0.0, 1.0)), min_size=1, max_size=25
    ).filter(lambda rows: any(row[2] for row in rows)),
    method=st.sampled_from(METHODS),
    bearing_deg=st.floats(0.0, 360.0),
)
def test_odd_rounds_are_whole(rows, method, bearing_deg):
    # places repeat and often stand in one line; some stops have no clusters
    stops_m = np.array([[8.0 * x, 8.0 * y] for x, y, _, _ in rows])
    examined = np.array([n for _, _, n, _ in rows])
    infected = np.array([round(n * part) for _, _, n, part in rows])
    check_whole(field_at(stops_m, examined, infected, PLACES, FieldOptions(method, bearing_deg=bearing_deg)))


@pytest.mark.parametrize("method", METHODS)
def test_stops_in_one_row(method):
    stops_m = np.column_stack([np.full(20, 3.0), np.arange(20) * 6.0])
    check_whole(field_at(stops_m, np.full(20, 10), np.arange(20) // 4, PLACES, FieldOptions(method)))


def test_more_stops_than_one_system_holds():
    rng = np.random.default_rng(1)
    stops_m = np.column_stack([axis.ravel() for axis in np.meshgrid(np.arange(40) * 6.0, np.arange(40) * 4.0)])
    share = 0.05 + 0.5 * np.exp(-np.hypot(*(stops_m - [120, 80]).T) / 30)
    field = field_at(stops_m, np.full(1600, 10), rng.binomial(10, share), PLACES[:20])
    check_whole(field)
    assert field.recipe.notes[-1] == "So many stops that each vine was mapped from its 64 nearest."


def test_no_stops_say_what_to_do():
    with pytest.raises(TooFewData, match="There are no stops to map") as refused:
        field_at(np.empty((0, 2)), [], [], PLACES)
    assert refused.value.do == "Add at least one stop with examined clusters."


def test_a_vine_without_a_place_is_refused():
    with pytest.raises(InputError, match="A vine has no place"):
        field_at([[0, 0]], [10], [1], [[np.nan, 0.0]])


@pytest.mark.parametrize(
    ("options", "words"),
    [({"method": "guess"}, "not a way"), ({"threshold": 0.0}, "threshold"), ({"threshold": 1.0}, "threshold")],
)
def test_options_that_cannot_be_are_refused(options, words):
    with pytest.raises(InputError, match=words):
        FieldOptions(**options)


@pytest.mark.parametrize("method", METHODS)
def test_no_vines(method):
    assert len(field_at([[0, 0]], [10], [1], np.empty((0, 2)), FieldOptions(method))) == 0


def test_inverse_distance_gives_the_count_at_a_stop_and_the_block_far_away():
    stops_m = np.array([[0.0, 0.0], [10.0, 0.0], [20.0, 0.0]])
    field = field_at(
        stops_m, [10, 10, 10], [1, 5, 0], [[0.05, 0.0], [10, 0], [20, 0], [900, 0], [0, 900]], FieldOptions(INVERSE_DISTANCE)
    )
    np.testing.assert_allclose(field.incidence[:3], [0.1, 0.5, 0.0])
    assert field.incidence[3] == field.incidence[4]
    assert field.certainty[3] == NOT_KNOWN


@pytest.mark.parametrize("method", METHODS)
def test_far_from_any_stop_is_not_known_and_wide(method):
    block = made_up_block(np.random.default_rng(2), stops=120)
    at_m = np.vstack([block.stops_m, [[2000.0, 0.0]]])
    field = field_at(block.stops_m, block.examined, block.infected, at_m, FieldOptions(method, bearing_deg=BEARING_DEG))
    assert field.certainty[-1] == NOT_KNOWN
    assert field.latent_sd[-1] > field.latent_sd[:-1].max()
    assert field.nearest_stop_m[-1] >= field.recipe.reach_m


def test_pattern_is_found_along_the_rows_and_said():
    rng = np.random.default_rng(4)
    block = made_up_block(rng, middle=-1.5, shared=3.0, own=0.2, range_m=50.0, ratio=0.4, stops=200, per_vine=20)
    field = field_at(block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(bearing_deg=BEARING_DEG))
    recipe = field.recipe
    assert recipe.variogram is not None
    reach = f"{recipe.range_along_m:.0f} m along the row and {recipe.range_across_m:.0f} m across"
    assert recipe.notes[0] == f"A stop tells of vines up to {reach}."
    # within a factor of two of what was put in: 50 m and 20 m
    assert 25.0 < recipe.range_along_m < 100.0
    assert 10.0 < recipe.range_across_m < 40.0
    assert recipe.range_across_m < recipe.range_along_m
    assert (field.certainty[block.stop] == KNOWN).mean() > 0.9


def test_without_a_pattern_says_so():
    block = made_up_block(np.random.default_rng(9), shared=0.0, own=1.5, stops=40)
    field = field_at(block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(bearing_deg=BEARING_DEG))
    assert field.recipe.variogram is None
    assert field.recipe.notes[0].startswith("No pattern found")
    assert len(np.unique(field.incidence[block.others])) == 1
    assert (field.certainty[field.nearest_stop_m > field.recipe.reach_m + 0.001] == NOT_KNOWN).all()


@pytest.mark.parametrize("method", METHODS)
def test_chance_above_moves_with_the_threshold(method):
    block = made_up_block(np.random.default_rng(5))
    field = field_at(block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(method))
    np.testing.assert_allclose(chance_above(field, 0.10), field.chance_above, rtol=1e-12)
    again = field_at(block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(method, threshold=0.2))
    np.testing.assert_allclose(chance_above(field, 0.20), again.chance_above, rtol=1e-12)
    assert (chance_above(field, 0.05) > chance_above(field, 0.3)).all()
    # half the chance lies above the middle
    middle = int(np.argmin(np.abs(field.latent_mean - logit(0.1))))
    assert field.chance_above[middle] == pytest.approx(0.5, abs=0.05)
    with pytest.raises(InputError, match="threshold"):
        chance_above(field, 1.0)


@pytest.mark.parametrize("method", METHODS)
def test_order_and_place_of_the_stops_do_not_matter(method):
    block = made_up_block(np.random.default_rng(6), shared=3.0, own=0.2)
    options = FieldOptions(method, bearing_deg=BEARING_DEG)
    order = np.random.default_rng(0).permutation(len(block.stop))
    before = field_at(block.stops_m, block.examined, block.infected, block.vines_m, options)
    shift = np.array([1000.0, -500.0])
    after = field_at((block.stops_m + shift)[order], block.examined, block.infected[order], block.vines_m + shift, options)
    np.testing.assert_allclose(after.incidence, before.incidence, rtol=1e-6)
    np.testing.assert_allclose(after.high, before.high, rtol=1e-6)


def test_more_infected_clusters_raise_the_map_there():
    block = made_up_block(np.random.default_rng(7), stops=120)
    worse = block.infected.copy()
    worse[0] = 10
    options = FieldOptions(KRIGING, bearing_deg=BEARING_DEG)
    before, after = (field_at(block.stops_m, block.examined, x, block.stops_m[:1], options) for x in (block.infected, worse))
    assert block.infected[0] < 10
    assert after.incidence[0] > before.incidence[0] + 0.1


def test_can_be_stopped_and_tells_how_far():
    block = made_up_block(np.random.default_rng(8), shared=3.0, own=0.2, stops=120)
    done = []
    field_at(block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(), done.append)
    assert done == sorted(done)
    assert done[-1] == pytest.approx(1.0)

    def stop(fraction):
        raise Cancelled

    with pytest.raises(Cancelled):
        field_at(block.stops_m, block.examined, block.infected, block.vines_m, FieldOptions(), stop)
