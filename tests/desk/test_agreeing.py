"""Columns of other names and repairs are asked about in the window; nothing is done unasked. The estate is invented."""

from __future__ import annotations

import json

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialogButtonBox, QWidget

from vinemap.desk.agreeing import MatchDialog, RepairDialog
from vinemap.files.matching import proposal_for, read_given
from vinemap.files.projection import frame_for, to_lonlat
from vinemap.service.repair import Offer
from vinemap.sheets.ink import LIGHT

FRAME = frame_for(-122.7, 38.6)
HEAD = "Fecha,Bloque,Fila,Cepa,Revisados,Con oídio,Notas\n"


@pytest.fixture
def window(small_window):
    return small_window


def stops(path, date="2031-06-11"):
    path.write_text(HEAD + f"{date},Long Acre,1,2,20,4,\n{date},Long Acre,2,3,20,0,x\n", encoding="utf-8")
    return path


def at(x_m, y_m):
    lon, lat = to_lonlat(FRAME, [x_m], [y_m])
    return [float(lon[0]), float(lat[0])]


def find(window, text):
    window.head.find_line.setText(text)
    QTest.keyClick(window.head.find_line, Qt.Key.Key_Return)


def test_the_dialog_shows_the_proposal_with_values_and_asks_for_what_is_lacking(qtbot, tmp_path):
    proposal = proposal_for(stops(tmp_path / "c.csv"))
    holder = QWidget()
    qtbot.addWidget(holder)
    dialog = MatchDialog(proposal, LIGHT, holder)
    assert read_given(dialog.given()) == {
        "fecha": "date",
        "bloque": "block",
        "fila": "row",
        "cepa": "vine",
        "revisados": "examined",
        "con oídio": "infected",
    }
    assert dialog._values["examined"].text() == "for example 20"
    okay = dialog.buttons.button(QDialogButtonBox.StandardButton.Ok)
    assert okay.isEnabled()
    dialog.choose("infected", "")
    assert not okay.isEnabled()
    assert dialog.trouble()
    dialog.choose("infected", "Revisados")
    assert (okay.isEnabled(), dialog.trouble()) == (False, "“Revisados” is chosen twice.")
    dialog.choose("infected", "Con oídio")
    dialog.choose("scout", "Notas")
    assert okay.isEnabled()
    assert "Notas=scout" in dialog.given()
    assert dialog._values["scout"].text() == "for example x"


def test_no_repair_is_ticked_beforehand(qtbot):
    holder = QWidget()
    qtbot.addWidget(holder)
    dialog = RepairDialog([Offer("close-ring", 2), Offer("snap-to-row", 1)], LIGHT, holder)
    said = [box.text() for box in dialog.boxes.values()]
    assert said == ["2 outlines are not closed. Close them?", "1 stop lies a little beside its row. Move it to the row?"]
    assert dialog.chosen() == ()
    dialog.boxes["close-ring"].click()
    assert dialog.chosen() == ("close-ring",)


def test_a_table_is_asked_about_once_and_comes_in_as_answered(qtbot, window, tmp_path):
    asked = []
    window.asking.ask_match = lambda proposal: asked.append(proposal.file) or ""
    window.asking.ask_files = lambda: [stops(tmp_path / "1.csv")]
    before = window.book.season
    window.asking.bring_in()
    assert window.book.season is before
    window.asking.ask_match = lambda proposal: asked.append(proposal.file) or proposal.given
    window.asking.bring_in()
    assert window.book.season.rounds[0].stops.infected.tolist() == [4, 0]
    window.asking.ask_files = lambda: [stops(tmp_path / "2.csv", "2031-06-18")]
    window.asking.bring_in()
    assert asked == ["1.csv", "1.csv"]
    assert len(window.book.season.rounds) == 2
    window.book.undo()
    window.book.undo()
    assert window.book.season.rounds == ()


def test_repairs_are_asked_for_after_reading_and_made_where_wanted(qtbot, window, tmp_path):
    points = [at(-6.0, 10.0), at(0.5, 10.0)]
    feature = {"date": "2031-06-11", "examined": 20, "infected": 3}
    items = [
        {"type": "Feature", "properties": feature, "geometry": {"type": "Point", "coordinates": each}} for each in points
    ]
    path = tmp_path / "p.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": items}), encoding="utf-8")
    offered = []
    window.asking.ask_files = lambda: [path]
    window.asking.ask_repairs = lambda offers: offered.extend(offers) or ()
    window.asking.bring_in()
    assert [(offer.repair, offer.count) for offer in offered] == []
    assert "Left out, 1" in window.ledger.refusal()
    assert len(window.book.season.rounds[0].stops) == 1
    window.book.undo()
    items[0]["geometry"]["coordinates"] = at(-4.0, 10.0)
    path.write_text(json.dumps({"type": "FeatureCollection", "features": items}), encoding="utf-8")
    window.asking.bring_in()
    assert [(offer.repair, offer.count) for offer in offered] == [("snap-to-row", 1)]
    assert len(window.book.season.rounds[0].stops) == 1
    window.book.undo()
    window.asking.ask_repairs = lambda offers: [offer.repair for offer in offers]
    window.asking.bring_in()
    assert window.ledger.refusal().startswith("Mended: 1.")
    assert len(window.book.season.rounds[0].stops) == 2
    window.book.undo()
    assert window.book.season.rounds == ()


def test_the_report_is_saved_from_the_find_line(qtbot, window, tmp_path):
    kept = tmp_path / "r.txt"
    window.asking.ask_report = lambda proposed: kept
    find(window, "save the report")
    assert "There is no report yet." in window.ledger.refusal()
    bad = tmp_path / "s.csv"
    bad.write_text("date,block,row,vine,examined,infected\n2031-06-11,Long Acre,1,2,20,40\n", encoding="utf-8")
    window.asking.ask_files = lambda: [bad]
    window.asking.bring_in()
    find(window, "save the report")
    text = kept.read_text(encoding="utf-8")
    assert "where:  line 2" in text
    assert "is more than the 20 examined" in text


def test_the_report_can_be_saved_beside_what_was_said_of_it_and_only_there(qtbot, window, tmp_path):
    verb, kept = window.ledger.save_report, tmp_path / "r.txt"
    window.asking.ask_report = lambda proposed: kept
    assert not verb.isVisible()
    QTest.keyClick(window, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert not kept.exists()
    bad = tmp_path / "s.csv"
    bad.write_text("date,block,row,vine,examined,infected\n2031-06-11,Long Acre,1,2,20,40\n", encoding="utf-8")
    window.asking.ask_files = lambda: [bad]
    window.asking.bring_in()
    assert verb.isVisible()
    qtbot.mouseClick(verb, Qt.MouseButton.LeftButton)
    assert "is more than the 20 examined" in kept.read_text(encoding="utf-8")
    assert window.ledger.refusal() == f"The report was written to {kept}."
    assert not verb.isVisible()
    # nothing of it came in: said in the same place, and kept as well
    bad.write_text("strange\n1\n", encoding="utf-8")
    kept.unlink()
    window.asking.bring_in()
    assert window.ledger.refusal().startswith("Nothing could be brought in.")
    assert verb.isVisible()
    QTest.keyClick(window, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert "strange" in kept.read_text(encoding="utf-8")
    window.asking.bring_in()
    window.go_to("Walk")
    assert not verb.isVisible()
    # any other refusal has no report
    find(window, "nothing of that name")
    assert window.ledger.refusal()
    assert not verb.isVisible()


def test_how_a_table_was_read_is_said_with_its_report(qtbot, window, tmp_path):
    table = tmp_path / "c.csv"
    table.write_text(HEAD + "11 de junio de 2031,Long Acre,1,2,20,4,\n", encoding="utf-8")
    window.asking.ask_files = lambda: [table]
    window.asking.ask_match = lambda proposal: proposal.given
    window.asking.bring_in()
    assert window.ledger.refusal() == "How it was read: Columns not used in c.csv: notas. And 1 more note."
    assert window.ledger.save_report.isVisible()
    assert "junio was read as June (11 de junio de 2031 as 2031-06-11): once." in window.book.last_report()
    window.book.undo()
    assert not window.ledger.save_report.isVisible()


def test_much_that_is_said_takes_the_room_of_the_facts_in_a_low_window_only(qtbot, window):
    ledger = window.ledger
    window.go_to("Ground")
    words = "One more thing that was left out of a file. " * 12
    for height, has_facts in ((1000, True), (620, False)):
        window.resize(1280, height)
        ledger.show_refusal(words)
        assert ledger._facts.isVisible() == has_facts
        ledger.show_refusal("")
        assert ledger._facts.isVisible()
