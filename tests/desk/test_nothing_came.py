"""The window says plainly where nothing of a file came in. The estate is invented."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from vinemap.desk.window import Window
from vinemap.files.layer_writer import write_layer
from vinemap.files.projection import frame_for
from vinemap.ground.block import Block, RowTable
from vinemap.season.value import Estate, Season
from vinemap.service.book import new_book
from vinemap.service.given_layers import rows_layer


@pytest.fixture
def window(qtbot, tmp_path):
    rows = RowTable(("1", "2"), np.array([[0, 0], [0, 20], [2.5, 0], [2.5, 20]]), [0, 2, 4], [2.0, 2.0], [10, 10])
    block = Block("Long Acre", shapely.box(-2, -2, 5, 22), rows, 2.5, 2.0)
    season = Season(Estate("Invented", frame_for(-122.7, 38.6), -8.0, True), (block,))
    window = Window(new_book(tmp_path / "a.vinemap", season))
    qtbot.addWidget(window)
    yield window
    window.close()


def bring(window, monkeypatch, path):
    monkeypatch.setattr(window.asking, "ask_files", lambda: [path])
    window.asking.bring_in()
    return window.ledger.refusal()


def test_what_is_in_the_season_already_is_no_edit(window, monkeypatch, tmp_path):
    before = window.book.season
    write_layer(tmp_path / "rows.csv", rows_layer(before))
    said = bring(window, monkeypatch, tmp_path / "rows.csv")
    assert said.startswith("Nothing came in. How it was read: Long Acre stands in the season already")
    assert window.book.season is before
    assert window.book.undo_label is None


def test_the_rest_is_not_said_to_have_come_where_there_is_none(window, monkeypatch, tmp_path):
    path = tmp_path / "rows.csv"
    path.write_text("block,row,vines\nNowhere,1,10\n", encoding="utf-8")
    said = bring(window, monkeypatch, path)
    assert said.startswith("Nothing came in. Left out, 1: rows.csv, line 2: block = Nowhere: there is no block of this name")
    assert "The rest came in" not in said
    assert "Nothing came in." in window.book.last_report()
    path.write_text("block,row,vines\nNowhere,1,10\nLong Acre,5,9\nLong Acre,6,9\n", encoding="utf-8")
    assert "The rest came in." in bring(window, monkeypatch, path)
    assert window.book.season.blocks[0].rows.labels == ("5", "6")
