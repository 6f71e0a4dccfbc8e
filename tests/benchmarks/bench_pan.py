# ruff: noqa: E402, N802 (the path to the blocks is set first; paintEvent is Qt's own name)
"""Milliseconds for one step of the hand over 1,000,000 vines, 10,000 rows and 20,000 stops, three ways in one run.

Run: python tests/benchmarks/bench_pan.py
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1] / "desk")]

import numpy as np
from canvas_scenes import make_block, make_scene, read_scene
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QApplication, QGraphicsEllipseItem, QGraphicsScene, QGraphicsView, QWidget
from settling import settle

from vinemap.desk.canvas import MapCanvas
from vinemap.desk.map_scene import BlockScene, StopMarks

WIDE, HIGH = 1600, 1000
BLOCKS, ROWS, VINES, STOPS = 20, 500, 100, 1000
STEPS, STEP_PX = 60, 7
ITEMS = 100_000
"""Vines of the way with one item each; its time is given as measured, with ten times fewer vines."""


def make_estate() -> list[BlockScene]:
    """Twenty invented blocks of 500 rows of 100 vines with 1,000 stops each."""
    scenes, rng = [], np.random.default_rng(1)
    for number in range(BLOCKS):
        at_m = (number % 5 * 170.0, number // 5 * -1300.0)
        scene = make_scene(make_block(f"Invented {number}", ROWS, VINES, 90.0, 0.0, at_m))
        pick = rng.choice(len(scene.vines), STOPS, replace=False)
        found = rng.binomial(20, np.clip(scene.incidence[pick], 0.0, 1.0))
        stops = StopMarks(scene.vines.x_m[pick], scene.vines.y_m[pick], np.full(STOPS, 20), found)
        scenes.append(replace(scene, stops=stops))
    return scenes


def report(name: str, step: Callable[[int], None], count: Callable[[], int], steps: int) -> float:
    """Time each step and see that each one painted; the median in milliseconds."""
    spent = []
    before = count()
    for k in range(steps):
        start = time.perf_counter()
        step(k)
        spent.append(1e3 * (time.perf_counter() - start))
    painted = count() - before
    assert painted >= steps, f"{name}: {painted} pictures in {steps} steps"
    print(f"{name:45s} median {np.median(spent):9.2f} ms   p95 {np.percentile(spent, 95):9.2f} ms   painted {painted}")
    return float(np.median(spent))


class Drawn(QWidget):
    """All vines with drawPoints in every picture."""

    def __init__(self, points: QPolygonF) -> None:
        super().__init__()
        self.points, self.off, self.paint_count = points, 0.0, 0

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor("white"))
        painter.setPen(QPen(QColor("black"), 1.0))
        painter.translate(self.off, 0.0)
        painter.drawPoints(self.points)
        painter.end()
        self.paint_count += 1


class Items(QGraphicsView):
    """One item for each vine."""

    def __init__(self, x_px: np.ndarray, y_px: np.ndarray) -> None:
        super().__init__()
        self.paint_count = 0
        scene = QGraphicsScene(self)
        for x, y in zip(x_px.tolist(), y_px.tolist(), strict=True):
            scene.addItem(QGraphicsEllipseItem(x - 1, y - 1, 2, 2))
        scene.setSceneRect(QRectF(-1e5, -1e5, 2e5, 2e5))
        self.setScene(scene)
        self.centerOn(WIDE / 2, HIGH / 2)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        self.paint_count += 1


def ours(app: QApplication, blocks: list[BlockScene]) -> float:
    """Time the canvas, whole estate in sight and closer, and see that tiles were there."""
    canvas = MapCanvas()
    canvas.resize(WIDE, HIGH)
    canvas.show()
    start = time.perf_counter()
    canvas.set_scene(read_scene(*blocks))
    print(f"first whole picture {settle(app, canvas):.2f} s (given the scene in {time.perf_counter() - start:.2f} s)")
    medians = []
    for name, factor in (("whole estate", 1.0), ("rows", 6.0), ("vines", 4.0)):
        canvas.camera.zoom(factor, WIDE * 0.6, HIGH * 0.5, WIDE, HIGH)
        made_s = settle(app, canvas)

        def step(k: int) -> None:
            canvas.camera.pan_px(STEP_PX if k % 20 < 10 else -STEP_PX, STEP_PX)
            canvas.repaint()
            app.processEvents()

        medians.append(report(f"tiles, {name}", step, lambda: canvas.paint_count, STEPS))
        assert canvas.tile_bytes > 0
        print(f"{'':45s} made in {made_s:.2f} s, tiles take {canvas.tile_bytes / 2**20:.0f} MB")

        def slide(k: int) -> None:
            canvas.set_threshold(0.05 + 0.004 * k)
            canvas.repaint()

        settle(app, canvas)
        report(f"threshold line, {name}", slide, lambda: canvas.paint_count, 40)
    canvas.close()
    return medians[0]


def main() -> None:
    """Print medians, 95th percentiles and ratios."""
    app = QApplication([])
    blocks = make_estate()
    x_m = np.concatenate([block.vines.x_m for block in blocks])
    y_m = np.concatenate([block.vines.y_m for block in blocks])
    stops = sum(len(block.stops) for block in blocks)
    print(f"{len(x_m):,} vines, {sum(len(block.block.rows) for block in blocks):,} rows, {stops:,} stops, {WIDE}x{HIGH}")
    tiles_ms = ours(app, blocks)
    scale = min(WIDE / np.ptp(x_m), HIGH / np.ptp(y_m))
    x_px, y_px = (x_m - x_m.min()) * scale, (y_m.max() - y_m) * scale

    drawn = Drawn(QPolygonF([QPointF(x, y) for x, y in zip(x_px.tolist(), y_px.tolist(), strict=True)]))
    drawn.resize(WIDE, HIGH)
    drawn.show()
    app.processEvents()

    def shift(k: int) -> None:
        drawn.off = float(k)
        drawn.repaint()

    drawn_ms = report("drawPoints in every picture", shift, lambda: drawn.paint_count, 15)
    drawn.close()
    pick = np.random.default_rng(1).choice(len(x_px), ITEMS, replace=False)
    items = Items(x_px[pick], y_px[pick])
    items.resize(WIDE, HIGH)
    items.show()
    app.processEvents()

    def scroll(k: int) -> None:
        items.horizontalScrollBar().setValue(items.horizontalScrollBar().value() + STEP_PX)
        items.viewport().repaint()

    items_ms = report(f"one item a vine ({ITEMS:,} vines only)", scroll, lambda: items.paint_count, 8)
    items.close()
    print(f"drawPoints / tiles {drawn_ms / tiles_ms:.0f}, items of a tenth of the vines / tiles {items_ms / tiles_ms:.0f}")


if __name__ == "__main__":
    main()
