"""What the season holds is given out by hand; the estate is invented."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from vinemap.desk.giving import GIVE, MAPS, TASK
from vinemap.desk.window import Window
from vinemap.service.book import open_book
from vinemap.service.sample import make_season, sample_folder


@pytest.fixture
def window(small_window):
    return small_window


def answer(window, what, place, rate=None):
    giving = window.finding.giving
    offered = []
    giving.ask_what = lambda: what
    giving.ask_rate = lambda: rate
    giving.ask_place = lambda proposed, kinds: offered.append((proposed, kinds)) or place
    return offered


def find(window, text):
    window.head.find_line.setText(text)
    QTest.keyClick(window.head.find_line, Qt.Key.Key_Return)


def test_the_verb_stands_on_ground_only_and_writes_what_is_asked_for(qtbot, window, tmp_path):
    verb = window.finding.giving.verb
    assert verb.text() == GIVE
    assert verb.isVisible()
    place = tmp_path / "rows.gpx"
    offered = answer(window, "rows", place)
    qtbot.mouseClick(verb, Qt.MouseButton.LeftButton)
    assert place.read_text(encoding="utf-8").count("<wpt ") == 4
    assert offered == [(tmp_path / "a-rows", MAPS)]
    assert window.ledger.refusal() == f"4 ends of rows written to {place}."
    window.go_to("Walk")
    assert not verb.isVisible()


def test_the_find_line_gives_out_and_says_what_is_refused(window, tmp_path):
    answer(window, "rows", tmp_path / "rows.doc")
    find(window, "give out files")
    assert "no ending that is known" in window.ledger.refusal()
    answer(window, "work", tmp_path / "work.kml")
    find(window, "give out files")
    assert "no scouting round yet" in window.ledger.refusal()
    answer(window, "rows", window.book.path)
    find(window, "give out files")
    assert "can't be written over" in window.ledger.refusal()
    assert [each.name for each in tmp_path.iterdir() if each.suffix in (".doc", ".kml")] == []


def test_thinking_again_writes_nothing(window, tmp_path):
    for what, place, rate in (("", tmp_path / "a.kml", None), ("rows", None, None), ("zones", tmp_path / "a.zip", None)):
        answer(window, what, place, rate)
        find(window, "give out files")
        assert window.ledger.refusal() == ""
    assert [each.name for each in tmp_path.iterdir() if each.suffix in (".zip", ".kml")] == []


def test_a_task_for_a_sprayer_waits_until_the_rows_are_in_order(qtbot, tmp_path):
    window = Window(open_book(make_season(sample_folder() / "wattlequern", tmp_path / "w.vinemap", 1)))
    qtbot.addWidget(window)
    try:
        season, scouted = window.book.season, window.book.season.round(1)
        offered = answer(window, "zones", tmp_path / "task.zip", 600.0)
        find(window, "give out files")
        assert offered[0][1][0] == TASK
        assert "not in order yet" in window.ledger.refusal()
        window.steps.answers.ranking(season, scouted)
        find(window, "give out files")
        assert "The label and your local law come first" in window.ledger.refusal()
        assert (tmp_path / "task.zip").stat().st_size > 0
    finally:
        window.close()
