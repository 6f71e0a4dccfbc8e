"""Save a copy of the season, asked for in the find line."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFileDialog

from vinemap.files.season_file import SUFFIX

if TYPE_CHECKING:
    from vinemap.desk.window import Window

SAVE_A_COPY = "save a copy"


class Copying:
    """The deed of saving a copy of what is open."""

    def __init__(self, window: Window) -> None:
        self._window = window

    # asking: replaced in tests

    def ask_place(self, proposed: Path) -> Path | None:
        """Where to; the dialog asks before a season that is in the way is replaced."""
        name, _ = QFileDialog.getSaveFileName(self._window, "Save a copy", str(proposed), f"Seasons (*{SUFFIX})")
        return Path(name) if name else None

    def save(self) -> None:
        """Save a copy with all its steps, and go on in the season itself."""
        book = self._window.book
        place = self.ask_place(book.path.with_name(f"{book.path.stem} copy{SUFFIX}"))
        if place is None:
            return
        whole = place if place.suffix.lower() == SUFFIX else place.with_name(place.name + SUFFIX)
        # nobody was asked about a file of the longer name
        self._window.try_to(lambda: book.save_copy(place if whole.exists() else whole))
