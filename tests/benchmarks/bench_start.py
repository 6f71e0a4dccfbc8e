"""Seconds from starting Python to the first painted map window, each time in a fresh interpreter.

Run: python tests/benchmarks/bench_start.py
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
TIMES = 7
WINDOW = """
import sys
from PySide6.QtWidgets import QApplication
app = QApplication([])
from vinemap.desk.canvas import MapCanvas
canvas = MapCanvas()
canvas.resize(1160, 770)
canvas.show()
while canvas.paint_count == 0:
    app.processEvents()
slow = ("geopandas", "pandas", "matplotlib", "scipy.stats", "scipy.optimize", "pyproj")
print(canvas.paint_count, *(name for name in slow if name in sys.modules))
canvas.close()
"""


def main() -> None:
    """Print the median and the worst."""
    spent = []
    for _ in range(TIMES):
        start = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-c", WINDOW],
            cwd=ROOT,
            env={"QT_QPA_PLATFORM": "offscreen", **os.environ},
            capture_output=True,
            text=True,
            check=True,
        )
        spent.append(time.perf_counter() - start)
        assert int(done.stdout.split()[0]) >= 1, "the window never painted"
        assert done.stdout.split()[1:] == [], f"heavy imports on the way: {done.stdout}"
    print(f"bare map window painted: median {np.median(spent):.2f} s, worst {max(spent):.2f} s of {TIMES}")


if __name__ == "__main__":
    main()
