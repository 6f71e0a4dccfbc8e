"""What is asked of a command: figures, dates, seasons and files, refused in plain words; and what it says in the end."""

from __future__ import annotations

import argparse
import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from vinemap.errors import FileError, InputError, Problem
from vinemap.scouting.rounds import Round
from vinemap.season.value import Season

DONE, PROBLEMS, ERROR = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Said:
    """What a command has to say, line by line, and what it left out."""

    lines: tuple[str, ...]
    problems: tuple[Problem, ...] = ()


def left_out(problems: Sequence[Problem]) -> list[str]:
    """What is said of each thing that was left out."""
    return [f"left out: {one_line(problem)}" for problem in problems]


def one_line(words: object) -> str:
    """Words without the line breaks that a name in them may hold."""
    return " ".join(str(words).splitlines())


def number(text: str) -> float:
    """A number as an option gives it. Raises ArgumentTypeError."""
    try:
        found = float(text)
    except ValueError:
        found = math.nan
    if not math.isfinite(found):
        raise argparse.ArgumentTypeError(f"“{text}” is not a number; write it as 12.5, with a point")
    return found


def count(text: str) -> int:
    """A whole number as an option gives it. Raises ArgumentTypeError."""
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"“{text}” is not a whole number") from None


def date(text: str) -> dt.date:
    """A date as an option gives it. Raises InputError."""
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InputError(f"“{text}” is not a date.", "Write it as 2026-06-12.") from None


def opened(path: Path, asked: int | None) -> tuple[Season, Round]:
    """The season at ``path`` and the round asked for, or the one last looked at. Raises FileError or InputError."""
    from vinemap.files.season_file import read_season, read_view
    from vinemap.service.book import ROUND_VIEW

    refuse_folder(path)
    season = read_season(path)
    numbers = [each.number for each in season.rounds]
    if not numbers:
        raise InputError(f"{path.name} has no scouting round yet.", "Bring in the stops first.")
    if asked is None:
        seen = read_view(path, ROUND_VIEW)
        asked = seen if seen in numbers else max(numbers)
    scouted = season.round(asked)
    if scouted is None:
        raise InputError(f"There is no round {asked} in {path.name}.", f"It has: {', '.join(map(str, sorted(numbers)))}.")
    return season, scouted


def refuse_folder(season: Path) -> None:
    """Raise FileError where a folder stands in the place of a season."""
    if season.is_dir():
        raise FileError(f"{season} is a folder.", "Name a season file in it.")


def refuse_to_write_over(out: Path, *read: Path, option: str = "--out") -> None:
    """Raise InputError where what is written would take the place of a season, or of what it is made from."""
    if out.suffix == ".vinemap" or any(out.exists() and each.exists() and out.samefile(each) for each in read):
        raise InputError(f"{out} can't be written over.", f"Give {option} another name.")
