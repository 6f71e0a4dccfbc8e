"""Edits written into the find line, and a list of varieties pasted; the estate is invented."""

from __future__ import annotations

import pytest
import shapely
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QComboBox, QPlainTextEdit, QWidget

from vinemap.desk.typed_edits import VarietiesDialog
from vinemap.desk.window import Window
from vinemap.files.projection import frame_for
from vinemap.ground.block import Block
from vinemap.ground.rowmaker import make_rows
from vinemap.season.value import Estate, Season
from vinemap.service.book import new_book, open_book
from vinemap.sheets.ink import LIGHT


@pytest.fixture
def path(tmp_path):
    outlines = {"Dogleg": shapely.box(0, 0, 30, 40), "Wrenfield": shapely.box(36, 0, 60, 40)}
    blocks = tuple(
        Block(name, outline, make_rows(outline, 0.0, 2.5, 1.5), 2.5, 1.5, ("Syrah", "Carignan"))
        for name, outline in outlines.items()
    )
    new_book(tmp_path / "a.vinemap", Season(Estate("Invented", frame_for(-122.7, 38.6), -8.0), blocks)).close()
    return tmp_path / "a.vinemap"


@pytest.fixture
def window(qtbot, path):
    window = Window(open_book(path))
    qtbot.addWidget(window)
    window.show()
    qtbot.waitExposed(window)
    yield window
    window.close()


def find(window, text):
    window.head.find_line.setText(text)
    QTest.keyClick(window.head.find_line, Qt.Key.Key_Return)


# a row of 40 m holds 27 vines every 1.5 m, so vine 3 of row 2 is number 27 + 2 from 0
def marked(window, name="Dogleg"):
    return window.book.season.block(name).exceptions.vine.tolist()


def test_an_edit_written_into_the_find_line_is_made_said_and_undone(qtbot, window):
    before = window.book.season
    find(window, "Dogleg row 2, vines 3 to 5 dead")
    assert marked(window) == [29, 30, 31]
    assert window.ledger.refusal() == "Dogleg / 2: vines 3 to 5 are dead now."
    assert window.head.find_line.text() == ""
    assert not window.head.find_line.hasFocus()
    assert window.undo.toolTip() == "Dogleg row 2, vines 3 to 5 dead"
    qtbot.mouseClick(window.undo, Qt.MouseButton.LeftButton)
    assert window.book.season is before
    find(window, "redo")
    assert marked(window) == [29, 30, 31]


def test_what_can_not_be_done_is_said_in_the_ledger(window):
    before = window.book.season
    find(window, "row 2, vines 3 to 5 dead")
    assert "There are: Dogleg, Wrenfield" in window.ledger.refusal()
    find(window, "reverse row 99 of Dogleg")
    assert "Block Dogleg has no row 99" in window.ledger.refusal()
    find(window, "no such thing")
    assert "Nothing here is called “no such thing”" in window.ledger.refusal()
    assert window.book.season is before


def test_a_block_and_a_row_are_still_found(window):
    find(window, "wren")
    assert window.state.block == "Wrenfield"
    find(window, "Dogleg / 2")
    assert window.state.chosen == ("Dogleg", 1)


def test_a_block_or_row_that_is_gone_is_let_go_of(window):
    find(window, "Wrenfield / 9")
    assert window.state.chosen == ("Wrenfield", 8)
    find(window, "merge Dogleg and Wrenfield as Dogleg")
    assert (window.state.block, window.state.chosen) == ("", None)
    find(window, "Dogleg / 9a")
    find(window, "undo")
    assert window.state.chosen is None
    assert [block.name for block in window.book.season.blocks] == ["Dogleg", "Wrenfield"]


@pytest.mark.parametrize("step", ["Ground", "Walk", "Read", "Work", "Week", "Paper"])
def test_every_step_stands_an_edit_of_its_ground(window, step):
    find(window, "Wrenfield / 9")
    window.go_to(step)
    for text in (
        "delete row 9 of Wrenfield",
        "rename Wrenfield as Long",
        "split Dogleg after row 3 as East",
        "undo",
        "undo",
        "undo",
    ):
        find(window, text)
    assert marked(window) == []
    assert window.book.undo_label is None


def test_a_list_of_varieties_is_pasted(window):
    asked = []
    answer = ("Wrenfield", "2: Carignan 1-4; 99: Syrah")
    window.finding.typed.ask_varieties = lambda blocks, proposed: asked.append((blocks, proposed)) or answer
    find(window, "Wrenfield")
    find(window, "paste varieties")
    assert asked == [(["Dogleg", "Wrenfield"], "Wrenfield")]
    assert len(marked(window, "Wrenfield")) == 4
    assert "4 vines got their variety" in window.ledger.refusal()
    assert "Left out, 1: line 2: “99”" in window.ledger.refusal()
    window.finding.typed.ask_varieties = lambda blocks, proposed: None
    find(window, "paste varieties")
    assert window.book.undo_label == "varieties of Wrenfield"


def test_the_sheet_for_the_list_gives_back_what_was_pasted(qtbot):
    holder = QWidget()
    qtbot.addWidget(holder)
    dialog = VarietiesDialog(["Dogleg", "Wrenfield"], "Wrenfield", LIGHT, holder)
    dialog.findChild(QPlainTextEdit).setPlainText("1: Syrah\n2: Carignan")
    assert dialog.answer() == ("Wrenfield", "1: Syrah\n2: Carignan")
    dialog.findChild(QComboBox).setCurrentText("Dogleg")
    assert dialog.answer()[0] == "Dogleg"
