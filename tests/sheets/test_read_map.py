"""The field on paper: shade only where it is known, areas that are counts, the line where the threshold is passed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from sheet_blocks import make_block, make_read_plan, mark_bounds, measure, texts

from vinemap.sheets.marks import Dots, Path, Shade, Strokes, Words
from vinemap.sheets.read_ledger import MOST_ROWS, STOP_MM, RowShare, chance_words, ledger_marks, stop_marks
from vinemap.sheets.read_map import read_map
from vinemap.sheets.shade import CELL_MM, PAPER, Cells, field_cells, shade_marks, threshold_marks
from vinemap.surface.field import KNOWN, NOT_KNOWN, UNSURE

PLANS = {
    "usual": make_read_plan(make_block(wave_m=6)),
    "thin": make_read_plan(make_block(6, 320, 35)),
    "large": make_read_plan(make_block(80, 200, 10)),
}
PAGES = {name: read_map(plan, measure) for name, plan in PLANS.items()}
SQUARE = shapely.box(0, 0, 60, 40)
RINGS = (shapely.get_coordinates(SQUARE),)


def half_known(left: int, right: int) -> Cells:
    """Cells whose left half has one certainty and whose right half another; incidence grows from 0 to 0.4."""
    rows, columns = int(40 / CELL_MM) + 1, int(60 / CELL_MM)
    certainty = np.full((rows, columns), right, np.int8)
    certainty[:, : columns // 2] = left
    return Cells(0.0, 0.0, np.tile(np.linspace(0.0, 0.4, columns), (rows, 1)), certainty)


@pytest.mark.parametrize("name", sorted(PLANS))
def test_everything_is_on_the_page_and_nothing_is_too_small(name: str) -> None:
    for mark in PAGES[name].marks:
        left, top, right, bottom = mark_bounds(mark)
        assert min(left, top) >= 4.0, mark
        assert right <= 293.0, mark
        assert bottom <= 207.0, mark
        assert not isinstance(mark, Words) or mark.size_pt >= 7.0


def test_the_page_says_what_it_shows() -> None:
    said = " ".join(texts(PAGES["usual"]))
    for words in (
        "Well Field", "clusters looked at", "720", "8 %, between 7 and 10", "over 10 %", "10 % line", "unsure",
        "not known: no stop within 25 m", "0 of 20", "8 of 20", "38 more rows", "invented demonstration data",
        "would settle the corner that is not known.",
    ):  # fmt: skip
        assert words in said


def test_the_worst_rows_come_first_and_rows_not_known_are_counted() -> None:
    rows = [RowShare(str(n), "1–20", n / 100, 0.0, 0.3, 0.5, n != 29) for n in range(30)]
    marks, _ = ledger_marks((), rows, 0.1, "", 100.0, 20.0, measure)
    labels = [mark.text for mark in marks if isinstance(mark, Words) and mark.weight == 700]
    assert labels == [str(n) for n in range(28, 28 - MOST_ROWS, -1)]
    assert "15 more rows, 1 row not known" in [mark.text for mark in marks if isinstance(mark, Words)]


def test_without_rows_it_says_so() -> None:
    marks, _ = ledger_marks((), (), 0.1, "", 100.0, 20.0, measure)
    assert "No row is known yet." in [mark.text for mark in marks if isinstance(mark, Words)]


@pytest.mark.parametrize(
    ("chance", "words"), [(0.02, "unlikely"), (0.31, "3 in 10"), (0.9, "9 in 10"), (0.98, "nearly sure")]
)
def test_chances_are_counts(chance: float, words: str) -> None:
    assert chance_words(chance) == words


@given(st.integers(1, 60), st.floats(0, 1))
@settings(derandomize=True, max_examples=40)
def test_the_share_of_black_is_the_share_of_mildew(examined: int, share: float) -> None:
    infected = round(share * examined)
    marks = stop_marks(np.zeros((1, 2)), np.array([examined], np.int32), np.array([infected], np.int32))
    ring = next(mark for mark in marks if isinstance(mark, Dots) and mark.stroke)
    pupils = [mark for mark in marks if isinstance(mark, Dots) and mark.fill != PAPER]
    dashes = [mark for mark in marks if isinstance(mark, Strokes)]
    assert ring.radius_mm[0] == pytest.approx(STOP_MM * np.sqrt(examined))
    if infected:
        assert (pupils[0].radius_mm[0] / ring.radius_mm[0]) ** 2 == pytest.approx(infected / examined)
        assert not dashes
    else:
        assert not pupils
        assert len(dashes) == 1


def test_no_stops_draw_nothing() -> None:
    assert stop_marks(np.empty((0, 2)), np.empty(0, np.int32), np.empty(0, np.int32)) == []


def test_there_is_no_shade_where_it_is_not_known() -> None:
    marks = shade_marks(half_known(KNOWN, NOT_KNOWN), RINGS, 0.1)
    shade = next(mark for mark in marks if isinstance(mark, Shade))
    assert shade.rgba[:, :50, 3].min() == 255
    assert shade.rgba[:, 50:, 3].max() == 0
    assert len(shade.clip) == 1
    ticks = next(mark for mark in marks if isinstance(mark, Strokes))
    assert ticks.ends[:, [0, 2]].min() > 29.0


def test_unsure_shade_is_worn_by_paper_strokes_and_known_shade_is_whole() -> None:
    (worn,) = [mark for mark in shade_marks(half_known(KNOWN, UNSURE), RINGS, 0.9) if isinstance(mark, Strokes)]
    assert worn.stroke == PAPER
    assert worn.ends[:, [0, 2]].min() >= 30.0 - CELL_MM
    assert SQUARE.buffer(1e-6).contains(shapely.MultiPoint(worn.ends.reshape(-1, 2)))
    whole = shade_marks(half_known(KNOWN, KNOWN), RINGS, 0.9)
    assert not [mark for mark in whole if isinstance(mark, Strokes)]


def test_the_line_of_the_threshold_is_where_the_field_passes_it() -> None:
    cells = half_known(KNOWN, KNOWN)
    lines = [mark for mark in threshold_marks(cells, SQUARE, 0.1) if isinstance(mark, Path) and mark.dash]
    # incidence grows evenly with x from 0 at the first cell's middle to 0.4 at the last one's
    first, last = 0.5 * CELL_MM, (cells.incidence.shape[1] - 0.5) * CELL_MM
    assert len(lines) == 1
    assert np.allclose(lines[0].rings[0][:, 0], first + (last - first) * 0.25, atol=0.01)
    assert threshold_marks(cells, SQUARE, 0.6) == []


def test_cells_return_the_vines_and_never_leave_their_range() -> None:
    rng = np.random.default_rng(3)
    vines = rng.uniform([0, 0], [60, 40], (80, 2))
    incidence = rng.uniform(0, 0.5, 80)
    cells = field_cells(vines, incidence, np.zeros(80, np.int8), SQUARE)
    assert incidence.min() <= cells.incidence.min() <= cells.incidence.max() <= incidence.max()
    middle = np.array([[30.3, 20.1]])
    exact = field_cells(np.vstack([vines, middle]), np.append(incidence, 0.77), np.zeros(81, np.int8), SQUARE)
    row, column = int(20.1 / CELL_MM), int(30.3 / CELL_MM)
    assert exact.incidence[row, column] == pytest.approx(0.77, abs=1e-6)


def test_one_vine_alone_still_makes_a_field() -> None:
    cells = field_cells(np.array([[5.0, 5.0]]), np.array([0.2]), np.zeros(1, np.int8), SQUARE)
    assert np.allclose(cells.incidence, 0.2)


def test_a_block_where_nothing_is_known_has_no_shade_and_no_line() -> None:
    plan = PLANS["thin"]
    lost = replace(plan.field, certainty=np.full(len(plan.field), NOT_KNOWN, np.int8))
    page = read_map(replace(plan, field=lost), measure)
    shade = next(mark for mark in page.marks if isinstance(mark, Shade))
    assert shade.rgba[..., 3].max() == 0


def test_a_block_without_stops_still_prints() -> None:
    plan = PLANS["thin"]
    none = plan.stops.take(np.zeros(len(plan.stops), bool))
    assert "Well Field" in texts(read_map(replace(plan, stops=none), measure))


def test_the_words_not_known_lie_on_the_part_that_is_not_known() -> None:
    plan = make_read_plan(make_block(60, 150, 80), stops_wanted=4)
    page = read_map(plan, measure)
    words = [mark for mark in page.marks if isinstance(mark, Words) and mark.is_italic and mark.text.startswith("not known")]
    outline = next(mark for mark in page.marks if isinstance(mark, Path) and mark.is_closed and mark.width_mm == 0.42)
    assert len(words) == 1
    left, top, right, bottom = mark_bounds(words[0])
    assert shapely.Polygon(outline.rings[0]).contains(shapely.box(left, top, right, bottom))
