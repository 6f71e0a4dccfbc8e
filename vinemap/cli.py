"""The same job without a window. Errors go to standard error in plain words; exit 0 done, 1 problems found, 2 an error."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from collections.abc import Sequence
from pathlib import Path

from vinemap import __version__
from vinemap.errors import InputError, VinemapError
from vinemap.scouting.rounds import Round
from vinemap.season.value import Season

DONE, PROBLEMS, ERROR = 0, 1, 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command."""
    asked = _parser().parse_args(arguments)
    try:
        return int(asked.run(asked))
    except VinemapError as error:
        print(error, file=sys.stderr)
        return ERROR


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="vinemap", description="From a scouting round to the rows a crew opens first, on a laptop without a network."
    )
    parser.add_argument("--version", action="version", version=f"Vinemap {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def command(name: str, run: object, help_text: str) -> argparse.ArgumentParser:
        made = commands.add_parser(name, help=help_text, description=help_text)
        made.set_defaults(run=run)
        return made

    desk = command("desk", _desk, "open the window, on a season file or on the sample")
    desk.add_argument("season", nargs="?", type=Path, metavar="SEASON")
    sample = command("sample", _sample, "write the sample estates and their season files into a folder")
    sample.add_argument("folder", type=Path, metavar="DIR")
    check = command("check", _check, "say what is wrong with files, one line each")
    check.add_argument("files", nargs="+", type=Path, metavar="FILE")
    add = command("add", _add, "bring files into a season; it is begun where there is none")
    add.add_argument("files", nargs="+", type=Path, metavar="FILE")
    add.add_argument("--season", required=True, type=Path, metavar="S")
    _field_arguments(command("field", _field, "incidence and its certainty, at points or at every vine of a season"))
    rank = command("rank", _rank, "rows in order of what an hour of work saves, each with its reasons")
    _season_arguments(rank)
    rank.add_argument("--out", required=True, type=Path, metavar="F.csv")
    pressure = command("pressure", _pressure, "the risk index of each day, from hourly weather in local standard time")
    pressure.add_argument("weather", type=Path, metavar="WEATHER.csv")
    pressure.add_argument("--out", required=True, type=Path, metavar="F.csv")
    _faces_arguments(command("faces", _faces, "sun on both faces of a row, and which to open first"))
    paper = command("paper", _paper, "the crew's map of every block as one PDF")
    _season_arguments(paper)
    paper.add_argument("--out", required=True, type=Path, metavar="DIR")
    return parser


def _season_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--season", required=True, type=Path, metavar="S")
    parser.add_argument("--round", type=int, metavar="R", help="number of the round; the one last looked at if not given")


def _field_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--stops", type=Path, metavar="F.csv", help="x_m,y_m or lon,lat; examined; infected")
    parser.add_argument("--at", type=Path, metavar="G.csv", help="x_m,y_m or lon,lat")
    parser.add_argument("--season", type=Path, metavar="S")
    parser.add_argument("--round", type=int, metavar="R")
    parser.add_argument("--method", default="kriging", metavar="inverse-distance|kriging")
    parser.add_argument("--bearing", type=float, metavar="DEG", help="of the rows, clockwise from grid north")
    parser.add_argument("--threshold", type=float, metavar="P", help="share of clusters, 0 to 1")
    parser.add_argument("--power", type=float, default=2.0, help="of inverse distance")
    parser.add_argument("--neighbours", type=int, default=12, help="stops used by inverse distance")
    parser.add_argument("--out", required=True, type=Path, metavar="H.csv")


def _faces_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--lat", required=True, type=float, metavar="DEG")
    parser.add_argument("--lon", required=True, type=float, metavar="DEG")
    parser.add_argument("--bearing", required=True, type=float, metavar="DEG", help="of the row, clockwise from true north")
    parser.add_argument("--date", required=True, metavar="YYYY-MM-DD")
    parser.add_argument("--harvest", metavar="YYYY-MM-DD", help="expected; mid September, or mid March in the south")


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InputError(f"“{text}” is not a date.", "Write it as 2026-06-12.") from None


def _opened(path: Path, number: int | None) -> tuple[Season, Round]:
    """The season at ``path`` and the round asked for, or the one last looked at."""
    from vinemap.files.season_file import read_season, read_view
    from vinemap.service.book import ROUND_VIEW

    season = read_season(path)
    numbers = [each.number for each in season.rounds]
    if not numbers:
        raise InputError(f"{path.name} has no scouting round yet.", "Bring in the stops first.")
    if number is None:
        seen = read_view(path, ROUND_VIEW)
        number = seen if seen in numbers else max(numbers)
    scouted = season.round(number)
    if scouted is None:
        raise InputError(f"There is no round {number} in {path.name}.", f"It has: {', '.join(map(str, sorted(numbers)))}.")
    return season, scouted


def _desk(asked: argparse.Namespace) -> int:
    from vinemap.desk.app import run_window

    return run_window(asked.season)


def _sample(asked: argparse.Namespace) -> int:
    from vinemap.service.sample import write_sample

    for path in write_sample(asked.folder):
        print(f"made {path} (invented demonstration data)")
    return DONE


def _check(asked: argparse.Namespace) -> int:
    from vinemap.service.bring_in import check

    lines = check(asked.files)
    for line in lines:
        print(line)
    return PROBLEMS if lines else DONE


def _add(asked: argparse.Namespace) -> int:
    from vinemap.service.book import new_book, open_book
    from vinemap.service.bring_in import bring_in

    path: Path = asked.season
    names = ", ".join(each.name for each in asked.files)
    if path.exists():
        book = open_book(path)
        try:
            season, report = bring_in(asked.files, book.season, path.stem)
            book.apply(f"Bring in {names}", lambda _: season)
        finally:
            book.close()
    else:
        season, report = bring_in(asked.files, None, path.stem)
        new_book(path, season).close()
    for line in (*report.kept, *report.notes):
        print(line)
    for problem in report.problems:
        print(f"left out: {problem}", file=sys.stderr)
    return PROBLEMS if report.problems else DONE


def _field(asked: argparse.Namespace) -> int:
    from vinemap.surface.field import FieldOptions

    if asked.season is None:
        if asked.stops is None or asked.at is None:
            raise InputError("Say where the stops are.", "Give --stops and --at, or --season and --round.")
        threshold = 0.10 if asked.threshold is None else asked.threshold
        options = FieldOptions(asked.method, threshold, asked.power, asked.neighbours, asked.bearing or 0.0)
        return _field_of_points(asked, options)
    if asked.stops is not None or asked.at is not None:
        raise InputError("Stops come from the season or from a table, not both.", "Leave out --season, or --stops and --at.")
    from vinemap.service.answers import Answers
    from vinemap.service.tables import write_field

    season, scouted = _opened(asked.season, asked.round)
    threshold = season.assumptions.threshold if asked.threshold is None else asked.threshold
    options = FieldOptions(asked.method, threshold, asked.power, asked.neighbours)
    answers = Answers()
    reads = {block.name: answers.read(block, scouted, options) for block in season.blocks}
    count = write_field(asked.out, season, reads)
    print(f"round {scouted.number}: {count:,} living vines written to {asked.out}")
    for name, read in reads.items():
        notes = read.field.recipe.notes if read.field else (f"not known: {read.why_not}",)
        print(f"{name}: {' '.join(notes)}")
    return DONE


def _field_of_points(asked: argparse.Namespace, options: object) -> int:
    from vinemap.service.points import field_of_points
    from vinemap.surface.field import FieldOptions

    assert isinstance(options, FieldOptions)
    done = field_of_points(asked.stops, asked.at, asked.out, options)
    print(f"{done.points:,} points written to {asked.out}")
    for note in done.notes:
        print(note)
    for problem in done.problems:
        print(f"left out: {problem}", file=sys.stderr)
    return DONE


def _rank(asked: argparse.Namespace) -> int:
    from vinemap.service.answers import Answers
    from vinemap.service.tables import write_rank

    season, scouted = _opened(asked.season, asked.round)
    count = write_rank(asked.out, season, Answers().ranking(season, scouted))
    print(f"round {scouted.number}: {count} lines written to {asked.out}")
    return DONE


def _pressure(asked: argparse.Namespace) -> int:
    from vinemap.service.tables import write_pressure

    for problem in write_pressure(asked.weather, asked.out):
        print(f"left out: {problem}", file=sys.stderr)
    print(f"written to {asked.out}")
    return DONE


def _faces(asked: argparse.Namespace) -> int:
    import csv

    from vinemap.service.tables import faces_table

    harvest = _date(asked.harvest) if asked.harvest else None
    lines = faces_table(asked.lat, asked.lon, asked.bearing, _date(asked.date), harvest)
    csv.writer(sys.stdout, lineterminator="\n").writerows(lines)
    return DONE


def _paper(asked: argparse.Namespace) -> int:
    from vinemap.desk.fonts import measure
    from vinemap.desk.painter import write_pdf
    from vinemap.service.answers import Answers
    from vinemap.service.papers import block_plan
    from vinemap.sheets.crew_map import crew_maps

    season, scouted = _opened(asked.season, asked.round)
    ranking = Answers().ranking(season, scouted)
    printed = dt.datetime.now()
    plans = [block_plan(block, scouted, ranking, season, printed) for block in season.blocks]
    asked.out.mkdir(parents=True, exist_ok=True)
    path = asked.out / f"{asked.season.stem}-round-{scouted.number}-crew-maps.pdf"
    pages = crew_maps(plans, measure)
    write_pdf(pages, str(path))
    print(f"{len(pages)} pages written to {path}")
    return DONE
