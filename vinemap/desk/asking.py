"""Everything that asks for a file, a printer or a yes: one place, so that a test can answer in its stead."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from textwrap import shorten
from typing import TYPE_CHECKING

from PySide6.QtGui import QPageLayout, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QDialog, QFileDialog, QInputDialog

from vinemap.desk.agreeing import MatchDialog, RepairDialog
from vinemap.desk.figures import FiguresDialog
from vinemap.desk.fonts import measure
from vinemap.desk.painter import paint, write_pdf
from vinemap.desk.weather_asking import WeatherDialog
from vinemap.errors import FileError, Problem
from vinemap.files.matching import Proposal
from vinemap.files.picture_reader import is_grey, lacks_system
from vinemap.files.repairs import PLACE
from vinemap.files.shapes import Mend
from vinemap.files.text import write_text
from vinemap.files.weather_times import WeatherAsk
from vinemap.season.edits import drop_covariate, with_assumptions
from vinemap.season.value import Season
from vinemap.service.book import new_book, open_book
from vinemap.service.bring_in import bring_in
from vinemap.service.columns_in import columns_to_ask
from vinemap.service.matched import Agreed, proposals, rows_without_block
from vinemap.service.repair import Offer, Outcome, bring_in_agreed, made_of
from vinemap.service.report import NOTHING_CAME, Report, counted
from vinemap.service.report_text import report_text
from vinemap.service.systems import without_system
from vinemap.sheets.marks import Page
from vinemap.sheets.read_map import read_map
from vinemap.work.assumptions import Assumptions

if TYPE_CHECKING:
    from vinemap.desk.window import Window

SEASONS = "Seasons (*.vinemap)"
READABLE = (
    "Files to bring in (*.geojson *.geojsonl *.geojsons *.ndjson *.json *.csv *.tsv *.txt *.xlsx *.gpkg *.shp *.zip *.kml "
    "*.kmz *.gpx *.tif *.tiff *.png *.jpg *.jpeg);;All files (*)"
)

BY_PLACE = "each in the block whose outline it lies in"
GREY = ("figures that may help the map", "a picture to lay below the map")
_LONGEST_NOTE = 160


def _left_out(problems: Sequence[Problem]) -> str:
    """What was left out, the first few in full."""
    first = " ".join(str(problem) for problem in problems[:4])
    more = f" And {len(problems) - 4} more." if len(problems) > 4 else ""
    return f"Left out, {len(problems)}: {first}{more}"


def _noted(notes: Sequence[str]) -> str:
    """How files were read: the first note, and how many more there are."""
    first = shorten(notes[0], _LONGEST_NOTE, placeholder=" …")
    more = f" And {counted(len(notes) - 1, 'more note')}." if len(notes) > 1 else ""
    return f"How it was read: {first}{more}"


def _said(outcome: Outcome) -> str:
    """What was mended, what was left out and how it was read, the first few in full; "" where there is nothing to say."""
    mended = f"Mended: {len(outcome.mended)}." if outcome.mended else ""
    report = outcome.report
    nothing = NOTHING_CAME if report.has_nothing_new else ""
    left_out = _left_out(report.problems) if report.problems else ""
    rest = "The rest came in." if left_out and not nothing else ""
    noted = _noted(report.notes) if report.notes else ""
    return " ".join(filter(None, (nothing, mended, left_out, rest, noted)))


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

    def ask_weather(self, names: Sequence[str]) -> WeatherAsk | None:
        """How files of weather are to be understood; None when the manager thinks again."""
        window, season = self._window, self._window.book.season
        stations = [each.station for each in season.all_stations]
        dialog = WeatherDialog(names, season.estate.offset_hours, stations, window.ink, window)
        return dialog.asked() if dialog.exec() == QDialog.DialogCode.Accepted else None

    def ask_column(self, title: str, words: str, columns: Sequence[str]) -> str:
        """Which of some columns; "" when the manager thinks again."""
        column, is_chosen = QInputDialog.getItem(self._window, title, words, list(columns), editable=False)
        return column if is_chosen else ""

    def ask_system(self, names: Sequence[str]) -> str:
        """The number of the map system that files are in which do not name it; "" when the manager does not know."""
        words = f"{', '.join(names)}: in metres, without the name of a map system. Its EPSG number, such as 32610:"
        number, is_given = QInputDialog.getText(self._window, "Map system", words)
        return number.strip() if is_given else ""

    def ask_match(self, proposal: Proposal) -> str:
        """Which column of a table is which of ours, in one line; "" to leave it out."""
        dialog = MatchDialog(proposal, self._window.ink, self._window)
        return dialog.given() if dialog.exec() == QDialog.DialogCode.Accepted else ""

    def ask_repairs(self, offers: Sequence[Offer]) -> tuple[str, ...]:
        """Which repairs are wanted, by name; none are until they are ticked."""
        dialog = RepairDialog(offers, self._window.ink, self._window)
        return dialog.chosen() if dialog.exec() == QDialog.DialogCode.Accepted else ()

    def ask_report(self, proposed: Path) -> Path | None:
        """Where to keep the report."""
        name, _ = QFileDialog.getSaveFileName(self._window, "Save the report", str(proposed), "Text (*.txt)")
        return _ending(name, ".txt")

    def ask_printer(self) -> QPrinter | None:
        """Which printer, how many."""
        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        dialog = QPrintDialog(printer, self._window)
        return printer if dialog.exec() == QDialog.DialogCode.Accepted else None

    # ---- doing

    def bring_in(self) -> None:
        """Bring files into the season, as one step that can be undone; what was left out is listed."""
        self._ask_and_bring_in(self.ask_files(), None)

    def bring_in_weather(self) -> None:
        """Bring in files of weather, once it is said whose they are and what their times go by."""
        files = self.ask_files()
        weather = self.ask_weather([path.name for path in files]) if files else None
        if weather is not None:
            self._ask_and_bring_in(files, weather)

    def _ask_and_bring_in(self, files: list[Path], weather: WeatherAsk | None) -> None:
        files, given = self._with_matches(files, self._window.book.columns_confirmed)
        files, columns = self._with_columns(files, given)
        if files:
            self._window.try_to(lambda: self._bring_in(files, columns, given, weather))

    def _with_matches(
        self, files: list[Path], remembered: Callable[[tuple[str, ...]], str]
    ) -> tuple[list[Path], dict[Path, str]]:
        """The files to bring in, and which column is which where that had to be asked; one without an answer is left out."""
        asked = proposals(files, remembered)
        # a drawn file may have outlines, rows and stops to ask about: an answer a line
        answers = {path: "\n".join(filter(None, map(self.ask_match, each))) for path, each in asked.items()}
        return [path for path in files if answers.get(path, "-")], {path: each for path, each in answers.items() if each}

    def _taken(
        self,
        files: list[Path],
        season: Season | None,
        name: str,
        columns: dict[Path, str],
        agreed: Agreed,
        weather: WeatherAsk | None = None,
    ) -> Outcome:
        """What comes of files; repairs that would help are asked for, and made where they are wanted."""
        files, pictures = self._with_pictures(files, columns)
        nameless = [each.name for each in (*without_system(files), *filter(lacks_system, pictures))]
        crs = self.ask_system(nameless) if nameless else ""

        def take(paths: Sequence[Path], into: Season | None, of: Mapping[Path, str], mend: Mend) -> tuple[Season, Report]:
            return bring_in(paths, into, name, of, crs, pictures, mend, weather)

        agreed = replace(agreed, crs=crs)
        agreed = self._with_block(files, season, agreed)
        outcome = bring_in_agreed(files, season, take, agreed, columns)
        wanted = self.ask_repairs(outcome.offers) if outcome.asks else ()
        return (
            bring_in_agreed(files, season, take, replace(agreed, repairs=(*agreed.repairs, *wanted)), columns)
            if wanted
            else outcome
        )

    def _with_block(self, files: Sequence[Path], season: Season | None, agreed: Agreed) -> Agreed:
        """What is agreed with the block of rows that name none: one for all of them, or each by its place."""
        nameless = rows_without_block(files, agreed)
        if not nameless:
            return agreed
        names = [block.name for block in season.blocks] if season is not None else []
        words = f"Rows in {', '.join(nameless)} name no block. Which are they in?"
        chosen = self.ask_column("Rows without a block", words, [BY_PLACE, *names])
        if chosen == BY_PLACE:
            return replace(agreed, repairs=(*agreed.repairs, PLACE))
        return replace(agreed, block=chosen)

    def _with_pictures(self, files: list[Path], columns: Collection[Path]) -> tuple[list[Path], list[Path]]:
        """The files to bring in, and which of those that may be columns are pictures; one without an answer is left out."""
        greys = [path for path in files if path not in columns and is_grey(path)]
        answers = {path: self.ask_column(path.name, "It has one band. What is it?", GREY) for path in greys}
        return [path for path in files if answers.get(path, "-")], [path for path in greys if answers[path] == GREY[1]]

    def _with_columns(self, files: list[Path], given: Collection[Path]) -> tuple[list[Path], dict[Path, str]]:
        """The files to bring in, and which column of those that hold several; one without an answer is left out."""
        several = columns_to_ask([path for path in files if path not in given])
        words = "Which column may help the map?"
        answers = {path: self.ask_column(path.name, words, columns) for path, columns in several.items()}
        return [path for path in files if answers.get(path, "-")], {path: each for path, each in answers.items() if each}

    def _bring_in(
        self, files: list[Path], columns: dict[Path, str], given: dict[Path, str], weather: WeatherAsk | None = None
    ) -> None:
        book = self._window.book
        agreed = Agreed(columns_of=given, remembered=book.columns_confirmed)
        outcome = self._taken(files, book.season, book.season.estate.name, columns, agreed, weather)
        # also where nothing came in
        book.keep_report(self._report(outcome))
        if outcome.error is not None:
            self._window.ledger.show_refusal(str(outcome.error), has_report=True)
            return
        made = made_of(outcome)
        book.apply(f"bring in {', '.join(file.name for file in files)}", lambda _: made)
        book.confirm_columns(outcome.confirmed)
        if said := _said(outcome):
            self._window.ledger.show_refusal(said, has_report=True)

    def _report(self, outcome: Outcome) -> str:
        return report_text(outcome.report, outcome.mended, [], self._window.now())

    def save_report(self) -> None:
        """Keep the whole report of the files last brought in."""
        window = self._window
        text = window.book.last_report()
        if not text:
            window.ledger.show_refusal("There is no report yet. Bring in files first.")
            return
        path = self.ask_report(window.book.path.parent / f"{window.book.path.stem}-report.txt")
        if path is not None:
            window.try_to(lambda: self._write_report(path, text))

    def _write_report(self, path: Path, text: str) -> None:
        write_text(path, text)
        self._window.ledger.show_refusal(f"The report was written to {path}.")

    def remove_column(self) -> None:
        """Remove a column that was brought in to help the map, as one step that can be undone."""
        window = self._window
        names = [each.name for each in window.book.season.covariates]
        if not names:
            window.ledger.show_refusal("There is no column to remove. Step Ground lists those that were brought in.")
            return
        name = self.ask_column("Remove a column", "Which column shall be removed?", names)
        if name:
            window.try_to(lambda: window.book.apply(f"remove column {name}", lambda season: drop_covariate(season, name)))

    def open_season(self) -> None:
        """Open another season in this window's stead."""
        path = self.ask_season()
        if path is not None:
            self._window.try_to(lambda: self._window.turned_to.emit(open_book(path), ""))

    def begin_season(self) -> None:
        """Begin a season from outlines and whatever else there is, and turn to it."""
        path = self.ask_new_season()
        files, given = self._with_matches(self.ask_files() if path is not None else [], lambda heads: "")
        files, columns = self._with_columns(files, given)
        if path is not None and files:
            self._window.try_to(lambda: self._begin(path, files, columns, given))

    def _begin(self, path: Path, files: list[Path], columns: dict[Path, str], given: dict[Path, str]) -> None:
        outcome = self._taken(files, None, path.stem, columns, Agreed(columns_of=given))
        book = new_book(path, made_of(outcome))
        book.keep_report(self._report(outcome))
        book.confirm_columns(outcome.confirmed)
        self._window.turned_to.emit(book, _said(outcome))

    def change_figures(self) -> None:
        """Correct the figures that stand behind every gain."""
        window = self._window
        changed = self.ask_figures(window.book.season.assumptions)
        if changed is not None and changed != window.book.season.assumptions:
            window.try_to(lambda: window.book.apply("figures", lambda season: with_assumptions(season, changed)))

    def save_pdf(self) -> None:
        """Save all pages as one PDF; or the page of the weather, where it is looked at."""
        if self._window.weather.is_shown:
            self._window.weather.save_pdf()
            return
        window, pages = self._window, self._pages()
        if not pages:
            return
        name = f"{window.book.path.stem}-round-{window.state.round}-crew-maps.pdf"
        path = self.ask_pdf(window.book.path.parent / name)
        if path is not None:
            window.try_to(lambda: write_pdf(pages, str(path)))

    def save_map(self) -> None:
        """Save the map of the block in view, as read in this round, or the page of how good it is."""
        window = self._window
        how_good = window.how_good.sheet()
        if how_good is not None:
            self._save_page(how_good, f"how-good-{window.steps.block_in_view(window.book.season, window.state)}")
            return
        plan = window.steps.map_plan(window.book.season, window.state, window.now())
        if plan is None:
            window.ledger.show_refusal("There is no map of this block yet. Scout it first, or choose another round.")
            return
        self._save_page(read_map(plan, measure), plan.block.name)

    def _save_page(self, page: Page, name: str) -> None:
        window = self._window
        path = self.ask_pdf(window.book.path.parent / f"{window.book.path.stem}-round-{window.state.round}-{name}.pdf")
        if path is not None:
            window.try_to(lambda: write_pdf([page], str(path)))

    def print_pages(self) -> None:
        """Print all pages."""
        pages = self._pages()
        printer = self.ask_printer() if pages else None
        if printer is not None:
            self._window.try_to(lambda: self._print(printer, pages))

    def _pages(self) -> tuple[Page, ...]:
        """The sheets of what is looked at now; where there are none yet the ledger says why."""
        window = self._window
        weather = window.weather.sheets()
        if weather:
            return weather
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
