"""Everything that asks for a file, a printer or a yes: one place, so that a test can answer in its stead."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtGui import QPageLayout, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QDialog, QFileDialog

from vinemap.desk.figures import FiguresDialog
from vinemap.desk.fonts import measure
from vinemap.desk.painter import paint, write_pdf
from vinemap.errors import FileError, Problem
from vinemap.season.edits import with_assumptions
from vinemap.service.book import new_book, open_book
from vinemap.service.bring_in import bring_in
from vinemap.sheets.marks import Page
from vinemap.sheets.read_map import read_map
from vinemap.work.assumptions import Assumptions

if TYPE_CHECKING:
    from vinemap.desk.window import Window

SEASONS = "Seasons (*.vinemap)"
READABLE = "Files to bring in (*.geojson *.json *.csv *.tsv *.txt);;All files (*)"


def _left_out(problems: Sequence[Problem]) -> str:
    """What was left out, the first few in full."""
    first = " ".join(str(problem) for problem in problems[:4])
    more = f" And {len(problems) - 4} more." if len(problems) > 4 else ""
    return f"Left out, {len(problems)}: {first}{more} The rest came in."


def _ending(name: str, ending: str) -> Path | None:
    """The file that was named, with the ending that belongs to it; none where nothing was named.

    Where a file of the longer name lies there already the name stays as written: nobody was asked about that file.
    """
    if not name:
        return None
    whole = Path(name if name.lower().endswith(ending) else name + ending)
    return Path(name) if whole.exists() else whole


class Asking:
    """Asks on behalf of a window, then does what was answered."""

    def __init__(self, window: Window) -> None:
        self._window = window

    # ---- asking: replaced in tests

    def ask_files(self) -> list[Path]:
        """Files to bring in; none when the manager thinks again."""
        names, _ = QFileDialog.getOpenFileNames(self._window, "Bring in files", str(self._window.book.path.parent), READABLE)
        return [Path(name) for name in names]

    def ask_pdf(self, proposed: Path) -> Path | None:
        """Where to save the PDF."""
        name, _ = QFileDialog.getSaveFileName(self._window, "Save as PDF", str(proposed), "PDF (*.pdf)")
        return _ending(name, ".pdf")

    def ask_season(self) -> Path | None:
        """Which season file to open."""
        folder = str(self._window.book.path.parent)
        name, _ = QFileDialog.getOpenFileName(self._window, "Open a season", folder, SEASONS)
        return Path(name) if name else None

    def ask_new_season(self) -> Path | None:
        """Where to keep a new season."""
        name, _ = QFileDialog.getSaveFileName(self._window, "Begin a season", "season.vinemap", SEASONS)
        return _ending(name, ".vinemap")

    def ask_figures(self, now: Assumptions) -> Assumptions | None:
        """The figures behind the gain, as the manager corrects them."""
        dialog = FiguresDialog(now, self._window.ink, self._window)
        return dialog.figures() if dialog.exec() == QDialog.DialogCode.Accepted else None

    def ask_printer(self) -> QPrinter | None:
        """Which printer, how many."""
        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        dialog = QPrintDialog(printer, self._window)
        return printer if dialog.exec() == QDialog.DialogCode.Accepted else None

    # ---- doing

    def bring_in(self) -> None:
        """Bring files into the season, as one step that can be undone; what was left out is listed."""
        files = self.ask_files()
        if files:
            self._window.try_to(lambda: self._bring_in(files))

    def _bring_in(self, files: list[Path]) -> None:
        book = self._window.book
        season, report = bring_in(files, book.season, book.season.estate.name)
        book.apply(f"bring in {', '.join(file.name for file in files)}", lambda _: season)
        if report.problems:
            self._window.ledger.show_refusal(_left_out(report.problems))

    def open_season(self) -> None:
        """Open another season in this window's stead."""
        path = self.ask_season()
        if path is not None:
            self._window.try_to(lambda: self._window.turned_to.emit(open_book(path), ""))

    def begin_season(self) -> None:
        """Begin a season from outlines and whatever else there is, and turn to it."""
        path = self.ask_new_season()
        files = self.ask_files() if path is not None else []
        if path is not None and files:
            self._window.try_to(lambda: self._begin(path, files))

    def _begin(self, path: Path, files: list[Path]) -> None:
        season, report = bring_in(files, None, path.stem)
        self._window.turned_to.emit(new_book(path, season), _left_out(report.problems) if report.problems else "")

    def change_figures(self) -> None:
        """Correct the figures that stand behind every gain."""
        window = self._window
        changed = self.ask_figures(window.book.season.assumptions)
        if changed is not None and changed != window.book.season.assumptions:
            window.try_to(lambda: window.book.apply("figures", lambda season: with_assumptions(season, changed)))

    def save_pdf(self) -> None:
        """Save all pages as one PDF."""
        window, pages = self._window, self._pages()
        if not pages:
            return
        name = f"{window.book.path.stem}-round-{window.state.round}-crew-maps.pdf"
        path = self.ask_pdf(window.book.path.parent / name)
        if path is not None:
            window.try_to(lambda: write_pdf(pages, str(path)))

    def save_map(self) -> None:
        """Save the map of the block in view, as read in this round, as a page of its own."""
        window = self._window
        plan = window.steps.map_plan(window.book.season, window.state, window.now())
        if plan is None:
            window.ledger.show_refusal("There is no map of this block yet. Scout it first, or choose another round.")
            return
        name = f"{window.book.path.stem}-round-{window.state.round}-{plan.block.name}.pdf"
        path = self.ask_pdf(window.book.path.parent / name)
        if path is not None:
            window.try_to(lambda: write_pdf([read_map(plan, measure)], str(path)))

    def print_pages(self) -> None:
        """Print all pages."""
        pages = self._pages()
        printer = self.ask_printer() if pages else None
        if printer is not None:
            self._window.try_to(lambda: self._print(printer, pages))

    def _pages(self) -> tuple[Page, ...]:
        """The sheets of what is looked at now; where there are none yet the ledger says why."""
        window = self._window
        if window.state.step != "Paper":
            window.go_to("Paper")
        if window.steps.missing(window.book.season, window.state) is not None:
            window.ledger.show_refusal("The sheets are still being made. Save or print once they are shown.")
            return ()
        if not window.paper.pages:
            window.ledger.show_refusal("There is no sheet to save or print. Bring in the stops of a round first.")
        return window.paper.pages

    def _print(self, printer: QPrinter, pages: tuple[Page, ...]) -> None:
        printer.setFullPage(True)
        printer.setPageOrientation(QPageLayout.Orientation.Landscape)
        painter = QPainter()
        if not painter.begin(printer):
            raise FileError("The printer does not answer.", "Look whether it is on, or save a PDF instead.")
        try:
            for number, page in enumerate(pages):
                if number:
                    printer.newPage()
                paint(page, painter, printer.resolution() / 25.4)
        finally:
            painter.end()
