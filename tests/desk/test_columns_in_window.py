"""Columns that may help the map, brought in and removed by hand; the estate is invented."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest


@pytest.fixture
def window(small_window):
    return small_window


def figures(window):
    return {fact.label: fact.value for fact in window.ledger._facts._facts}


def find(window, text):
    window.head.find_line.setText(text)
    QTest.keyClick(window.head.find_line, Qt.Key.Key_Return)


def test_a_column_comes_in_like_any_file_is_listed_removed_and_brought_back(qtbot, window, tmp_path):
    table = tmp_path / "v.csv"
    table.write_text("block,row,vine,vigour\nLong Acre,1,1,0.2\nLong Acre,1,2,0.3\nLong Acre,9,1,0.3\n", encoding="utf-8")
    window.asking.ask_files = lambda: [table]
    qtbot.mouseClick(window.left_verb, Qt.MouseButton.LeftButton)
    assert figures(window)["column vigour, v.csv"] == "2 vines"
    assert "There is no row 9" in window.ledger.refusal()
    offered = []
    window.asking.ask_column = lambda title, words, columns: offered.append(columns) or columns[0]
    find(window, "remove a column")
    assert offered == [["vigour"]]
    assert window.book.season.covariates == ()
    assert "column vigour, v.csv" not in figures(window)
    qtbot.mouseClick(window.undo, Qt.MouseButton.LeftButton)
    assert figures(window)["column vigour, v.csv"] == "2 vines"


def test_of_several_columns_one_is_asked_for_and_thinking_again_leaves_all_as_it_was(qtbot, window, tmp_path):
    table = tmp_path / "v.csv"
    table.write_text("block,row,vine,vigour,height\nLong Acre,1,1,0.2,80\n", encoding="utf-8")
    window.asking.ask_files = lambda: [table]
    window.asking.ask_column = lambda title, words, columns: ""
    before = window.book.season
    window.asking.bring_in()
    assert window.book.season is before
    window.asking.ask_column = lambda title, words, columns: columns[1]
    window.asking.bring_in()
    assert [each.name for each in window.book.season.covariates] == ["height"]
    window.asking.ask_column = lambda title, words, columns: ""
    window.asking.remove_column()
    assert len(window.book.season.covariates) == 1


def test_without_a_column_there_is_none_to_remove(qtbot, window):
    window.asking.ask_column = lambda *asked: pytest.fail("nothing to ask")
    window.asking.remove_column()
    assert "no column to remove" in window.ledger.refusal()
