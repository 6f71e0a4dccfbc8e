"""What makes the bunches of a block prone to rot on a day, and the risk that follows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from vinemap.columns import Floats, Ints
from vinemap.errors import TooFewData
from vinemap.ground.block import Block
from vinemap.season.value import Season
from vinemap.service.stage_facts import block_stage, main_variety, stages_by_day
from vinemap.vineclock.days import Days
from vinemap.vineclock.rot import Prone, RotDays, raised_by, rot_days
from vinemap.vineclock.scales import CLOSING
from vinemap.vineclock.warmth_sums import season_bounds
from vinemap.vineclock.weather import Weather
from vinemap.work.varieties import variety_named

Scars = Sequence[tuple[dt.date, float]]


def rot_of(weather: Weather | None) -> RotDays | None:
    """Risk of rot by day at a station, None where nothing tells it."""
    try:
        return rot_days(weather) if weather is not None and len(weather) else None
    except TooFewData:
        return None


def scars_by_block(season: Season) -> dict[str, Scars]:
    """Share of clusters with mildew in each round that looked at a block, by date; of random stops where there are any."""
    found: dict[str, list[tuple[dt.date, float]]] = {}
    for scouted in sorted(season.rounds, key=lambda each: each.date):
        stops = scouted.stops
        shares = []
        for chosen in (~stops.is_targeted, np.ones(len(stops), bool)):
            block, count = stops.block[chosen], len(stops.blocks)
            looked, sick = (np.bincount(block, each[chosen], count) for each in (stops.examined, stops.infected))
            shares.append(np.divide(sick, looked, out=np.full(count, np.nan), where=looked > 0))
        for name, random, every in zip(stops.blocks, *shares, strict=True):
            share = every if np.isnan(random) else random
            if not np.isnan(share):
                found.setdefault(name, []).append((scouted.date, float(share)))
    return {name: tuple(each) for name, each in found.items()}


def prone_on(block: Block, scars: Scars, date: dt.date) -> Prone:
    """What makes a block's bunches prone to rot on a day: its main variety, and the mildew of the last round before it."""
    variety = main_variety(block)
    known = variety_named(variety)
    seen = [each for each in scars if each[0] <= date]
    on, share = seen[-1] if seen else (None, None)
    return Prone(variety if known.is_known else "", known.rot, known.density, share, on)


def rot_risk(season: Season, block: Block, scars: Scars, rot: RotDays, days: Days | None) -> Floats:
    """The index of each day of ``rot`` (n,) as it stands in a block, raised by what makes its bunches prone; -inf for none.

    ``days``: of the block's station, by which its stage is dated where none was entered or seen.
    """
    number = stage_numbers(season, block.name, days, rot.date)
    edges = [int(rot.date[0]), *(date.toordinal() for date, _ in scars), int(rot.date[-1]) + 1] if len(rot) else []
    added = np.zeros(len(rot))
    for first, last in pairwise(edges):
        inside = (rot.date >= first) & (rot.date < last)
        added[inside], _ = raised_by(prone_on(block, scars, dt.date.fromordinal(first)))
    added[number < CLOSING] = 0.0
    return np.asarray(rot.index + added, np.float64)


def stage_numbers(season: Season, block: str, days: Days | None, ordinal: Ints) -> Floats:
    """The number in the modified E-L scale of a block on days (n,) [ordinal], each of its own season; NaN where not known."""
    number = np.full(len(ordinal), np.nan)
    at = 0
    while at < len(ordinal):
        _, last = season_bounds(dt.date.fromordinal(int(ordinal[at])), season.estate.frame.is_southern)
        end = int(np.searchsorted(ordinal, last.toordinal(), side="right"))
        number[at:end] = stages_by_day(block_stage(season, block, days, last), ordinal[at:end])
        at = end
    return number
