"""Edits of the ground written into the find line, and the list of varieties of a field blend pasted into a sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QDialog, QPlainTextEdit, QVBoxLayout, QWidget

from vinemap.desk.controls import Choice
from vinemap.desk.dialogs import answers
from vinemap.desk.type import BODY, SMALL, label, screen_font, set_ground
from vinemap.season.typed_edits import Done, looks_like_edit
from vinemap.season.variety_list import EXAMPLE, with_variety_list
from vinemap.service.typed_in import do_typed
from vinemap.sheets.ink import Ink

if TYPE_CHECKING:
    from vinemap.desk.window import Window

_SHOWN = 4


class VarietiesDialog(QDialog):
    """One block, and a field into which its list is pasted."""

    def __init__(self, blocks: Sequence[str], proposed: str, ink: Ink, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle("Paste the varieties of a block")
        self.resize(620, 460)
        self._block = Choice("Block", ink)
        self._block.addItems(list(blocks))
        self._block.setCurrentText(proposed)
        self._list = QPlainTextEdit()
        self._list.setAccessibleName("Rows, varieties and vines")
        self._list.setTabChangesFocus(True)
        for widget in (self._block, self._list):
            widget.setFont(screen_font(BODY))
        set_ground(self, ink.ground)
        column = QVBoxLayout(self)
        column.addWidget(label("A row a line: its label, then varieties with their vines.", BODY, ink.ink))
        column.addWidget(label(f"For example {EXAMPLE}", SMALL, ink.ink_soft, 400, True))
        for widget in (self._block, self._list):
            column.addWidget(widget)
        column.addWidget(answers(self, "Take these"))

    def answer(self) -> tuple[str, str]:
        """The block and its list."""
        return self._block.currentText(), self._list.toPlainText()


class TypedEdits:
    """Makes what was written, as one step that can be undone, and says what it did."""

    def __init__(self, window: Window) -> None:
        self._window = window

    def is_meant(self, text: str) -> bool:
        """Is this an edit, and not a name to find?"""
        return looks_like_edit(self._window.book.season, text)

    def ask_varieties(self, blocks: Sequence[str], proposed: str) -> tuple[str, str] | None:
        """A block and its list; replaced in tests."""
        dialog = VarietiesDialog(blocks, proposed, self._window.ink, self._window)
        return dialog.answer() if dialog.exec() == QDialog.DialogCode.Accepted else None

    def do(self, text: str) -> None:
        """Make the edit that was written; a refusal is said in the ledger."""
        self._window.try_to(lambda: self._say(do_typed(self._window.book, text)))

    def paste_varieties(self) -> None:
        """Ask for the varieties of a block and mark its vines."""
        window = self._window
        blocks = [block.name for block in window.book.season.blocks]
        if not blocks:
            window.ledger.show_refusal("There is no block yet. Bring in the outlines first.")
            return
        answer = self.ask_varieties(blocks, window.state.block or blocks[0])
        if answer is not None and answer[1].strip():
            window.try_to(lambda: self._paste(*answer))

    def _paste(self, block: str, text: str) -> None:
        book = self._window.book
        made, said, problems = with_variety_list(book.season, block, text)
        book.apply(f"varieties of {block}", lambda _: made)
        self._say(Done(made, "", said, problems))

    def _say(self, done: Done) -> None:
        first = " ".join(str(problem) for problem in done.problems[:_SHOWN])
        more = f" And {len(done.problems) - _SHOWN} more." if len(done.problems) > _SHOWN else ""
        left_out = (f"Left out, {len(done.problems)}: {first}{more}",) if done.problems else ()
        self._window.ledger.show_refusal(" ".join([*done.said, *left_out]))
