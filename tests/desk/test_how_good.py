"""The page "How good is this map?" in the window: on the tiny southern sample, whose figures are invented."""

import datetime as dt

import pytest
from PySide6.QtCore import Qt
from sample_window import opened_sample

from vinemap.desk.how_good_view import BACK, PRINT
from vinemap.desk.window import LEFT
from vinemap.service.how_good import TITLE
from vinemap.service.sample import make_season, sample_folder

PRINTED = dt.datetime(2025, 12, 21, 18, 20)


@pytest.fixture(scope="module")
def season_path(tmp_path_factory):
    return make_season(sample_folder() / "wattlequern", tmp_path_factory.mktemp("how_good") / "wattlequern.vinemap", 1)


@pytest.fixture(scope="module")
def shared(qapp, request, season_path):
    """One window for all: its fields are made once, and its threads begin before any test."""
    window = opened_sample(request, season_path, PRINTED)
    yield window
    window.close()


@pytest.fixture
def window(shared):
    shared.go_to("Read")
    shared.pick_block("Ember Rise")
    return shared


def page_is_shown(window):
    return window.stack.currentWidget() is window.how_good.view


def test_the_verb_turns_to_the_page_and_back(qtbot, window):
    assert window.how_good.verb.text() == TITLE
    assert not page_is_shown(window)
    qtbot.mouseClick(window.how_good.verb, Qt.MouseButton.LeftButton)
    assert page_is_shown(window)
    assert window.ledger.table._lines[0].cells[0] == "the binomial field"
    assert window.ledger._title.text() == TITLE
    assert window.how_good.view.plan.block.name == "Ember Rise"
    assert "fell inside their 90 % range" in window.how_good.view.accessibleDescription()
    assert not window.threshold.isVisible()
    assert window.how_good.verb.text() == BACK
    qtbot.mouseClick(window.how_good.verb, Qt.MouseButton.LeftButton)
    assert not page_is_shown(window)
    assert window.threshold.isVisible()
    assert window.left_verb.text() == LEFT["Read"]


def test_keys_go_there_and_back(qtbot, window):
    qtbot.keyClick(window, "h")
    assert page_is_shown(window)
    qtbot.keyClick(window, Qt.Key.Key_Escape)
    assert not page_is_shown(window)
    window.finding.ask(TITLE)
    assert page_is_shown(window)
    qtbot.keyClick(window, "3")
    assert not page_is_shown(window)
    assert window.state.step == "Read"


def test_escape_in_the_find_line_leaves_only_the_find_line(qtbot, window):
    window.how_good.turn()
    window.head.focus_find()
    qtbot.keyClicks(window.head.find_line, "hen")
    assert window.head.find_line.text() == "hen"
    qtbot.keyClick(window.head.find_line, Qt.Key.Key_Escape)
    assert window.head.find_line.text() == ""
    assert page_is_shown(window)


def test_another_block_and_step_have_their_own(qtbot, window):
    window.how_good.turn()
    window.pick_block("Quern Flat")
    assert page_is_shown(window)
    assert window.how_good.view.plan.block.name == "Quern Flat"
    window.go_to("Ground")
    assert not page_is_shown(window)
    assert not window.how_good.verb.isVisible()


def test_all_of_it_is_painted(window):
    window.how_good.turn()
    image = window.how_good.view.grab().toImage()
    colours = {image.pixelColor(x, y).name() for x in range(0, image.width(), 3) for y in range(0, image.height(), 3)}
    assert {window.ink.sheet.lower(), window.ink.ink.lower()} <= colours


def test_it_is_saved_as_a_pdf(window, tmp_path, monkeypatch):
    asked = []

    def answer(proposed):
        asked.append(proposed.name)
        return tmp_path / "good.pdf"

    monkeypatch.setattr(window.asking, "ask_pdf", answer)
    window.how_good.turn()
    assert window.left_verb.text() == PRINT
    window._on_left_verb()
    assert asked == ["wattlequern-round-1-how-good-Ember Rise.pdf"]
    assert (tmp_path / "good.pdf").read_bytes().startswith(b"%PDF")
    window.how_good.turn()
    window._on_left_verb()
    assert asked[1] == "wattlequern-round-1-Ember Rise.pdf"
