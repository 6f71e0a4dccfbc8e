"""Places in tables as people write them: degrees, minutes and seconds; or metres of a map system that was named."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vinemap.errors import FileError, InputError, Problem
from vinemap.files.cells import Entry
from vinemap.files.coordinates import known_system
from vinemap.files.projection import from_system, is_projected, system_name
from vinemap.files.text import Read

_PART = r"([0-9]+(?:[.,][0-9]+)?)"
_WRITTEN = re.compile(
    rf"([NSEWO]?)\s*([+-]?){_PART}\s*[°º](?:\s*{_PART}\s*['′’])?(?:\s*{_PART}\s*(?:[\"″”]|''|′′|’’))?\s*([NSEWO]?)",
    re.IGNORECASE,
)
_HOURS = {"lat": "NS", "lon": "EWO"}
_SOUTH_OR_WEST = "SWO"
_DO = "Write it as 38°17'12.3\"N, or in degrees with a decimal point."


def degrees_of(name: str, text: str) -> float | None:
    """Degrees of ``38°17'12.3"N`` under the column ``lat`` or ``lon``, None where it is not written so.

    Raises InputError when the letter belongs to the other column, or minutes or seconds reach 60.
    """
    match = _WRITTEN.fullmatch(text.strip())
    if match is None:
        return None
    before, sign, degrees, minutes, seconds, after = match.groups()
    letter = (before or after).upper()
    if (before and after) or (letter and letter not in _HOURS[name]) or (letter and sign):
        raise InputError("the letter or sign does not belong to this column", _DO)
    whole, sixtieth, last = (float((part or "0").replace(",", ".")) for part in (degrees, minutes, seconds))
    if sixtieth >= 60 or last >= 60 or (minutes and whole % 1) or (seconds and (sixtieth % 1 or not minutes)):
        raise InputError("is not degrees, minutes and seconds", _DO)
    found = whole + sixtieth / 60 + last / 3600
    return -found if sign == "-" or (letter and letter in _SOUTH_OR_WEST) else found


def with_places(lines: Sequence[Entry], crs: str = "") -> Read[tuple[Entry, ...]]:
    """Lines with lon and lat [degrees] in place of degrees, minutes and seconds, and of metres in the map system ``crs``.

    What was turned is noted, the first in full. Raises FileError when the map system can't be used.
    """
    kept: list[Entry] = []
    problems: list[Problem] = []
    example = ""
    for line in lines:
        try:
            turned, said = _from_minutes(line)
        except InputError as error:
            field = next(name for name in ("lat", "lon") if not _is_sound(name, line.text(name)))
            problems.append(line.problem(field, line.text(field), error.what, error.do))
            continue
        example = example or said
        kept.append(turned)
    notes = (f"Degrees, minutes and seconds were turned to degrees: {example}.",) if example else ()
    if not crs or not kept:
        return Read(tuple(kept), tuple(problems), notes)
    moved, words = _from_metres(kept, crs)
    return Read(moved, tuple(problems), notes + words)


def _from_minutes(line: Entry) -> tuple[Entry, str]:
    values, said = dict(line.values), ""
    for name in ("lat", "lon"):
        degrees = degrees_of(name, line.text(name))
        if degrees is not None:
            values[name] = repr(degrees)
            said = said or f"{line.place}, {name} {line.text(name)} is {degrees:.7f}"
    return (replace(line, values=values), said) if said else (line, "")


def _is_sound(name: str, text: str) -> bool:
    try:
        degrees_of(name, text)
    except InputError:
        return False
    return True


def _from_metres(lines: Sequence[Entry], crs: str) -> tuple[tuple[Entry, ...], tuple[str, ...]]:
    """Lines whose x_m and y_m are numbers, with their lon and lat; the others stay, for the refusal that they get."""
    name = lines[0].file
    at = [_metres(line) for line in lines]
    given = [index for index, each in enumerate(at) if each is not None]
    if not given:
        return tuple(lines), ()
    try:
        system = known_system(crs)
        if not is_projected(system):
            raise InputError(f"{system} is not measured in metres.", "Name one in metres, such as EPSG:32610.")
        x, y = np.array([at[index] for index in given], np.float64).T
        lon, lat = from_system(system, x, y)
        told = system_name(system)
    except InputError as error:
        raise FileError(f"{name}: {error.what}", error.do) from error
    moved = list(lines)
    for index, east, north in zip(given, lon.tolist(), lat.tolist(), strict=True):
        if np.isfinite(east) and np.isfinite(north):
            moved[index] = replace(lines[index], values={**lines[index].values, "lon": repr(east), "lat": repr(north)})
    return tuple(moved), (f"{name}: x_m and y_m are in the map system {told}; they were turned to longitude and latitude.",)


def _metres(line: Entry) -> tuple[float, float] | None:
    if not (line.text("x_m") and line.text("y_m")) or line.text("lon") or line.text("lat"):
        return None
    try:
        x, y = (
            float(line.text(name).replace(",", ".") if line.has_decimal_comma else line.text(name)) for name in ("x_m", "y_m")
        )
    except ValueError:
        return None
    return (x, y) if max(abs(x), abs(y)) < 1e8 else None
