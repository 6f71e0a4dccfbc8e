"""The next walk: a fair part and a targeted part, and how far it is on foot."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from vinemap.ground.block import MISSING, Block, RowTable, VineExceptions
from vinemap.ground.vines import place_vines
from vinemap.scouting.walk import plan_walk


def vines_of(is_turned=False, rows=4, count=51, missing=()):
    """Rows 100 m long and 2.5 m apart, vines 2 m apart; turned: every second row is numbered from its other end."""
    lines = [((2.5 * row, 0.0), (2.5 * row, 100.0)) for row in range(rows)]
    points = [point for row, line in enumerate(lines) for point in (line[::-1] if is_turned and row % 2 else line)]
    table = RowTable(
        tuple(str(row + 1) for row in range(rows)),
        np.array(points),
        np.arange(0, 2 * rows + 1, 2),
        np.full(rows, 2.0),
        np.full(rows, count),
    )
    gone = np.array(missing, int)
    exceptions = VineExceptions(gone, np.full(len(gone), MISSING), np.full(len(gone), -1))
    return place_vines(Block("B", shapely.box(-2, -2, 10, 102), table, 2.5, 2.0, exceptions=exceptions))


def test_the_way_by_hand():
    """Two vines in neighbouring rows, both 10 m from the same end: 10 m out, 2.5 m across, 10 m in."""
    living = [5, 51 + 5]
    vines = vines_of(rows=2, missing=[each for each in range(102) if each not in living])
    walk = plan_walk(vines, None, 2, np.random.default_rng(1))
    assert sorted(walk.vine) == living
    assert walk.length_m == pytest.approx(22.5)
    # two minutes at the vines, and 22.5 m at 3.5 km/h
    assert walk.hours == pytest.approx(2 / 60 + 0.0225 / 3.5)


def test_the_way_is_as_long_whichever_end_the_rows_are_numbered_from():
    plain = vines_of(rows=2, missing=[each for each in range(102) if each not in (5, 51 + 5)])
    # row 2 from its other end: the same place is its vine 46
    turned = vines_of(is_turned=True, rows=2, missing=[each for each in range(102) if each not in (5, 51 + 45)])
    walks = [plan_walk(vines, None, 2, np.random.default_rng(1)) for vines in (plain, turned)]
    assert walks[0].length_m == pytest.approx(walks[1].length_m)


def test_a_third_is_targeted_where_the_upper_end_is_highest_and_apart():
    vines = vines_of()
    high = np.where(vines.row == 2, 0.9, 0.1)
    walk = plan_walk(vines, high, 12, np.random.default_rng(1))
    assert len(walk.vine) == len(set(walk.vine)) == 12
    assert walk.is_targeted.sum() == 4
    hot = walk.vine[walk.is_targeted]
    assert (vines.row[hot] == 2).all()
    # half of the usual distance: the square root of 7.5 m x 100 m over 12 stops
    apart_m = np.diff(np.sort(vines.y_m[hot])).min()
    assert apart_m > 0.5 * np.sqrt(7.5 * 100 / 12)


def test_by_rule_every_living_vine_has_the_same_chance():
    vines = vines_of(missing=range(0, 51, 2))
    seen = np.zeros(len(vines))
    for seed in range(400):
        seen[plan_walk(vines, None, 10, np.random.default_rng(seed)).vine] += 1
    living = vines.is_living
    assert seen[~living].sum() == 0
    assert seen[living].mean() == pytest.approx(400 * 10 / living.sum())
    # 5 standard deviations of a binomial count
    assert np.abs(seen[living] - seen[living].mean()).max() < 5 * np.sqrt(seen[living].mean())


@pytest.mark.parametrize(("stops", "missing"), [(0, ()), (5, range(204))])
def test_nothing_to_walk(stops, missing):
    walk = plan_walk(vines_of(missing=missing), None, stops, np.random.default_rng(1))
    assert (len(walk.vine), walk.length_m, walk.hours) == (0, 0.0, 0.0)


def test_one_stop_and_more_stops_than_vines():
    one = plan_walk(vines_of(), np.zeros(204), 1, np.random.default_rng(1))
    assert (len(one.vine), one.length_m) == (1, 0.0)
    few = plan_walk(vines_of(missing=range(201)), None, 50, np.random.default_rng(1))
    assert sorted(few.vine) == [201, 202, 203]
