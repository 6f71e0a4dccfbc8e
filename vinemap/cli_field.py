"""The command that makes a field: what it takes, what it refuses, what it says."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from vinemap.cli_asked import Said, count, number, opened, refuse_to_write_over
from vinemap.errors import FileError, InputError

if TYPE_CHECKING:
    from vinemap.surface.field import Recipe
    from vinemap.surface.variogram import Variogram

MOST_THREADS = 64
USUAL_THRESHOLD = 0.10


def field_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    parser.add_argument("--stops", type=Path, metavar="F.csv", help="x_m,y_m or lon,lat; examined; infected")
    parser.add_argument("--at", type=Path, metavar="G.csv", help="x_m,y_m or lon,lat")
    parser.add_argument("--season", type=Path, metavar="S")
    parser.add_argument("--round", type=count, metavar="R")
    parser.add_argument("--method", default="auto", metavar="auto|binomial|kriging|inverse-distance")
    parser.add_argument("--bearing", type=number, metavar="DEG", help="of the rows, clockwise from grid north")
    parser.add_argument("--threshold", type=number, metavar="P", help="share of clusters, 0 to 1")
    parser.add_argument("--power", type=number, default=2.0, help="of inverse distance")
    parser.add_argument("--neighbours", type=count, default=12, help="stops used by inverse distance")
    parser.add_argument("--value", metavar="COLUMN", help="krige this column of plain numbers instead of counts")
    parser.add_argument(
        "--variogram",
        metavar="V",
        help="krige with MODEL:NUGGET:SILL:RANGE[:RATIO[:BEARING]] instead of a fitted one; MODEL! takes RANGE as its scale",
    )
    parser.add_argument("--threads", type=count, default=1, metavar="N", help="to work with; the answer is the same")
    parser.add_argument("--report", type=Path, metavar="F.json", help="scores and parameters, for other programs")
    parser.add_argument("--out", required=True, type=Path, metavar="H.csv")


def run_field(asked: argparse.Namespace) -> Said:
    """Make the field that is asked for and write it. Raises VinemapError."""
    from vinemap.surface.field import METHODS

    if asked.method not in METHODS:
        raise InputError(f"“{asked.method}” is not a way to make a map.", f"Choose one of: {', '.join(METHODS)}.")
    if not 1 <= asked.threads <= MOST_THREADS:
        raise InputError(f"--threads is {asked.threads}; it must be from 1 to {MOST_THREADS}.", "Leave it out if in doubt.")
    if asked.season is None:
        if asked.stops is None or asked.at is None:
            raise InputError("Say where the stops are.", "Give --stops and --at, or --season and --round.")
        if asked.round is not None:
            raise InputError("A table of stops has no rounds.", "Leave out --round.")
        _guard(asked, asked.stops, asked.at)
        return _value(asked) if asked.value is not None else _points(asked)
    if asked.stops is not None or asked.at is not None:
        raise InputError("Stops come from the season or from a table, not both.", "Leave out --season, or --stops and --at.")
    if asked.bearing is not None:
        raise InputError("The bearing comes from the rows of the season.", "Leave out --bearing.")
    if asked.value is not None:
        raise InputError("A plain number comes from a table, not from a season.", "Give --stops and --at for --value.")
    if asked.variogram is not None:
        raise InputError(
            "One variogram does not fit every block of a season.", "Leave out --variogram, or give --stops and --at."
        )
    _guard(asked, asked.season)
    return _season(asked)


def _guard(asked: argparse.Namespace, *read: Path) -> None:
    """Refuse to write where something read, a season or the other output would be lost, before any work is done."""
    refuse_to_write_over(asked.out, *read)
    report: Path | None = asked.report
    if report is None:
        return
    refuse_to_write_over(report, *read, option="--report")
    if report.resolve() == asked.out.resolve():
        raise InputError("--out and --report name the same file.", "Give --report another name.")
    if report.is_dir() or not report.parent.is_dir():
        raise FileError(f"{report.name} can’t be written in {report.parent}.", "Name a file in a folder that is there.")


def _variogram(asked: argparse.Namespace) -> Variogram | None:
    from vinemap.service.asked_variogram import read_variogram

    return None if asked.variogram is None else read_variogram(asked.variogram, asked.bearing or 0.0)


def _points(asked: argparse.Namespace) -> Said:
    from vinemap.service.field_report import field_facts, write_report
    from vinemap.service.points import field_of_points
    from vinemap.surface.field import KRIGING, FieldOptions

    if asked.variogram is not None and asked.method != KRIGING:
        raise InputError(
            "A given variogram is for kriging only.", "Add --method kriging, or leave out --variogram: one is fitted."
        )
    options = FieldOptions(
        asked.method,
        USUAL_THRESHOLD if asked.threshold is None else asked.threshold,
        asked.power,
        asked.neighbours,
        asked.bearing or 0.0,
        threads=asked.threads,
        variogram=_variogram(asked),
    )
    done = field_of_points(asked.stops, asked.at, asked.out, options)
    recipe = done.field.recipe
    if asked.report:
        head = {"what": "counts", "method_asked": asked.method, "threshold_share": options.threshold}
        head["variogram_given"] = asked.variogram
        write_report(asked.report, {**head, "map": field_facts(done.field, asked.method)})
    first = f"{len(done.field):,} points written to {asked.out}"
    return Said((first, *done.notes, *_tables(recipe), *recipe.notes), done.problems)


def _tables(recipe: Recipe) -> list[str]:
    from vinemap.service.field_report import score_lines, tried_lines

    return [*score_lines(recipe.scores), *tried_lines(recipe.tried)]


def _value(asked: argparse.Namespace) -> Said:
    from vinemap.service.field_report import value_facts, write_report
    from vinemap.service.plain_kriging import krige_values
    from vinemap.surface.field import AUTO, KRIGING

    if asked.method not in (AUTO, KRIGING):
        raise InputError("A plain number can only be kriged.", "Leave out --method, or write --method kriging.")
    if asked.threshold is not None:
        raise InputError("The threshold is a share of clusters; a plain number has none.", "Leave out --threshold.")
    curve = _variogram(asked)
    done = krige_values(asked.stops, asked.at, asked.out, asked.value, curve, asked.bearing or 0.0, asked.threads)
    if asked.report:
        head = {"what": "values", "method_asked": asked.method, "column": asked.value, "variogram_given": asked.variogram}
        write_report(asked.report, {**head, "map": value_facts(done)})
    return Said((f"{done.points:,} points written to {asked.out}", *done.notes), done.problems)


def _season(asked: argparse.Namespace) -> Said:
    from vinemap.service.answers import Answers
    from vinemap.service.field_report import field_facts, write_report
    from vinemap.service.tables import write_field
    from vinemap.surface.field import FieldOptions

    season, scouted = opened(asked.season, asked.round)
    threshold = season.assumptions.threshold if asked.threshold is None else asked.threshold
    options = FieldOptions(asked.method, threshold, asked.power, asked.neighbours, threads=asked.threads)
    reads = Answers().reads(season, scouted, options=options)
    vines = write_field(asked.out, season, reads)
    if asked.report:
        head = {"what": "counts", "method_asked": asked.method, "threshold_share": threshold, "round": scouted.number}
        blocks = {
            name: field_facts(read.field, asked.method) if read.field else {"method_used": None, "why": read.why_not}
            for name, read in reads.items()
        }
        write_report(asked.report, {**head, "blocks": blocks})
    lines = [f"round {scouted.number}: {vines:,} living vines written to {asked.out}"]
    for name, read in reads.items():
        lines += _block_lines(name, read.field.recipe) if read.field else [f"{name}: not known: {read.why_not}"]
    return Said(tuple(lines))


def _block_lines(name: str, recipe: Recipe) -> Sequence[str]:
    tables = _tables(recipe)
    return [*([f"{name}:", *(f"  {line}" for line in tables)] if tables else []), f"{name}: {' '.join(recipe.notes)}"]
