"""Questions before files come in: whose column is whose, and which repairs are wanted. Nothing is answered beforehand."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QVBoxLayout,
    QWidget,
)

from vinemap.desk.controls import Choice
from vinemap.desk.dialogs import answers, scrolled
from vinemap.desk.type import BODY, SMALL, label, screen_font, set_colour, set_ground
from vinemap.files.matching import Proposal, shown_turned, written
from vinemap.service.matched import is_enough
from vinemap.service.repair import Offer
from vinemap.sheets.ink import Ink

NONE = "none"


class MatchDialog(QDialog):
    """One line for each of our columns: theirs to choose, and a value from under it."""

    def __init__(self, proposal: Proposal, ink: Ink, parent: QWidget) -> None:
        super().__init__(parent)
        self._proposal = proposal
        self._samples = dict(zip(proposal.heads, proposal.samples, strict=True))
        self._boxes: dict[str, Choice] = {}
        self._values = {ours: label("", SMALL, ink.ink_soft, 400, True) for ours in proposal.offered}
        self.setWindowTitle(f"The columns of {proposal.file}")
        self.resize(680, 560)
        meant = {pair.ours: pair.theirs for pair in proposal.pairs}
        holder = QWidget()
        grid = QGridLayout(holder)
        grid.setColumnStretch(2, 1)
        for line, ours in enumerate(proposal.offered):
            box = Choice(f"column for {ours}", ink)
            box.addItems([NONE, *filter(None, proposal.heads)])
            box.setCurrentText(meant.get(ours, NONE))
            box.currentTextChanged.connect(self._on_choice)
            self._boxes[ours] = box
            grid.addWidget(label(ours, BODY, ink.ink), line, 0)
            grid.addWidget(box, line, 1)
            grid.addWidget(self._values[ours], line, 2)
        self._told = label("", BODY, ink.ink)
        self.buttons = answers(self, "Bring in so", "Leave this file out")
        column = QVBoxLayout(self)
        words = f"{proposal.file} has other names above its columns; it looks like {proposal.kind}. Which is which?"
        if proposal.is_drawn:
            words = f"The {proposal.kind} in {proposal.file} have other names than ours. Which is which?"
        column.addWidget(label(words, BODY, ink.ink))
        column.addWidget(scrolled(holder, self, ink), 1)
        column.addWidget(self._told)
        column.addWidget(self.buttons)
        self._on_choice()

    def choose(self, ours: str, theirs: str) -> None:
        """Choose a column of theirs for one of ours, "" for none."""
        self._boxes[ours].setCurrentText(theirs or NONE)

    def pairs(self) -> list[tuple[str, str]]:
        """Theirs and ours, as they are chosen."""
        return [(box.currentText(), ours) for ours, box in self._boxes.items() if box.currentIndex() > 0]

    def given(self) -> str:
        """The pairs in one line, as the command line takes them."""
        return written(self.pairs())

    def trouble(self) -> str:
        """Why the columns can't come in as they are chosen, "" when they can."""
        theirs = [each for each, _ in self.pairs()]
        twice = next((each for each in theirs if theirs.count(each) > 1), "")
        if twice:
            return f"“{twice}” is chosen twice."
        if not is_enough(self._proposal, [ours for _, ours in self.pairs()]):
            chosen = {ours for _, ours in self.pairs()}
            lacking = [ours for ours in self._proposal.lacking if ours not in chosen]
            return f"Still lacking: {', '.join(lacking)}." if lacking else "Something that is needed has no column."
        return ""

    def _on_choice(self) -> None:
        for ours, box in self._boxes.items():
            theirs = box.currentText()
            sample = shown_turned(theirs, ours, self._samples.get(theirs, "")) if box.currentIndex() > 0 else ""
            self._values[ours].setText(f"for example {sample}" if sample else "")
        self._told.setText(self.trouble())
        self.buttons.button(QDialogButtonBox.StandardButton.Ok).setEnabled(not self.trouble())


class RepairDialog(QDialog):
    """What could be mended, each with how many things; none is ticked."""

    def __init__(self, offers: Sequence[Offer], ink: Ink, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle("What could be mended")
        set_ground(self, ink.ground)
        column = QVBoxLayout(self)
        words = "The files stay as they are. What you do not tick is left as it was said in the report."
        column.addWidget(label(words, BODY, ink.ink_soft, 400, True))
        self.boxes: dict[str, QCheckBox] = {}
        for offer in offers:
            box = QCheckBox(str(offer))
            box.setFont(screen_font(BODY))
            set_colour(box, ink.ink)
            self.boxes[offer.repair] = box
            column.addWidget(box)
        self.buttons = answers(self, "Mend these", "Mend nothing")
        column.addWidget(self.buttons)

    def chosen(self) -> tuple[str, ...]:
        """Names of the repairs that are ticked."""
        return tuple(name for name, box in self.boxes.items() if box.isChecked())
