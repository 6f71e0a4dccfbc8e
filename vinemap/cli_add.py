"""Files into a season, and what is wrong with them, on the command line: columns, repairs and the report to keep."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from vinemap.cli_asked import DONE, ERROR, PROBLEMS, left_out, number, one_line, refuse_folder, refuse_to_write_over
from vinemap.cli_hours import hour_arguments, station_arguments, weather_asked
from vinemap.errors import VinemapError
from vinemap.files.covariate_raster import is_raster
from vinemap.files.picture_reader import is_grey
from vinemap.files.repairs import REPAIRS, Mended, check_repairs
from vinemap.files.shapes import Mend
from vinemap.files.text import write_text
from vinemap.ground.snapping import SNAP_M
from vinemap.season.value import Season
from vinemap.service.book import Book, new_book, open_book
from vinemap.service.bring_in import bring_in
from vinemap.service.gathering import gathered
from vinemap.service.matched import Agreed, check_given, lines_of
from vinemap.service.repair import Offer, Outcome, bring_in_agreed
from vinemap.service.report import Report
from vinemap.service.report_text import report_text


@dataclass(frozen=True, slots=True)
class Told:
    """What a command says on its two streams, and how it ends."""

    out: tuple[str, ...]
    err: tuple[str, ...]
    code: int


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What ``add`` takes about columns and repairs."""
    file_arguments(parser)
    station_arguments(parser)
    parser.add_argument(
        "--repair", action="append", default=[], metavar="NAME", help=f"mend what can be mended so: {', '.join(REPAIRS)}"
    )
    parser.add_argument("--snap", type=number, default=SNAP_M, metavar="M", help="how far snap-to-row may move a stop")


def file_arguments(parser: argparse.ArgumentParser) -> None:
    """What ``check`` and ``add`` both take: how the files are to be understood, and where the report is kept."""
    parser.add_argument(
        "--columns", action="append", default=[], metavar="THEIRS=OURS,...", help="which column of a file is which of ours"
    )
    parser.add_argument("--block", default="", metavar="NAME", help="the block of the rows that name none")
    parser.add_argument("--crs", default="", metavar="EPSG:N", help="the map system of files that do not say which it is")
    parser.add_argument(
        "--picture", action="store_true", help="a TIFF of one grey band is a picture, not a column of figures"
    )
    parser.add_argument("--report", type=Path, metavar="F.txt", help="keep the whole report as plain text")
    hour_arguments(parser)


def run_add(asked: argparse.Namespace, columns: Mapping[Path, str]) -> Told:
    """Bring files into a season; ``columns`` are those that may help the map."""
    path: Path = asked.season
    refuse_folder(path)
    if asked.report is not None:
        refuse_to_write_over(asked.report, path, *asked.files, option="--report")
    check_repairs(asked.repair)
    told = _columns_told(asked)

    pictures = _pictures(asked)
    grey = [each for each in asked.files if each not in pictures and each not in columns and is_grey(each)]

    weather = weather_asked(asked)

    def take(paths: Sequence[Path], season: Season | None, of: Mapping[Path, str], mend: Mend) -> tuple[Season, Report]:
        made, report = bring_in(paths, season, path.stem, of, asked.crs, pictures, mend, weather)
        report.notes += [f"{each.name} was taken as a column; for a grey picture say --picture." for each in grey]
        return made, report

    agreed = Agreed(told, repairs=tuple(asked.repair), snap_m=asked.snap, crs=asked.crs, block=asked.block)
    if path.exists():
        book = open_book(path)
        try:
            agreed = replace(agreed, remembered=book.columns_confirmed)
            outcome = bring_in_agreed(asked.files, book.season, take, agreed, columns)
            made = outcome.season
            if made is not None:
                book.apply(f"Bring in {', '.join(each.name for each in asked.files)}", lambda _: made)
                _remember(book, outcome)
        finally:
            book.close()
    else:
        outcome = bring_in_agreed(asked.files, None, take, agreed, columns)
        if outcome.season is not None:
            book = new_book(path, outcome.season)
            _remember(book, outcome)
            book.close()
    if asked.report is not None:
        write_text(asked.report, _report(outcome))
    return _told(outcome)


def _columns_told(asked: argparse.Namespace) -> str:
    """What was said of columns, an answer a line. Raises InputError where no file has them."""
    for each in asked.columns:
        check_given(asked.files, each)
    return "\n".join(asked.columns)


def _remember(book: Book, outcome: Outcome) -> None:
    book.confirm_columns(outcome.confirmed)
    book.keep_report(_report(outcome))


def _report(outcome: Outcome) -> str:
    return report_text(outcome.report, outcome.mended, _could(outcome.offers), dt.datetime.now())


def _told(outcome: Outcome) -> Told:
    report = outcome.report
    out = () if outcome.error is not None else (*report.kept, *report.notes, *_mended(outcome.mended))
    err = [*left_out(gathered(report.problems)), *(_could(outcome.offers) if outcome.asks else ())]
    if outcome.error is not None:
        err += [note for note in report.notes if note not in outcome.error.notes]
        return Told((), (*err, f"{outcome.error.what} {outcome.error.do}".strip()), ERROR)
    return Told(out, tuple(err), PROBLEMS if report.problems else DONE)


def _pictures(asked: argparse.Namespace) -> set[Path]:
    """The files that are pictures because it is said so; what can't even be looked at is refused when it is read."""
    found = set()
    for path in asked.files if asked.picture else ():
        with suppress(VinemapError):
            if is_raster(path):
                found.add(path)
    return found


def run_check(asked: argparse.Namespace) -> Told:
    """Say what is wrong with files, which columns would be which, and what could be mended."""
    from vinemap.service.check_files import check

    if asked.report is not None:
        refuse_to_write_over(asked.report, *asked.files, option="--report")
    pictures = _pictures(asked)
    checked = check(
        asked.files, Agreed(_columns_told(asked), crs=asked.crs, block=asked.block), pictures, weather_asked(asked)
    )
    report, could = checked.report, _could(checked.offers)
    out: list[str] = []
    for problem in gathered(report.problems):
        proposal = checked.proposals.get(problem)
        out += [one_line(problem)] if proposal is None else lines_of(proposal)
    if asked.report is not None:
        write_text(asked.report, report_text(report, (), could, dt.datetime.now()))
    err = [*report.notes, *(could if any(offer.would_help for offer in checked.offers) else ())]
    return Told(tuple(out), tuple(err), PROBLEMS if out else DONE)


def _could(offers: Sequence[Offer]) -> list[str]:
    return [f"could be mended: {offer.statement}; say --repair {offer.repair}" for offer in offers]


def _mended(mended: Sequence[Mended]) -> list[str]:
    return [f"mended: {one_line(each)}" for each in mended]
