"""What was seen is entered by hand: each kind as one step that can be undone."""

import datetime as dt

import pytest
from PySide6.QtCore import QDate, QPoint, Qt

from vinemap.desk import strip as drawn
from vinemap.desk.stage_entry import ALL, BRIX, ENTER, EVENTS, STAGES, StageDialog
from vinemap.season.value import BrixSeen, StageSeen
from vinemap.sheets.ink import LIGHT
from vinemap.vineclock.scales import BBCH, MODIFIED, ORIGINAL

DAY = dt.date(2026, 6, 4)


@pytest.fixture
def dialog(qtbot):
    made = StageDialog(DAY, ["Long Acre", "At E-L 5"], "Long Acre", LIGHT, None)
    qtbot.addWidget(made)
    return made


def filled(dialog, what, number=None, block="Long Acre", day=None):
    dialog.block.setCurrentText(block)
    dialog.what.setCurrentText(what)
    if number is not None:
        dialog.number.setValue(number)
    if day is not None:
        dialog.date.setDate(QDate(day.year, day.month, day.day))
    return dialog.written()


def test_the_number_is_asked_only_where_there_is_one(dialog):
    for what in EVENTS:
        dialog.what.setCurrentText(what)
        assert dialog.number.isHidden()
    for what in (*STAGES, BRIX):
        dialog.what.setCurrentText(what)
        assert not dialog.number.isHidden()
    assert filled(dialog, BRIX, 8.56) == "Brix of Long Acre 8.6 on 2026-06-04"
    assert filled(dialog, f"stage, {BBCH}", 71.4) == "Long Acre BBCH 71 on 2026-06-04"


def entered(window, monkeypatch, dialog, *given, **more):
    monkeypatch.setattr(window.finding.stages, "ask", lambda date, blocks, proposed: filled(dialog, *given, **more))
    window.finding.ask(ENTER)
    return {each.block: each for each in window.book.season.stages}


def test_every_kind_is_entered_and_undone(small_window, dialog, monkeypatch):
    window = small_window
    for what, name in EVENTS.items():
        dates = entered(window, monkeypatch, dialog, what, block=ALL, day=DAY)
        assert getattr(dates[""], name) == DAY
        window.book.undo()
        assert window.book.season.stages == ()
    for scale, number in ((BBCH, 71), (MODIFIED, 27), (ORIGINAL, 27)):
        dates = entered(window, monkeypatch, dialog, f"stage, {scale}", number)
        assert dates["Long Acre"].seen == (StageSeen(DAY, scale, number),)
        everywhere = entered(window, monkeypatch, dialog, f"stage, {scale}", number, block=ALL)
        assert everywhere[""].seen == (StageSeen(DAY, scale, number),)
        window.book.undo()
        window.book.undo()
    assert entered(window, monkeypatch, dialog, BRIX, 8.5)["Long Acre"].brix == (BrixSeen(DAY, 8.5),)
    assert "8.5" in window.ledger.refusal()
    window.book.undo()
    assert window.book.season.stages == ()


def test_a_stage_that_is_none_is_refused_where_the_act_was(small_window, dialog, monkeypatch):
    assert entered(small_window, monkeypatch, dialog, f"stage, {BBCH}", 50) == {}
    assert "is no stage of the vine" in small_window.ledger.refusal()


def test_a_date_pressed_twice_on_the_strip_is_the_one_that_is_asked(qtbot, small_window, monkeypatch):
    window, asked = small_window, []
    monkeypatch.setattr(window.finding.stages, "ask", lambda *given: asked.append(given))
    date = window.strip._strip.first + dt.timedelta(days=40)
    place = QPoint(round(window.strip.x_of(date)), drawn.AXIS_Y + 12)
    qtbot.mouseDClick(window.strip, Qt.MouseButton.LeftButton, pos=place)
    assert asked == [(date, ["Long Acre"], "")]
    window.finding.ask(ENTER)
    assert asked[1][0] == window.now().date()
    assert window.book.season.stages == ()
