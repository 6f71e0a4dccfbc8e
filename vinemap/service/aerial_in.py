"""An aerial picture put below the map of a season."""

from __future__ import annotations

from pathlib import Path

from vinemap.files.picture_reader import look_at_picture, notes_of
from vinemap.season import edits
from vinemap.season.value import Season
from vinemap.service.report import Report


def add_picture(season: Season, path: Path, report: Report, crs: str = "") -> Season:
    """The season with a picture below its map, in place of the one it had; the picture stays in its file.

    ``crs``: its map system, where neither it nor a .prj file beside it says one. Raises FileError.
    """
    aerial = look_at_picture(path, season.blocks, season.estate.frame, crs)
    wide, high = aerial.size_px
    report.kept.append(f"{path.name}: a picture of {wide:,} by {high:,} pixels, below the map; leave the file where it is")
    report.notes.extend(notes_of(path))
    if season.aerial is not None and season.aerial != aerial:
        report.notes.append(f"It takes the place of the picture {season.aerial.name}.")
    return edits.with_aerial(season, aerial)
