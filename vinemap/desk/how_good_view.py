"""The page "How good is this map?": in the map's place, reached from step Read and left by the same word."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QPaintEvent, QShortcut
from PySide6.QtWidgets import QWidget

from vinemap.desk.fonts import measure
from vinemap.desk.sheet_view import SheetView
from vinemap.desk.verbs import Verb
from vinemap.service.how_good import TITLE, how_good_page, how_good_plan
from vinemap.sheets.how_good_sheet import HowGoodPlan, how_good_marks, how_good_sheet
from vinemap.sheets.ink import Ink
from vinemap.sheets.marks import Page as Sheet

if TYPE_CHECKING:
    from vinemap.desk.window import Window

BACK, PRINT = "Back to the map", "Page as PDF"
PAD_PX = 22.0


class HowGoodView(SheetView):
    """The sheet with the plot and the map of where to look next, laid out for the room there is."""

    def __init__(self, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(TITLE, PAD_PX, ink, parent)
        self.plan: HowGoodPlan | None = None

    def show_plan(self, plan: HowGoodPlan) -> None:
        """Set what is shown."""
        self.plan = plan
        self.setAccessibleDescription(" ".join((plan.why_no_plot, *plan.below_plot, *plan.below_map)))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        plan = self.plan
        self.paint_sheet(None if plan is None else lambda room: how_good_marks(plan, room, self._ink, measure))


class HowGood:
    """Shows the page, and says what it says in the ledger."""

    def __init__(self, window: Window) -> None:
        self._window = window
        self.view = HowGoodView(window.ink)
        window.stack.addWidget(self.view)
        self.verb = Verb(TITLE, window.ink)
        window.ledger.above_foot.addWidget(self.verb, 0, Qt.AlignmentFlag.AlignRight)
        self.verb.clicked.connect(self.turn)
        QShortcut(QKeySequence("H"), window).activated.connect(self.turn)
        self._away = QShortcut(QKeySequence("Esc"), window)
        self._away.activated.connect(self._on_escape)

    @property
    def is_shown(self) -> bool:
        """Whether the page stands in the map's place."""
        state = self._window.state
        return state.is_how_good and state.step == "Read" and state.beside is None

    def turn(self) -> None:
        """Go to the page, or back to the map."""
        window = self._window
        if self.is_shown:
            window.look(is_how_good=False)
            window.canvas.setFocus()
            return
        if window.state.round is None:
            window.ledger.show_refusal("There is no map yet. Bring in the stops of a round first.")
            return
        window.look(step="Read", beside=None, chosen=None, is_how_good=True)
        self.view.setFocus()

    def _on_escape(self) -> None:
        head = self._window.head
        if head.find_line.hasFocus():
            head.find_line.clear()
            self.view.setFocus()
        else:
            self.turn()

    def show(self) -> None:
        """Bring the page in line with the state, after the rest of the window."""
        window, is_shown = self._window, self.is_shown
        self.verb.setVisible(window.state.step == "Read" and window.state.round is not None)
        self.verb.set_words(BACK if is_shown else TITLE)
        self._away.setEnabled(is_shown)
        if not is_shown:
            return
        season, state = window.book.season, window.state
        window.threshold.setVisible(False)
        window.left_verb.set_words(PRINT)
        scouted, reads = window.steps.round_of(season, state), window.steps.reads(season, state.round)
        block = window.steps.block_in_view(season, state)
        if scouted is None or block not in reads:
            return
        window.stack.setCurrentWidget(self.view)
        self.view.show_plan(how_good_plan(reads[block], scouted, season, window.now()))
        window.ledger.show_page(how_good_page(reads[block], scouted), None, None, None)

    def sheet(self) -> Sheet | None:
        """The page for paper, or None where it is not shown."""
        window = self._window
        season, state = window.book.season, window.state
        scouted, reads = window.steps.round_of(season, state), window.steps.reads(season, state.round)
        block = window.steps.block_in_view(season, state)
        if not self.is_shown or scouted is None or block not in reads:
            return None
        page = how_good_page(reads[block], scouted)
        facts = [(fact.label, fact.value) for fact in page.facts]
        for way, times, between in (line.cells for line in page.lines):
            facts.append((way, f"times {times} ({between})" if between else f"times {times}"))
        return how_good_sheet(how_good_plan(reads[block], scouted, season, window.now()), facts, page.note, measure)
