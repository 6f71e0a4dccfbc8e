"""The growth model against the logistic, and its neighbours against arithmetic by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from span_grids import row_of_spans

from vinemap.work.epidemic import Growth, left_alone, neighbour_weights, saved_by_work


def test_without_spread_it_is_the_logistic():
    """van der Plank 1963: logit(y) grows by r a day; (.10 -> .30 in 7 days) is r = 0.19285, worked by hand."""
    spans = row_of_spans(1, 1)
    finer = 1000
    growth = Growth(np.full(7 * finer, 0.192850 / finer), np.ones((7 * finer, 1)), 0.0)
    path = left_alone(np.array([0.10]), growth, neighbour_weights(spans, 4.0, 2.5))
    assert path[-1, 0] == pytest.approx(0.30, abs=2e-4)


def test_neighbour_weights_by_hand():
    """Three rows, one span each, 2.5 m apart, spread length 2.5 m: exp(-1) and exp(-2), scaled to sum to 1."""
    table = neighbour_weights(row_of_spans(3, 1), 4.0, 2.5).toarray()
    near, far = np.exp(-1.0), np.exp(-2.0)
    assert table[0] == pytest.approx([0.0, near / (near + far), far / (near + far)])
    assert table[1] == pytest.approx([0.5, 0.0, 0.5])


def test_spans_that_touch_end_to_end_count_as_near():
    table = neighbour_weights(row_of_spans(1, 3), 4.0, 2.5).toarray()
    assert table[1] == pytest.approx([0.5, 0.0, 0.5])
    assert table[0, 1] > table[0, 2]


def test_a_lonely_span_gets_nothing_from_outside():
    weights = neighbour_weights(row_of_spans(1, 1), 4.0, 2.5)
    assert weights.toarray() == pytest.approx(np.zeros((1, 1)))


def test_work_that_changes_nothing_saves_nothing():
    spans = row_of_spans(4, 5)
    weights = neighbour_weights(spans, 4.0, 2.5)
    growth = Growth(np.linspace(0.05, 0.17, 20), np.linspace(0.3, 1.2, 400).reshape(20, 20), 0.3)
    path = left_alone(np.linspace(0.0, 0.6, 20), growth, weights)
    saved = saved_by_work(path, growth, weights, np.ones((20, 20)), np.full(20, 300.0))
    # exactly: the least trace of rounding would send a crew into the row
    assert not saved.here.any()
    assert not saved.around.any()


def test_first_order_saving_around_matches_a_second_run():
    """Over one day the neighbours' saving is exact: run the model again with that span's colonies silenced."""
    spans = row_of_spans(3, 3)
    weights = neighbour_weights(spans, 4.0, 2.5)
    growth = Growth(np.array([0.2]), np.ones((1, 9)), 0.3)
    start = np.full(9, 0.02)
    start[4] = 0.5
    path = left_alone(start, growth, weights)
    factor = np.ones((1, 9))
    factor[0, 4] = 0.0
    saved = saved_by_work(path, growth, weights, factor, np.full(9, 100.0))
    silenced = start.copy()
    silenced[4] = 0.0
    again = left_alone(silenced, growth, weights)
    others = np.arange(9) != 4
    assert saved.around[4] == pytest.approx(100.0 * (path[-1] - again[-1])[others].sum(), rel=1e-9)


@given(
    start=st.lists(st.floats(0.0, 1.0), min_size=12, max_size=12),
    rate=st.floats(0.0, 0.5),
    share=st.floats(0.0, 0.9),
    effect=st.floats(0.0, 0.95),
)
def test_shares_stay_shares_and_work_never_harms(start, rate, share, effect):
    spans = row_of_spans(3, 4)
    weights = neighbour_weights(spans, 4.0, 2.5)
    growth = Growth(np.full(15, rate), np.ones((15, 12)), share)
    path = left_alone(np.array(start), growth, weights)
    assert np.all((path >= 0.0) & (path <= 1.0))
    assert np.all(np.diff(path, axis=0) >= -1e-12)
    saved = saved_by_work(path, growth, weights, np.full((15, 12), 1.0 - effect), np.full(12, 300.0))
    assert np.all(saved.here >= -1e-9)
    assert np.all(saved.around >= -1e-9)
