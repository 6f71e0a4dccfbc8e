"""The head, one line: the estate, the week, the six steps as words, and finding."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QLabel, QLineEdit, QWidget

from vinemap.desk.type import BODY, ESTATE, STEP, label, screen_font, set_colour, set_ground
from vinemap.desk.verbs import Verb
from vinemap.sheets.ink import Ink

HEIGHT = 48
STEPS = ("Ground", "Walk", "Read", "Work", "Week", "Paper")


class Head(QWidget):
    """Emits ``stepped(name)`` and ``asked(text)``; a hairline below grows with the job that runs."""

    stepped = Signal(str)
    asked = Signal(str)
    stopped = Signal()
    left_find = Signal()

    def __init__(self, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ink = ink
        self._fraction = 0.0
        self.setFixedHeight(HEIGHT)
        set_ground(self, ink.ground)
        self._estate = label("", ESTATE, ink.ink, 600)
        self._week = label("", BODY, ink.ink_soft, 400, True)
        for words in (self._estate, self._week):
            words.setWordWrap(False)
            words.setMinimumWidth(1)
        self._place = ""
        self._steps: dict[str, Verb] = {}
        self._group = QButtonGroup(self)
        row = QHBoxLayout(self)
        row.setContentsMargins(24, 0, 24, 0)
        row.setSpacing(6)
        row.addWidget(self._estate)
        row.addSpacing(10)
        row.addWidget(self._week)
        row.addStretch(1)
        for number, name in enumerate(STEPS):
            if number:
                row.addWidget(label("·", STEP, ink.ink_soft))
            row.addWidget(self._step(name))
        row.addStretch(1)
        self._job = label("", BODY - 1, ink.ink_soft, 400, True)
        self._job.setWordWrap(False)
        self._stop = Verb("Stop", ink, BODY, 600)
        self._stop.clicked.connect(self.stopped)
        row.addWidget(self._job)
        row.addWidget(self._stop)
        row.addWidget(self._slash())
        row.addWidget(self._made_find_line())
        self.show_job("", 0.0)

    def _step(self, name: str) -> Verb:
        made = Verb(name, self._ink, STEP)
        made.setCheckable(True)
        made.clicked.connect(self._on_step)
        self._group.addButton(made)
        self._steps[name] = made
        return made

    def _slash(self) -> QLabel:
        return label("/", BODY, self._ink.ink)

    def _made_find_line(self) -> QLineEdit:
        self.find_line = QLineEdit()
        self.find_line.setPlaceholderText("Find or do anything")
        self.find_line.setFont(screen_font(BODY, 400, True))
        self.find_line.setFrame(False)
        self.find_line.setFixedWidth(170)
        self.find_line.setAccessibleName("Find a block, row or vine, or do something")
        set_ground(self.find_line, self._ink.ground)
        set_colour(self.find_line, self._ink.ink)
        self.find_line.returnPressed.connect(self._on_asked)
        return self.find_line

    def _on_step(self) -> None:
        pressed = self._group.checkedButton()
        if pressed is not None:
            self.stepped.emit(pressed.text())

    def _on_asked(self) -> None:
        text = self.find_line.text().strip().lstrip("/").strip()
        if text:
            self.asked.emit(text)
        self.find_line.clear()

    def show_place(self, estate: str, week: str, step: str) -> None:
        """Say which estate, which week and which step."""
        self._place = estate
        self._estate.setToolTip(estate)
        self._week.setText(week)
        self._fit_place()
        self._steps[step].setChecked(True)
        for verb in self._steps.values():
            verb.update()

    def show_job(self, words: str, fraction: float) -> None:
        """Say what is being computed, or nothing."""
        self._fraction = fraction if words else 0.0
        self._job.setText(words)
        self._job.setVisible(bool(words))
        self._stop.setVisible(bool(words))
        self._fit_place()
        self.update()

    def _fit_place(self) -> None:
        """A long name never pushes the steps out of the window: the week gives way first, then the end of the name."""
        row = self.layout()
        assert row is not None
        row.invalidate()
        room = self.width() - row.minimumSize().width()
        metrics = QFontMetricsF(self._estate.font())
        week = QFontMetricsF(self._week.font()).horizontalAdvance(self._week.text())
        self._week.setVisible(metrics.horizontalAdvance(self._place) + week <= room)
        self._estate.setText(metrics.elidedText(self._place, Qt.TextElideMode.ElideRight, max(room, 40)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit_place()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.find_line.hasFocus():
            self.find_line.clear()
            self.left_find.emit()
        else:
            super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(QRectF(0, self.height() - 1, self.width(), 1), QColor(self._ink.ink))
        if self._fraction > 0:
            painter.fillRect(QRectF(0, self.height() - 3, self.width() * self._fraction, 3), QColor(self._ink.ink))

    def focus_find(self) -> None:
        """Put the hand into the find line."""
        self.find_line.setFocus(Qt.FocusReason.ShortcutFocusReason)
