"""Start the window on a season file, or on the sample."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QApplication

from vinemap.desk.fonts import load_face
from vinemap.service.book import Book, open_book
from vinemap.service.sample import write_sample

if TYPE_CHECKING:
    from vinemap.desk.window import Window

SAMPLE_FOLDER = Path("vinemap-out")


def sample_season() -> Path:
    """The sample's season file, made when it is not there yet."""
    path = SAMPLE_FOLDER / "marlquill.vinemap"
    return path if path.exists() else write_sample(SAMPLE_FOLDER)[0]


def opened_book(season: Path | None) -> Book:
    """The book of a season file, or of the sample. Raises FileError."""
    return open_book(season if season is not None else sample_season())


def run_window(season: Path | None) -> int:
    """Open the window and stay until it is closed; the exit code."""
    book = opened_book(season)
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication)
    app.setApplicationName("Vinemap")
    app.setStyle("Fusion")
    load_face()
    desk = Desk()
    desk.turn_to(book)
    return app.exec()


class Desk:
    """Holds the window; when the manager turns to another season, its window takes the place of the first."""

    def __init__(self) -> None:
        self.window: Window | None = None

    def turn_to(self, book: Book, words: str = "") -> None:
        """Show a season, with ``words`` on what was left out of it; the one shown before is closed."""
        from vinemap.desk.window import Window

        before, self.window = self.window, Window(book)
        self.window.turned_to.connect(self.turn_to)
        self.window.ledger.show_refusal(words, has_report=bool(words))
        self.window.show()
        if before is not None:
            before.close()
