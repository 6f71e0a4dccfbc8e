"""Edits of what stands around the vines: stations, rules, tall edges, stages that were seen, rods."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from vinemap.canopy.rods import RodNote
from vinemap.errors import InputError
from vinemap.ground.edges import Edge
from vinemap.season.edits import with_block, with_stages, with_weather
from vinemap.season.ground_edits import block_named
from vinemap.season.rules import BELIEFS, HEAT_RULES, INFECTION_RULES, Rules
from vinemap.season.value import BrixSeen, Season, StageDates, StageSeen
from vinemap.vineclock.scales import check_stage
from vinemap.vineclock.weather import Weather


def with_station(season: Season, weather: Weather) -> Season:
    """The season with the weather of one station, in place of what was there under its name, else beside the others.

    Raises InputError when the hours are not in order.
    """
    if season.weather is None or season.weather.station == weather.station:
        return with_weather(season, weather)
    if (np.diff(weather.time_utc) <= 0).any():
        raise InputError("The weather hours are not in order of time.", "Sort them, and keep one line for each hour.")
    known = any(each.station == weather.station for each in season.stations)
    if not known:
        return replace(season, stations=(*season.stations, weather))
    return replace(season, stations=tuple(weather if each.station == weather.station else each for each in season.stations))


def without_station(season: Season, name: str) -> Season:
    """The season without one station; the next one takes the place of the first. Raises InputError."""
    if all(each.station != name for each in season.all_stations):
        raise InputError(f"There is no station {name}.", f"The stations are {_names(season)}.")
    kept = [each for each in season.all_stations if each.station != name]
    chosen = tuple(pair for pair in season.goes_by.station_of if pair[1] != name)
    rules = replace(season.goes_by, station_of=chosen) if chosen != season.goes_by.station_of else season.rules
    return replace(season, weather=next(iter(kept), None), stations=tuple(kept[1:]), rules=rules)


def choose_station(season: Season, block: str, name: str) -> Season:
    """The season in which a block goes by a station, "" for the first one. Raises InputError."""
    block = block_named(season, block).name
    if name and all(each.station != name for each in season.all_stations):
        raise InputError(f"There is no station {name}.", f"The stations are {_names(season)}.")
    others = tuple(pair for pair in season.goes_by.station_of if pair[0] != block)
    return with_rules(season, replace(season.goes_by, station_of=(*others, (block, name)) if name else others))


def with_rules(season: Season, rules: Rules) -> Season:
    """The season that goes by these rules. Raises InputError for one that is not known."""
    for chosen, known in ((rules.heat, HEAT_RULES), (rules.infection, INFECTION_RULES), (rules.late_opening, BELIEFS)):
        if chosen not in known:
            raise InputError(f"“{chosen}” is not a rule.", f"Use one of {', '.join(known)}.")
    return season if rules == season.goes_by else replace(season, rules=rules)


def with_edges(season: Season, edges: Iterable[Edge]) -> Season:
    """The season with these tall edges instead of those it had. Raises InputError for one that can't be."""
    edges = tuple(edges)
    for each in edges:
        if len(each.line_m) < 2 or not np.isfinite(each.line_m).all():
            raise InputError(f"The edge {each.name} has no line.", "Draw it from one end to the other.")
        if not 0.0 < each.height_m <= 100.0 or not 0.0 <= each.open_frac <= 1.0:
            raise InputError(
                f"The edge {each.name} can't be {each.height_m:g} m high.",
                "Give metres, and how open it is from 0 to 1.",
            )
    return replace(season, edges=edges)


def note_stage(season: Season, block: str, seen: StageSeen) -> Season:
    """The season with a growth stage seen in a block, "" for all, in place of one of the same day. Raises InputError."""
    check_stage(seen.scale, seen.number)
    dates = _dates_of(season, block)
    kept = tuple(each for each in dates.seen if each.date != seen.date)
    return _with_dates(season, replace(dates, seen=tuple(sorted((*kept, seen), key=lambda each: each.date))))


def note_brix(season: Season, block: str, seen: BrixSeen) -> Season:
    """The season with sugar measured in a block, "" for all, in place of that of the same day. Raises InputError."""
    if not 0.0 <= seen.brix <= 45.0:
        raise InputError(f"{seen.brix:g} is no sugar of grapes.", "Give degrees Brix, 0 to 45.")
    dates = _dates_of(season, block)
    kept = tuple(each for each in dates.brix if each.date != seen.date)
    return _with_dates(season, replace(dates, brix=tuple(sorted((*kept, seen), key=lambda each: each.date))))


def with_rods(season: Season, rods: Iterable[RodNote]) -> Season:
    """The season with these notes of rods instead of those it had. Raises InputError for one of a block that is not there."""
    rods = tuple(rods)
    for each in rods:
        block_named(season, each.block)
        if any(set(insertion) - set("LC") for insertion in each.insertions):
            raise InputError(f"Rods of {each.block} hold other letters.", "Write L for a leaf, C for a cluster, G for a gap.")
    return replace(season, rods=rods)


def with_lie(season: Season, name: str, slope_deg: float, aspect_deg: float) -> Season:
    """The season with another slope [degrees] and its bearing down [degrees] for a block. Raises InputError."""
    block = block_named(season, name)
    if not 0.0 <= slope_deg <= 60.0 or not np.isfinite(aspect_deg):
        raise InputError(f"{slope_deg:g}° is no slope for vines.", "Give 0 to 60 degrees, and which way it falls.")
    return with_block(season, replace(block, slope_deg=slope_deg, aspect_deg=aspect_deg % 360.0))


def with_wall(season: Season, name: str, top_m: float, width_m: float, fruit_m: float) -> Season:
    """The season with another height, width and height of the fruit [m] for the vines of a block. Raises InputError."""
    block = block_named(season, name)
    if not (0.3 <= top_m <= 5.0 and 0.1 <= width_m <= 5.0 and 0.1 <= fruit_m <= top_m):
        raise InputError("Vines can't be of these sizes.", "Give metres: the top up to 5, the fruit below the top.")
    return with_block(season, replace(block, wall=replace(block.wall, top_m=top_m, width_m=width_m, fruit_m=fruit_m)))


def _dates_of(season: Season, block: str) -> StageDates:
    if block:
        block = block_named(season, block).name
    return next((each for each in season.stages if each.block == block), StageDates(block))


def _with_dates(season: Season, dates: StageDates) -> Season:
    others = [each for each in season.stages if each.block != dates.block]
    return with_stages(season, [*others, dates])


def _names(season: Season) -> str:
    return ", ".join(each.station for each in season.all_stations) or "none yet"
