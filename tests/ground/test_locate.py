"""Places to blocks and vines."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from vinemap.errors import InputError
from vinemap.ground.block import DEAD, MISSING, Block, VineExceptions
from vinemap.ground.locate import nearest_block, nearest_vine, vine_index
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.vines import place_vines


def block(name, x0, exceptions=None):
    outline = shapely.box(x0, 0, x0 + 30, 40)
    made = Block(name, outline, make_rows(outline, 0.0, 3.0, 2.0), 3.0, 2.0)
    return made if exceptions is None else Block(name, outline, made.rows, 3.0, 2.0, exceptions=exceptions)


def test_every_vine_finds_itself():
    vines = place_vines(block("A", 0))
    found, distance_m = nearest_vine(vines, vines.x_m, vines.y_m)
    assert found.tolist() == list(range(len(vines)))
    assert distance_m.max() == 0.0


def test_a_vine_that_is_gone_is_not_offered():
    gone = VineExceptions(np.array([0, 1]), np.array([MISSING, DEAD]), np.array([-1, -1]))
    vines = place_vines(block("A", 0, gone))
    found, distance_m = nearest_vine(vines, vines.x_m[:1], vines.y_m[:1])
    # vine 3 of row 1 is 4 m up the row, vine 1 of row 2 is 3 m across
    assert found[0] == 20
    assert distance_m[0] == pytest.approx(3.0)


def test_when_all_are_gone_the_place_is_still_found():
    count = len(place_vines(block("A", 0)))
    gone = VineExceptions(np.arange(count), np.full(count, MISSING), np.full(count, -1))
    vines = place_vines(block("A", 0, gone))
    assert nearest_vine(vines, vines.x_m[5:6], vines.y_m[5:6])[0][0] == 5


def test_nearest_block_names_the_one_inside_and_the_one_beside():
    blocks = [block("A", 0), block("B", 50)]
    index, distance_m = nearest_block(blocks, np.array([10.0, 55.0, 37.0, 47.0]), np.array([10.0, 10.0, 10.0, 10.0]))
    assert index.tolist() == [0, 1, 0, 1]
    assert distance_m.tolist() == pytest.approx([0.0, 0.0, 7.0, 3.0])


def test_vine_index_counts_through_the_rows():
    counts = np.array([5, 7, 3], np.int32)
    assert vine_index(("1", "2", "2a"), counts, "1", 1) == 0
    assert vine_index(("1", "2", "2a"), counts, "2", 7) == 11
    assert vine_index(("1", "2", "2a"), counts, "2a", 1) == 12


@pytest.mark.parametrize(("row", "vine", "words"), [("3", 1, "no row 3"), ("2", 8, "vines 1 to 7, not 8"), ("1", 0, "not 0")])
def test_vine_index_refuses(row, vine, words):
    with pytest.raises(InputError, match=words):
        vine_index(("1", "2"), np.array([5, 7], np.int32), row, vine)


def test_nothing_to_find():
    with pytest.raises(InputError, match="no blocks yet"):
        nearest_block([], np.zeros(1), np.zeros(1))
