"""What is drawn while a handle is dragged: all others stay where they are, drawn once for the whole drag. All is invented."""

from __future__ import annotations

import numpy as np
import pytest
from hand_window import LEFT, corner_at, corners, drag, invented_file, opened_hand, px
from PySide6.QtCore import QPoint, Qt

from vinemap.desk import ground_marks

NORTH_EAST = (40.0, 60.0)


@pytest.fixture
def window(qtbot, tmp_path):
    window = opened_hand(qtbot, invented_file(tmp_path))
    yield window
    window.close()


def seen(window) -> np.ndarray:
    """The map as it is on the screen, (rows, columns)."""
    image = window.canvas.grab().toImage()
    return np.frombuffer(image.constBits(), np.uint32).reshape(image.height(), image.width()).copy()


def around(pixels: np.ndarray, at: QPoint, reach: int = 5) -> np.ndarray:
    return pixels[at.y() - reach : at.y() + reach, at.x() - reach : at.x() + reach]


def test_the_handles_that_stay_are_drawn_once_and_look_as_before(qtbot, window, monkeypatch) -> None:
    hand, asked = window.finding.hand, []
    at = corner_at(window, NORTH_EAST)
    places = [px(hand, place) for place in corners(window)]
    count, before = len(hand.grip.handles), seen(window)
    whole = ground_marks.draw_handles
    monkeypatch.setattr(ground_marks, "draw_handles", lambda *given: asked.append(len(given[1])) or whole(*given))
    drag(qtbot, window.canvas, places[at], places[at] + QPoint(40, 40), lets_go=False)
    for k in range(5):
        qtbot.mouseMove(window.canvas, places[at] + QPoint(60 + k, 60))
        window.canvas.repaint()
    assert hand.grip.is_moving
    assert asked.count(count - 1) == 1
    assert set(asked[asked.index(count - 1) + 1 :]) == {1}
    during = seen(window)
    # its neighbours have the line that follows the hand at them now
    still = [place for k, place in enumerate(places) if (k - at) % len(places) not in (0, 1, len(places) - 1)]
    assert still
    for place in still:
        assert (around(during, place) == around(before, place)).all()
    assert (around(during, places[at]) != around(before, places[at])).any()
    qtbot.keyClick(window.canvas, Qt.Key.Key_Escape)
    qtbot.mouseRelease(window.canvas, LEFT, Qt.KeyboardModifier.NoModifier, places[at])


def test_the_handles_are_drawn_anew_where_the_view_moves_under_a_drag(qtbot, window) -> None:
    hand, at = window.finding.hand, px(window.finding.hand, NORTH_EAST)
    drag(qtbot, window.canvas, at, at + QPoint(30, 30), lets_go=False)
    window.canvas.repaint()
    window.canvas.camera.pan_px(-50.0, 0.0)
    window.canvas.repaint()
    place = px(hand, corners(window)[corner_at(window, (0.0, 0.0))])
    qtbot.waitUntil(lambda: window.canvas.is_settled)
    during = seen(window)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Escape)
    qtbot.mouseRelease(window.canvas, LEFT, Qt.KeyboardModifier.NoModifier, at)
    assert (around(during, place) == around(seen(window), place)).all()
