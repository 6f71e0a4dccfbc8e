"""Say what is wrong with files before anything is made of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from vinemap.errors import VinemapError
from vinemap.files.covariate_raster import check_raster
from vinemap.files.covariate_reader import columns_of, read_readings
from vinemap.files.diary_reader import read_passes, read_sprays
from vinemap.files.estate_reader import read_estate
from vinemap.files.ground_reader import read_ground
from vinemap.files.kinds import kind_of
from vinemap.files.picture_place import without_sides
from vinemap.files.picture_reader import check_picture
from vinemap.files.shapes import Mend
from vinemap.files.stop_reader import read_stops
from vinemap.files.text import Read
from vinemap.files.vector_reader import without_parts
from vinemap.files.vine_reader import read_vines
from vinemap.files.weather_reader import read_weather
from vinemap.service.bring_in import bring_in
from vinemap.service.columns_in import columns_to_ask
from vinemap.service.report import NothingGood, Report


def _picture(path: Path) -> Read[tuple[()]]:
    check_picture(path)
    return Read(())


_READERS: dict[str, Callable[[Path, Mend | None], Read[Any]]] = {
    "estate": lambda path, _: read_estate(path),
    "rows": lambda path, mend: read_ground(path, mend=mend),
    "stops": lambda path, mend: read_stops(path, mend=mend),
    "vines": lambda path, _: read_vines(path),
    "weather": lambda path, _: read_weather(path, 0.0),
    "passes": lambda path, _: read_passes(path),
    "sprays": lambda path, _: read_sprays(path),
    "raster": lambda path, _: check_raster(path),
    "picture": lambda path, _: _picture(path),
    "readings": lambda path, mend: read_readings(path, next(iter(columns_of(path)), ""), mend=mend),
}


def check(paths: Sequence[Path], mend: Mend | None = None) -> Report:
    """Problems in the files: with outlines among them all read together as one estate, else each by itself.

    What needs the blocks (whether a vine is there) is left unsaid without outlines; the notes tell. ``mend`` is shown the
    shapes, to say what could be mended.
    """
    report = Report()
    kinds: dict[Path, str] = {}
    for path in without_sides(without_parts(paths)):
        try:
            kinds[path] = kind_of(path)
            if kinds[path] == "season":
                _check_season(path)
        except VinemapError as error:
            report.refuse(path, error)
            kinds.pop(path, None)
    ours = [path for path, kind in kinds.items() if kind not in ("season", "truth")]
    for path, columns in columns_to_ask(ours).items():
        report.notes.append(f"{path.name} has the columns {', '.join(columns)}; name the one to take when you bring it in.")
        ours.remove(path)
    if any(kinds[path] in ("outlines", "mixed") for path in ours):
        _check_together(ours, report, mend)
    else:
        for path in ours:
            _check_alone(path, kinds[path], report, mend)
    return report


def _check_together(paths: Sequence[Path], report: Report, mend: Mend | None) -> None:
    try:
        report.problems += bring_in(paths, None, "check", mend=mend)[1].problems
    except NothingGood as error:
        report.problems += error.problems
        if not error.problems:
            report.refuse(paths[0], error)
    except VinemapError as error:
        report.refuse(paths[0], error)


def _check_alone(path: Path, kind: str, report: Report, mend: Mend | None) -> None:
    try:
        report.problems += _READERS[kind](path, mend).problems
    except VinemapError as error:
        report.refuse(path, error)
    if kind not in ("estate", "weather", "picture"):
        report.notes.append(f"{path.name} was read by itself: without outlines nobody can say whether its vines are there.")


def _check_season(path: Path) -> None:
    from vinemap.files.season_file import read_season

    read_season(path)
