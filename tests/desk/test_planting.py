"""Rows made from an outline in the window: the question, what it shows, and what comes of it. The ground is invented."""

import shapely
from hand_window import LEFT, px
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialogButtonBox

from vinemap.desk.planting import Planting, PlantingDialog
from vinemap.ground.block import Block, no_rows
from vinemap.ground.planting import RowPlan, planned_rows
from vinemap.season.edits import with_block
from vinemap.sheets.ink import LIGHT

SQUARE = shapely.box(0, 0, 40, 40)
PLAN = RowPlan(84.5, 2.4, 1.2, 3.0, 11, "south", is_offset=True)


def test_the_dialog_gives_back_what_is_in_its_boxes(qtbot, window):
    dialog = PlantingDialog(Planting("Cedar", PLAN), SQUARE, LIGHT, window)
    assert dialog.planting() == Planting("Cedar", PLAN)
    dialog.row_spacing.setValue(3.0)
    assert dialog.planting().plan.row_spacing_m == 3.0


def test_the_dialog_says_and_shows_what_comes_of_its_figures(qtbot, window):
    dialog = PlantingDialog(Planting("Cedar", RowPlan(0.0, 2.5, 2.0)), SQUARE, LIGHT, window, is_new=False)
    shown = []
    dialog.planned.connect(shown.append)
    dialog.begin(window.ledger)
    # 16 rows of 20 vines in 40 by 40 m: nothing is lost at the edge (worked by hand)
    assert dialog.told.text() == "That makes 16 rows with 320 vines; the outline alone would hold 320."
    assert [len(rows) for rows in shown] == [16]
    make = dialog.buttons.button(QDialogButtonBox.StandardButton.Ok)
    dialog.headland.setValue(20.0)
    assert dialog.told.text().startswith("No vine fits")
    assert shown[-1] is None
    assert not make.isEnabled()
    dialog.headland.setValue(0.0)
    assert make.isEnabled()


def test_a_first_row_can_only_stand_where_the_rows_do_not_run_to(qtbot, window):
    dialog = PlantingDialog(Planting("Cedar", RowPlan(0.0, 2.5, 2.0)), SQUARE, LIGHT, window)
    assert [dialog.side.itemText(at) for at in range(dialog.side.count())] == ["east", "west"]
    dialog.bearing.setValue(90.0)
    assert [dialog.side.itemText(at) for at in range(dialog.side.count())] == ["north", "south"]
    assert dialog.planting().plan.from_side == "north"


def bare(window):
    """The season with an outline alone, as the county gives it."""
    outline = shapely.box(-50, 0, -10, 40)
    return with_block(window.book.season, Block("Cedar", outline, no_rows(), 2.5, 1.5))


def test_the_rows_of_an_outline_alone_are_made_along_two_clicks(qtbot, window, hand, monkeypatch):
    shown = []

    def ask(proposed, outline, is_new, show):
        assert not is_new
        show(planned_rows(outline, proposed.plan))
        shown.append(hand.drawing.rows)
        show(None)
        return proposed

    monkeypatch.setattr(hand.deeds, "ask_planting", ask)
    window.book.apply("an outline", lambda _: bare(window))
    window.pick_block("Cedar")
    assert hand.rows_verb.isVisible()
    window.canvas.camera.fit((-60, -10, 90, 70), window.canvas.width(), window.canvas.height())
    qtbot.mouseClick(hand.rows_verb, LEFT)
    assert hand.says.startswith("Click two places along a row")
    for place in ((-50, 20), (-15, 20)):
        qtbot.mouseClick(window.canvas, LEFT, pos=px(hand, place))
    cedar = window.book.season.block("Cedar")
    assert len(cedar.rows) == 16
    assert len(shown[0]) == 16
    assert hand.drawing.rows is None
    assert window.book.undo_label == "make rows of Cedar"
    hand.end()
    assert not hand.rows_verb.isVisible()
    window.book.undo()
    assert len(window.book.season.block("Cedar").rows) == 0


def test_rows_on_which_something_stands_are_not_made_again(qtbot, window, hand):
    was = window.book.season
    window.pick_block("Alder")
    assert hand.is_on
    qtbot.keyClick(window.canvas, Qt.Key.Key_G)
    assert hand.said == "Alder has stops of round 1, which stand on its present rows."
    assert hand.drawing.mode == ""
    assert window.book.season is was
