"""On invented blocks whose truth is known: intervals hold it as often as they say, and the map beats the block's share."""

from __future__ import annotations

import numpy as np
import pytest
from made_up import BEARING_DEG, made_up_block
from scipy.special import xlogy

from vinemap.surface.field import BINOMIAL, INVERSE_DISTANCE, KRIGING, FieldOptions, field_at

# middle logit, shared and own variance, range [m], stops, clusters per vine
FAMILIES = {
    "usual": (-2.5, 1.5, 0.5, 25.0, 60, 10),
    "few stops": (-2.5, 1.5, 0.5, 25.0, 15, 10),
    "nearly clean": (-4.5, 1.5, 0.5, 25.0, 60, 10),
    "bad": (0.0, 1.5, 0.5, 25.0, 60, 10),
    "wide foci": (-2.5, 3.0, 0.3, 50.0, 60, 10),
    "no pattern": (-2.5, 0.0, 1.8, 25.0, 60, 10),
}
BLOCKS = 8
METHODS = (BINOMIAL, KRIGING, INVERSE_DISTANCE)
"""The automatic choice is one of them, or the block's own share."""


def cross_entropy(told, truth):
    """Mean log chance of a next cluster at each vine."""
    told = np.clip(told, 1e-4, 1 - 1e-4)
    return float((xlogy(truth, told) + xlogy(1 - truth, 1 - told)).mean())


@pytest.fixture(scope="module", params=FAMILIES)
def tried(request):
    middle, shared, own, range_m, stops, per_vine = FAMILIES[request.param]
    held, gain = {method: [] for method in METHODS}, {method: [] for method in METHODS}
    for seed in range(BLOCKS):
        block = made_up_block(np.random.default_rng(seed), middle, shared, own, range_m, 0.6, stops, per_vine)
        truth = block.truth[block.others]
        plain = cross_entropy(np.full(len(truth), block.infected.sum() / block.examined.sum()), truth)
        for method in METHODS:
            options = FieldOptions(method, bearing_deg=BEARING_DEG)
            field = field_at(block.stops_m, block.examined, block.infected, block.vines_m[block.others], options)
            held[method].append(((truth >= field.low) & (truth <= field.high)).mean())
            gain[method].append(cross_entropy(field.incidence, truth) - plain)
    return request.param, held, gain


@pytest.mark.parametrize("method", METHODS)
def test_ninety_percent_intervals_hold_the_truth(tried, method):
    _, held, _ = tried
    assert 0.80 <= np.mean(held[method]) <= 0.97


@pytest.mark.parametrize("method", [BINOMIAL, KRIGING])
def test_the_map_beats_the_blocks_share_where_there_is_a_pattern(tried, method):
    name, _, gain = tried
    if name in ("usual", "bad", "wide foci"):
        assert np.mean(gain[method]) > 0.0
    else:
        # nothing to find: it must not cost more than a hundredth of a log unit per cluster
        assert np.mean(gain[method]) > -0.01
