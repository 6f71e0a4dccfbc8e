"""Row numbers that never touch, bands where the vines are, the heavy line on the side to open, letters that can be read."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pytest
import shapely
from sheet_blocks import make_block, measure, usual_pieces, whole

from vinemap.ground.block import Block
from vinemap.ground.vines import place_vines
from vinemap.sheets.bands import HEAVY_MM, Piece, band_marks, beside, letter_marks, piece_line
from vinemap.sheets.fit import Box, Fit
from vinemap.sheets.marks import Dots, Words
from vinemap.sheets.rows import fit_with_numbers, number_rows

BOX = Box(10.0, 22.0, 210.0, 160.0)
SHAPES = [
    (1, 90, 80),
    (6, 320, 35),
    (30, 100, 120),
    (52, 150, 80),
    (60, 170, 45),
    (150, 200, 10),
    (200, 260, 0),
    (9, 300, 271),
]


@pytest.mark.parametrize(("rows", "length", "bearing"), SHAPES)
def test_numbers_never_touch_and_rows_with_work_are_always_named(rows: int, length: float, bearing: float) -> None:
    block = make_block(rows, length, bearing)
    worked = {piece.row for piece in usual_pieces(block)}
    _, numbers = fit_with_numbers(block, BOX, worked, measure)
    for is_first in (True, False):
        boxes = {(each.x_mm, each.y_mm): each for _, end, each in numbers.boxes if end is is_first}
        shapes = np.array([each.polygon(-0.01) for each in boxes.values()])
        tree = shapely.STRtree(shapes)
        pairs = tree.query(shapes, predicate="intersects")
        assert np.all(pairs[0] == pairs[1])
        assert worked <= {row for row, end, _ in numbers.boxes if end is is_first}
        assert {0, rows - 1} <= {row for row, end, _ in numbers.boxes if end is is_first} | worked
    assert all(not BOX.overflow_mm(each).any() for _, _, each in numbers.boxes)


def test_every_row_is_numbered_where_there_is_room_and_every_fifth_or_tenth_where_not() -> None:
    few = make_block(20, 60, 90)
    assert set(said(few, Fit(500, 0, 30, -25, 100, 100), ())) == {str(n + 1) for n in range(20)}
    many = make_block(100, 60, 90)
    dense = said(many, Fit(2500, 0, 30, -120, 100, 100), ())
    assert set(dense) == {"1", *(str(n) for n in range(5, 101, 5))}


def said(block: Block, fit: Fit, worked: Collection[int]) -> list[str]:
    return [mark.text for mark in number_rows(block, fit, worked, measure).marks if isinstance(mark, Words)]


def test_close_neighbours_with_work_share_one_number_and_long_runs_show_some() -> None:
    block = make_block(150, 60, 90)
    fit = Fit(2500, 0, 30, -180, 100, 100)
    assert said(block, fit, range(20, 26)).count("21–26") == 2
    assert {"1", "10", "50", "150"} <= set(said(block, fit, range(150)))


def test_a_block_without_rows_has_no_numbers() -> None:
    block = make_block(3, 60, 90)
    empty = type(block.rows)((), np.empty((0, 2)), np.zeros(1, np.int32), np.empty(0), np.empty(0))
    bare = type(block)(block.name, block.outline, empty, 2.5, 1.5)
    assert number_rows(bare, Fit(500, 0, 0, 0, 0, 0), (), measure).marks == ()


def test_a_piece_runs_from_half_a_vine_before_to_half_a_vine_after() -> None:
    block = make_block(4, 90, 90)  # row 1 runs east from the origin, a vine every 1.5 m
    line = piece_line(place_vines(block), Piece(0, 11, 20, "L", -1, "north", 8.0), Fit(1000, 0, 0, 0, 0, 0))
    # vines 11 and 20 stand 15.0 m and 28.5 m along, so 14.25 m to 29.25 m
    assert np.allclose(line[[0, -1], 0], [14.25, 29.25])
    assert np.allclose(line[:, 1], 0.0)


def test_a_piece_of_one_vine_and_a_row_of_one_vine_still_have_a_length() -> None:
    block = make_block(2, 0.5, 90)
    assert block.rows.vine_count.tolist() == [1, 1]
    line = piece_line(place_vines(block), Piece(0, 1, 1, "L", 0, "", 1.0), Fit(100, 0, 0, 0, 0, 0))
    assert np.hypot(*(line[-1] - line[0])) > 1.0


@pytest.mark.parametrize(("side", "downs"), [(1, [1]), (-1, [-1]), (2, [-1, 1]), (0, [])])
def test_the_heavy_line_is_on_the_side_to_open(side: int, downs: list[int]) -> None:
    block = make_block(4, 90, 90)  # rows run east: their right is south, down on the sheet
    bands, _ = band_marks(block, place_vines(block), [whole(block, 1, "F", side)], Fit(500, 0, 45, -4, 100, 100))
    row_y = 100 + (2.5 - 4) * 2
    heavy = [mark for mark in bands if getattr(mark, "stroke", "") and mark.width_mm == pytest.approx(HEAVY_MM)]
    assert sorted(int(np.sign(mark.rings[0][:, 1].mean() - row_y)) for mark in heavy) == downs


def test_beside_a_bent_line_is_at_the_distance_asked_for() -> None:
    turn = np.linspace(0, 1.0, 60)
    line = 50 * np.column_stack([np.cos(turn), np.sin(turn)])
    moved = beside(line, 2.0)
    # a circle run clockwise as seen with y down has its middle on the right
    assert np.allclose(np.hypot(*moved.T), 48.0, atol=0.02)


def test_letters_do_not_cover_each_other_and_each_kind_is_named() -> None:
    block = make_block(52, 150, 80)
    pieces = usual_pieces(block)
    fit, _ = fit_with_numbers(block, BOX, (), measure)
    _, letters = band_marks(block, place_vines(block), pieces, fit)
    rings = letters[0]
    assert isinstance(rings, Dots)
    away = np.hypot(*(rings.points[:, None] - rings.points[None]).transpose(2, 0, 1)) + 99 * np.eye(len(rings.points))
    assert away.min() >= 2 * rings.radius_mm[0]
    assert {mark.text for mark in letters[1:] if isinstance(mark, Words)} == {piece.kind for piece in pieces}


def test_neighbours_of_one_kind_share_letters_where_rows_are_close() -> None:
    lines = [np.array([[0.0, n * 0.8], [100.0, n * 0.8]]) for n in range(40)]
    few = letter_marks(["L"] * 40, lines, 0.8)
    assert 3 < len(few) - 1 < 20
    assert letter_marks([], [], 2.0) == []
