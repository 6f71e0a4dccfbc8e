"""Weather brought in by hand, with what its file leaves unsaid; the estate and its weather are invented."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialogButtonBox

from vinemap.desk.weather_asking import CLOCKS, ORDERS, STAMPS, WeatherDialog
from vinemap.files.weather_times import WeatherAsk
from vinemap.sheets.ink import LIGHT
from vinemap.vineclock.weather import FORECAST


@pytest.fixture
def window(small_window):
    return small_window


@pytest.fixture
def dialog(window):
    return WeatherDialog(["hill.csv"], -8.0, ["home"], LIGHT, window)


def test_what_is_proposed_is_what_is_taken_without_asking(dialog):
    assert dialog.asked() == WeatherAsk(-8.0)


def test_each_line_says_what_it_means(dialog):
    dialog.kind.setCurrentIndex(1)
    dialog.station.setText("  the  hill ")
    for choice, meant, value in (
        (dialog.order, ORDERS, "month-first"),
        (dialog.stamps, STAMPS, "end"),
        (dialog.clock, CLOCKS, "utc"),
    ):
        choice.setCurrentText(next(words for words, code in meant.items() if code == value))
    dialog.keeps_spikes.setChecked(True)
    assert dialog.asked() == WeatherAsk(-8.0, "utc", "month-first", "end", "the hill", True, True)


def test_a_zone_must_be_one(dialog):
    ok = dialog.buttons.button(QDialogButtonBox.StandardButton.Ok)
    assert not dialog.zone.isEnabled()
    dialog.clock.setCurrentIndex(2)
    assert dialog.zone.isEnabled()
    assert not ok.isEnabled()
    dialog.zone.setText("Middle/Earth")
    assert not ok.isEnabled()
    dialog.zone.setText("europe/madrid")
    assert ok.isEnabled()
    assert dialog.asked().clock == "Europe/Madrid"


def test_a_forecast_is_brought_in_as_one_and_thinking_again_brings_nothing(qtbot, window, tmp_path):
    file = tmp_path / "hours.csv"
    file.write_text(
        "time,temp_c\n" + "".join(f"2031-06-01T{hour:02}:00,{10 + hour / 2}\n" for hour in range(24)), encoding="utf-8"
    )
    window.asking.ask_files = lambda: [file]
    answers = [None, WeatherAsk(-8.0, station="hill", is_forecast=True)]
    asked = []
    window.asking.ask_weather = lambda names: asked.append(names) or answers.pop(0)

    def find(text):
        window.head.find_line.setText(text)
        QTest.keyClick(window.head.find_line, Qt.Key.Key_Return)

    find("bring in weather")
    assert window.book.season.weather is None
    find("bring in weather")
    assert asked == [["hours.csv"]] * 2
    weather = window.book.season.weather
    assert weather.station == "hill"
    assert (weather.origin == FORECAST).all()
    find("undo")
    assert window.book.season.weather is None
