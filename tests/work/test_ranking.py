"""Runs and order of rows: against brute force, and against what growers do."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from span_grids import drivers, row_of_spans

from vinemap.work.assumptions import SOURCES, Assumptions
from vinemap.work.epidemic import Growth
from vinemap.work.gains import Shares, gains, opening_hours, opening_strength, spray_hours
from vinemap.work.ranking import OPEN, BlockGain, hour_prices, ranked
from vinemap.work.runs import best_run, row_slices


@given(
    st.lists(st.tuples(st.floats(0.0, 50.0), st.floats(0.05, 2.0)), min_size=1, max_size=9),
    st.floats(0.0, 40.0),
)
def test_best_run_against_every_run(spans, price):
    gain, hours = np.array([each[0] for each in spans]), np.array([each[1] for each in spans])
    sums = {(a, b): float((gain - price * hours)[a : b + 1].sum()) for a in range(len(spans)) for b in range(a, len(spans))}
    best = max(sums.values())
    found = best_run(gain, hours, price)
    if best <= 0:
        assert found is None or sums[found] == pytest.approx(0.0, abs=1e-6)
    else:
        assert found is not None
        assert sums[found] == pytest.approx(best, abs=1e-6)


def test_row_slices():
    assert row_slices(np.array([0, 0, 2, 2, 2])) == [(0, slice(0, 2)), (2, slice(2, 5))]
    assert row_slices(np.array([], int)) == []


def patchy_block():
    """Eleven rows of eight spans: a hot patch in rows 4 to 6, spans 3 and 4, clean around it."""
    spans = row_of_spans(11, 8)
    mean = np.full(88, 0.01)
    hot = (spans.row >= 4) & (spans.row <= 6) & (spans.first_vine >= 31) & (spans.first_vine <= 41)
    mean[hot] = 0.35
    return spans, Shares(mean, mean * 0.5, np.minimum(mean * 2.0, 1.0)), hot


def test_a_hot_patch_comes_before_its_clean_surroundings():
    """Common practice: cleaning the hot patch first protects the rest of the block."""
    spans, shares, hot = patchy_block()
    opening, spraying = gains(spans, shares, drivers(88), Assumptions())
    for gain in (opening, spraying):
        rate = gain.clusters / gain.hours
        assert rate[hot].min() > rate[~hot].max()
    assert opening.around[hot].min() > 5 * np.median(opening.around[~hot])


def test_the_hot_rows_come_first_and_only_their_hot_run():
    spans, shares, _ = patchy_block()
    opening, _ = gains(spans, shares, drivers(88), Assumptions())
    labels = tuple(str(row + 1) for row in range(11))
    rows = ranked((BlockGain("Block", labels, spans, opening, OPEN),), hours=1.9)
    assert [row.rank for row in rows] == list(range(1, 12))
    assert {row.label for row in rows[:3]} == {"5", "6", "7"}
    assert all(row.is_first and row.first_vine == 31 and row.last_vine == 50 for row in rows[:3])
    assert sum(row.hours for row in rows if row.is_first) <= 1.9


def test_the_price_of_an_hour_falls_with_more_hours():
    spans, shares, _ = patchy_block()
    opening, _ = gains(spans, shares, drivers(88), Assumptions())
    part = (BlockGain("Block", tuple("abcdefghijk"), spans, opening, OPEN),)
    prices = [hour_prices(part, hours)[1] for hours in (1.0, 3.0, 10.0, 1000.0)]
    assert prices == sorted(prices, reverse=True)
    assert prices[0] > prices[-1]
    assert prices[-1] == pytest.approx(0.0, abs=1e-6)


def test_openings_grow_harder_with_infection():
    shares = Shares(np.array([0.02, 0.10, 0.19, 0.20, 0.9]), np.zeros(5), np.ones(5))
    assert opening_strength(shares, 0.10).tolist() == [0, 1, 1, 2, 2]


def test_hours_by_hand():
    """10 vines at 0.8 min over a productive share of 0.8 are 10 min; 15 m at 6 km/h and 0.65 are 0.003846 h."""
    spans = row_of_spans(1, 1)
    assert opening_hours(spans, np.array([0]), Assumptions())[0] == pytest.approx(10 / 60)
    assert opening_hours(spans, np.array([2]), Assumptions())[0] == pytest.approx(18.75 / 60)
    assert spray_hours(spans, Assumptions())[0] == pytest.approx(0.015 / 6 / 0.65)


def test_nothing_is_saved_once_the_fruit_resists():
    spans, shares, _ = patchy_block()
    still = drivers(88, growth=Growth(np.zeros(28), np.ones((28, 88)), 0.3))
    opening, spraying = gains(spans, shares, still, Assumptions())
    assert opening.clusters.max() == 0.0
    assert spraying.clusters.max() == 0.0
    assert ranked((BlockGain("Block", tuple("abcdefghijk"), spans, opening, OPEN),), 10.0) == ()


def test_opening_five_weeks_after_bloom_saves_nothing():
    """Austin & Wilcox 2011: leaf removal five weeks after bloom had no effect."""
    spans, shares, _ = patchy_block()
    opening, _ = gains(spans, shares, drivers(88, new_open=np.zeros(28)), Assumptions())
    assert opening.clusters.max() == pytest.approx(0.0, abs=1e-9)


def test_a_stopped_spray_saves_nothing():
    spans, shares, _ = patchy_block()
    _, spraying = gains(spans, shares, drivers(88, spray_stop="harvest is too near"), Assumptions())
    assert spraying.clusters.max() == 0.0


def test_a_covered_row_gains_less_from_a_spray():
    spans, shares, hot = patchy_block()
    _, bare = gains(spans, shares, drivers(88), Assumptions())
    _, covered = gains(spans, shares, drivers(88, cover=np.tile(np.linspace(0.9, 0.0, 28)[:, None], 88)), Assumptions())
    assert np.all(covered.clusters[hot] < bare.clusters[hot])


def test_the_range_holds_the_middle():
    spans, shares, _ = patchy_block()
    for gain in gains(spans, shares, drivers(88), Assumptions()):
        assert np.all(gain.low <= gain.clusters + 1e-12)
        assert np.all(gain.clusters <= gain.high + 1e-12)


def test_every_assumption_names_its_source():
    assert set(SOURCES) == set(Assumptions.__dataclass_fields__)


@pytest.mark.parametrize("hours", [5.0, 40.0, 60.0])
def test_rows_that_are_alike_fill_the_hours_there_are(hours):
    """Forty rows with one share everywhere: one price would take nearly all of them or nearly none."""
    spans = row_of_spans(40, 12)
    mean = np.full(480, 0.06)
    opening, _ = gains(spans, Shares(mean, mean * 0.5, mean * 2.0), drivers(480), Assumptions())
    rows = ranked((BlockGain("Block", tuple(map(str, range(40))), spans, opening, OPEN),), hours)
    assert len(rows) == len({row.row for row in rows}) == 40
    used = sum(row.hours for row in rows if row.is_first)
    # a whole row takes 2 h: less than that may be left
    assert hours - 2.0 < used <= hours


def test_a_row_not_worth_an_hour_is_not_first():
    spans, shares, _ = patchy_block()
    opening, _ = gains(spans, shares, drivers(88), Assumptions())
    part = (BlockGain("Block", tuple("abcdefghijk"), spans, opening, OPEN),)
    free = [work for work in ranked(part, 1000.0) if work.is_first]
    least = sorted(work.per_hour for work in free)[5]
    dear = ranked(part, 1000.0, least)
    assert 0 < sum(work.is_first for work in dear) < len(free)
    assert all(work.per_hour >= least for work in dear if work.is_first)
    assert not any(work.is_first for work in ranked(part, 1000.0, 1e9))


def test_no_row_is_named_for_work_without_effect():
    """Five weeks after bloom opening does nothing (Austin & Wilcox 2011): no crew is sent for a trace of rounding."""
    spans = row_of_spans(11, 8)
    mean = np.random.default_rng(1).uniform(0.0, 0.4, 88)
    growth = Growth(np.linspace(0.05, 0.17, 28), np.linspace(0.3, 1.2, 28 * 88).reshape(28, 88), 0.3)
    late = drivers(88, new_open=np.zeros(28), growth=growth)
    opening, _ = gains(spans, Shares(mean, mean * 0.5, mean * 2.0), late, Assumptions())
    assert ranked((BlockGain("Block", tuple("abcdefghijk"), spans, opening, OPEN),), 60.0) == ()
