"""The question how files of weather are to be understood: whose they are, and what their times go by."""

from __future__ import annotations

from collections.abc import Sequence
from zoneinfo import available_timezones

from PySide6.QtWidgets import QCheckBox, QCompleter, QDialog, QDialogButtonBox, QFormLayout, QLineEdit, QWidget

from vinemap.desk.controls import Choice
from vinemap.desk.dialogs import answers
from vinemap.desk.type import BODY, SMALL, label, screen_font, set_colour, set_ground
from vinemap.files.weather_times import DAY_FIRST, END, MONTH_FIRST, STANDARD, START, UTC, WeatherAsk
from vinemap.sheets.ink import Ink

BRING_IN_WEATHER = "bring in weather"
_READ, _FORECAST = "what a station read", "a forecast"
_AS_WRITTEN = "as the file shows it"
_ZONE = "a zone, with its summer time"
CLOCKS = {"standard time, all year": STANDARD, "UTC": UTC, _ZONE: ""}
ORDERS = {_AS_WRITTEN: "", "day, then month": DAY_FIRST, "month, then day": MONTH_FIRST}
STAMPS = {_AS_WRITTEN: "", "the start of its hour": START, "the end of its hour": END}


class WeatherDialog(QDialog):
    """One line for each thing that a file of weather may leave unsaid; what is proposed is what is usual."""

    def __init__(self, names: Sequence[str], offset_hours: float, stations: Sequence[str], ink: Ink, parent: QWidget) -> None:
        super().__init__(parent)
        self._offset_hours = offset_hours
        self.setWindowTitle("How is the weather to be read?")
        self.resize(520, 310)
        set_ground(self, ink.ground)
        self.kind, self.clock = Choice("These hours are", ink), Choice("Its clock shows", ink)
        self.order, self.stamps = Choice("Dates such as 03/04", ink), Choice("A time stands for", ink)
        self.station, self.zone = QLineEdit(), QLineEdit()
        self.station.setPlaceholderText(", ".join(stations) or "its name, or that of the file")
        self.zone.setPlaceholderText("such as Europe/Madrid")
        self.zone.setCompleter(QCompleter(sorted(available_timezones()), self.zone))
        self.keeps_spikes = QCheckBox("keep readings that no neighbour supports")
        set_colour(self.keeps_spikes, ink.ink)
        form = QFormLayout(self)
        form.addRow(label(", ".join(names), SMALL, ink.ink_soft, 400, True))
        self.kind.addItems([_READ, _FORECAST])
        for choice, meant in ((self.clock, CLOCKS), (self.order, ORDERS), (self.stamps, STAMPS)):
            choice.addItems(list(meant))
        for words, widget in (
            (self.kind.accessibleName(), self.kind),
            ("Of the station", self.station),
            (self.clock.accessibleName(), self.clock),
            ("Zone", self.zone),
            (self.order.accessibleName(), self.order),
            (self.stamps.accessibleName(), self.stamps),
        ):
            widget.setFont(screen_font(BODY))
            widget.setAccessibleName(words)
            form.addRow(label(words, BODY, ink.ink), widget)
        self.keeps_spikes.setFont(screen_font(BODY))
        form.addRow(self.keeps_spikes)
        self.buttons = answers(self, "Bring in so")
        form.addRow(self.buttons)
        self._zones = {name.casefold(): name for name in available_timezones()}
        self.clock.currentTextChanged.connect(self._on_change)
        self.zone.textChanged.connect(self._on_change)
        self._on_change()

    def asked(self) -> WeatherAsk:
        """How the files are to be understood."""
        clock = CLOCKS[self.clock.currentText()] or self._zone()
        return WeatherAsk(
            self._offset_hours,
            clock,
            ORDERS[self.order.currentText()],
            STAMPS[self.stamps.currentText()],
            " ".join(self.station.text().split()),
            self.kind.currentText() == _FORECAST,
            self.keeps_spikes.isChecked(),
        )

    def _zone(self) -> str:
        return self._zones.get(self.zone.text().strip().casefold(), "")

    def _on_change(self) -> None:
        """A zone is asked for where the clock goes by one, and must be one."""
        by_zone = self.clock.currentText() == _ZONE
        self.zone.setEnabled(by_zone)
        self.buttons.button(QDialogButtonBox.StandardButton.Ok).setEnabled(not by_zone or bool(self._zone()))
