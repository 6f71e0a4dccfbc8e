"""Parts of a season that are no map, as the files that bringing in reads: tables, and the estate's own facts."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np

from vinemap.canopy.rods import written_insertions
from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.files.layer import Cell
from vinemap.files.table import write_table
from vinemap.files.text import write_text
from vinemap.ground.covariates import value_at
from vinemap.ground.vines import place_vines
from vinemap.season.value import Season
from vinemap.service.report import counted
from vinemap.vineclock.weather import ORIGIN_WORDS, READ, READING_COLUMNS

ESTATE = "estate"
_STAGES = ("budbreak", "bloom", "veraison", "harvest")
_COUNTED = {
    "passes": ("pass", "passes"),
    "sprays": ("spray",),
    "rods": ("place with rods", "places with rods"),
    "weather": ("reading of the weather", "readings of the weather"),
    "columns": ("vine with figures", "vines with figures"),
}
_Table = tuple[tuple[str, ...], list[tuple[Cell, ...]]]


def write_part(path: Path, season: Season, what: str) -> str:
    """Write the estate as JSON or another part as CSV; what was written. Raises InputError, FileError."""
    ending = ".json" if what == ESTATE else ".csv"
    if path.suffix.lower() != ending:
        raise InputError(f"On a map there is no place for {what}.", f"Let the name end in {ending}.")
    if what == ESTATE:
        write_text(path, json.dumps(_estate(season), ensure_ascii=False, indent=1) + "\n")
        return f"{season.estate.name} written to {path}"
    columns, lines = TABLES[what](season)
    if not lines:
        raise InputError(f"There is nothing to write: no {what}.")
    write_table(path, columns, lines)
    return f"{counted(len(lines), *_COUNTED[what])} written to {path}"


def _estate(season: Season) -> dict[str, object]:
    estate = season.estate
    told: dict[str, object] = {"estate": estate.name, "invented": estate.is_invented}
    told |= {"time_offset_hours": estate.offset_hours, "crs": estate.frame.crs}
    of_blocks = []
    for each in season.stages:
        dates: dict[str, object] = {name: day.isoformat() for name in _STAGES if (day := getattr(each, name)) is not None}
        seen = [{"date": at.date.isoformat(), "scale": at.scale, "number": at.number} for at in each.seen]
        brix = [{"date": at.date.isoformat(), "brix": at.brix} for at in each.brix]
        dates |= {name: listed for name, listed in (("seen", seen), ("brix", brix)) if listed}
        if each.block:
            of_blocks.append({"block": each.block, **dates})
        else:
            told |= dates
    return told | ({"stages": of_blocks} if of_blocks else {})


def _columns(season: Season) -> _Table:
    """The value of every column that may help the map, at each vine that has one."""
    names = ("block", "row", "vine", *(each.name for each in season.covariates))
    lines: list[tuple[Cell, ...]] = []
    for block in season.blocks:
        vines = place_vines(block)
        found = [value_at(each, np.column_stack([vines.x_m, vines.y_m])) for each in season.covariates]
        for vine in np.flatnonzero(np.isfinite(found).any(axis=0)) if found else ():
            values = (float(each[vine]) if np.isfinite(each[vine]) else None for each in found)
            lines.append((block.name, block.rows.labels[int(vines.row[vine])], int(vines.ordinal[vine]), *values))
    return names, lines


def _passes(season: Season) -> _Table:
    names = ("date", "block", "rows", "kind", "face", "people", "hours")
    return names, [
        (each.date.isoformat(), each.block, ";".join(each.rows), each.kind, each.face, each.people, each.hours)
        for each in season.passes
    ]


def _sprays(season: Season) -> _Table:
    names = ("start", "end", "block", "rows", "materials", "rate_kg_per_ha", "water_l_per_ha")
    return names, [
        (
            each.start.isoformat(timespec="minutes"),
            each.end.isoformat(timespec="minutes"),
            each.block,
            ";".join(each.rows),
            ";".join(each.materials),
            each.rate_kg_per_ha,
            each.water_l_per_ha,
        )
        for each in season.sprays
    ]


def _rods(season: Season) -> _Table:
    return ("block", "row", "date", "insertions"), [
        (each.block, each.row, each.date.isoformat(), written_insertions(each.insertions)) for each in season.rods
    ]


def _weather(season: Season) -> _Table:
    """The readings of every station; which it is, the highest of each hour and the origin only where they tell something."""
    names = ("time", "temp_c", "rain_mm", "wet_frac", "rh_frac", "wind_ms", "wind_from_deg")
    stations = season.all_stations
    has_several = len(stations) > 1
    has_highest = any(np.isfinite(each.temp_max_degc).any() for each in stations)
    has_origins = any((each.origin != READ).any() for each in stations)
    lines: list[tuple[Cell, ...]] = []
    for weather in stations:
        # in UTC, so that no reader has to know the standard time it was written in
        columns: list[list[Cell]] = [[f"{np.datetime64(int(each), 's')}Z" for each in weather.time_utc]]
        columns += [_cells(getattr(weather, name)) for name in READING_COLUMNS]
        columns += [_cells(weather.temp_max_degc)] if has_highest else []
        columns += [[weather.station] * len(weather)] if has_several else []
        columns += [[ORIGIN_WORDS[code] for code in weather.origin]] if has_origins else []
        lines += zip(*columns, strict=True)
    more = (("temp_max_c", has_highest), ("station", has_several), ("origin", has_origins))
    return (*names, *(name for name, is_told in more if is_told)), lines


def _cells(column: Floats) -> list[Cell]:
    return [None if value != value else value for value in column.tolist()]


TABLES: dict[str, Callable[[Season], _Table]] = {
    "passes": _passes,
    "sprays": _sprays,
    "rods": _rods,
    "weather": _weather,
    "columns": _columns,
}
