# ruff: noqa: E402, TID253 (the path to the blocks is set first; all of it is needed here)
"""Milliseconds for one step of the hand over an aerial picture of 20,000 by 20,000 pixels, and the memory it takes.

The picture is invented, and made anew in a temporary folder: tiles with a gap here and there, with smaller copies inside, and
then without them. Run: python tests/benchmarks/bench_underlay.py
"""

from __future__ import annotations

import os
import sys
import tempfile
import threading
import time
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1] / "desk")]

import numpy as np
import rasterio
from affine import Affine
from canvas_scenes import make_block, make_scene
from PySide6.QtWidgets import QApplication
from rasterio.enums import Resampling
from rasterio.windows import Window
from settling import settle

from vinemap.desk.canvas import MapCanvas
from vinemap.desk.map_scene import GROUND, MapScene
from vinemap.desk.underlay import Underlay
from vinemap.errors import FileError
from vinemap.files.picture_reader import PictureFile, look_at_picture, open_picture
from vinemap.files.projection import frame_for

WIDE, HIGH = 1600, 1000
SIZE, PIECE, CELL_M = 20_000, 512, 0.1
STEPS, STEP_PX = 120, 7
MOST_MB, MOST_MS = 300.0, 16.0
HOME = frame_for(-122.70, 38.60)


def make_picture(path: Path, has_copies: bool) -> Path:
    """Noise in green and brown; every third tile is not stored."""
    corner = Affine(CELL_M, 0.0, HOME.origin_x_m - 600.0, 0.0, -CELL_M, HOME.origin_y_m + 1400.0)
    form = {"tiled": True, "blockxsize": PIECE, "blockysize": PIECE, "compress": "deflate", "zlevel": 1, "sparse_ok": True}
    profile = {"driver": "GTiff", "count": 3, "height": SIZE, "width": SIZE, "dtype": "uint8", "photometric": "RGB"} | form
    rng = np.random.default_rng(1)
    pieces = [rng.integers(60, 150, (3, PIECE // 8, PIECE // 8)).repeat(8, 1).repeat(8, 2).astype(np.uint8) for _ in range(8)]
    with rasterio.open(path, "w", crs=HOME.crs, transform=corner, **profile) as made:
        count = -(-SIZE // PIECE)
        for number in range(count * count):
            if number % 3 != 2:
                top, left = number // count * PIECE, number % count * PIECE
                window = Window(left, top, min(PIECE, SIZE - left), min(PIECE, SIZE - top))
                made.write(pieces[number % 8][:, : window.height, : window.width], window=window)
    if has_copies:
        with rasterio.open(path, "r+") as made:
            made.build_overviews([2, 4, 8, 16], Resampling.average)
    return path


class Peak:
    """The most memory [MB] above what there was at the start, looked at all the time."""

    def __init__(self) -> None:
        self.start_mb = self.most_mb = self._now_mb()
        self._has_ended = threading.Event()
        self._thread = threading.Thread(target=self._watch)
        self._thread.start()

    def _now_mb(self) -> float:
        return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20

    def _watch(self) -> None:
        while not self._has_ended.wait(0.01):
            self.most_mb = max(self.most_mb, self._now_mb())

    def end(self) -> float:
        """Stop looking; the growth [MB]."""
        self._has_ended.set()
        self._thread.join()
        return self.most_mb - self.start_mb


def fail(picture: PictureFile, error: FileError) -> None:
    """A picture that fails must not be taken for a fast one."""
    os.write(2, f"{error}\n".encode())
    os._exit(1)


def pan(app: QApplication, name: str, scene: MapScene) -> float:
    """The largest of the medians [ms] of a step, at three scales, new ground coming in all the time."""
    canvas = MapCanvas()
    canvas.resize(WIDE, HIGH)
    canvas.show()
    canvas.set_scene(scene)
    settle(app, canvas)
    medians = []
    for factor in (0.5, 4.0, 6.0):
        canvas.camera.zoom(factor, WIDE / 2, HIGH / 2, WIDE, HIGH)
        whole_s = settle(app, canvas)
        spent, before = [], canvas.paint_count
        for _ in range(STEPS):
            start = time.perf_counter()
            canvas.camera.pan_px(-STEP_PX, STEP_PX / 2)
            canvas.repaint()
            app.processEvents()
            spent.append(1e3 * (time.perf_counter() - start))
            time.sleep(0.004)
        assert canvas.paint_count - before >= STEPS
        medians.append(float(np.median(spent)))
        print(
            f"{name:20s} {canvas.camera.m_per_px:6.3f} m a pixel: whole in {whole_s:5.2f} s, "
            f"step median {medians[-1]:6.2f} ms, p95 {np.percentile(spent, 95):6.2f} ms, "
            f"tiles {canvas.tile_bytes / 2**20:.0f} MB"
        )
    canvas.close()
    return max(medians)


def main() -> None:
    """Print times and memory without a picture, and over one with and without smaller copies in it."""
    app = QApplication([])
    block = make_block("Invented", 52, 100, 84.0)
    scene = MapScene((make_scene(block),), GROUND)
    pan(app, "no picture", scene)
    for name, has_copies in (("with smaller copies", True), ("without", False)):
        with tempfile.TemporaryDirectory() as folder:
            path = make_picture(Path(folder) / "invented.tif", has_copies)
            print(f"{path.stat().st_size / 2**20:.0f} MB in the file")
            peak = Peak()
            start = time.perf_counter()
            aerial = look_at_picture(path, [block], HOME)
            looked_s = time.perf_counter() - start
            picture = open_picture(aerial, HOME, path.parent)
            print(f"{name}: looked at in {looked_s:.2f} s, opened in {time.perf_counter() - start - looked_s:.2f} s")
            with_picture = MapScene(scene.blocks, GROUND, underlay=Underlay(picture, fail))
            median_ms = pan(app, name, with_picture)
            grown_mb = peak.end()
            picture.close()
            print(f"{name}: memory grew by {grown_mb:.0f} MB at most (goal {MOST_MB:.0f})")
            print(f"{name}: step {median_ms:.1f} ms (goal {MOST_MS:.0f})")


if __name__ == "__main__":
    main()
