"""What the drawing benchmarks share."""

from __future__ import annotations

import time

from PySide6.QtWidgets import QApplication

from vinemap.desk.canvas import MapCanvas


def settle(app: QApplication, canvas: MapCanvas) -> float:
    """Seconds until the picture is whole and nothing more is being made."""
    start = time.perf_counter()
    while True:
        app.processEvents()
        if canvas.is_settled:
            canvas.repaint()
            if canvas.is_settled:
                return time.perf_counter() - start
        time.sleep(0.002)
