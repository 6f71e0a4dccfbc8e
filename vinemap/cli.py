"""The same job without a window. Errors go to standard error in plain words; exit 0 done, 1 problems found, 2 an error."""

from __future__ import annotations

import argparse
import datetime as dt
import io
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from vinemap import __version__
from vinemap.cli_add import Told, add_arguments, file_arguments, run_add, run_check
from vinemap.cli_asked import (
    DONE,
    ERROR,
    PROBLEMS,
    Said,
    count,
    left_out,
    one_line,
    opened,
    refuse_to_write_over,
)
from vinemap.cli_edit import edit_arguments, rows_arguments, run_edit, run_rows
from vinemap.cli_field import field_arguments, run_field
from vinemap.cli_give import give_arguments, run_give
from vinemap.cli_sky import faces_arguments, run_faces, run_wind, wind_arguments
from vinemap.cli_stage import rot_arguments, run_rot, run_stage, stage_arguments
from vinemap.cli_weather import pressure_arguments, run_pressure
from vinemap.errors import FileError, InputError, Problem, VinemapError
from vinemap.service.gathering import gathered
from vinemap.service.report import NothingGood


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # a screen that lacks a letter shows a question mark
            stream.reconfigure(errors="replace")
    try:
        asked = _parser().parse_args(arguments)
        code = int(asked.run(asked))
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # whoever read along has seen enough; nothing may be written when the program ends
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return ERROR
    except VinemapError as error:
        return _say(error)
    except OSError as error:
        name = f"“{error.filename}”" if error.filename else "A file or folder"
        return _say(FileError(f"{name} can't be used: {error.strerror or error}.", "Check its name, or choose another."))
    except KeyboardInterrupt:
        return _say(InputError("Stopped before it was done."))


def _say(error: VinemapError) -> int:
    if isinstance(error, NothingGood):
        _say_left_out(error.problems)
        error = InputError(error.what, error.do)
    print(one_line(error), file=sys.stderr)
    return ERROR


def _say_left_out(problems: Sequence[Problem]) -> None:
    for line in left_out(gathered(problems)):
        print(line, file=sys.stderr)


class _Parser(argparse.ArgumentParser):
    """Says what is wrong with a command in the words of every other error."""

    def error(self, message: str) -> NoReturn:
        """Raise InputError."""
        for found, said in _PLAIN_WORDS:
            message = message.replace(found, said)
        raise InputError(f"{message.rstrip('.')}.", f"“{self.prog} --help” shows how it is written.")


_PLAIN_WORDS = (
    ("the following arguments are required:", "Missing:"),
    ("unrecognized arguments:", "Not understood:"),
    ("expected one argument", "nothing was given"),
    ("expected at least one argument", "nothing was given"),
    ("argument COMMAND: invalid choice:", "There is no such command:"),
    ("argument ", ""),
)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
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
    file_arguments(check)
    add = command("add", _add, "bring files into a season; it is begun where there is none")
    add.add_argument("files", nargs="+", type=Path, metavar="FILE")
    add.add_argument("--season", required=True, type=Path, metavar="S")
    add.add_argument(
        "--covariate", metavar="COLUMN", help="take this one column of figures that may help the map, or call a raster so"
    )
    add_arguments(add)
    edit_arguments(command("edit", _edit, "put the ground right, as written: rows, vines, outlines, varieties; undo"))
    rows_arguments(command("rows", _rows, "make the rows of a block from its outline"))
    field_arguments(command("field", _field, "incidence and its certainty, at points or at every vine of a season"))
    rank = command("rank", _rank, "rows in order of what an hour of work saves, each with its reasons")
    _season_arguments(rank)
    rank.add_argument("--out", required=True, type=Path, metavar="F.csv")
    rank.add_argument("--by", choices=("row", "span"), default="row", help="rows in order, or every span of ten vines")
    pressure_arguments(
        command("pressure", _pressure, "the risk index of each day, from hourly weather in local standard time")
    )
    stage_arguments(command("stage", _stage, "where the vines of each block stand on each day, and what that means"))
    rot_arguments(command("rot", _rot, "the risk of Botrytis bunch rot on each day, from hours wet and their warmth"))
    give_arguments(command("give", _give, "give out what a season holds: for other programs, a phone or a sprayer"))
    faces_arguments(command("faces", _faces, "the sun on each face of a row, and which to open first"))
    wind_arguments(
        command("wind", _wind, "the wind rose, and how the drying wind meets each row and what is left of it there")
    )
    copy = command("copy", _copy, "copy a season with all its steps, also while a window has it open")
    copy.add_argument("season", type=Path, metavar="SEASON")
    copy.add_argument("copy", type=Path, metavar="COPY")
    paper = command("paper", _paper, "the crew's map of every block as one PDF")
    _season_arguments(paper)
    paper.add_argument("--out", required=True, type=Path, metavar="DIR")
    return parser


def _season_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--season", required=True, type=Path, metavar="S")
    parser.add_argument("--round", type=count, metavar="R", help="number of the round; the one last looked at if not given")


def _desk(asked: argparse.Namespace) -> int:
    from vinemap.desk.app import run_window

    return run_window(asked.season)


def _sample(asked: argparse.Namespace) -> int:
    from vinemap.service.sample import write_sample

    for path in write_sample(asked.folder):
        print(f"made {path} (invented demonstration data)")
    return DONE


def _check(asked: argparse.Namespace) -> int:
    return _tell(run_check(asked))


def _add(asked: argparse.Namespace) -> int:
    return _tell(run_add(asked, _columns_asked(asked)))


def _tell(told: Told) -> int:
    for line in told.out:
        print(line)
    for line in told.err:
        print(line, file=sys.stderr)
    return told.code


def _print(said: Said) -> None:
    for line in said.lines:
        print(line)
    _say_left_out(said.problems)


def _columns_asked(asked: argparse.Namespace) -> dict[Path, str]:
    """Which column to take of each file, where one is asked for."""
    if asked.covariate is not None and asked.picture:
        raise InputError("--covariate and --picture can't both be meant.", "Add the picture by itself.")
    if asked.covariate is None:
        return {}
    if not asked.covariate.strip():
        raise InputError("--covariate names no column.", "Write the name that stands above the figures.")
    if len(asked.files) > 1:
        raise InputError("--covariate takes one file at a time.", "Add the others by themselves.")
    return {asked.files[0]: asked.covariate}


def _edit(asked: argparse.Namespace) -> int:
    said = run_edit(asked)
    _print(said)
    return PROBLEMS if said.problems else DONE


def _rows(asked: argparse.Namespace) -> int:
    _print(run_rows(asked))
    return DONE


def _field(asked: argparse.Namespace) -> int:
    _print(run_field(asked))
    return DONE


def _give(asked: argparse.Namespace) -> int:
    for line in run_give(asked):
        print(line)
    return DONE


def _rank(asked: argparse.Namespace) -> int:
    from vinemap.service.answers import Answers
    from vinemap.service.tables import write_rank, write_spans

    refuse_to_write_over(asked.out, asked.season)
    season, scouted = opened(asked.season, asked.round)
    ranking = Answers().ranking(season, scouted)
    written = (write_spans if asked.by == "span" else write_rank)(asked.out, season, ranking)
    print(f"round {scouted.number}: {written:,} lines written to {asked.out}")
    for block in season.blocks:
        read = ranking.reads[block.name]
        if read.why_not:
            print(f"{block.name}: not known: {read.why_not}")
        elif not any(work.block == block.name for work in (*ranking.opening, *ranking.spraying)):
            print(f"{block.name}: no row where work would save fruit, as far as is known.")
    return DONE


def _stage(asked: argparse.Namespace) -> int:
    _print(run_stage(asked))
    return DONE


def _rot(asked: argparse.Namespace) -> int:
    _print(run_rot(asked))
    return DONE


def _pressure(asked: argparse.Namespace) -> int:
    _print(run_pressure(asked))
    return DONE


def _faces(asked: argparse.Namespace) -> int:
    _print(run_faces(asked))
    return DONE


def _wind(asked: argparse.Namespace) -> int:
    _print(run_wind(asked))
    return DONE


def _copy(asked: argparse.Namespace) -> int:
    from vinemap.files.season_copies import copy_season

    copy_season(asked.season, asked.copy)
    print(f"copied to {asked.copy}")
    return DONE


def _paper(asked: argparse.Namespace) -> int:
    from vinemap.desk.fonts import measure
    from vinemap.desk.painter import write_pdf
    from vinemap.service.answers import Answers
    from vinemap.service.papers import block_plan
    from vinemap.sheets.crew_map import crew_maps

    season, scouted = opened(asked.season, asked.round)
    ranking = Answers().ranking(season, scouted)
    printed = dt.datetime.now()
    plans = [block_plan(block, scouted, ranking, season, printed) for block in season.blocks if len(block.rows)]
    asked.out.mkdir(parents=True, exist_ok=True)
    path = asked.out / f"{asked.season.stem}-round-{scouted.number}-crew-maps.pdf"
    pages = crew_maps(plans, measure)
    write_pdf(pages, str(path))
    print(f"{len(pages)} pages written to {path}")
    return DONE
