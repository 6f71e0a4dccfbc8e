"""The commands that tell where the vines stand and how near rot is, a day a line: what they take, and what they say."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from vinemap.cli_asked import Said, date, number, refuse_folder, refuse_to_write_over
from vinemap.cli_hours import alone_arguments, given_of, weather_asked
from vinemap.errors import InputError, Problem

if TYPE_CHECKING:
    from vinemap.season.value import Season


def stage_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what the command of growth takes."""
    given = parser.add_mutually_exclusive_group(required=True)
    given.add_argument("--season", type=Path, metavar="S")
    given.add_argument("--weather", type=Path, metavar="F.csv", help="hourly weather alone, without a season")
    parser.add_argument("--out", required=True, type=Path, metavar="F.csv")
    parser.add_argument("--block", default="", metavar="B", help="one block of the season; every one if not given")
    parser.add_argument("--variety", default="", metavar="V", help="with --weather: what the vines are")
    parser.add_argument("--bloom", metavar="YYYY-MM-DD", help="with --weather: when half of the caps were off")
    parser.add_argument("--south", action="store_true", help="with --weather: the station stands south of the equator")
    parser.add_argument(
        "--offset", type=number, default=0.0, metavar="H", help="with --weather: local standard time minus UTC"
    )
    parser.add_argument(
        "--columns", default="", metavar="THEIRS=OURS,...", help="with --weather: which column of theirs is which of ours"
    )
    alone_arguments(parser)


def rot_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what the command of rot takes."""
    stage_arguments(parser)
    parser.add_argument(
        "--mildew", type=number, metavar="SHARE", help="of clusters with mildew, 0 to 1, instead of the rounds"
    )


def run_stage(asked: argparse.Namespace) -> Said:
    """Write where each block stands on each day. Raises VinemapError."""
    from vinemap.service.stage_tables import write_stage

    season, problems = _season(asked)
    return Said((*write_stage(season, asked.out, asked.block), f"written to {asked.out}"), problems)


def run_rot(asked: argparse.Namespace) -> Said:
    """Write the risk of bunch rot on each day. Raises VinemapError."""
    from vinemap.service.stage_tables import write_rot

    if asked.mildew is not None and not 0.0 <= asked.mildew <= 1.0:
        raise InputError(f"--mildew can't be {asked.mildew:g}.", "Give a share of clusters from 0 to 1: 0.24 for 24 %.")
    season, problems = _season(asked)
    return Said((*write_rot(season, asked.out, asked.block, asked.mildew), f"written to {asked.out}"), problems)


def _season(asked: argparse.Namespace) -> tuple[Season, tuple[Problem, ...]]:
    """The season asked for, or one of nothing but a weather file, and what was left out of that."""
    if asked.weather is None:
        from vinemap.files.season_file import read_season

        alone = {f"--{name}": getattr(asked, name) for name in ("variety", "bloom", "south", "offset", "columns")}
        given = next((name for name, value in alone.items() if value), given_of(asked))
        if given:
            raise InputError(f"{given} goes with --weather; a season says it itself.", "Leave it away.")
        refuse_folder(asked.season)
        refuse_to_write_over(asked.out, asked.season)
        return read_season(asked.season), ()
    from vinemap.service.pressure_table import read_named_weather
    from vinemap.service.stage_tables import weather_alone

    if asked.block:
        raise InputError("--block goes with --season.", "Leave it away, or name a season.")
    refuse_to_write_over(asked.out, asked.weather)
    bloom = date(asked.bloom) if asked.bloom else None
    read = read_named_weather(asked.weather, weather_asked(asked, asked.offset), asked.columns)
    return weather_alone(read.value, asked.south, asked.variety, bloom), read.problems
