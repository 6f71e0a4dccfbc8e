"""A copy of the season for each day that it was worked on, in a folder beside it; the last seven are kept."""

from __future__ import annotations

import datetime as dt
from contextlib import closing
from pathlib import Path

from vinemap.errors import FileError
from vinemap.files.season_file import SUFFIX, SeasonFile
from vinemap.files.season_store import check, connect, copy_whole, in_plain_words

KEPT_DAYS = 7


def copies_folder(path: Path) -> Path:
    """Where the daily copies of a season lie."""
    return path.with_name(f"{path.stem} copies")


def keep_daily_copy(file: SeasonFile, today: dt.date) -> Path | None:
    """Copy a season as it stands before the first edit of a day, and remove the oldest beyond seven; None where there is one.

    Only files that bear the name of such a copy are ever removed. Raises FileError.
    """
    folder = copies_folder(file.path)
    copy = folder / f"{file.path.stem} {today.isoformat()}{SUFFIX}"
    if copy.exists():
        return None
    with in_plain_words(copy):
        folder.mkdir(exist_ok=True)
        file.save_copy(copy)
        for old in _copies(folder, file.path.stem)[:-KEPT_DAYS]:
            old.unlink(missing_ok=True)
    return copy


def copy_season(path: Path, target: Path) -> None:
    """Put a season that a window may have open, with all its steps, into a new file. Raises FileError."""
    path, target = Path(path).resolve(), Path(target).resolve()
    if not path.is_file():
        raise FileError(f"There is no file “{path.name}” in “{path.parent}”.", "Look for it, or choose another file.")
    if target.exists():
        raise FileError(f"There is already a file “{target.name}”.", "Choose another name for the copy.")
    with in_plain_words(path), closing(connect(path)) as db:
        check(db, path)
        copy_whole(db, target)


def _copies(folder: Path, stem: str) -> list[Path]:
    """The daily copies of a season, oldest first."""
    found = []
    for path in folder.glob(f"*{SUFFIX}"):
        try:
            day = dt.date.fromisoformat(path.stem.removeprefix(f"{stem} "))
        except ValueError:
            continue
        if path.name == f"{stem} {day.isoformat()}{SUFFIX}":
            found.append((day, path))
    return [path for _, path in sorted(found)]
