"""The map under a real hand: drag, wheel, click, keys, and two sheets side by side."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from canvas_scenes import make_block, make_scene, read_scene
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from vinemap.desk.canvas import ZOOM_STEP, MapCanvas
from vinemap.desk.map_scene import MapScene

WIDE, HIGH = 700, 500
BLOCK = make_block(rows=20, vines=40)
SCENE = make_scene(BLOCK, 12)


@pytest.fixture
def canvas(qtbot: QtBot) -> Iterator[MapCanvas]:
    made = MapCanvas()
    qtbot.addWidget(made)
    made.resize(WIDE, HIGH)
    made.show()
    made.set_scene(read_scene(SCENE))
    qtbot.waitUntil(lambda: made.is_settled)
    yield made
    made.close()


def at_vine(canvas: MapCanvas, row: int, ordinal: int) -> QPoint:
    vine = int(SCENE.vines.row_start[row]) + ordinal - 1
    x, y = canvas.camera.view(WIDE, HIGH).to_px(SCENE.vines.x_m[vine], SCENE.vines.y_m[vine])
    return QPoint(round(x), round(y))


def drag(qtbot: QtBot, canvas: MapCanvas, start: QPoint, end: QPoint) -> None:
    qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=start)
    qtbot.mouseMove(canvas, pos=start + (end - start) / 2)
    qtbot.mouseMove(canvas, pos=end)
    qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=end)


def test_a_drag_moves_the_paper_with_the_hand(qtbot: QtBot, canvas: MapCanvas) -> None:
    picked: list[str] = []
    canvas.picked.connect(lambda block, row: picked.append(row))
    x_m, y_m, scale = canvas.camera.x_m, canvas.camera.y_m, canvas.camera.m_per_px
    drag(qtbot, canvas, QPoint(300, 250), QPoint(380, 210))
    assert canvas.camera.x_m == pytest.approx(x_m - 80 * scale)
    assert canvas.camera.y_m == pytest.approx(y_m - 40 * scale)
    assert canvas.camera.m_per_px == scale
    assert picked == [], "a drag is not a click"


def test_the_wheel_keeps_the_place_under_the_pointer(qtbot: QtBot, canvas: MapCanvas) -> None:
    here, scale = QPointF(420, 180), canvas.camera.m_per_px
    place = canvas.camera.view(WIDE, HIGH).to_m(here.x(), here.y())
    turn = QWheelEvent(
        here,
        here,
        QPoint(),
        QPoint(0, 240),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(canvas, turn)
    assert canvas.camera.m_per_px == pytest.approx(scale / ZOOM_STEP**2)
    assert canvas.camera.view(WIDE, HIGH).to_px(*place) == pytest.approx((420, 180), abs=0.51)


@pytest.mark.parametrize("row", [0, 7, 19])
def test_a_click_picks_the_row_under_it(qtbot: QtBot, canvas: MapCanvas, row: int) -> None:
    with qtbot.waitSignal(canvas.picked) as told:
        qtbot.mouseClick(canvas, Qt.MouseButton.LeftButton, pos=at_vine(canvas, row, 20))
    assert told.args == [BLOCK.name, str(row + 1)]
    assert f"row {row + 1}" in canvas.accessibleDescription()


def test_a_click_on_bare_paper_picks_nothing(qtbot: QtBot, canvas: MapCanvas) -> None:
    with qtbot.assertNotEmitted(canvas.picked):
        qtbot.mouseClick(canvas, Qt.MouseButton.LeftButton, pos=QPoint(20, 20))


def test_hovering_names_the_vine_and_says_how_sure(qtbot: QtBot, canvas: MapCanvas) -> None:
    living = int(np.flatnonzero(SCENE.vines.is_living & (SCENE.certainty != 2))[100])
    row, ordinal = int(SCENE.vines.row[living]), int(SCENE.vines.ordinal[living])
    canvas.camera.zoom(4.0, *at_vine(canvas, row, ordinal).toTuple(), WIDE, HIGH)
    with qtbot.waitSignal(canvas.hovered) as told:
        qtbot.mouseMove(canvas, pos=at_vine(canvas, row, ordinal))
    share, low, high = (100 * column[living] for column in (SCENE.incidence, SCENE.low, SCENE.high))
    words = f"{share:.0f} % of clusters, between {low:.0f} and {high:.0f}"
    assert told.args == [BLOCK.name, str(row + 1), living, words]


def test_hovering_where_nothing_is_known_says_so(qtbot: QtBot, canvas: MapCanvas) -> None:
    lost = int(np.flatnonzero(SCENE.vines.is_living & (SCENE.certainty == 2))[0])
    x_m, y_m = float(SCENE.vines.x_m[lost]), float(SCENE.vines.y_m[lost])
    canvas.camera.fit((x_m - 5, y_m - 5, x_m + 5, y_m + 5), WIDE, HIGH)
    with qtbot.waitSignal(canvas.hovered) as told:
        qtbot.mouseMove(canvas, pos=QPoint(WIDE // 2, HIGH // 2))
    assert told.args[2:] == [lost, "not known here"]


@pytest.mark.parametrize(
    ("key", "east", "north"),
    [(Qt.Key.Key_Left, -1, 0), (Qt.Key.Key_Right, 1, 0), (Qt.Key.Key_Up, 0, 1), (Qt.Key.Key_Down, 0, -1)],
)
def test_arrows_move_the_view(qtbot: QtBot, canvas: MapCanvas, key: Qt.Key, east: int, north: int) -> None:
    x_m, y_m = canvas.camera.x_m, canvas.camera.y_m
    qtbot.keyClick(canvas, key)
    assert np.sign([canvas.camera.x_m - x_m, canvas.camera.y_m - y_m]).tolist() == [east, north]


def test_plus_minus_and_nought(qtbot: QtBot, canvas: MapCanvas) -> None:
    fitted = canvas.camera.m_per_px
    qtbot.keyClick(canvas, Qt.Key.Key_Plus)
    assert canvas.camera.m_per_px == pytest.approx(fitted / ZOOM_STEP)
    qtbot.keyClick(canvas, Qt.Key.Key_Minus)
    qtbot.keyClick(canvas, Qt.Key.Key_Minus)
    assert canvas.camera.m_per_px == pytest.approx(fitted * ZOOM_STEP)
    qtbot.keyClick(canvas, Qt.Key.Key_0)
    assert canvas.camera.m_per_px == fitted


def test_a_double_click_fits(qtbot: QtBot, canvas: MapCanvas) -> None:
    fitted = canvas.camera.x_m, canvas.camera.y_m, canvas.camera.m_per_px
    canvas.camera.zoom(3.0, 10, 10, WIDE, HIGH)
    qtbot.mouseDClick(canvas, Qt.MouseButton.LeftButton, pos=QPoint(300, 200))
    assert (canvas.camera.x_m, canvas.camera.y_m, canvas.camera.m_per_px) == pytest.approx(fitted)


def test_rows_can_be_picked_without_a_mouse(qtbot: QtBot, canvas: MapCanvas) -> None:
    picked: list[str] = []
    canvas.picked.connect(lambda block, row: picked.append(row))
    for key in (Qt.Key.Key_PageDown, Qt.Key.Key_PageDown, Qt.Key.Key_PageUp, Qt.Key.Key_PageUp):
        qtbot.keyClick(canvas, key)
    assert picked == ["1", "2", "1", "20"]


def test_the_focus_line_is_for_keys_only(qtbot: QtBot, canvas: MapCanvas) -> None:
    def has_blue() -> bool:
        focus = read_scene(SCENE).ink.focus.lower()
        image = canvas.grab().toImage()
        return any(image.pixelColor(9, y).name() == focus for y in range(HIGH))

    qtbot.mouseClick(canvas, Qt.MouseButton.LeftButton, pos=QPoint(20, 20))
    assert not has_blue()
    qtbot.keyClick(canvas, Qt.Key.Key_Plus)
    assert has_blue()


def test_two_sheets_with_one_camera_move_together(qtbot: QtBot, canvas: MapCanvas) -> None:
    beside = MapCanvas(canvas.camera)
    qtbot.addWidget(beside)
    beside.resize(WIDE, HIGH)
    beside.show()
    beside.set_scene(read_scene(make_scene(BLOCK, 12, seed=9)))
    qtbot.waitUntil(lambda: beside.is_settled)
    painted = beside.paint_count
    drag(qtbot, canvas, QPoint(300, 250), QPoint(360, 250))
    qtbot.waitUntil(lambda: beside.paint_count > painted)
    assert beside.camera.view(WIDE, HIGH) == canvas.camera.view(WIDE, HIGH)
    canvas.pointed.connect(beside.show_pointer)
    before = beside.grab().toImage()
    qtbot.mouseMove(canvas, pos=at_vine(canvas, 9, 20))
    assert beside.grab().toImage() != before
    beside.hide_pointer()
    assert beside.grab().toImage() == before
    beside.close()


def test_an_empty_sheet_says_what_is_missing(qtbot: QtBot) -> None:
    canvas = MapCanvas()
    qtbot.addWidget(canvas)
    canvas.resize(WIDE, HIGH)
    canvas.show()
    canvas.set_scene(MapScene(empty="No block yet. Draw one, or bring one in."))
    assert canvas.accessibleDescription() == "No block yet. Draw one, or bring one in."
    image = canvas.grab().toImage()
    middle = {image.pixelColor(x, HIGH // 2 + y).name() for x in range(200, 500) for y in range(-12, 12)}
    assert len(middle) > 3, "there are words in the middle"
    for key in (Qt.Key.Key_0, Qt.Key.Key_Plus, Qt.Key.Key_PageDown):
        qtbot.keyClick(canvas, key)
    qtbot.mouseClick(canvas, Qt.MouseButton.LeftButton, pos=QPoint(300, 200))
    canvas.close()


@pytest.mark.parametrize(("rows", "vines"), [(1, 1), (1, 30), (30, 1)])
def test_the_smallest_blocks_can_be_seen_and_picked(qtbot: QtBot, rows: int, vines: int) -> None:
    canvas = MapCanvas()
    qtbot.addWidget(canvas)
    canvas.resize(WIDE, HIGH)
    canvas.show()
    scene = make_scene(make_block("Small", rows, vines), 1)
    canvas.set_scene(read_scene(scene))
    qtbot.waitUntil(lambda: canvas.is_settled)
    x, y = canvas.camera.view(WIDE, HIGH).to_px(scene.vines.x_m[0], scene.vines.y_m[0])
    with qtbot.waitSignal(canvas.picked) as told:
        qtbot.mouseClick(canvas, Qt.MouseButton.LeftButton, pos=QPoint(round(x), round(y)))
    assert told.args == ["Small", "1"]
    canvas.close()


def test_a_window_without_size_waits_for_one(qtbot: QtBot) -> None:
    canvas = MapCanvas()
    qtbot.addWidget(canvas)
    canvas.setMinimumSize(0, 0)
    canvas.resize(0, 0)
    canvas.show()
    canvas.set_scene(read_scene(SCENE))
    canvas.grab()
    canvas.resize(WIDE, HIGH)
    qtbot.waitUntil(lambda: canvas.is_settled)
    fitted = canvas.camera.m_per_px
    canvas.camera.pan_px(400.0, 0.0)
    canvas.fit()
    assert fitted == canvas.camera.m_per_px, "fitted once there was room"
    canvas.close()
