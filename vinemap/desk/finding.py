"""Find a block, row or vine, or do anything by its name, from the find line."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QStringListModel, Qt
from PySide6.QtWidgets import QCompleter, QHBoxLayout

from vinemap.desk.copying import SAVE_A_COPY, Copying
from vinemap.desk.giving import Giving
from vinemap.desk.ground_hand import GroundHand
from vinemap.desk.head import STEPS
from vinemap.desk.stage_entry import ENTER, StageEntry
from vinemap.desk.typed_edits import TypedEdits
from vinemap.desk.weather_asking import BRING_IN_WEATHER
from vinemap.service.how_good import TITLE
from vinemap.service.weather_page import TITLE as WHY
from vinemap.work.varieties import plain_name

if TYPE_CHECKING:
    from vinemap.desk.window import Window


class Finding:
    """What can be found and done from a window."""

    def __init__(self, window: Window) -> None:
        self._window = window
        self.copying = Copying(window)
        self.typed = TypedEdits(window)
        self.giving = Giving(window)
        self.stages = StageEntry(window)
        self.hand = GroundHand(window)
        line = QHBoxLayout()
        line.addStretch(1)
        for verb in (self.giving.verb, self.hand.rows_verb, self.hand.verb):
            line.addWidget(verb)
        window.ledger.above_foot.addWidget(self.hand.more)
        window.ledger.above_foot.addLayout(line)
        self._deeds: dict[str, Callable[[], None]] = {
            "undo": lambda: window.try_to(window.book.undo),
            "redo": lambda: window.try_to(window.book.redo),
            "bring in files": window.asking.bring_in,
            BRING_IN_WEATHER: window.asking.bring_in_weather,
            "give out files": self.giving.give,
            "put right by hand": self.hand.turn,
            "make rows": self.hand.begin_rows,
            "draw a block": self.hand.begin_draw,
            "paste varieties": self.typed.paste_varieties,
            "remove a column": window.asking.remove_column,
            "show the picture": window.underlay.show,
            "hide the picture": window.underlay.hide,
            "remove the picture": window.underlay.remove,
            "save the report": window.asking.save_report,
            SAVE_A_COPY: self.copying.save,
            "open a season": window.asking.open_season,
            "begin a season": window.asking.begin_season,
            "change the figures": window.asking.change_figures,
            "save as PDF": window.asking.save_pdf,
            "print": window.asking.print_pages,
            "two rounds side by side": window._on_beside_key,
            "one sheet": window.close_beside,
            TITLE: window.how_good.turn,
            WHY: window.weather.turn,
            ENTER: self.stages.enter,
            "all blocks": lambda: window.pick_block(""),
        }
        self._proposals = QStringListModel(window)
        self._propose()
        window.book.listen(self._propose)
        completer = QCompleter(self._proposals, window)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        window.head.find_line.setCompleter(completer)
        window.head.left_find.connect(self._leave)
        window.ledger.save_report.clicked.connect(window.asking.save_report)

    def _propose(self) -> None:
        """Propose the blocks that there are now."""
        blocks = [block.name for block in self._window.book.season.blocks]
        self._proposals.setStringList([*STEPS, *blocks, *self._deeds])

    def show(self) -> None:
        """Bring what stands at the foot of the ledger in line with the step."""
        self.giving.verb.setVisible(self._window.state.step == "Ground" and self._window.state.why_day is None)
        self.hand.show()

    def _leave(self) -> None:
        """Give the hand back to the page, so that the next key is no letter in the find line."""
        window = self._window
        (window.paper if window.state.step == "Paper" else window.canvas).setFocus()

    def ask(self, text: str) -> None:
        """Go to what was written, or do it, and leave the find line; say so when it is neither."""
        self._window.ledger.show_refusal("")
        if self.typed.is_meant(text):
            self.typed.do(text)
            self._leave()
        elif self._has_done(text):
            self._leave()
        else:
            self._window.ledger.show_refusal(
                f"Nothing here is called “{text}”. Write a block, a row as block / row, "
                f"an edit as “row 12, vines 30 to 44 dead”, or one of: {', '.join(self._deeds)}."
            )

    def _has_done(self, text: str) -> bool:
        wanted = plain_name(text)
        for name in STEPS:
            if plain_name(name) == wanted:
                self._window.go_to(name)
                return True
        for name, deed in self._deeds.items():
            if plain_name(name) == wanted:
                deed()
                return True
        return self._go_to_place([part.strip() for part in text.split("/")])

    def _go_to_place(self, parts: list[str]) -> bool:
        wanted = plain_name(parts[0])
        blocks = self._window.book.season.blocks
        near = [block for block in blocks if plain_name(block.name) == wanted]
        near = near or [block for block in blocks if plain_name(block.name).startswith(wanted)]
        if not near:
            return False
        block = near[0]
        if len(parts) > 1 and parts[1] not in block.rows.labels:
            return False
        self._window.pick_block(block.name)
        if len(parts) > 1:
            self._window.look(chosen=(block.name, block.rows.labels.index(parts[1])))
            self._window.ledger.scroll_to_chosen()
        return True
