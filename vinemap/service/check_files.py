"""Say what is wrong with files before anything is made of them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from vinemap.errors import Problem, VinemapError
from vinemap.files.coordinates import known_system
from vinemap.files.covariate_raster import check_raster
from vinemap.files.covariate_reader import columns_of, read_readings
from vinemap.files.diary_reader import read_passes, read_sprays
from vinemap.files.edge_reader import read_edges
from vinemap.files.estate_reader import read_estate
from vinemap.files.ground_reader import read_ground
from vinemap.files.kinds import kind_of
from vinemap.files.matching import Proposal
from vinemap.files.picture_place import without_sides
from vinemap.files.picture_reader import check_picture
from vinemap.files.rod_reader import read_rods
from vinemap.files.row_list import read_row_list
from vinemap.files.shapes import Mend
from vinemap.files.signs import ROW_LIST
from vinemap.files.stop_reader import read_stops
from vinemap.files.text import Read
from vinemap.files.vector_reader import without_parts
from vinemap.files.vine_reader import read_vines
from vinemap.files.weather_times import WeatherAsk
from vinemap.season.value import Season
from vinemap.service.bring_in import bring_in
from vinemap.service.columns_in import columns_to_ask
from vinemap.service.matched import Agreed
from vinemap.service.repair import Offer, given_as_agreed, offers_for
from vinemap.service.report import NothingGood, Report
from vinemap.service.weather_in import read_hours


@dataclass(frozen=True, slots=True)
class Checked:
    """What is wrong with files; what their columns may be, by the problem that asks for it; and what could be mended."""

    report: Report
    proposals: Mapping[Problem, Proposal]
    offers: tuple[Offer, ...]


def _picture(path: Path, crs: str) -> Read[tuple[()]]:
    check_picture(path, crs)
    return Read(())


_READERS: dict[str, Callable[[Path, str, Mend], Read[Any]]] = {
    "estate": lambda path, crs, mend: read_estate(path),
    "rows": read_ground,
    "stops": read_stops,
    ROW_LIST: lambda path, crs, mend: read_row_list(path),
    "vines": lambda path, crs, mend: read_vines(path),
    "passes": lambda path, crs, mend: read_passes(path),
    "sprays": lambda path, crs, mend: read_sprays(path),
    "rods": lambda path, crs, mend: read_rods(path),
    "edges": read_edges,
    "raster": lambda path, crs, mend: check_raster(path),
    "picture": lambda path, crs, mend: _picture(path, crs),
    "readings": lambda path, crs, mend: read_readings(path, next(iter(columns_of(path)), ""), crs, mend),
}


def check(
    paths: Sequence[Path], agreed: Agreed | None = None, pictures: Collection[Path] = (), weather: WeatherAsk | None = None
) -> Checked:
    """Problems in the files: with outlines among them all read together as one estate, else each by itself.

    ``agreed``, ``pictures`` and ``weather`` as they are given when the files come in. What needs the blocks (whether a vine
    is there) is left unsaid without outlines; the notes tell. Raises InputError for a map system or a column that is none.
    """
    agreed = agreed or Agreed()
    agreed = replace(agreed, crs=known_system(agreed.crs))
    with given_as_agreed(paths, None, agreed) as given:
        report, season = _read_all(list(given.paths.values()), agreed.crs, given.mend, pictures, weather)
        offers = offers_for(given, agreed, season, report.problems)
        given.tell(report)
        return Checked(report, given.proposals, offers)


def _read_all(
    paths: Sequence[Path], crs: str, mend: Mend, pictures: Collection[Path], weather: WeatherAsk | None
) -> tuple[Report, Season | None]:
    """Problems in the files as they stand, and the season they would make, if any; ``mend`` is shown the shapes."""
    report = Report()
    kinds: dict[Path, str] = {}
    for path in without_sides(without_parts(paths)):
        try:
            kinds[path] = "picture" if path in pictures else kind_of(path)
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
        return report, _check_together(ours, report, crs, mend, pictures, weather)
    for path in ours:
        _check_alone(path, kinds[path], report, crs, mend, weather)
    return report, None


def _check_together(
    paths: Sequence[Path], report: Report, crs: str, mend: Mend, pictures: Collection[Path], weather: WeatherAsk | None
) -> Season | None:
    try:
        season, brought = bring_in(paths, None, "check", crs=crs, pictures=pictures, mend=mend, weather=weather)
    except NothingGood as error:
        report.problems += error.problems
        report.notes += error.notes
        if not error.problems:
            report.refuse(paths[0], error)
    except VinemapError as error:
        report.refuse(paths[0], error)
    else:
        report.problems += brought.problems
        report.notes += brought.notes
        return season
    return None


def _check_alone(path: Path, kind: str, report: Report, crs: str, mend: Mend, weather: WeatherAsk | None) -> None:
    try:
        read = read_hours(path, weather) if kind == "weather" else _READERS[kind](path, crs, mend)
    except VinemapError as error:
        report.refuse(path, error)
        return
    report.problems += read.problems
    report.notes += read.notes
    if kind not in ("estate", "weather", "picture", "edges"):
        report.notes.append(f"{path.name} was read by itself: without outlines nobody can say whether its vines are there.")


def _check_season(path: Path) -> None:
    from vinemap.files.season_file import read_season

    read_season(path)
