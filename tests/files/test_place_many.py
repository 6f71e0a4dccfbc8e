"""Many rows and stops are placed together; each must fare as it would alone."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
import shapely

from vinemap.files.cells import Entry, Refused
from vinemap.files.outlines import OutlineDraft
from vinemap.files.placing import local_points, local_points_each, place_blocks
from vinemap.files.projection import frame_for, to_lonlat
from vinemap.files.row_lines import RowDraft
from vinemap.files.stop_placing import place_stops
from vinemap.files.stop_reader import StopDraft
from vinemap.ground.block import WALL, Block
from vinemap.ground.vines import place_vines

FRAME = frame_for(-122.5, 38.4)


def degrees(*points_m: tuple[float, float]) -> np.ndarray:
    return np.column_stack(to_lonlat(FRAME, *np.array(points_m).T))


def outline(name: str, east_m: float) -> OutlineDraft:
    ring = degrees((east_m, 0), (east_m + 60, 0), (east_m + 60, 90), (east_m, 90), (east_m, 0))
    return OutlineDraft(Entry("a", f"block {name}", {}), name, (ring,), 2.5, 1.5, None, ("x",), WALL, 0.5)


def row(label: str, line: np.ndarray, block: str = "A") -> RowDraft:
    return RowDraft(Entry("a", f"row {label}", {}), block, label, line, None, None)


def good_rows(block: str = "A", east_m: float = 0.0, count: int = 20) -> list[RowDraft]:
    return [
        row(str(n + 1), degrees((east_m + 3 + 2.5 * n, 2), (east_m + 3.4 + 2.5 * n, 40), (east_m + 3 + 2.5 * n, 80)), block)
        for n in range(count)
    ]


def two_blocks() -> tuple[Block, ...]:
    placed = place_blocks([outline("A", 0), outline("B", 70)], good_rows() + good_rows("B", 70.0), FRAME)
    assert not placed.problems
    return placed.value


def test_points_moved_together_are_those_moved_alone_and_only_far_lines_are_refused() -> None:
    lines = [each.line for each in good_rows()]
    far = np.array([[10.0, 50.0], [10.0, 50.001]])
    swapped = lines[0][:, ::-1] * [1.0, 0.7]
    for at in (0, 7, 20):
        found = local_points_each(FRAME, [*lines[:at], far, *lines[at:]])
        assert [index for index, each in enumerate(found) if isinstance(each, Refused)] == [at]
        with pytest.raises(Refused) as alone:
            local_points(FRAME, far)
        refused = found.pop(at)
        assert isinstance(refused, Refused)
        assert (refused.why, refused.value) == (alone.value.why, alone.value.value)
        for one, line in zip(found, lines, strict=True):
            assert np.array_equal(one, local_points(FRAME, line))
    assert local_points_each(FRAME, []) == []
    both = local_points_each(FRAME, [far, swapped])
    assert all(isinstance(each, Refused) for each in both)


def test_each_bad_row_among_good_ones_is_told_for_itself() -> None:
    rows = good_rows()
    rows[3] = row("4", degrees((30, 30), (30, 30)))
    rows[5] = row("6", np.array([[10.0, 50.0], [10.0, 50.001]]))
    rows[7] = row("8", degrees((5, 30), (5, 300.2)))
    rows[9] = row("1", rows[9].line)
    twice = degrees((30.5, 2), (30.5, 2), (30.5, 80))
    rows[11] = row("12", twice)
    placed = place_blocks([outline("A", 0)], rows, FRAME)
    said = {problem.place: problem.why for problem in placed.problems}
    assert set(said) == {"row 4", "row 6", "row 8", "row 1"}
    assert said["row 4"] == "is a single point"
    assert "km from the rest" in said["row 6"]
    assert said["row 8"] == "208 m of its 270 m lie outside the outline of A"
    assert "already has a row of this label" in said["row 1"]
    table = placed.value[0].rows
    assert table.labels == tuple(each.row for index, each in enumerate(rows) if index not in (3, 5, 7, 9))
    assert len(table.line_m(table.labels.index("12"))) == 2


def stop(
    number: int, block: str = "", row_label: str = "", vine: int = 0, at: tuple[float, float] | None = None
) -> StopDraft:
    lonlat = tuple(degrees(at)[0]) if at else None
    return StopDraft(
        *(
            Entry("s", f"line {number}", {}),
            1,
            dt.date(2031, 5, 1),
            "",
            block,
            row_label,
            vine,
            lonlat,
            None,
            20,
            2,
            0,
            0,
            False,
        )
    )


def test_stops_placed_together_stand_where_each_stands_alone() -> None:
    blocks = two_blocks()
    rng = np.random.default_rng(3)
    drafts = [
        stop(n, str(rng.choice(["", "A", "B"])), at=(float(x), float(y)))
        for n, (x, y) in enumerate(rng.uniform((-4, -4), (134, 94), (150, 2)))
    ]
    named = [("A", "1", 1), ("B", "20", 52), ("B", "20", 53), ("A", "1", 0), ("A", "99", 1), ("C", "1", 1), ("B", "2", 7)]
    drafts += [stop(200 + n, *where) for n, where in enumerate(named)]
    drafts.append(
        StopDraft(
            *(Entry("s", "line 300", {}), 1, dt.date(2031, 5, 1), "", "A", "", 0, (10.0, 50.0), None, 20, 2, 0, 0, False)
        )
    )
    together = place_stops(drafts, blocks, FRAME)
    alone = [place_stops([draft], blocks, FRAME) for draft in drafts]
    assert together.problems
    assert {str(each) for each in together.problems} == {str(problem) for each in alone for problem in each.problems}
    stops = together.value[0].stops
    kept = [each.value[0].stops for each in alone if each.value]
    # about half of the ground has vines
    assert 60 < len(kept) == len(stops)
    for index, one in enumerate(kept):
        assert one.blocks[one.block[0]] == stops.blocks[stops.block[index]]
        for name in ("vine", "x_m", "y_m", "examined"):
            assert getattr(one, name)[0] == getattr(stops, name)[index]
        assert one.rows[0] == stops.rows[index]


def test_the_vine_of_a_stop_is_the_nearest_of_all() -> None:
    blocks = two_blocks()
    vines = place_vines(blocks[0])
    rng = np.random.default_rng(8)
    points = rng.uniform((4, 4), (50, 78), (60, 2))
    placed = place_stops([stop(n, "A", at=(float(x), float(y))) for n, (x, y) in enumerate(points)], blocks, FRAME)
    assert not placed.problems
    stops = placed.value[0].stops
    # every distance compared, no tree
    away = np.hypot(points[:, :1] - vines.x_m, points[:, 1:] - vines.y_m)
    found = np.hypot(stops.x_m - points[:, 0], stops.y_m - points[:, 1])
    assert found == pytest.approx(away.min(axis=1), abs=1e-4)
    assert shapely.contains_xy(blocks[0].outline.buffer(3), stops.x_m, stops.y_m).all()
