"""Rows, vines and whole blocks put right by hand on the map. The ground and its figures are invented."""

from dataclasses import replace

import pytest
from hand_window import LEFT, SHIFT, click_row, drag, px, vine_px
from PySide6.QtCore import QPoint, Qt

from vinemap.desk.ground_handles import ROW_END
from vinemap.desk.planting import Planting
from vinemap.ground.block import DEAD, MISSING, REPLANT
from vinemap.ground.planting import RowPlan
from vinemap.ground.vines import place_vines

# ---- rows


def test_the_ends_of_a_row_that_is_picked_move(qtbot, window, hand):
    click_row(qtbot, window, hand, 5)
    assert [each.kind for each in hand.grip.handles].count(ROW_END) == 2
    line = window.book.season.block("Alder").rows.line_m(5)
    drag(qtbot, window.canvas, px(hand, line[-1]), px(hand, line[-1] - (0, 6)))
    now = window.book.season.block("Alder").rows
    assert now.line_m(5)[-1] == pytest.approx(line[-1] - (0, 6), abs=hand.view.m_per_px)
    assert now.line_m(5)[0] == pytest.approx(line[0])
    assert window.book.undo_label == "move row 6"
    assert hand.row == 5


def test_a_row_is_reversed_and_its_stop_stays_where_it_is(qtbot, window, hand):
    click_row(qtbot, window, hand, 2)
    before = window.book.season
    qtbot.keyClick(window.canvas, Qt.Key.Key_R)
    now = window.book.season
    count = int(before.block("Alder").rows.vine_count[2])
    assert now.block("Alder").rows.line_m(2)[0, 1] > now.block("Alder").rows.line_m(2)[-1, 1]
    assert now.rounds[0].stops.vine.tolist() == [count + 1 - 5]
    assert hand.said == "Row 3 begins at its other end now."
    window.book.undo()
    assert window.book.season.rounds[0].stops.vine.tolist() == [5]


def test_a_row_is_deleted_only_when_asked_and_never_with_a_stop_on_it(qtbot, window, hand, monkeypatch):
    asked = []
    answer = [False]
    monkeypatch.setattr(hand.deeds, "ask_yes", lambda words: asked.append(words) or answer[0])
    click_row(qtbot, window, hand, 5)
    was = window.book.season
    qtbot.keyClick(window.canvas, Qt.Key.Key_Delete)
    assert window.book.season is was
    assert asked[0].startswith("Delete row 6 of Alder with its ")
    answer[0] = True
    qtbot.keyClick(window.canvas, Qt.Key.Key_Delete)
    assert "6" not in window.book.season.block("Alder").rows.labels
    assert (hand.row, hand.said) == (None, "Row 6 deleted.")
    was = window.book.season
    click_row(qtbot, window, hand, 2)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Delete)
    assert window.book.season is was
    assert "stop" in hand.said


def test_a_row_is_added_beside_another(qtbot, window, hand, monkeypatch):
    monkeypatch.setattr(hand.deeds, "ask_yes", lambda words: True)
    monkeypatch.setattr(hand.deeds, "ask_choice", lambda title, words, choices: "east")
    monkeypatch.setattr(hand.deeds, "ask_text", lambda title, words, proposed: "6b")
    click_row(qtbot, window, hand, 5)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Delete)
    click_row(qtbot, window, hand, 4)
    qtbot.keyClick(window.canvas, Qt.Key.Key_A)
    rows = window.book.season.block("Alder").rows
    assert rows.labels[4:7] == ("5", "6b", "7")
    assert rows.line_m(5)[0, 0] == pytest.approx(rows.line_m(4)[0, 0] + 2.5)


def test_without_a_row_the_keys_say_what_to_do(qtbot, window, hand):
    for key in (Qt.Key.Key_R, Qt.Key.Key_A, Qt.Key.Key_E):
        hand.said = ""
        qtbot.keyClick(window.canvas, key)
        assert hand.said == "Pick a row first: click it, or press Page Down."
    qtbot.keyClick(window.canvas, Qt.Key.Key_D)
    assert hand.said.startswith("Choose vines first")
    qtbot.keyClick(window.canvas, Qt.Key.Key_Delete)
    assert hand.said == "Touch a corner or pick a row first."
    assert window.book.undo_label is None


# ---- vines


def status(window, row, first, last):
    vines = place_vines(window.book.season.block("Alder"))
    start = int(vines.row_start[row])
    return set(vines.status[start + first - 1 : start + last].tolist())


@pytest.mark.parametrize(("key", "code"), [(Qt.Key.Key_D, DEAD), (Qt.Key.Key_M, MISSING), (Qt.Key.Key_N, REPLANT)])
def test_a_run_of_vines_is_drawn_with_shift_and_marked(qtbot, window, hand, key, code):
    drag(qtbot, window.canvas, vine_px(hand, 4, 30), vine_px(hand, 4, 12), SHIFT)
    assert hand.says.startswith("Row 5, vines 12 to 30:")
    qtbot.keyClick(window.canvas, key)
    assert status(window, 4, 12, 30) == {code}
    assert status(window, 4, 1, 11) == {0}
    assert hand.runs.run is not None, "it stays chosen"
    qtbot.keyClick(window.canvas, Qt.Key.Key_L)
    assert status(window, 4, 12, 30) == {0}
    assert len(window.book.season.block("Alder").exceptions.vine) == 0


def test_a_run_goes_from_vine_to_vine_with_shift_clicks(qtbot, window, hand):
    qtbot.mouseClick(window.canvas, LEFT, SHIFT, vine_px(hand, 4, 12))
    assert hand.says.startswith("Row 5, vine 12:")
    qtbot.mouseClick(window.canvas, LEFT, SHIFT, vine_px(hand, 4, 20))
    assert hand.runs.run.span == (12, 20)
    qtbot.mouseClick(window.canvas, LEFT, SHIFT, vine_px(hand, 4, 7))
    assert hand.runs.run.span == (7, 12)
    qtbot.mouseClick(window.canvas, LEFT, SHIFT, vine_px(hand, 6, 3))
    assert (hand.runs.run.row, hand.runs.run.span) == (6, (3, 3))
    qtbot.keyClick(window.canvas, Qt.Key.Key_Escape)
    assert hand.runs.run is None
    assert hand.is_on


def test_vines_are_chosen_by_numbers_and_marked_as_a_new_variety(qtbot, window, hand, monkeypatch):
    texts = ["20 to 4", "Grenache"]
    monkeypatch.setattr(hand.deeds, "ask_text", lambda title, words, proposed: texts.pop(0))
    monkeypatch.setattr(hand.deeds, "ask_choice", lambda title, words, choices: choices[-1])
    click_row(qtbot, window, hand, 4)
    qtbot.keyClick(window.canvas, Qt.Key.Key_E)
    assert hand.says.startswith("Row 5, vines 4 to 20:")
    qtbot.keyClick(window.canvas, Qt.Key.Key_V)
    block = window.book.season.block("Alder")
    assert block.varieties == ("Syrah", "Carignan", "Grenache")
    vines = place_vines(block)
    start = int(vines.row_start[4])
    assert (vines.variety[start + 3 : start + 20] == 2).all()
    assert (vines.variety == 2).sum() == 17
    window.book.undo()
    assert window.book.season.block("Alder").varieties == ("Syrah", "Carignan")


@pytest.mark.parametrize("text", ["0 to 5", "5 to 999", "many", "1 2 3"])
def test_numbers_that_are_no_vines_are_refused(qtbot, window, hand, monkeypatch, text):
    monkeypatch.setattr(hand.deeds, "ask_text", lambda title, words, proposed: text)
    click_row(qtbot, window, hand, 4)
    qtbot.keyClick(window.canvas, Qt.Key.Key_E)
    assert hand.runs.run is None
    assert f"“{text}” is not understood" in hand.said


# ---- blocks


def test_two_clicks_split_a_block(qtbot, window, hand, monkeypatch):
    monkeypatch.setattr(hand.deeds, "ask_text", lambda title, words, proposed: "Alder North")
    before = window.book.season
    qtbot.mouseClick(hand.verbs["Split"], LEFT)
    assert hand.says.startswith("Click two places")
    for place in ((5, 45), (35, 45)):
        qtbot.mouseClick(window.canvas, LEFT, pos=px(hand, place))
    season = window.book.season
    assert [each.name for each in season.blocks] == ["Alder", "Alder North", "Birch"]
    total = sum(int(each.rows.vine_count.sum()) for each in season.blocks)
    assert total == sum(int(each.rows.vine_count.sum()) for each in before.blocks)
    assert window.book.undo_label == "split Alder"
    assert hand.drawing.mode == ""
    window.book.undo()
    assert [each.name for each in window.book.season.blocks] == ["Alder", "Birch"]


def test_a_cut_that_misses_is_refused(qtbot, window, hand, monkeypatch):
    monkeypatch.setattr(hand.deeds, "ask_text", lambda title, words, proposed: "X")
    was = window.book.season
    qtbot.keyClick(window.canvas, Qt.Key.Key_S)
    for place in ((-5, -5), (-5, 65)):
        qtbot.mouseClick(window.canvas, LEFT, pos=px(hand, place))
    assert window.book.season is was
    assert hand.said.startswith("The line does not cut the block in two.")


def test_a_cut_by_keys_and_given_up(qtbot, window, hand, monkeypatch):
    monkeypatch.setattr(hand.deeds, "ask_text", lambda title, words, proposed: "Alder East")
    window.pick_block("Alder")
    was = window.book.season
    qtbot.keyClick(window.canvas, Qt.Key.Key_S)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Right)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Space)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Escape)
    assert (hand.drawing.mode, window.book.season, hand.is_on) == ("", was, True)
    qtbot.keyClick(window.canvas, Qt.Key.Key_S)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Up)
    for _ in range(12):
        qtbot.keyClick(window.canvas, Qt.Key.Key_Up)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Space)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Right, SHIFT)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Right)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Space)
    assert "Alder East" in [each.name for each in window.book.season.blocks]


@pytest.mark.parametrize("by_key", [False, True])
def test_two_blocks_are_merged_and_new_labels_told(qtbot, window, hand, monkeypatch, by_key):
    monkeypatch.setattr(hand.deeds, "ask_text", lambda title, words, proposed: "Alder Birch")
    qtbot.keyClick(window.canvas, Qt.Key.Key_J)
    assert "Alder" in hand.says
    if by_key:
        qtbot.keyClick(window.canvas, Qt.Key.Key_Tab)
        assert hand.said == "Birch"
        qtbot.keyClick(window.canvas, Qt.Key.Key_Return)
    else:
        window.canvas.fit()
        qtbot.mouseClick(window.canvas, LEFT, pos=px(hand, (60, 30)))
    assert [each.name for each in window.book.season.blocks] == ["Alder Birch"]
    assert window.ledger.refusal().startswith("Rows of Birch with new labels: 1 is 1a")
    assert window.book.season.rounds[0].stops.blocks == ("Alder Birch",)
    window.book.undo()
    assert [each.name for each in window.book.season.blocks] == ["Alder", "Birch"]


def draw(qtbot, window, hand, places):
    window.canvas.camera.fit((-60, -10, 90, 70), window.canvas.width(), window.canvas.height())
    window.finding.ask("draw a block")
    assert hand.is_on
    for place in places:
        qtbot.mouseClick(window.canvas, LEFT, pos=px(hand, place))


CORNERS = ((-50, 0), (-10, 0), (-10, 40), (-50, 40))


def test_a_block_is_drawn_and_planted_along_two_clicks(qtbot, window, hand, monkeypatch):
    asked = []

    def ask(proposed, outline, is_new, show):
        asked.append(proposed)
        assert is_new
        return replace(proposed, name="Cedar")

    monkeypatch.setattr(hand.deeds, "ask_planting", ask)
    draw(qtbot, window, hand, [*CORNERS, (0, 50)])
    qtbot.keyClick(window.canvas, Qt.Key.Key_Backspace)
    qtbot.mouseDClick(window.canvas, LEFT, pos=px(hand, CORNERS[-1]))
    assert hand.says.startswith("Click two places along a row")
    for place in ((-50, 20), (-15, 20)):
        qtbot.mouseClick(window.canvas, LEFT, pos=px(hand, place))
    assert asked[0].plan.bearing_deg == pytest.approx(90.0, abs=1.0)
    assert (asked[0].plan.row_spacing_m, asked[0].plan.vine_spacing_m) == (2.5, 1.5)
    cedar = window.book.season.block("Cedar")
    assert cedar.outline.area == pytest.approx(1600.0, rel=0.03)
    assert len(cedar.rows) in (15, 16)
    assert window.state.block == "Cedar"
    assert hand.said == f"Cedar has {len(cedar.rows)} rows now."
    window.book.undo()
    assert window.book.season.block("Cedar") is None


def test_enter_closes_and_asks_for_the_bearing_and_a_refusal_keeps_the_outline(qtbot, window, hand, monkeypatch):
    answers = [None, Planting("Birch", RowPlan(0.0, 2.5, 1.5)), Planting("Cedar", RowPlan(30.0, 2.5, 1.5))]
    monkeypatch.setattr(hand.deeds, "ask_planting", lambda *asked: answers.pop(0))
    draw(qtbot, window, hand, CORNERS)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Return)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Return)
    assert hand.drawing.outline, "thought again: still there"
    qtbot.keyClick(window.canvas, Qt.Key.Key_Return)
    assert hand.said.startswith("There is a block Birch already.")
    qtbot.keyClick(window.canvas, Qt.Key.Key_Return)
    assert window.book.season.block("Cedar") is not None


def test_a_click_on_the_first_corner_closes_and_three_are_needed(qtbot, window, hand):
    draw(qtbot, window, hand, CORNERS[:2])
    qtbot.keyClick(window.canvas, Qt.Key.Key_Return)
    assert hand.said == "An outline needs three corners."
    for place in (*CORNERS[2:], CORNERS[0]):
        qtbot.mouseClick(window.canvas, LEFT, pos=px(hand, place))
    assert len(hand.drawing.outline) == 4
    qtbot.keyClick(window.canvas, Qt.Key.Key_Escape)
    assert hand.drawing.outline == ()
    assert window.book.undo_label is None


def test_a_drag_moves_the_map_while_places_are_put_down(qtbot, window, hand):
    draw(qtbot, window, hand, CORNERS[:1])
    x_m = window.canvas.camera.x_m
    drag(qtbot, window.canvas, QPoint(300, 300), QPoint(360, 300))
    assert window.canvas.camera.x_m < x_m
    assert len(hand.drawing.points) == 1


@pytest.mark.parametrize(
    ("places", "words"),
    [
        ([(-50, 0), (-10, 40), (-10, 0), (-50, 40)], "The outline crosses itself."),
        ([(-10, 0), (20, 0), (20, 40), (-10, 40)], "The outline lies over block Alder."),
    ],
)
def test_a_block_that_can_not_be_is_refused(qtbot, window, hand, monkeypatch, places, words):
    monkeypatch.setattr(hand.deeds, "ask_planting", lambda proposed, *others: replace(proposed, name="Cedar"))
    was = window.book.season
    draw(qtbot, window, hand, places)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Return)
    qtbot.keyClick(window.canvas, Qt.Key.Key_Return)
    assert hand.said.startswith(words)
    assert window.book.season is was
