"""The sample: its files copied out, and a season file made from them as from anybody's."""

from __future__ import annotations

import shutil
from importlib import resources
from pathlib import Path

from vinemap.errors import FileError
from vinemap.files.season_store import hold, in_plain_words
from vinemap.service.book import new_book
from vinemap.service.bring_in import bring_in

ESTATES = ("marlquill", "wattlequern")
SHOWN_ROUND = {"marlquill": 2, "wattlequern": 1}
"""The round that tells most of the job: two weeks after bloom, when opening still helps."""

SEASON_PARTS = ("estate.json", "outlines.geojson", "rows.geojson", "vines.csv", "weather.csv", "passes.csv", "sprays.csv")


def sample_folder() -> Path:
    """Where the sample lies: beside the package in a checkout, inside it when installed. Raises FileError without it."""
    package = Path(str(resources.files("vinemap")))
    for folder in (package / "_sample_blocks", package.parent / "sample_blocks"):
        if folder.is_dir():
            return folder
    raise FileError("The sample is not on this computer.", "Install Vinemap again, or bring in your own files.")


def season_files(folder: Path) -> list[Path]:
    """The files of one sample estate, in the order they are read."""
    rounds = sorted(folder.glob("stops_round_*.csv"))
    return [folder / name for name in SEASON_PARTS if (folder / name).exists()] + rounds


def write_sample(folder: Path) -> list[Path]:
    """Copy both sample estates into ``folder`` and make a season file of each; the paths of the season files."""
    made: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name in ESTATES:
            shutil.copytree(sample_folder() / name, folder / name, dirs_exist_ok=True)
            made.append(make_season(folder / name, folder / f"{name}.vinemap", SHOWN_ROUND[name]))
    except OSError as error:
        why = f": {error.strerror}" if error.strerror else ""
        raise FileError(f"The sample can't be written to {folder}{why}.", "Choose another folder.") from error
    return made


def make_season(files: Path, path: Path, shown_round: int) -> Path:
    """A season file at ``path`` from the files of a sample estate; one that is there already is replaced.

    Raises FileError when that one is open in a window.
    """
    season, _ = bring_in(season_files(files), None, files.name.capitalize())
    with in_plain_words(path):
        hold(path).release()
    path.unlink(missing_ok=True)
    book = new_book(path, season)
    try:
        book.look_at_round(shown_round)
    finally:
        book.close()
    return path
