"""Seconds from starting Python to the first painted window on the sample season, each time in a fresh interpreter.

Beside it, in turns: the same window when the plotting and table libraries are imported first, as is usual.

    .venv/bin/python tests/benchmarks/bench_start.py
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from vinemap.service.sample import make_season, sample_folder

ROOT = Path(__file__).resolve().parents[2]
TIMES = 5
HEAVY = "import geopandas, pandas, matplotlib.pyplot, scipy.stats\n"
WINDOW = """
import sys
from pathlib import Path
from PySide6.QtWidgets import QApplication
from vinemap.desk.app import Desk, opened_book
app = QApplication([])
desk = Desk()
desk.turn_to(opened_book(Path(sys.argv[1])))
while desk.window.canvas.paint_count == 0:
    app.processEvents()
heavy = ("geopandas", "pandas", "matplotlib", "scipy.stats")
print(desk.window.canvas.paint_count, *(name for name in heavy if name in sys.modules), flush=True)
import os
os._exit(0)
"""


def seconds_to_window(code: str, season: Path) -> tuple[float, list[str]]:
    """Time until the window has painted and the process has ended, and what it printed."""
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", code, str(season)],
        cwd=ROOT,
        env={"QT_QPA_PLATFORM": "offscreen", **os.environ},
        capture_output=True,
        text=True,
        check=True,
    )
    return time.perf_counter() - start, done.stdout.split()


def main() -> None:
    """Print medians, worst cases and the ratio."""
    light: list[float] = []
    heavy: list[float] = []
    with tempfile.TemporaryDirectory() as folder:
        season = make_season(sample_folder() / "marlquill", Path(folder) / "sample.vinemap", 2)
        for _ in range(TIMES):
            seconds, said = seconds_to_window(WINDOW, season)
            assert int(said[0]) >= 1, "the window never painted"
            assert said[1:] == [], f"heavy imports on the way to the first picture: {said[1:]}"
            light.append(seconds)
            heavy.append(seconds_to_window(HEAVY + WINDOW, season)[0])
    ours, theirs = float(np.median(light)), float(np.median(heavy))
    print(f"first painted window: median {ours:.2f} s, worst {max(light):.2f} s of {TIMES}")
    print(f"with heavy imports first: median {theirs:.2f} s; ratio {theirs / ours:.2f}")


if __name__ == "__main__":
    main()
