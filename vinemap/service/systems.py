"""Which files lie in a map system that they do not name."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from vinemap.errors import VinemapError
from vinemap.files.coordinates import ASK_SYSTEM
from vinemap.files.geojson import is_drawn, read_features
from vinemap.files.kinds import kind_of
from vinemap.files.picture_place import without_sides
from vinemap.files.picture_reader import lacks_system
from vinemap.files.row_tables import table_features
from vinemap.files.vector_reader import without_parts


def without_system(paths: Sequence[Path]) -> list[Path]:
    """Pictures, and files of shapes whose numbers are no degrees, that name no map system."""
    return [path for path in without_sides(without_parts(paths)) if _lacks_system(path)]


def _lacks_system(path: Path) -> bool:
    try:
        kind = kind_of(path)
        if kind == "picture":
            return lacks_system(path)
        if kind in ("season", "raster", "estate"):
            return False
        if not is_drawn(path):
            if kind in ("outlines", "rows", "mixed"):
                # it is refused where a system is needed
                table_features(path)
            return False
        return any(problem.do == ASK_SYSTEM for problem in read_features(path).problems)
    except VinemapError as error:
        # any other refusal is told when the file is read
        return error.do == ASK_SYSTEM
