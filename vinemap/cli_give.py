"""The command that gives out what a season holds: what is asked of it, and refused."""

from __future__ import annotations

import argparse
from pathlib import Path

from vinemap.cli_asked import count, number, opened, refuse_folder, refuse_to_write_over
from vinemap.errors import FileError, InputError
from vinemap.service.given import CELL_M, OF_A_ROUND, WHATS, Asked


def give_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("--season", required=True, type=Path, metavar="S")
    words = "; ".join(f"{name}: {word}" for name, word in WHATS.items())
    parser.add_argument("--what", required=True, metavar="WHAT", help=words)
    parser.add_argument("--out", required=True, type=Path, metavar="F", help="its ending names the format")
    parser.add_argument("--round", type=count, metavar="R", help="number of the round; the one last looked at if not given")
    parser.add_argument("--rate", type=number, metavar="L/HA", help="of zones to spray, in litres per hectare")
    parser.add_argument("--cell-m", type=number, default=CELL_M, metavar="M", help="size of the cells of a spray task")


def run_give(asked: argparse.Namespace) -> tuple[str, ...]:
    """Give out what was asked for; what was written, in sentences. Raises InputError, FileError."""
    from vinemap.files.season_file import read_season
    from vinemap.service.answers import Answers
    from vinemap.service.give_out import give_out

    out: Path = asked.out
    refuse_folder(asked.season)
    refuse_to_write_over(out, asked.season)
    if not out.absolute().parent.is_dir():
        raise FileError(f"There is no folder {out.parent}.", "Make it first, or choose another.")
    if out.is_dir():
        raise FileError(f"{out} is a folder.", "Name a file in it.")
    if asked.rate is not None and asked.what != "zones":
        raise InputError("--rate goes with --what zones only.", "Leave it out.")
    season, scouted = read_season(asked.season), None
    if asked.what in OF_A_ROUND or asked.round is not None or (asked.what == "walk" and season.rounds):
        season, scouted = opened(asked.season, asked.round)
    return give_out(season, scouted, Answers(), Asked(asked.what, out, asked.rate, asked.cell_m))
