"""What a step brings along in the ledger: the block, the threshold, the kind of work, the hours there are."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QComboBox, QDoubleSpinBox, QHBoxLayout, QLabel, QSlider, QWidget

from vinemap.desk.map_frame import draw_incidence_ramp
from vinemap.desk.type import BODY, label, screen_font, set_colour, set_ground
from vinemap.desk.verbs import Verb
from vinemap.sheets.ink import INCIDENCE_TOP, Ink
from vinemap.work.ranking import OPEN, SPRAY

ALL = "All blocks"


class Choice(QComboBox):
    """One of some words, with the hook that says there are others."""

    def __init__(self, name: str, ink: Ink) -> None:
        super().__init__()
        self.setFont(screen_font(BODY))
        self.setAccessibleName(name)
        self._ink = ink

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(self._ink.ink), 1.6))
        x, y = self.width() - 18.0, self.height() / 2
        painter.drawPolyline(QPolygonF([QPointF(x - 5, y - 2.5), QPointF(x, y + 2.5), QPointF(x + 5, y - 2.5)]))


class BlockPicker(Choice):
    """The block the ledger is about."""

    chosen = Signal(str)

    def __init__(self, ink: Ink) -> None:
        super().__init__("Block", ink)
        self.activated.connect(self._on_activated)

    def offer(self, names: list[str], at: str, has_all: bool) -> None:
        """Offer these blocks, and all of them together where that makes sense."""
        self.blockSignals(True)
        self.clear()
        self.addItems(([ALL] if has_all else []) + names)
        self.setCurrentText(at or ALL)
        self.blockSignals(False)

    def _on_activated(self, index: int) -> None:
        text = self.itemText(index)
        self.chosen.emit("" if text == ALL else text)


class Threshold(QWidget):
    """A slider for the share that counts as too much: moves the line at once, the table when the hand lets go."""

    moved = Signal(float)
    settled = Signal(float)

    def __init__(self, ink: Ink) -> None:
        super().__init__()
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setRange(1, 50)
        self.slider.setAccessibleName("Threshold, per cent of clusters")
        self._words = label("", BODY, ink.ink)
        self._words.setFixedWidth(122)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(label("over", BODY, ink.ink_soft, 400, True))
        row.addWidget(self.slider, 1)
        row.addWidget(self._words)
        self.slider.valueChanged.connect(self._on_moved)
        self.slider.sliderReleased.connect(self._on_settled)

    def set_share(self, share: float) -> None:
        """Show a threshold 0..1 without telling."""
        self.slider.blockSignals(True)
        self.slider.setValue(round(share * 100))
        self.slider.blockSignals(False)
        self._words.setText(f"{self.slider.value()} % of clusters")

    def _on_moved(self, value: int) -> None:
        self._words.setText(f"{value} % of clusters")
        self.moved.emit(value / 100)
        if not self.slider.isSliderDown():
            self.settled.emit(value / 100)

    def _on_settled(self) -> None:
        self.settled.emit(self.slider.value() / 100)


class WorkKind(QWidget):
    """Hand work or spray."""

    chosen = Signal(str)

    def __init__(self, ink: Ink) -> None:
        super().__init__()
        self._verbs = {OPEN: Verb("open by hand", ink), SPRAY: Verb("targeted spray", ink)}
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        for verb in self._verbs.values():
            verb.setCheckable(True)
            verb.setAutoExclusive(True)
            row.addWidget(verb)
        row.addStretch(1)
        self._verbs[OPEN].clicked.connect(self._on_open)
        self._verbs[SPRAY].clicked.connect(self._on_spray)

    def set_kind(self, kind: str) -> None:
        """Show a kind without telling."""
        self._verbs[kind].setChecked(True)
        for verb in self._verbs.values():
            verb.update()

    def _on_open(self) -> None:
        self.chosen.emit(OPEN)

    def _on_spray(self) -> None:
        self.chosen.emit(SPRAY)


class Hours(QWidget):
    """The hours to give away in the week."""

    changed = Signal(float, float)

    def __init__(self, ink: Ink) -> None:
        super().__init__()
        self._hand = self._box("Hours of hand work this week", ink)
        self._spray = self._box("Hours of the sprayer this week", ink)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        for widget in (label("hand work", BODY, ink.ink), self._hand, label("sprayer", BODY, ink.ink), self._spray):
            if isinstance(widget, QLabel):
                widget.setWordWrap(False)
            row.addWidget(widget)
        row.addStretch(1)

    def _box(self, name: str, ink: Ink) -> QDoubleSpinBox:
        box = QDoubleSpinBox()
        box.setRange(0.0, 2000.0)
        box.setDecimals(1)
        box.setSuffix(" h")
        box.setFont(screen_font(BODY))
        box.setAccessibleName(name)
        box.setKeyboardTracking(False)
        set_ground(box, ink.sheet)
        set_colour(box, ink.ink)
        box.valueChanged.connect(self._on_changed)
        return box

    def set_hours(self, hand: float, spray: float) -> None:
        """Show hours without telling."""
        for box, value in ((self._hand, hand), (self._spray, spray)):
            box.blockSignals(True)
            box.setValue(value)
            box.blockSignals(False)

    def _on_changed(self, value: float) -> None:
        self.changed.emit(self._hand.value(), self._spray.value())


class RampKey(QWidget):
    """The ramp of incidence, once for two sheets."""

    def __init__(self, ink: Ink) -> None:
        super().__init__()
        self._ink = ink
        self.setFixedSize(230, 56)
        self.setAccessibleName("Key: share of clusters with mildew, from 0 to 40 per cent")

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        draw_incidence_ramp(painter, 10.0, 20.0, self._ink, INCIDENCE_TOP)


class BesideBar(QWidget):
    """Under two sheets: one key for both, what is compared, and the way back to one."""

    closed = Signal()
    flipped = Signal()

    def __init__(self, ink: Ink) -> None:
        super().__init__()
        set_ground(self, ink.ground)
        self._words = label("", BODY, ink.ink_soft, 400, True)
        back = Verb("one sheet", ink)
        flip = Verb("swap", ink)
        back.clicked.connect(self.closed)
        flip.clicked.connect(self.flipped)
        row = QHBoxLayout(self)
        row.setContentsMargins(14, 4, 14, 4)
        row.addWidget(RampKey(ink))
        row.addSpacing(18)
        row.addWidget(self._words, 1)
        row.addWidget(flip)
        row.addWidget(back)

    def say(self, words: str) -> None:
        """What the two sheets show."""
        self._words.setText(words)
