"""Parts of a season that stand around the vines: weather, tall edges, rods, and the rules that were chosen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

import numpy as np

from vinemap.canopy.rods import RodNote
from vinemap.columns import nothing
from vinemap.ground.edges import Edge
from vinemap.season.rules import Rules
from vinemap.vineclock.weather import ALL_COLUMNS, READING_COLUMNS, Weather

_Stored = tuple[dict[str, Any], dict[str, np.ndarray]]


def _pack_weather(weather: Weather) -> _Stored:
    fields: dict[str, Any] = {"station": weather.station, "offset_hours": weather.offset_hours}
    if weather.at_m is not None:
        fields["at_m"] = weather.at_m
    return fields, {name: getattr(weather, name) for name in ALL_COLUMNS}


def _unpack_weather(fields: dict[str, Any], columns: dict[str, np.ndarray]) -> Weather:
    at_m = fields.get("at_m")
    return Weather(
        fields["station"],
        fields["offset_hours"],
        **{name: columns[name] for name in ("time_utc", *READING_COLUMNS)},
        origin=columns.get("origin", nothing()),
        at_m=None if at_m is None else (float(at_m[0]), float(at_m[1])),
        temp_max_degc=columns.get("temp_max_degc", nothing()),
    )


def _pack_edge(edge: Edge) -> _Stored:
    return {"name": edge.name, "height_m": edge.height_m, "open_frac": edge.open_frac}, {"line_m": edge.line_m}


def _unpack_edge(fields: dict[str, Any], columns: dict[str, np.ndarray]) -> Edge:
    return Edge(fields["name"], columns["line_m"], fields["height_m"], fields["open_frac"])


def _pack_rod(rod: RodNote) -> _Stored:
    return asdict(rod) | {"date": rod.date.isoformat()}, {}


def _unpack_rod(fields: dict[str, Any], _: dict[str, np.ndarray]) -> RodNote:
    return RodNote(fields["block"], fields["row"], dt.date.fromisoformat(fields["date"]), tuple(fields["insertions"]))


def _pack_rules(rules: Rules) -> _Stored:
    return asdict(rules), {}


def _unpack_rules(fields: dict[str, Any], _: dict[str, np.ndarray]) -> Rules:
    return Rules(**fields | {"station_of": tuple((block, name) for block, name in fields["station_of"])})


SKY_KINDS: dict[str, tuple[Callable[[Any], _Stored], Callable[[dict[str, Any], dict[str, np.ndarray]], Any]]] = {
    "weather": (_pack_weather, _unpack_weather),
    "station": (_pack_weather, _unpack_weather),
    "edge": (_pack_edge, _unpack_edge),
    "rod": (_pack_rod, _unpack_rod),
    "rules": (_pack_rules, _unpack_rules),
}
"""By kind: to fields and columns, and back."""
