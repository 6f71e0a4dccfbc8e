"""The ledger right of the sheet: title, facts, controls of the step, the table, what to do next."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from vinemap.desk.ledger_table import LedgerTable, paint_fact
from vinemap.desk.type import BODY, LEDGER, PLACE, SUBTITLE, label, set_ground
from vinemap.service.ledger import Fact, Page, Why
from vinemap.sheets.ink import Ink

WIDTH, PAD, FACT_ROW = 404, 24, 27


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
    """A page of the ledger; ``controls``, ``above_foot`` and ``foot`` take what the step brings along."""

    def __init__(self, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ink = ink
        self.setFixedWidth(WIDTH)
        set_ground(self, ink.ground)
        self.table = LedgerTable(ink)
        self._title = label("", PLACE, ink.ink, 500)
        self._subtitle = label("", SUBTITLE, ink.ink_soft, 400, True)
        self._facts = Facts(ink)
        self._note = label("", BODY, ink.ink_soft, 400, True)
        self._caution = CautionBox(ink)
        self._refusal = CautionBox(ink)
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
        self._refusal.say("")

    def show_page(self, page: Page, chosen: tuple[str, int] | None, why: Why | None, threshold: float | None) -> None:
        """Set the page, with the chosen line framed and opened."""
        self._title.setText(page.title)
        self._subtitle.setText(page.subtitle)
        self._facts.show_facts(page.facts)
        self.table.show_page(page, chosen, why, threshold)
        self._note.setText(page.note)
        self._note.setVisible(bool(page.note))
        self._caution.say(page.caution)

    def set_has_facts(self, has_facts: bool) -> None:
        """Whether the facts above the table are shown, or their room is given to what stands above the foot."""
        self._facts.setVisible(has_facts)

    def show_refusal(self, text: str) -> None:
        """Say what could not be done, where the act was; "" takes it away."""
        self._refusal.say(text)

    def refusal(self) -> str:
        """What was refused last, or ""."""
        return self._refusal.text()

    def scroll_to_chosen(self) -> None:
        """Bring the chosen line into view."""
        self._scroll.ensureVisible(0, self.table.chosen_top() + 40, 0, 60)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(QRectF(0, 0, 1, self.height()), QColor(self._ink.ink))
