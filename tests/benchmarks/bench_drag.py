# ruff: noqa: E402 (the path to the blocks is set first)
"""Milliseconds for one frame while a corner, and while the end of a row, is dragged by hand, and beside it the other way.

The other way makes the ground anew at each move: the edit, the scene, and every tile in sight. Both in the same window, at
the size of the sample and with 1,000,000 vines; all of it is invented. Run: python tests/benchmarks/bench_drag.py
"""

from __future__ import annotations

import datetime as dt
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1] / "desk")]

import numpy as np
from canvas_scenes import make_block
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from vinemap.desk.ground_handles import CORNER, ROW_END, Handle
from vinemap.desk.map_scene import BlockScene
from vinemap.desk.window import Window
from vinemap.files.projection import frame_for
from vinemap.ground.vines import place_vines
from vinemap.season import ground_edits
from vinemap.season.value import Estate, Season
from vinemap.service.book import new_book, open_book

WIDE, HIGH = 1600, 1000
SIZES = {"the sample's size": (8, 40, 100), "1,000,000 vines": (20, 500, 100)}
"""Blocks, rows to a block, vines to a row."""
MOVES, OTHER_MOVES = 200, 12
MOST_MS = 16.0
LEFT = Qt.MouseButton.LeftButton


@contextmanager
def opened(app: QApplication, size: tuple[int, int, int]) -> Iterator[Window]:
    """A window on invented blocks, with the first of them taken into the hand."""
    blocks, rows, vines = size
    apart_m = rows * 2.5 + 20.0
    ground = tuple(
        make_block(f"Invented {number}", rows, vines, 90.0, 0.0, (number % 5 * 170.0, number // 5 * -apart_m))
        for number in range(blocks)
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "invented.vinemap"
        new_book(path, Season(Estate("Invented", frame_for(-122.7, 38.6), -8.0, True), ground)).close()
        window = Window(open_book(path), now=lambda: dt.datetime(2031, 5, 21, 9))
        window.resize(WIDE, HIGH)
        window.show()
        window.go_to("Ground")
        window.pick_block("Invented 0")
        window.finding.hand.turn()
        settle(app, window)
        yield window
        window.close()


def settle(app: QApplication, window: Window) -> None:
    """Wait until the map is whole and nothing more is being made."""
    while True:
        app.processEvents()
        if window.canvas.is_settled:
            window.canvas.repaint()
            if window.canvas.is_settled:
                return
        time.sleep(0.001)


def report(name: str, spent_ms: list[tuple[float, float]], painted: int) -> float:
    """Print, after seeing that each move was painted; the 99th percentile."""
    assert painted >= len(spent_ms), f"{name}: {painted} pictures in {len(spent_ms)} moves"
    (middle, of_cpu), (high, _) = np.median(spent_ms, axis=0), np.percentile(spent_ms, 99, axis=0)
    print(
        f"  {name:46s} median {middle:9.2f} ms   p99 {high:9.2f} ms   of the processor {of_cpu:9.2f} ms   painted {painted}"
    )
    return float(high)


def timed(window: Window, step: Callable[[int], None], moves: int) -> tuple[list[tuple[float, float]], int]:
    """Milliseconds of each step, by the clock and of the processor, and how often the map was painted."""
    spent, before = [], window.canvas.paint_count
    for k in range(moves):
        start, cpu = time.perf_counter(), time.process_time()
        step(k)
        spent.append((1e3 * (time.perf_counter() - start), 1e3 * (time.process_time() - cpu)))
    return spent, window.canvas.paint_count - before


def drag(app: QApplication, window: Window, handle: Handle) -> tuple[list[tuple[float, float]], int]:
    """The way of the program: press, many moves, and back; nothing is saved."""
    hand, canvas = window.finding.hand, window.canvas
    start = QPoint(*(round(each) for each in hand.view.to_px(handle.x_m, handle.y_m)))
    tiles = canvas.tile_bytes
    QTest.mousePress(canvas, LEFT, Qt.KeyboardModifier.NoModifier, start)
    assert hand.grip.touched == handle
    QTest.mouseMove(canvas, start + QPoint(30, 30))

    def step(k: int) -> None:
        turn = k / 10.0
        QTest.mouseMove(canvas, start + QPoint(30 + round(40 * np.cos(turn)), 30 + round(40 * np.sin(turn))))
        canvas.repaint()
        app.processEvents()

    found = timed(window, step, MOVES)
    assert hand.grip.is_moving
    assert canvas.tile_bytes == tiles, "tiles were made"
    hand.grip.put_back()
    QTest.mouseRelease(canvas, LEFT, Qt.KeyboardModifier.NoModifier, start)
    return found


def remake(app: QApplication, window: Window, handle: Handle) -> tuple[list[tuple[float, float]], int]:
    """The other way: the ground as it would be, its scene and its tiles, at each move; nothing is saved."""
    canvas, season, scene = window.canvas, window.book.season, window.canvas.scene
    at = next(k for k, each in enumerate(scene.blocks) if each.block.name == "Invented 0")
    name, still = scene.blocks[at].block.name, np.zeros(2)

    def step(k: int) -> None:
        by_m = np.array([0.4 * np.cos(k), 0.4 * np.sin(k)]) + 0.5
        if handle.kind == CORNER:
            moved = ground_edits.place_corner(season, name, handle.number, by_m + np.array([handle.x_m, handle.y_m]))
        else:
            row = scene.blocks[at].block.rows.labels[handle.ring]
            moved = ground_edits.move_row(season, name, row, by_m, still)
        block = moved.block(name)
        assert block is not None
        blocks = list(scene.blocks)
        blocks[at] = BlockScene(block, place_vines(block))
        canvas.set_scene(replace(scene, blocks=tuple(blocks)))
        settle(app, window)
        canvas.repaint()

    found = timed(window, step, OTHER_MOVES)
    canvas.set_scene(scene)
    settle(app, window)
    return found


def main() -> None:
    """Print both ways for a corner and for a row, at both sizes."""
    app = QApplication([])
    worst = 0.0
    for name, size in SIZES.items():
        with opened(app, size) as window:
            blocks, rows, vines = size
            across = f"{window.canvas.width()}x{window.canvas.height()}"
            print(f"{name}: {blocks * rows * vines:,} vines, {blocks * rows:,} rows, the map {across}")
            for what, kind in (("a corner", CORNER), ("the end of a row", ROW_END)):
                window.look(chosen=("Invented 0", rows // 2) if kind == ROW_END else None)
                settle(app, window)
                handle = next(each for each in window.finding.hand.grip.handles if each.kind == kind)
                worst = max(worst, report(f"{what}, dragged", *drag(app, window, handle)))
                report(f"{what}, all made anew at each move", *remake(app, window, handle))
    print(f"slowest 99th percentile {worst:.1f} ms (goal {MOST_MS:.0f})")


if __name__ == "__main__":
    main()
