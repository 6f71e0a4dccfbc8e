"""An invented season in a window whose ground is put right by hand, and what a hand does to it."""

import datetime as dt

import numpy as np
import shapely
from PySide6.QtCore import QPoint, Qt

from vinemap.desk.window import Window
from vinemap.ground.block import Block
from vinemap.ground.frame import Frame
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.vines import place_vines
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.value import Estate, Season
from vinemap.service.book import new_book, open_book

LEFT, SHIFT = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ShiftModifier
FRAME = Frame("EPSG:32610", 500000.0, 4200000.0, 38.0, -123.0, 0.0)


def planted(name, outline, varieties=("Syrah", "Carignan")):
    return Block(name, outline, make_rows(outline, 0.0, 2.5, 1.5), 2.5, 1.5, varieties)


def invented_season():
    """Alder with an opening for a shed, Birch beside it over a lane, and a stop at Alder / 3 / 5."""
    alder = planted("Alder", shapely.Polygon(shapely.box(0, 0, 40, 60).exterior, [[(18, 28), (24, 28), (24, 34), (18, 34)]]))
    birch = planted("Birch", shapely.box(46, 0, 80, 60))
    vines = place_vines(alder)
    at = int(vines.row_start[2]) + 4
    row = alder.rows.labels[2]
    stops = Stops(("Alder",), [0], (row,), [5], [vines.x_m[at]], [vines.y_m[at]], [20], [3], [0], [0], [False])
    scouted = Round(1, dt.date(2031, 5, 20), "A", "random", stops)
    return Season(Estate("Invented", FRAME, -8.0, True), (alder, birch), (scouted,))


def invented_file(folder):
    """The season in a file."""
    path = folder / "invented.vinemap"
    new_book(path, invented_season()).close()
    return path


def opened(qtbot, path):
    window = Window(open_book(path), now=lambda: dt.datetime(2031, 5, 21, 9))
    qtbot.addWidget(window)
    window.resize(1280, 760)
    window.show()
    window.go_to("Ground")
    window.pick_block("Alder")
    qtbot.waitUntil(lambda: window.canvas.is_settled, timeout=30_000)
    return window


def opened_hand(qtbot, path):
    """A window on the season with its ground taken into the hand."""
    window = opened(qtbot, path)
    qtbot.keyClick(window, Qt.Key.Key_P)
    assert window.finding.hand.is_on
    return window


def px(hand, place_m):
    x, y = hand.view.to_px(*place_m)
    return QPoint(round(x), round(y))


def vine_px(hand, row, ordinal):
    vines = hand.scene.vines
    at = int(vines.row_start[row]) + ordinal - 1
    return px(hand, (float(vines.x_m[at]), float(vines.y_m[at])))


def drag(qtbot, canvas, start, end, modifier=Qt.KeyboardModifier.NoModifier, lets_go=True):
    qtbot.mousePress(canvas, LEFT, modifier, start)
    qtbot.mouseMove(canvas, start + (end - start) / 2)
    qtbot.mouseMove(canvas, end)
    if lets_go:
        qtbot.mouseRelease(canvas, LEFT, modifier, end)


def corners(window, name="Alder", ring=0):
    outline = window.book.season.block(name).outline
    line = outline.exterior if ring == 0 else outline.interiors[ring - 1]
    return np.asarray(line.coords)[:-1]


def corner_at(window, place, name="Alder", ring=0):
    """Index of the corner at a place."""
    return int(np.argmin(np.hypot(*(corners(window, name, ring) - place).T)))


def click_row(qtbot, window, hand, row, ordinal=20):
    qtbot.mouseClick(window.canvas, LEFT, pos=vine_px(hand, row, ordinal))
    assert hand.row == row
