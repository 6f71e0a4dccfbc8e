"""Enter by hand what was seen: budbreak, bloom, colour, harvest, a growth stage or Brix, of one block or of all."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QDate, QLocale
from PySide6.QtWidgets import QDateEdit, QDialog, QDoubleSpinBox, QGridLayout, QVBoxLayout, QWidget

from vinemap.desk.controls import Choice
from vinemap.desk.dialogs import answers
from vinemap.desk.type import BODY, SMALL, label, screen_font, set_ground
from vinemap.sheets.ink import Ink
from vinemap.vineclock.scales import BBCH, MODIFIED, ORIGINAL

if TYPE_CHECKING:
    from vinemap.desk.window import Window

ENTER = "enter a stage"
ALL = "All blocks"
EVENTS = {"budbreak": "budbreak", "bloom: half of the caps off": "bloom", "berries colour": "veraison", "harvest": "harvest"}
STAGES = {f"stage, {scale}": scale for scale in (BBCH, MODIFIED, ORIGINAL)}
BRIX = "Brix"
SCALES_DIFFER = "A stage keeps its scale: 33 is not the same in the two E-L scales."


class StageDialog(QDialog):
    """What was seen, where and when; a number where it needs one."""

    def __init__(self, date: dt.date, blocks: Sequence[str], proposed: str, ink: Ink, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle("What was seen")
        self.resize(440, 280)
        self.block, self.what = Choice("Block", ink), Choice("What was seen", ink)
        self.block.addItems([ALL, *blocks])
        self.block.setCurrentText(proposed or ALL)
        self.what.addItems([*EVENTS, *STAGES, BRIX])
        self.what.setCurrentIndex(1)
        self.number = QDoubleSpinBox()
        self.number.setAccessibleName("Its number")
        self.date = QDateEdit(QDate(date.year, date.month, date.day))
        self.date.setAccessibleName("Day")
        self.date.setLocale(QLocale(QLocale.Language.English))
        self.date.setDisplayFormat("d MMMM yyyy")
        grid, names = QGridLayout(), {}
        for row, (name, widget) in enumerate(
            (("Block", self.block), ("Seen", self.what), ("Number", self.number), ("On", self.date))
        ):
            widget.setFont(screen_font(BODY))
            names[name] = label(name, BODY, ink.ink)
            grid.addWidget(names[name], row, 0)
            grid.addWidget(widget, row, 1)
        grid.setColumnStretch(1, 1)
        self._number_name = names["Number"]
        set_ground(self, ink.ground)
        column = QVBoxLayout(self)
        column.addLayout(grid)
        column.addWidget(label(SCALES_DIFFER, SMALL, ink.ink_soft, 400, True))
        column.addStretch(1)
        column.addWidget(answers(self, "Enter it"))
        self.what.currentTextChanged.connect(self._on_what)
        self._on_what(self.what.currentText())

    def _on_what(self, what: str) -> None:
        """Only stages and Brix have a number: whole, or to a tenth."""
        for each in (self.number, self._number_name):
            each.setVisible(what not in EVENTS)
        self.number.setDecimals(1 if what == BRIX else 0)
        self.number.setRange(0.0, 45.0 if what == BRIX else 99.0)

    def written(self) -> str:
        """The same as one would write it into the find line."""
        what, block = self.what.currentText(), self.block.currentText()
        of = "" if block == ALL else f" of {block}"
        day = self.date.date().toString("yyyy-MM-dd")
        if what in EVENTS:
            return f"{EVENTS[what]}{of} {day}"
        if what == BRIX:
            return f"Brix{of} {self.number.value():.1f} on {day}"
        return f"{'' if block == ALL else block} {STAGES[what]} {self.number.value():.0f} on {day}".strip()


class StageEntry:
    """Asks what was seen, and enters it as one step that can be undone."""

    def __init__(self, window: Window) -> None:
        self._window = window
        window.strip.dated.connect(self.enter)

    def ask(self, date: dt.date, blocks: Sequence[str], proposed: str) -> str | None:
        """What was seen, as one would write it; replaced in tests."""
        dialog = StageDialog(date, blocks, proposed, self._window.ink, self._window)
        return dialog.written() if dialog.exec() == QDialog.DialogCode.Accepted else None

    def enter(self, date: dt.date | None = None) -> None:
        """Ask what was seen on a date: that of the page, of the round in view, or today where none is given."""
        window = self._window
        scouted = window.steps.round_of(window.book.season, window.state)
        usual = window.state.why_day or (scouted.date if scouted is not None else window.now().date())
        blocks = [block.name for block in window.book.season.blocks]
        written = self.ask(date or usual, blocks, window.state.block)
        if written is not None:
            window.finding.typed.do(written)
