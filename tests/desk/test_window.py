"""The window, as a hand uses it: on the tiny southern sample, whose figures are invented."""

import datetime as dt
import shutil
from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QFontMetricsF, QWheelEvent
from PySide6.QtWidgets import QApplication

from vinemap.desk.asking import _ending
from vinemap.desk.figures import FiguresDialog
from vinemap.desk.ledger_table import shortened
from vinemap.desk.type import screen_font
from vinemap.desk.window import Window
from vinemap.files.projection import frame_for
from vinemap.season.value import Estate, Season
from vinemap.service.book import new_book, open_book
from vinemap.service.sample import make_season, sample_folder
from vinemap.work.assumptions import SOURCES

PRINTED = dt.datetime(2025, 12, 21, 18, 20)


@pytest.fixture(scope="module")
def season_path(tmp_path_factory):
    folder = tmp_path_factory.mktemp("window")
    return make_season(sample_folder() / "wattlequern", folder / "wattlequern.vinemap", 1)


def is_settled(window):
    return not window.head._job.isVisible() and window.canvas.is_settled


@pytest.fixture
def window(qtbot, tmp_path, season_path):
    path = shutil.copy(season_path, tmp_path / "wattlequern.vinemap")
    window = Window(open_book(path), now=lambda: PRINTED)
    qtbot.addWidget(window)
    window.resize(1280, 760)
    window.show()
    qtbot.waitUntil(lambda: is_settled(window), timeout=30_000)
    yield window
    window.close()


def go(qtbot, window, key):
    qtbot.keyClick(window, key)
    qtbot.waitUntil(lambda: is_settled(window), timeout=30_000)


def click_line(qtbot, window, index):
    table = window.ledger.table
    qtbot.mouseClick(table, Qt.MouseButton.LeftButton, pos=QPoint(40, table._line_top(index) + 10))


def click_round(qtbot, window, number, modifier=Qt.KeyboardModifier.NoModifier):
    mark = next(mark for mark in window.strip._strip.rounds if mark.number == number)
    place = QPoint(round(window.strip.x_of(mark.date)), 24)
    qtbot.mouseClick(window.strip, Qt.MouseButton.LeftButton, modifier, place)
    qtbot.waitUntil(lambda: is_settled(window), timeout=30_000)


def test_it_opens_on_the_field_of_the_round_last_looked_at(window):
    assert window.state.step == "Read"
    assert window.state.round == 1
    assert all(scene.incidence is not None for scene in window.canvas.scene.blocks)
    assert "2 December" in window.head._week.text()
    assert window.strip._strip.window_words.startswith("fruit resists from about")


def test_six_keys_walk_through_the_week(qtbot, window):
    for key, step in zip("123456", ("Ground", "Walk", "Read", "Work", "Week", "Paper"), strict=True):
        go(qtbot, window, key)
        assert window.state.step == step
        assert window.head._steps[step].isChecked()


def test_a_line_of_the_work_opens_into_its_why_and_closes(qtbot, window):
    go(qtbot, window, "4")
    click_line(qtbot, window, 0)
    table = window.ledger.table
    assert table._why is not None
    assert table._why.question.startswith("Why row ")
    labels = [fact.label for fact in table._why.facts]
    assert "clusters saved" in labels
    assert labels[-1] == "saved by an hour"
    block, row = window.state.chosen
    number = [scene.block.name for scene in window.canvas.scene.blocks].index(block)
    assert window.canvas._chosen == (number, row)
    qtbot.keyClick(table, Qt.Key.Key_Escape)
    assert window.state.chosen is None
    assert table._why is None


def test_arrows_walk_down_the_ledger(qtbot, window):
    go(qtbot, window, "4")
    click_line(qtbot, window, 0)
    first = window.state.chosen
    qtbot.keyClick(window.ledger.table, Qt.Key.Key_Down)
    assert window.state.chosen not in (None, first)


def test_a_click_on_the_map_opens_that_row(qtbot, window):
    go(qtbot, window, "4")
    scene = window.canvas.scene.blocks[0]
    vine = next(index for index in range(len(scene.vines)) if scene.vines.row[index] == 5)
    view = window.canvas._view()
    x, y = view.to_px(float(scene.vines.x_m[vine + 3]), float(scene.vines.y_m[vine + 3]))
    qtbot.mouseClick(window.canvas, Qt.MouseButton.LeftButton, pos=QPoint(round(x), round(y)))
    assert window.state.chosen == (scene.block.name, 5)


def test_the_threshold_moves_the_line_and_makes_nothing_again(qtbot, window):
    tiles, jobs = window.canvas.scene, window.bridge.jobs._count
    window.threshold.slider.setFocus()
    for _ in range(10):
        qtbot.keyClick(window.threshold.slider, Qt.Key.Key_Right)
    assert window.state.threshold == pytest.approx(0.20)
    assert window.canvas.threshold == pytest.approx(0.20)
    assert window.bridge.jobs._count == jobs
    assert window.canvas.scene.same_picture(tiles)
    assert window.ledger.table._columns[-2].head == "Over 20 %"


def test_a_second_round_comes_beside_with_one_view(qtbot, window):
    click_round(qtbot, window, 2, Qt.KeyboardModifier.ShiftModifier)
    assert window.beside.isVisible()
    assert (window.state.round, window.state.beside) == (1, 2)
    qtbot.waitUntil(lambda: window.beside.is_settled, timeout=20_000)
    assert window.beside.camera is window.canvas.camera
    before = window.canvas.camera.m_per_px
    place = QPointF(120, 120)
    wheel = QWheelEvent(
        place,
        window.beside.mapToGlobal(place),
        QPoint(0, 0),
        QPoint(0, 120),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(window.beside, wheel)
    assert window.canvas.camera.m_per_px < before
    go(qtbot, window, "F")
    assert (window.state.round, window.state.beside) == (2, 1)
    go(qtbot, window, "B")
    assert not window.beside.isVisible()


def test_a_second_round_keeps_the_picked_block_in_sight(qtbot, window):
    block = window.book.season.blocks[1]
    window.pick_block(block.name)
    click_round(qtbot, window, 2, Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: window.beside.width() == window.canvas.width(), timeout=5_000)
    for canvas in (window.canvas, window.beside):
        west, south, east, north = canvas._view().bounds_m
        left, low, right, high = block.outline.bounds
        assert west < left
        assert south < low
        assert right < east
        assert high < north
        # as large as the sheet allows: not the whole estate again
        assert east - west < 2.5 * (right - left) or north - south < 2.5 * (high - low)


def test_a_sheet_that_was_moved_by_hand_stays_when_the_window_grows(qtbot, window):
    window.canvas.camera.pan_px(35.0, 10.0)
    before = (window.canvas.camera.x_m, window.canvas.camera.y_m, window.canvas.camera.m_per_px)
    window.resize(1500, 900)
    qtbot.waitUntil(lambda: window.width() == 1500)
    assert (window.canvas.camera.x_m, window.canvas.camera.y_m, window.canvas.camera.m_per_px) == before


def test_the_figures_are_changed_and_undone(qtbot, window):
    go(qtbot, window, "4")
    window.asking.ask_figures = lambda now: replace(now, kg_per_cluster=0.25)
    qtbot.mouseClick(window.left_verb, Qt.MouseButton.LeftButton)
    assert window.book.season.assumptions.kg_per_cluster == 0.25
    qtbot.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert window.book.season.assumptions.kg_per_cluster == 0.15


def test_the_figures_dialog_offers_every_figure(qtbot, window):
    dialog = FiguresDialog(window.book.season.assumptions, window.ink, window)
    qtbot.addWidget(dialog)
    assert set(dialog._boxes) == set(SOURCES)
    assert dialog.figures() == window.book.season.assumptions
    dialog._boxes["clusters_per_vine"].setValue(41.0)
    assert dialog.figures() == replace(window.book.season.assumptions, clusters_per_vine=41.0)


def test_another_season_is_turned_to(qtbot, window, tmp_path, season_path):
    other = shutil.copy(season_path, tmp_path / "other.vinemap")
    window.asking.ask_season = lambda: other
    with qtbot.waitSignal(window.turned_to) as turned:
        window.asking.open_season()
    assert turned.args[0].path == other
    turned.args[0].close()
    window.asking.ask_season = lambda: tmp_path / "nothing.vinemap"
    window.asking.open_season()
    assert "nothing.vinemap" in window.ledger.refusal()


def test_a_season_is_begun_from_outlines(qtbot, window, tmp_path):
    folder = sample_folder() / "wattlequern"
    window.asking.ask_new_season = lambda: tmp_path / "begun.vinemap"
    window.asking.ask_files = lambda: [folder / "outlines.geojson", folder / "rows.geojson"]
    with qtbot.waitSignal(window.turned_to) as turned:
        window.asking.begin_season()
    assert len(turned.args[0].season.blocks) == 2
    turned.args[0].close()


def test_a_round_is_picked_and_remembered(qtbot, window):
    click_round(qtbot, window, 2)
    assert window.state.round == 2
    assert window.book.round_looked_at() == 2
    go(qtbot, window, "[")
    assert window.state.round == 1


def test_the_hours_of_the_week_are_an_edit_that_can_be_undone(qtbot, window):
    go(qtbot, window, "5")
    before = window.book.season.assumptions.crew_hours
    window.hours._hand.setValue(12.5)
    qtbot.waitUntil(lambda: is_settled(window), timeout=30_000)
    assert window.book.season.assumptions.crew_hours == 12.5
    assert window.undo.isVisible()
    used = next(fact.value for fact in window.ledger._facts._facts if fact.label == "hand hours used")
    assert float(used.split()[0]) <= 12.5
    qtbot.mouseClick(window.undo, Qt.MouseButton.LeftButton)
    assert window.book.season.assumptions.crew_hours == before


def test_files_come_in_and_what_was_left_out_is_said(qtbot, window, tmp_path):
    block = window.book.season.blocks[0]
    stops = tmp_path / "new.csv"
    stops.write_text(
        "round,date,scout,block,row,vine,examined,infected\n"
        f"7,2026-01-05,Ada,{block.name},{block.rows.labels[0]},2,10,3\n"
        f"7,2026-01-05,Ada,{block.name},{block.rows.labels[0]},3,10,12\n",
        encoding="utf-8",
    )
    go(qtbot, window, "1")
    window.asking.ask_files = lambda: [stops]
    qtbot.mouseClick(window.left_verb, Qt.MouseButton.LeftButton)
    assert [each.number for each in window.book.season.rounds] == [1, 2, 7]
    assert len(window.book.season.round(7).stops) == 1
    assert "line 3" in window.ledger.refusal()
    assert "12" in window.ledger.refusal()
    qtbot.mouseClick(window.undo, Qt.MouseButton.LeftButton)
    assert [each.number for each in window.book.season.rounds] == [1, 2]


def test_a_file_of_no_use_changes_nothing(qtbot, window, tmp_path):
    other = tmp_path / "letter.txt"
    other.write_text("Dear Ada,\nthe vines are well.\n", encoding="utf-8")
    before = window.book.season
    window.asking.ask_files = lambda: [other]
    window.asking.bring_in()
    assert window.book.season is before
    assert "letter.txt" in window.ledger.refusal()


def test_paper_is_shown_and_saved(qtbot, window, tmp_path):
    go(qtbot, window, "6")
    assert window.stack.currentWidget() is window.paper
    assert len(window.paper.pages) >= len(window.book.season.blocks)
    target = tmp_path / "maps.pdf"
    window.asking.ask_pdf = lambda proposed: target
    qtbot.mouseClick(window.left_verb, Qt.MouseButton.LeftButton)
    assert target.read_bytes().startswith(b"%PDF")
    window.asking.ask_pdf = lambda proposed: tmp_path / "no" / "such" / "folder.pdf"
    qtbot.mouseClick(window.left_verb, Qt.MouseButton.LeftButton)
    assert window.ledger.refusal()


def test_anything_can_be_found(qtbot, window):
    block = window.book.season.blocks[1]
    window.head.focus_find()
    qtbot.keyClicks(window.head.find_line, f"{block.name.lower()} / {block.rows.labels[2]}")
    qtbot.keyClick(window.head.find_line, Qt.Key.Key_Return)
    assert window.state.block == block.name
    assert window.state.chosen == (block.name, 2)
    window.finding.ask("no such thing")
    assert "no such thing" in window.ledger.refusal()
    window.finding.ask("week")
    assert window.state.step == "Week"


def test_stop_stops(qtbot, window):
    window._on_stop()
    assert "Stopped" in window.ledger.refusal()
    assert not window.head._job.isVisible()


def test_a_defect_is_said_and_the_season_kept(qtbot, window, monkeypatch):
    def broken(*_):
        raise RuntimeError("no such luck")

    monkeypatch.setattr(window.steps.answers, "reads", broken)
    window.bridge.jobs.start("answer", "something", lambda tick: window.steps.answers.reads())
    qtbot.waitUntil(lambda: "defect" in window.ledger.refusal(), timeout=5_000)


@pytest.mark.parametrize("has_blocks", [False, True])
def test_an_empty_season_says_what_is_missing(qtbot, tmp_path, season_path, has_blocks):
    if has_blocks:
        book = open_book(season_path)
        season = Season(book.season.estate, blocks=book.season.blocks)
        book.close()
    else:
        season = Season(Estate("Nothing yet", frame_for(10.0, 45.0), 1.0))
    window = Window(new_book(tmp_path / "empty.vinemap", season), now=lambda: PRINTED)
    qtbot.addWidget(window)
    window.show()
    try:
        assert window.state.step == "Ground"
        for key in "123456":
            go(qtbot, window, key)
        go(qtbot, window, "3")
        words = window.ledger._note.text()
        assert "round" in words if has_blocks else "block" in words
    finally:
        window.close()


def test_the_map_of_a_block_goes_to_paper(qtbot, window, tmp_path):
    target = tmp_path / "map.pdf"
    window.asking.ask_pdf = lambda proposed: target
    qtbot.mouseClick(window.left_verb, Qt.MouseButton.LeftButton)
    assert target.read_bytes().startswith(b"%PDF")


def test_a_long_estate_name_never_pushes_the_ledger_out(window):
    window.head.show_place(
        "Estate of Our Lady of the Perpetual Vintage below the old road " * 2, "week of 12 June 2026", "Read"
    )
    window.resize(1280, 720)
    assert window.minimumSizeHint().width() <= 1280
    assert window.head._estate.text().endswith("…")
    assert not window.head._week.isVisible()


def test_a_row_keeps_its_number_where_the_name_of_its_block_is_cut():
    metrics = QFontMetricsF(screen_font(15, 700))
    cut = shortened("Pumphouse Piece 20a", metrics, 110.0)
    assert cut.startswith("Pump")
    assert cut.endswith("… 20a")
    assert metrics.horizontalAdvance(cut) <= 110.0
    assert shortened("Dogleg 7", metrics, 110.0) == "Dogleg 7"


def test_the_hand_leaves_the_find_line_when_something_was_found(qtbot, window):
    window.head.focus_find()
    qtbot.keyClicks(window.head.find_line, "/work")
    qtbot.keyClick(window.head.find_line, Qt.Key.Key_Return)
    assert window.state.step == "Work"
    assert not window.head.find_line.hasFocus()
    window.head.focus_find()
    qtbot.keyClicks(window.head.find_line, "zz")
    qtbot.keyClick(window.head.find_line, Qt.Key.Key_Escape)
    assert window.head.find_line.text() == ""
    assert not window.head.find_line.hasFocus()


def test_sheets_of_another_round_are_never_saved_under_this_one(qtbot, window, tmp_path):
    asked = []
    window.asking.ask_pdf = lambda proposed: asked.append(proposed) or None
    go(qtbot, window, "6")
    old = window.paper.pages
    window.go_to("Read")
    numbers = [each.number for each in window.book.season.rounds]
    other = next(number for number in numbers if number != window.state.round)
    window.pick_round(other)
    window.asking.save_pdf()
    assert window.state.step == "Paper"
    assert asked == []
    assert "still being made" in window.ledger.refusal()
    qtbot.waitUntil(lambda: is_settled(window), timeout=30_000)
    window.asking.save_pdf()
    assert len(asked) == 1
    assert f"round-{other}" in asked[0].name
    assert window.paper.pages != old


def test_an_ending_is_added_but_no_other_file_is_written_over(tmp_path):
    assert _ending(str(tmp_path / "map"), ".pdf") == tmp_path / "map.pdf"
    assert _ending(str(tmp_path / "map.PDF"), ".pdf") == tmp_path / "map.PDF"
    (tmp_path / "map.pdf").write_bytes(b"kept")
    assert _ending(str(tmp_path / "map"), ".pdf") == tmp_path / "map"
    assert _ending("", ".pdf") is None
