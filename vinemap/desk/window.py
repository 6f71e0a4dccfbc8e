"""The window: the map is the page; above it the steps, to the right the ledger, below it the season."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtGui import QCloseEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from vinemap.desk.asking import Asking
from vinemap.desk.bridge import Bridge
from vinemap.desk.canvas import MapCanvas
from vinemap.desk.controls import BesideBar, BlockPicker, Hours, Threshold, WorkKind
from vinemap.desk.finding import Finding
from vinemap.desk.head import STEPS, Head
from vinemap.desk.how_good_view import HowGood
from vinemap.desk.ledger import Ledger
from vinemap.desk.paper_view import PaperView
from vinemap.desk.scenes import DeskState, still_there
from vinemap.desk.steps import Steps
from vinemap.desk.strip import SeasonStrip
from vinemap.desk.style import palette, style_sheet
from vinemap.desk.type import set_ground
from vinemap.desk.underlay_keeper import UnderlayKeeper
from vinemap.desk.verbs import Verb
from vinemap.desk.weather_view import WeatherWhy
from vinemap.errors import VinemapError
from vinemap.season.edits import with_assumptions
from vinemap.season.value import Season
from vinemap.service.answers import Answers
from vinemap.service.book import Book
from vinemap.service.jobs import Report
from vinemap.sheets.ink import LIGHT, Ink
from vinemap.vineclock.stage import date_words

NEXT = {"Ground": "Walk", "Walk": "Read", "Read": "Work", "Work": "Week", "Week": "Paper"}
LEFT = {"Ground": "Bring in files", "Read": "Map as PDF", "Work": "Change the figures", "Paper": "Save as PDF"}
SHEET_MARGIN = 14


class Window(QWidget):
    """A season on the desk. Every change of what is looked at goes through ``look``; every edit through the book.

    ``turned_to`` hands over the book of another season that is to be shown instead, and what there is to say of it.
    """

    turned_to = Signal(object, str)

    def __init__(self, book: Book, ink: Ink = LIGHT, now: Callable[[], dt.datetime] = dt.datetime.now) -> None:
        super().__init__()
        self.book, self.ink, self.now = book, ink, now
        self.steps = Steps(Answers(), ink)
        self.bridge = Bridge(self)
        threshold = book.season.assumptions.threshold
        self.state = DeskState(round=book.round_looked_at(), threshold=threshold)
        if not book.season.rounds:
            self.state = replace(self.state, step="Ground")
        self.asking, self.underlay = Asking(self), UnderlayKeeper(self)
        self.setWindowTitle(f"{book.season.estate.name} – Vinemap")
        self.setPalette(palette(ink))
        self.setStyleSheet(style_sheet(ink))
        set_ground(self, ink.ground)
        self._build()
        self._connect()
        book.listen(self._on_book)
        self.resize(1600, 1000)
        self.canvas.setFocus()
        self._show()

    # ---- building

    def _build(self) -> None:
        ink = self.ink
        self.head, self.ledger, self.strip = Head(ink), Ledger(ink), SeasonStrip(ink)
        self.canvas = MapCanvas()
        self.beside = MapCanvas(self.canvas.camera)
        self.beside_bar = BesideBar(ink)
        self.paper = PaperView(ink)
        self.picker, self.threshold, self.kind, self.hours = BlockPicker(ink), Threshold(ink), WorkKind(ink), Hours(ink)
        for control in (self.picker, self.threshold, self.kind, self.hours):
            self.ledger.controls.addWidget(control)
        self.undo = Verb("Undo", ink, weight=400, underline_px=0.0)
        self.open_verb = Verb("Open", ink)
        self.open_verb.setToolTip("Open another season, or begin one: write “begin a season” into the find line")
        self.left_verb, self.next_verb = Verb("", ink), Verb("", ink)
        for widget, stretch in (
            (self.undo, 0),
            (QWidget(), 1),
            (self.open_verb, 0),
            (self.left_verb, 0),
            (self.next_verb, 0),
        ):
            self.ledger.foot.addWidget(widget, stretch)
        sheets = QWidget()
        row = QHBoxLayout()
        row.setSpacing(10)
        row.addWidget(self.canvas)
        row.addWidget(self.beside)
        column = QVBoxLayout(sheets)
        column.setContentsMargins(SHEET_MARGIN, SHEET_MARGIN, SHEET_MARGIN, SHEET_MARGIN)
        column.addLayout(row, 1)
        column.addWidget(self.beside_bar)
        self.stack = QStackedWidget()
        self.stack.addWidget(sheets)
        self.stack.addWidget(self.paper)
        middle = QHBoxLayout()
        middle.setSpacing(0)
        middle.addWidget(self.stack, 1)
        middle.addWidget(self.ledger)
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(0)
        page.addWidget(self.head)
        page.addLayout(middle, 1)
        page.addWidget(self.strip)

    def _connect(self) -> None:
        self.how_good, self.weather = HowGood(self), WeatherWhy(self)
        self.finding = Finding(self)
        self.head.stepped.connect(self.go_to)
        self.head.asked.connect(self.finding.ask)
        self.head.stopped.connect(self._on_stop)
        self.bridge.reported.connect(self._on_report)
        self.strip.picked.connect(self.pick_round)
        self.strip.picked_beside.connect(self.pick_beside)
        self.ledger.table.opened.connect(self._on_line)
        self.ledger.table.closed.connect(self._on_line_closed)
        for canvas, other in ((self.canvas, self.beside), (self.beside, self.canvas)):
            canvas.picked.connect(self._on_picked)
            canvas.pointed.connect(other.show_pointer)
            canvas.left.connect(other.hide_pointer)
        self.picker.chosen.connect(self.pick_block)
        self.threshold.moved.connect(self._on_threshold)
        self.threshold.settled.connect(self._on_threshold_settled)
        self.kind.chosen.connect(self._on_kind)
        self.hours.changed.connect(self._on_hours)
        self.beside_bar.closed.connect(self.close_beside)
        self.beside_bar.flipped.connect(self.flip)
        self.undo.clicked.connect(self._on_undo)
        self.open_verb.clicked.connect(self.asking.open_season)
        self.left_verb.clicked.connect(self._on_left_verb)
        self.next_verb.clicked.connect(self._on_next_verb)
        keys: list[tuple[str, Callable[[], None]]] = [
            ("/", self.head.focus_find),
            ("[", self._on_earlier),
            ("]", self._on_later),
            ("B", self._on_beside_key),
            ("F", self.flip),
            ("Ctrl+Z", self._on_undo),
            ("Ctrl+Shift+Z", self._on_redo),
        ]
        for key, slot in keys:
            QShortcut(QKeySequence(key), self).activated.connect(slot)
        for number, name in enumerate(STEPS, start=1):
            shortcut = QShortcut(QKeySequence(str(number)), self)
            shortcut.setObjectName(name)
            shortcut.activated.connect(self._on_step_key)

    # ---- what is looked at

    def look(self, **changes: object) -> None:
        """Look at something else: the only way in which the state changes."""
        self.state = replace(self.state, **changes)  # type: ignore[arg-type]
        self.ledger.show_refusal("")
        self._show()

    def go_to(self, step: str) -> None:
        """Go to a step of the week."""
        self.look(step=step, beside=self.state.beside if step == "Read" else None, is_how_good=False, why_day=None)

    def pick_round(self, number: int) -> None:
        """Look at another round."""
        self.book.look_at_round(number)
        self.look(round=number, beside=None if self.state.beside == number else self.state.beside)

    def pick_beside(self, number: int) -> None:
        """Put a second round beside the first."""
        if number != self.state.round:
            self.look(step="Read", beside=number, is_how_good=False, why_day=None)

    def pick_block(self, name: str) -> None:
        """Make the ledger about a block, and fit it into the sheet; "" for all."""
        block = self.book.season.block(name)
        if block is not None:
            self.canvas.fit_to(block.outline.bounds)
        elif self.state.block:
            self.canvas.fit()
        self.look(block=name, chosen=None)

    def close_beside(self) -> None:
        """Back to one sheet."""
        self.look(beside=None)

    def flip(self) -> None:
        """Swap the two rounds: the eye compares best without a fade."""
        if self.state.beside is not None:
            self.look(round=self.state.beside, beside=self.state.round)

    # ---- showing

    def _show(self) -> None:
        """Bring every part of the window in line with the state; start what is missing."""
        season, state = self.book.season, self.state
        missing = self.steps.missing(season, state)
        scouted = self.steps.round_of(season, state)
        week = f"week of {date_words(scouted.date)} {scouted.date.year}" if scouted is not None else "no round yet"
        self.head.show_place(season.estate.name, week, state.step)
        shown = tuple(number for number in (state.round, state.beside) if number is not None)
        self.strip.show_strip(self.steps.strip(season, state.block, self.now().date()), shown, state.why_day)
        if missing is None:
            self.head.show_job("", 0.0)
            self._show_sheets(season)
        else:
            self.head.show_job(missing[0], 0.0)
            self.bridge.jobs.start("answer", *missing)
        self._show_ledger(season)
        self.how_good.show()
        self.weather.show()

    def _show_sheets(self, season: Season) -> None:
        state = self.state
        is_paper = state.step == "Paper"
        self.stack.setCurrentIndex(1 if is_paper else 0)
        if is_paper:
            self.paper.show_pages(self.steps.sheets(season, state, self.now()), self.paper.at)
            return
        self.canvas.set_scene(self.underlay.under(self.steps.scene(season, state, state.round), state.step))
        self.canvas.set_threshold(state.threshold if state.step == "Read" else None)
        has_beside = state.beside is not None
        for canvas in (self.canvas, self.beside):
            canvas.set_has_legend(not has_beside)
        self.beside.setVisible(has_beside)
        self.beside_bar.setVisible(has_beside)
        if has_beside:
            self.beside.set_scene(self.underlay.under(self.steps.scene(season, state, state.beside), state.step))
            self.beside.set_threshold(state.threshold)
            self.beside_bar.say(f"Round {state.round} beside round {state.beside}: one view, one scale, one threshold")
        self._show_chosen(season)

    def _show_chosen(self, season: Season) -> None:
        block, row = self.state.chosen or ("", -1)
        place = season.block(block)
        label = place.rows.labels[row] if place is not None and 0 <= row < len(place.rows) else ""
        for canvas in (self.canvas, self.beside):
            canvas.set_chosen(block, label)

    def _show_ledger(self, season: Season) -> None:
        state = self.state
        names = [block.name for block in season.blocks]
        has_all = state.step in ("Ground", "Work", "Week", "Paper")
        self.picker.offer(names, state.block if has_all else self.steps.block_in_view(season, state), has_all)
        self.picker.setVisible(bool(names) and state.step != "Ground")
        self.threshold.setVisible(state.step == "Read" and state.round is not None)
        self.threshold.set_share(state.threshold)
        self.kind.setVisible(state.step == "Work")
        self.kind.set_kind(state.work)
        self.hours.setVisible(state.step == "Week")
        self.hours.set_hours(season.assumptions.crew_hours, season.assumptions.sprayer_hours)
        threshold = state.threshold if state.step == "Read" else None
        self.ledger.show_page(self.steps.page(season, state), state.chosen, self.steps.why(season, state), threshold)
        self._show_foot()

    def _show_foot(self) -> None:
        label = self.book.undo_label
        self.undo.setVisible(label is not None)
        self.undo.set_words(f"Undo: {label}" if label and len(label) < 14 else "Undo")
        self.undo.setToolTip(label or "")
        step = self.state.step
        self.open_verb.setVisible(step == "Ground")
        self.finding.show()
        self.left_verb.set_words(LEFT.get(step, ""))
        self.left_verb.setVisible(step == "Ground" or (step in LEFT and self.state.round is not None))
        self.next_verb.set_words("Print" if step == "Paper" else f"On to {NEXT[step]}")

    # ---- what a hand does

    def _on_step_key(self) -> None:
        self.go_to(self.sender().objectName())

    def _on_line(self, block: str, row: int) -> None:
        if row < 0:
            self.pick_block(block)
            return
        is_open = self.state.chosen == (block, row)
        self.look(chosen=None if is_open and self.state.step != "Work" else (block, row))
        self.ledger.scroll_to_chosen()

    def _on_line_closed(self) -> None:
        self.look(chosen=None)

    def _on_picked(self, block: str, row: str) -> None:
        place = self.book.season.block(block)
        if place is None:
            return
        chosen = (block, place.rows.labels.index(row)) if row in place.rows.labels else None
        block_shown = self.state.block if self.state.step == "Work" and not self.state.block else block
        self.look(block=block_shown, chosen=chosen)
        self.ledger.scroll_to_chosen()

    def _on_threshold(self, share: float) -> None:
        """The line follows the hand; nothing is made again."""
        self.state = replace(self.state, threshold=share)
        self.canvas.set_threshold(share)
        if self.state.beside is not None:
            self.beside.set_threshold(share)

    def _on_threshold_settled(self, share: float) -> None:
        self.look(threshold=share)

    def _on_kind(self, kind: str) -> None:
        self.look(work=kind, chosen=None)

    def _on_hours(self, hand: float, spray: float) -> None:
        changed = replace(self.book.season.assumptions, crew_hours=hand, sprayer_hours=spray)
        self.try_to(lambda: self.book.apply("hours of the week", lambda season: with_assumptions(season, changed)))

    def _on_undo(self) -> None:
        self.try_to(self.book.undo)

    def _on_redo(self) -> None:
        self.try_to(self.book.redo)

    def _on_left_verb(self) -> None:
        deeds = {
            "Ground": self.asking.bring_in,
            "Read": self.asking.save_map,
            "Work": self.asking.change_figures,
            "Paper": self.asking.save_pdf,
        }
        deeds[self.state.step]()

    def _on_next_verb(self) -> None:
        if self.state.step == "Paper":
            self.asking.print_pages()
        else:
            self.go_to(NEXT[self.state.step])

    def _beside_or_next(self, step: int) -> int | None:
        numbers = [each.number for each in sorted(self.book.season.rounds, key=lambda each: each.date)]
        if self.state.round not in numbers:
            return None
        at = numbers.index(self.state.round) + step
        return numbers[at] if 0 <= at < len(numbers) else None

    def _on_earlier(self) -> None:
        number = self._beside_or_next(-1)
        if number is not None:
            self.pick_round(number)

    def _on_later(self) -> None:
        number = self._beside_or_next(1)
        if number is not None:
            self.pick_round(number)

    def _on_beside_key(self) -> None:
        if self.state.beside is not None:
            self.close_beside()
            return
        number = self._beside_or_next(-1) or self._beside_or_next(1)
        if number is not None:
            self.pick_beside(number)

    # ---- what comes back

    def try_to(self, act: Callable[[], None]) -> None:
        """Do something that may be refused; the refusal is said in the ledger, where the act was."""
        try:
            act()
        except VinemapError as error:
            self.ledger.show_refusal(str(error))

    def _on_book(self) -> None:
        self.state = still_there(self.state, self.book.season, self.book.round_looked_at())
        self.look()
        self.ledger.show_refusal(self.book.copy_trouble)

    def _on_stop(self) -> None:
        self.bridge.jobs.stop("answer")
        self.head.show_job("", 0.0)
        self.ledger.show_refusal("Stopped. Choose a step or a round to go on.")

    def _on_report(self, report: Report) -> None:
        if not report.has_ended:
            self.head.show_job(report.label, report.fraction)
        elif isinstance(report.error, VinemapError):
            self.head.show_job("", 0.0)
            self.ledger.show_refusal(str(report.error))
        elif report.error is not None:
            self.head.show_job("", 0.0)
            self.ledger.show_refusal(f"Vinemap has a defect here: {report.error!r}. Your season is saved. Please report it.")
        else:
            self._show()

    def closeEvent(self, event: QCloseEvent) -> None:
        for each in (self.bridge, self.canvas, self.beside, self.underlay, self.book):
            each.close()
        super().closeEvent(event)
