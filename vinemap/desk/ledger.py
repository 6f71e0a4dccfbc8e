"""The ledger right of the sheet: title, facts, controls of the step, the table, what to do next."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QKeySequence, QPainter, QPaintEvent, QResizeEvent, QShortcut
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from vinemap.desk.ledger_table import LedgerTable, paint_fact
from vinemap.desk.type import BODY, LEDGER, PLACE, SUBTITLE, label, set_ground
from vinemap.desk.verbs import Verb
from vinemap.service.ledger import Fact, Page, Why
from vinemap.sheets.ink import Ink

WIDTH, PAD, FACT_ROW = 404, 24, 27
SAVE_REPORT, SAVE_KEY = "Save the report", "Ctrl+S"
_REST_PX = 300
"""Room for title, table and foot, when much is said in a low window."""


class Facts(QWidget):
    """Labels tied to figures by dots."""

    def __init__(self, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ink = ink
        self._facts: tuple[Fact, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def show_facts(self, facts: tuple[Fact, ...]) -> None:
        """Set the lines."""
        self._facts = facts
        self.setFixedHeight(FACT_ROW * len(facts))
        self.setAccessibleName("; ".join(f"{fact.label}: {fact.value}" for fact in facts))
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(WIDTH - 2 * PAD, FACT_ROW * len(self._facts))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for index, fact in enumerate(self._facts):
            paint_fact(painter, self._ink, QRectF(0, index * FACT_ROW, self.width(), FACT_ROW), fact, LEDGER)


class CautionBox(QWidget):
    """Saffron with the heavy ink bar at the left, which survives grey."""

    def __init__(self, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ink = ink
        box = QVBoxLayout(self)
        box.setContentsMargins(18, 8, 10, 8)
        self._words = label("", BODY - 1, ink.caution_ink)
        # where there is too little room the beginning is what is read
        self._words.setAlignment(Qt.AlignmentFlag.AlignTop)
        box.addWidget(self._words)

    def say(self, text: str) -> None:
        """Show a caution, or nothing."""
        self._words.setText(text)
        self.setVisible(bool(text))

    def text(self) -> str:
        """What it says."""
        return self._words.text()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._ink.caution))
        painter.fillRect(QRectF(0, 0, 7, self.height()), QColor(self._ink.caution_ink))


class _Scroll(QScrollArea):
    """Leaves the list where it is when Tab passes by: the whole table is too tall to be "brought into view"."""

    def focusNextPrevChild(self, next: bool) -> bool:
        return QWidget.focusNextPrevChild(self, next)


class Ledger(QWidget):
    """A page of the ledger; ``controls``, ``above_foot`` and ``foot`` take what the step brings along.

    ``save_report`` stands under what was said of files that came in, and only there.
    """

    def __init__(self, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ink = ink
        self.setFixedWidth(WIDTH)
        set_ground(self, ink.ground)
        self.table = LedgerTable(ink)
        self._title = label("", PLACE, ink.ink, 500)
        self._subtitle = label("", SUBTITLE, ink.ink_soft, 400, True)
        self._facts, self._has_facts = Facts(ink), True
        self._note = label("", BODY, ink.ink_soft, 400, True)
        self._caution = CautionBox(ink)
        self._refusal = CautionBox(ink)
        self.save_report = Verb(SAVE_REPORT, ink)
        self.save_report.setToolTip(f"All that was left out, and how the files were read, as plain text ({SAVE_KEY})")
        # a key of a thing that is hidden does nothing
        QShortcut(QKeySequence(SAVE_KEY), self.save_report).activated.connect(self.save_report.click)
        self.controls = QVBoxLayout()
        self.above_foot, self.foot = QVBoxLayout(), QHBoxLayout()
        self._scroll = _Scroll()
        self._scroll.setWidget(self.table)
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        set_ground(self._scroll, ink.ground)
        set_ground(self._scroll.viewport(), ink.ground)
        column = QVBoxLayout(self)
        column.setContentsMargins(PAD, 12, PAD, 12)
        column.setSpacing(6)
        for widget in (self._title, self._subtitle, self._refusal):
            column.addWidget(widget)
        column.addWidget(self.save_report, 0, Qt.AlignmentFlag.AlignRight)
        column.addSpacing(4)
        column.addLayout(self.controls)
        column.addWidget(self._facts)
        column.addSpacing(6)
        column.addWidget(self._scroll, 1)
        column.addWidget(self._note)
        column.addWidget(self._caution)
        column.addSpacing(4)
        column.addLayout(self.above_foot)
        column.addLayout(self.foot)
        self.show_refusal("")

    def show_page(self, page: Page, chosen: tuple[str, int] | None, why: Why | None, threshold: float | None) -> None:
        """Set the page, with the chosen line framed and opened."""
        self._title.setText(page.title)
        self._subtitle.setText(page.subtitle)
        self._facts.show_facts(page.facts)
        self.table.show_page(page, chosen, why, threshold)
        # where there is no table, its room is the note's
        self._scroll.setMinimumHeight(0 if page.lines or page.columns else 1)
        self._note.setText(page.note)
        self._note.setVisible(bool(page.note))
        self._caution.say(page.caution)
        self._share_room()

    def set_has_facts(self, has_facts: bool) -> None:
        """Whether the facts above the table are shown, or their room is given to what stands above the foot."""
        self._has_facts = has_facts
        self._share_room()

    def show_refusal(self, text: str, has_report: bool = False) -> None:
        """Say what could not be done, where the act was; "" takes it away. ``has_report``: its report can be saved."""
        self._refusal.say(text)
        self.save_report.setVisible(has_report and bool(text))
        self._share_room()

    def refusal(self) -> str:
        """What was refused last, or ""."""
        return self._refusal.text()

    def scroll_to_chosen(self) -> None:
        """Bring the chosen line into view."""
        self._scroll.ensureVisible(0, self.table.chosen_top() + 40, 0, 60)

    def _share_room(self) -> None:
        """What was said goes before the facts, where there is no room for both."""
        said = self._refusal.heightForWidth(WIDTH - 2 * PAD) if self._refusal.text() else 0
        has_room = said + self._facts.sizeHint().height() + _REST_PX <= self.height()
        self._facts.setVisible(self._has_facts and (has_room or not said))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._share_room()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(QRectF(0, 0, 1, self.height()), QColor(self._ink.ink))
