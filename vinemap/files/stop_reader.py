"""Scouting stops from CSV or GeoJSON, and the rounds they make."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from vinemap.errors import FileError, Problem
from vinemap.files.cells import Entry, Refused, keep_good, keep_good_lines
from vinemap.files.geojson import POINT, Feature, is_drawn, read_features
from vinemap.files.place_text import with_places
from vinemap.files.shapes import Mend
from vinemap.files.table import read_table
from vinemap.files.text import Read
from vinemap.files.unused import unused_note
from vinemap.scouting.rounds import LIGHT_WORDS, NOT_NOTED

RANDOM, TARGETED = "random", "targeted"
NEEDED = ("date", "examined", "infected")
KNOWN = (
    *("round", "scout", "block", "row", "vine", "lon", "lat", "x_m", "y_m"),
    *("leaves_examined", "leaves_infected", "sample_type", "light"),
)
OF_POINTS = (*NEEDED, *KNOWN, "name", "time")
"""What is read of a Point; a mark of KML or GPX also has a name and a time."""
WAYS = (("block", "row", "vine"), ("lon", "lat"), ("x_m", "y_m"))
_COUNTS = ("examined", "infected", "leaves_examined", "leaves_infected")
_MOST_COUNTED = 100_000
_MOST_ROUNDS = 10_000


@dataclass(frozen=True, slots=True, eq=False)
class StopDraft:
    """A stop: its counts, and where it was: on ``vine`` of ``row``, at (lon, lat) [degrees] or at (easting, northing) [m].

    ``number`` is the round's, 0 where the file does not say; ``light``: code of what was seen through the vine.
    """

    entry: Entry
    number: int
    date: dt.date
    scout: str
    block: str
    row: str
    vine: int
    lonlat_deg: tuple[float, float] | None
    easting_m: tuple[float, float] | None
    examined: int
    infected: int
    leaves_examined: int
    leaves_infected: int
    is_targeted: bool
    light: int = NOT_NOTED


def read_stops(path: Path, crs: str = "", mend: Mend | None = None) -> Read[tuple[StopDraft, ...]]:
    """Stops of a table or of the Points in a file of features. Raises FileError when the file holds none.

    ``crs`` is the map system of the coordinates where the file tells none; without it x_m and y_m are in the estate's.
    ``mend`` makes the repairs of Points that were agreed to.
    """
    path = Path(path)
    if is_drawn(path):
        read = read_features(path, (POINT,), crs, mend)
        stops, problems = stops_of(read.value)
        notes = (*read.notes, *unused_note(path.name, read.value, {POINT: OF_POINTS}))
        return Read(tuple(stops), (*read.problems, *problems), notes)
    table = read_table(path, NEEDED, KNOWN)
    if not says_where(table.value.columns):
        raise FileError(
            f"{path.name} does not say where the stops were.", "Add the columns block, row, vine, or lon, lat, or x_m, y_m."
        )
    placed = with_places(table.value.lines, crs)
    stops, problems = keep_good_lines(placed.value, _stop)
    return Read(tuple(stops), (*table.problems, *placed.problems, *problems), (*table.notes, *placed.notes))


def stops_of(features: Sequence[Feature]) -> tuple[list[StopDraft], list[Problem]]:
    """The stops among features, and a problem for each that was refused."""

    return keep_good(((each.entry, each) for each in features if each.kind == POINT), _stop_at)


def _stop_at(feature: Feature) -> StopDraft:
    if not any(feature.entry.text(name) for name in _COUNTS):
        do = "Give it date, examined and infected, or leave it where it is."
        raise Refused("", "", "is a point without counts, so it is not a stop", do)
    return _stop(at_point(feature))


def says_where(columns: Collection[str]) -> bool:
    """Whether columns say where a thing was, in one of the ``WAYS``."""
    return any(set(way) <= set(columns) for way in WAYS)


def at_point(feature: Feature) -> Entry:
    """What a Point tells, its lon and lat [degrees] among its values."""
    lon, lat = (str(float(part)) for part in feature.parts[0][0])
    entry = feature.entry
    return Entry(entry.file, entry.place, {**entry.values, "lon": lon, "lat": lat})


def _stop(entry: Entry) -> StopDraft:
    examined, infected = read_counts(entry, "examined", "infected")
    leaves_examined, leaves_infected = 0, 0
    if entry.text("leaves_examined") or entry.text("leaves_infected"):
        leaves_examined, leaves_infected = read_counts(entry, "leaves_examined", "leaves_infected")
    if examined + leaves_examined == 0:
        raise Refused("examined", entry.text("examined"), "nothing was examined here", "Leave such stops out.")
    row, vine, lonlat_deg, easting_m = read_where(entry)
    return StopDraft(
        entry,
        entry.whole("round", 1, _MOST_ROUNDS) if entry.text("round") else 0,
        entry.date("date"),
        entry.text("scout"),
        entry.text("block"),
        row,
        vine,
        lonlat_deg,
        easting_m,
        examined,
        infected,
        leaves_examined,
        leaves_infected,
        entry.choice("sample_type", (RANDOM, TARGETED), RANDOM) == TARGETED,
        _light(entry),
    )


def _light(entry: Entry) -> int:
    """Code of what was seen through the vine. Raises Refused."""
    return LIGHT_WORDS.index(entry.choice("light", LIGHT_WORDS[1:])) if entry.text("light") else NOT_NOTED


def read_counts(entry: Entry, examined_name: str = "examined", infected_name: str = "infected") -> tuple[int, int]:
    """Units looked at, and those of them with mildew. Raises Refused."""
    examined = entry.whole(examined_name, 0, _MOST_COUNTED)
    infected = entry.whole(infected_name, 0, _MOST_COUNTED)
    if infected > examined:
        why = f"is more than the {examined} examined"
        raise Refused(infected_name, str(infected), why, "Look at the scout’s notes; the two may be swapped.")
    return examined, infected


def read_where(entry: Entry) -> tuple[str, int, tuple[float, float] | None, tuple[float, float] | None]:
    """Row and vine; or else lon, lat [degrees]; or else easting, northing [m]. Raises Refused."""
    if entry.text("row") and entry.text("vine"):
        entry.needed("block")
        return entry.text("row"), entry.whole("vine", 1, _MOST_COUNTED), None, None
    if entry.text("lon") or entry.text("lat"):
        return "", 0, _lonlat(entry), None
    if entry.text("x_m") or entry.text("y_m"):
        return "", 0, None, (entry.number("x_m", -1e8, 1e8), entry.number("y_m", -1e8, 1e8))
    raise Refused("", "", "does not say where it was", "Fill in block, row and vine, or lon and lat, or x_m and y_m.")


def _lonlat(entry: Entry) -> tuple[float, float]:
    lon, lat = entry.number("lon", -1e9, 1e9), entry.number("lat", -1e9, 1e9)
    shown = f"[{lon:.9g}, {lat:.9g}]"
    if abs(lat) > 90 and abs(lon) <= 90 and abs(lat) <= 180:
        do = "Put longitude under lon and latitude under lat."
        raise Refused("lon, lat", shown, "latitude and longitude seem to be swapped", do)
    if abs(lon) > 180 or abs(lat) > 90:
        do = "Name the columns x_m and y_m, or give degrees."
        raise Refused("lon, lat", shown, "is not longitude and latitude; it looks like metres on a map grid", do)
    if abs(lon) < 1e-6 and abs(lat) < 1e-6:
        raise Refused("lon, lat", shown, "is zero, zero: no position was recorded", "Give the row and vine instead.")
    return lon, lat
