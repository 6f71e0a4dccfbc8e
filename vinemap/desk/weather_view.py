"""The page "Why is the pressure what it is?": in the map's place, a day at a time, reached from the strip and by its key."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QMouseEvent, QPaintEvent, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QWidget

from vinemap.desk.fonts import measure
from vinemap.desk.map_corner import clock_of
from vinemap.desk.painter import write_pdf
from vinemap.desk.sheet_view import PER_MM, SheetView
from vinemap.desk.verbs import Verb
from vinemap.service.weather_facts import WeatherFacts
from vinemap.service.weather_page import NO_WEATHER, TITLE, day_to_show, season_plan, weather_page, weather_plan
from vinemap.sheets.ink import Ink
from vinemap.sheets.marks import Page as Sheet
from vinemap.sheets.season_sheet import season_sheet
from vinemap.sheets.weather_sheet import WeatherPlan, day_at, weather_marks, weather_sheet

if TYPE_CHECKING:
    from vinemap.desk.window import Window

KEY = "W"
BACK, SAVE = "Back to the map", "Page as PDF"
PAD_PX = 18.0


class WeatherView(SheetView):
    """The sheet with the days and the hours of one, laid out for the room there is; arrows go from day to day."""

    stepped = Signal(int)
    picked = Signal(object)
    left = Signal()

    def __init__(self, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(TITLE, PAD_PX, ink, parent)
        self.plan: WeatherPlan | None = None

    def show_plan(self, plan: WeatherPlan) -> None:
        """Set what is shown."""
        self.plan = plan
        self.setAccessibleDescription(" ".join((plan.day_words, *plan.words)))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        plan = self.plan
        self.paint_sheet(None if plan is None else lambda room: weather_marks(plan, room, self._ink, measure))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1, Qt.Key.Key_PageUp: -7, Qt.Key.Key_PageDown: 7}
        key = Qt.Key(event.key())
        if key in steps:
            self.stepped.emit(steps[key])
        elif key == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        sheet, room = self.sheet()
        at: QPointF = (event.position() - sheet.topLeft() - QPointF(PAD_PX, PAD_PX)) / PER_MM
        day = day_at(self.plan, room, at.x(), at.y()) if self.plan is not None else None
        if self.plan is not None and day is not None:
            self.picked.emit(self.plan.days[day])


class WeatherWhy:
    """Shows the page of a day, and says what it says in the ledger."""

    def __init__(self, window: Window) -> None:
        self._window = window
        self.view = WeatherView(window.ink)
        window.stack.addWidget(self.view)
        self.back, self.save = Verb(BACK, window.ink), Verb(SAVE, window.ink)
        line = QHBoxLayout()
        line.addStretch(1)
        for verb, slot in ((self.save, self.save_pdf), (self.back, self.turn)):
            line.addWidget(verb)
            verb.clicked.connect(slot)
        window.ledger.above_foot.addLayout(line)
        QShortcut(QKeySequence(KEY), window).activated.connect(self.turn)
        self.view.stepped.connect(self._on_stepped)
        self.view.picked.connect(self.ask)
        self.view.left.connect(self.turn)
        window.strip.asked_why.connect(self.ask)

    @property
    def is_shown(self) -> bool:
        """Whether the page stands in the map's place."""
        return self._window.state.why_day is not None

    def turn(self) -> None:
        """Go to the page of the round in view, or of the last day; or back to the map."""
        window = self._window
        if self.is_shown:
            window.look(why_day=None)
            window.canvas.setFocus()
            return
        scouted = window.steps.round_of(window.book.season, window.state)
        self.ask(scouted.date if scouted is not None else window.now().date())

    def ask(self, date: dt.date) -> None:
        """Ask why the pressure of a day is what it is; of the nearest that has weather."""
        window = self._window
        pressure = self._facts().pressure
        if pressure is None or not len(pressure):
            window.ledger.show_refusal(NO_WEATHER)
            return
        window.look(why_day=day_to_show(pressure, date), beside=None, is_how_good=False)
        self.view.setFocus()

    def _on_stepped(self, days: int) -> None:
        date = self._window.state.why_day
        if date is not None:
            self.ask(date + dt.timedelta(days=days))

    def show(self) -> None:
        """Bring the page in line with the state, after the rest of the window."""
        window, plan = self._window, self._plan()
        for verb in (self.back, self.save):
            verb.setVisible(plan is not None)
        if plan is None:
            if window.stack.currentWidget() is self.view:
                # the sheet comes back at once, also where its answer is still being made
                window.stack.setCurrentIndex(0)
            return
        pressure = self._facts().pressure
        assert pressure is not None
        assert window.state.why_day is not None
        for control in (window.picker, window.threshold, window.kind, window.hours, window.how_good.verb, window.left_verb):
            control.setVisible(False)
        window.stack.setCurrentWidget(self.view)
        self.view.show_plan(plan)
        window.ledger.show_page(weather_page(self._facts(), window.book.season, window.state.why_day), None, None, None)

    def _facts(self) -> WeatherFacts:
        """What the weather says of the block that is picked, or of all."""
        state = self._window.state
        return self._window.steps.answers.facts(self._window.book.season).of(state.block)

    def _plan(self, is_for_paper: bool = False) -> WeatherPlan | None:
        """What is shown, or None where the map is; a day that has no weather any more is its nearest."""
        window = self._window
        season, date = window.book.season, window.state.why_day
        facts = self._facts()
        if date is None or facts.pressure is None or not len(facts.pressure):
            return None
        date = day_to_show(facts.pressure, date)
        place = window.state.block or season.estate.name
        clock = clock_of(season, self._row(), date) if is_for_paper else None
        return weather_plan(facts, season, place, date, window.now(), clock)

    def _row(self) -> tuple[str, int] | None:
        """The row whose sun stands on paper: the chosen one, else the middle one of the block in view."""
        window = self._window
        block = window.book.season.block(window.steps.block_in_view(window.book.season, window.state))
        if window.state.chosen is not None or block is None:
            return window.state.chosen
        return block.name, len(block.rows) // 2

    def sheets(self) -> tuple[Sheet, ...]:
        """The page and the season for paper; none where the page is not shown."""
        window, plan = self._window, self._plan(is_for_paper=True)
        if plan is None or window.state.why_day is None:
            return ()
        season, state = window.book.season, window.state
        whole = season_plan(window.steps.answers.facts(season), season, state.block, window.state.why_day, window.now())
        return weather_sheet(plan, measure, (1, 2)), season_sheet(whole, measure, (2, 2))

    def save_pdf(self) -> None:
        """Save the page as a PDF."""
        window, sheets = self._window, self.sheets()
        if not sheets or window.state.why_day is None:
            return
        name = f"{window.book.path.stem}-pressure-{window.state.why_day.isoformat()}.pdf"
        path = window.asking.ask_pdf(window.book.path.parent / name)
        if path is not None:
            window.try_to(lambda: write_pdf(sheets, str(path)))
