"""The deed of saving a copy, and the word about a copy of the day that could not be made."""

import shutil
from dataclasses import replace

import pytest
from PySide6.QtWidgets import QFileDialog

from vinemap.desk.window import Window
from vinemap.files.season_copies import copies_folder
from vinemap.files.season_file import read_season
from vinemap.season.edits import with_assumptions, with_estate
from vinemap.service.book import open_book
from vinemap.service.sample import make_season, sample_folder


@pytest.fixture(scope="module")
def season_path(tmp_path_factory):
    folder = tmp_path_factory.mktemp("copying")
    return make_season(sample_folder() / "wattlequern", folder / "wattlequern.vinemap", 1)


@pytest.fixture
def window(qtbot, tmp_path, season_path):
    window = Window(open_book(shutil.copy(season_path, tmp_path / "mine.vinemap")))
    qtbot.addWidget(window)
    window.resize(1280, 760)
    window.show()
    qtbot.waitUntil(lambda: not window.head._job.isVisible() and window.canvas.is_settled, timeout=30_000)
    yield window
    window.close()


def test_a_copy_is_saved_from_the_find_line_and_the_season_stays_open(window, tmp_path, monkeypatch):
    asked = []

    def answer(parent, title, proposed, kinds):
        asked.append(proposed)
        return str(tmp_path / "elsewhere"), kinds

    monkeypatch.setattr(QFileDialog, "getSaveFileName", answer)
    window.finding.ask("Save a copy")
    assert asked == [str(tmp_path / "mine copy.vinemap")]
    assert window.ledger.refusal() == ""
    assert window.book.path == tmp_path / "mine.vinemap"
    copied = read_season(tmp_path / "elsewhere.vinemap")
    assert [block.name for block in copied.blocks] == [block.name for block in window.book.season.blocks]


def test_thinking_again_saves_nothing_and_a_refusal_is_told(window, tmp_path):
    window.finding.copying.ask_place = lambda proposed: None
    window.finding.ask("save a copy")
    assert [path.name for path in tmp_path.glob("*.vinemap")] == ["mine.vinemap"]
    window.finding.copying.ask_place = lambda proposed: tmp_path / "mine.vinemap"
    window.finding.ask("save a copy")
    assert "is this season itself" in window.ledger.refusal()


def test_the_window_tells_when_the_copy_of_the_day_was_not_made(window):
    season = window.book.season
    window.book.apply("a real one", lambda each: with_estate(each, replace(season.estate, is_invented=False)))
    copies_folder(window.book.path).write_bytes(b"in the way")
    changed = replace(season.assumptions, crew_hours=77.0)
    window.book.apply("hours", lambda each: with_assumptions(each, changed))
    assert window.ledger.refusal().startswith("Today's copy of the season was not made.")
    assert read_season(window.book.path).assumptions.crew_hours == 77.0
