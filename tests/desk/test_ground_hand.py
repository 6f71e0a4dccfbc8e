"""Corners of the ground put right by hand, as a hand does it: press, move, let go, and keys. The ground is invented."""

import re
from pathlib import Path

import numpy as np
import pytest
from hand_window import LEFT, SHIFT, corner_at, corners, drag, invented_season, opened, px
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QShortcut

from vinemap.desk.ground_handles import CORNER, moved_line_m

# ---- on and off


def test_a_verb_a_key_and_the_find_line_turn_it_on_and_off(qtbot, window, hand):
    qtbot.keyClick(window.canvas, Qt.Key.Key_Escape)
    assert not hand.is_on
    assert hand.verb.text() == "Put right by hand"
    qtbot.mouseClick(hand.verb, LEFT)
    assert hand.is_on
    assert hand.verb.text() == "Done by hand"
    assert hand.says.startswith("By hand: drag a corner")
    qtbot.keyClick(window, Qt.Key.Key_P)
    assert not hand.is_on
    window.finding.ask("put right by hand")
    assert hand.is_on
    window.go_to("Walk")
    assert not hand.is_on
    assert not hand.verb.isVisible()


def test_off_it_leaves_the_map_as_it_was(qtbot, window, hand):
    at = px(hand, corners(window)[0])
    qtbot.keyClick(window.canvas, Qt.Key.Key_Escape)
    was, x_m = window.book.season, window.canvas.camera.x_m
    drag(qtbot, window.canvas, at, at + QPoint(40, 0))
    assert window.book.season is was
    assert window.canvas.camera.x_m != x_m


# ---- corners


def test_a_corner_follows_the_hand_and_is_saved_as_one_step(qtbot, window, hand):
    number = corner_at(window, (40, 60))
    start, scale, stand = px(hand, (40, 60)), hand.view.m_per_px, window.canvas._stand()
    drag(qtbot, window.canvas, start, start + QPoint(30, -20), lets_go=False)
    assert corners(window)[number] == pytest.approx((40, 60)), "nothing is saved while it is in the hand"
    assert hand.grip.is_moving
    assert hand.says == "Let go to put it here; Esc takes it back."
    qtbot.mouseRelease(window.canvas, LEFT, pos=start + QPoint(30, -20))
    assert corners(window)[number] == pytest.approx((40 + 30 * scale, 60 + 20 * scale))
    assert window.book.undo_label == "move a corner"
    assert window.canvas._stand() == stand, "the map stays where it is"
    qtbot.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert corners(window)[number] == pytest.approx((40, 60))
    assert window.book.undo_label is None


def test_escape_takes_a_drag_back(qtbot, window, hand):
    was = window.book.season
    start = px(hand, (40, 60))
    drag(qtbot, window.canvas, start, start + QPoint(30, -20), lets_go=False)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Escape)
    qtbot.mouseRelease(window.canvas, LEFT, pos=start + QPoint(30, -20))
    assert window.book.season is was
    assert hand.is_on
    assert not hand.grip.is_moving


def test_a_click_only_touches_a_corner(qtbot, window, hand):
    was = window.book.season
    qtbot.mouseClick(window.canvas, LEFT, pos=px(hand, (40, 60)))
    assert window.book.season is was
    assert hand.said == f"Corner {corner_at(window, (40, 60)) + 1}"


@pytest.mark.parametrize("place", [(20, -30), (5, 30)], ids=["crosses itself", "leaves rows outside"])
def test_what_can_not_be_springs_back_and_says_why(qtbot, window, hand, place):
    was = window.book.season
    drag(qtbot, window.canvas, px(hand, (40, 60)), px(hand, place))
    assert window.book.season is was
    assert hand.said
    assert hand.said in window.ledger.refusal()
    assert any((each.x_m, each.y_m) == (40, 60) for each in hand.grip.handles)


def test_a_corner_of_an_opening_moves_too(qtbot, window, hand):
    number = corner_at(window, (24, 34), ring=1)
    drag(qtbot, window.canvas, px(hand, (24, 34)), px(hand, (23, 33)))
    assert corners(window, ring=1)[number] == pytest.approx((23, 33), abs=hand.view.m_per_px)
    assert hand.said == f"Corner {number + 1} of opening 1"


def test_an_opening_put_over_rows_is_refused(qtbot, window, hand):
    was = window.book.season
    drag(qtbot, window.canvas, px(hand, (24, 34)), px(hand, (35, 45)))
    assert window.book.season is was
    assert "outside" in hand.said


def test_a_double_click_on_an_edge_adds_a_corner_and_delete_takes_it(qtbot, window, hand):
    at = px(hand, (20, 60))
    qtbot.mouseClick(window.canvas, LEFT, pos=at)
    qtbot.mouseDClick(window.canvas, LEFT, pos=at)
    assert len(corners(window)) == 5
    assert corners(window)[corner_at(window, (20, 60))] == pytest.approx((20, 60), abs=hand.view.m_per_px)
    assert window.state.chosen is None, "no row is picked by it"
    qtbot.keyClick(window.canvas, Qt.Key.Key_Delete)
    assert len(corners(window)) == 4
    assert window.book.season.block("Alder").outline.equals(invented_season().blocks[0].outline)


def test_corners_by_keys_alone(qtbot, window, hand):
    canvas = window.canvas
    qtbot.keyClick(canvas, Qt.Key.Key_Tab)
    assert hand.said == "Corner 1"
    first = corners(window)[0]
    qtbot.keyClick(canvas, Qt.Key.Key_Left)
    qtbot.keyClick(canvas, Qt.Key.Key_Down, SHIFT)
    assert corners(window)[0] == pytest.approx(first - (0.5, 0.1))
    qtbot.keyClick(canvas, Qt.Key.Key_Insert)
    assert len(corners(window)) == 5
    assert hand.said == "Corner 2 added."
    qtbot.keyClick(canvas, Qt.Key.Key_Tab, SHIFT)
    assert hand.said == "Corner 1"
    qtbot.keyClick(canvas, Qt.Key.Key_Backtab)
    assert hand.said == "Corner 4 of opening 1"


def test_an_arrow_that_is_held_is_one_step(qtbot, window, hand):
    qtbot.keyClick(window.canvas, Qt.Key.Key_Tab)
    first = corners(window)[0]
    for _ in range(6):
        qtbot.keyPress(window.canvas, Qt.Key.Key_Left)
    assert window.book.undo_label is None
    qtbot.keyRelease(window.canvas, Qt.Key.Key_Left)
    assert corners(window)[0] == pytest.approx(first - (3.0, 0.0))
    window.book.undo()
    assert window.book.undo_label is None


def test_arrows_move_the_map_while_nothing_is_touched(qtbot, window, hand):
    x_m = window.canvas.camera.x_m
    qtbot.keyClick(window.canvas, Qt.Key.Key_Left)
    assert window.canvas.camera.x_m != x_m


def test_undo_holds_after_the_file_was_opened_again(qtbot, path, window, hand):
    number = corner_at(window, (40, 60))
    drag(qtbot, window.canvas, px(hand, (40, 60)), px(hand, (43, 63)))
    assert corners(window)[number] != pytest.approx((40, 60))
    window.close()
    again = opened(qtbot, path)
    assert corners(again)[number] == pytest.approx((43, 63), abs=0.5)
    again.undo.click()
    assert corners(again)[number] == pytest.approx((40, 60))
    again.close()


def test_a_drag_makes_no_tile_and_no_step(qtbot, window, hand, monkeypatch):
    shop = window.canvas._sheet._shop
    window.canvas.repaint()
    qtbot.waitUntil(lambda: window.canvas.is_settled, timeout=30_000)
    made = []
    monkeypatch.setattr(shop, "ask", lambda picture, key: made.append(key) if shop.find(key) is None else None)
    start, count = px(hand, (40, 60)), window.canvas.paint_count
    qtbot.mousePress(window.canvas, LEFT, pos=start)
    for step in range(1, 30):
        qtbot.mouseMove(window.canvas, start + QPoint(step, -step))
        window.canvas.repaint()
    assert window.canvas.paint_count >= count + 29
    assert hand.grip.is_moving
    assert made == []
    assert window.book.undo_label is None


# ---- what is said of it


def test_the_line_of_a_moved_corner_runs_to_its_neighbours(hand):
    first = next(each for each in hand.grip.handles if each.kind == CORNER)
    ring = np.asarray(hand.block.outline.exterior.coords)[:-1]
    assert moved_line_m(hand.block, first, np.array([1.0, 2.0])).tolist() == [ring[-1].tolist(), [1.0, 2.0], ring[1].tolist()]


def test_every_key_of_it_is_on_the_keyboard_page(window):
    root = Path(__file__).resolve().parents[2]
    page = (root / "resources" / "guide" / "9-keyboard.md").read_text(encoding="utf-8")
    (body,) = re.findall(r"^## Putting the ground right by hand\n(.*?)(?=^## |\Z)", page, re.M | re.S)
    told = set(re.findall(r"`([^`]+)`", " ".join(line.split("|")[1] for line in body.splitlines() if line.startswith("|"))))
    words = {"Escape": "Esc", "Return": "Enter", "Backtab": "Shift+Tab"}
    used = set()
    for file in (root / "vinemap" / "desk").glob("ground_*.py"):
        used |= set(re.findall(r"Qt\.Key\.Key_(\w+)", file.read_text(encoding="utf-8")))
    assert {words.get(key, key) for key in used} == told
    assert "P" in {shortcut.key().toString() for shortcut in window.findChildren(QShortcut)}


def test_what_it_does_is_said_in_the_ledger_and_a_refusal_only_once(qtbot, window, hand):
    assert hand._says.isVisible()
    assert hand._says.text() == hand.says
    hand.tell("Corner 1")
    assert hand._said.text() == "Corner 1"
    window.ledger.show_refusal("This corner lies outside.")
    hand.tell("This corner lies outside.")
    assert hand._said.text() == ""
    assert not window.ledger._facts.isVisible()
    qtbot.keyClick(window.canvas, Qt.Key.Key_Escape)
    assert not hand._says.isVisible()
    assert window.ledger._facts.isVisible()
