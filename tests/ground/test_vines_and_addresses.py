"""Vines computed from rows, and addresses."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.ground.address import Address, read_address, row_order
from vinemap.ground.block import MISSING, REPLANT, Block, RowTable, VineExceptions
from vinemap.ground.vines import place_vines, row_bearings_deg, row_frame_m, usual_bearing_deg


def rows_of(lines, spacing_m, counts, labels=None):
    start = np.concatenate([[0], np.cumsum([len(line) for line in lines])])
    labels = labels or tuple(str(index + 1) for index in range(len(lines)))
    return RowTable(labels, np.concatenate(lines).astype(float), start, np.full(len(lines), spacing_m), np.array(counts))


def test_row_frame_by_hand():
    # along = E sin a + N cos a, across = E cos a - N sin a: 30 east, 40 north at 20 degrees, worked by hand
    along, across = row_frame_m(np.array([30.0]), np.array([40.0]), 20.0)
    assert along[0] == pytest.approx(47.848, abs=1e-3)
    assert across[0] == pytest.approx(14.510, abs=1e-3)


def test_a_bent_row_is_walked_along_its_line():
    rows = rows_of([np.array([[0, 0], [0, 3], [4, 3]])], 2.0, [5])
    vines = place_vines(Block("A", shapely.box(-9, -9, 9, 9), rows, 3.0, 2.0))
    # 0, 2, then 1 m past the corner, 3 m past it, and the last one carried on straight past the end
    assert vines.x_m.tolist() == pytest.approx([0, 0, 1, 3, 5])
    assert vines.y_m.tolist() == pytest.approx([0, 2, 3, 3, 3])


def test_rows_against_each_other_share_one_axis():
    rows = rows_of([np.array([[0, 0], [0, 50]]), np.array([[3, 50], [3, 0]])], 2.0, [26, 26])
    assert row_bearings_deg(rows).tolist() == [0.0, 180.0]
    assert usual_bearing_deg(rows) % 180.0 == pytest.approx(0.0, abs=1e-9)


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.floats(0, 359.9), st.floats(-500, 500), st.floats(-500, 500))
def test_frame_turns_without_stretching(bearing_deg, x, y):
    along, across = row_frame_m(np.array([x]), np.array([y]), bearing_deg)
    assert np.hypot(along, across)[0] == pytest.approx(np.hypot(x, y), abs=1e-9)
    sin, cos = np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))
    assert along[0] * sin + across[0] * cos == pytest.approx(x, abs=1e-9)
    assert along[0] * cos - across[0] * sin == pytest.approx(y, abs=1e-9)


def test_exceptions_change_only_their_vines():
    rows = rows_of([np.array([[0, 0], [0, 8]]), np.array([[3, 0], [3, 8]])], 2.0, [5, 5])
    differs = VineExceptions(np.array([1, 7]), np.array([MISSING, REPLANT]), np.array([-1, 1]))
    vines = place_vines(Block("A", shapely.box(-1, -1, 9, 9), rows, 3.0, 2.0, ("Syrah", "Muscat"), exceptions=differs))
    assert np.flatnonzero(vines.status).tolist() == [1, 7]
    assert np.flatnonzero(vines.variety).tolist() == [7]
    assert np.flatnonzero(~vines.is_living).tolist() == [1]
    assert vines.row[7] == 1
    assert vines.ordinal[7] == 3


def test_columns_are_read_only():
    vines = place_vines(Block("A", shapely.box(0, 0, 9, 9), rows_of([np.array([[0, 0], [0, 8]])], 2.0, [5]), 3.0, 2.0))
    with pytest.raises(ValueError, match="read-only"):
        vines.x_m[0] = 1.0


NAMES = st.text(st.characters(blacklist_characters="/", blacklist_categories=("Cs", "Cc", "Zs", "Zl", "Zp")), min_size=1)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(NAMES, NAMES, st.integers(1, 20_000))
def test_an_address_reads_back(block, row, vine):
    address = Address(block.strip() or "B", row.strip() or "1", vine)
    assert read_address(str(address)) == address


@pytest.mark.parametrize("text", ["", "B / 12", "B / 12 / 0", "B / 12 / x", "B / / 3", "B / 1 / 2 / 3", "B / 12 / -4"])
def test_what_is_not_an_address(text):
    with pytest.raises(InputError, match="is not a vine"):
        read_address(text)


def test_rows_in_the_order_people_count():
    labels = ["10", "2", "10a", "1", "A", "9b", "9"]
    assert [labels[index] for index in row_order(labels)] == ["1", "2", "9", "9b", "10", "10a", "A"]
