"""What makes the bunches of a block prone to rot on a day, and the worst that a week has brought."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

import numpy as np

from vinemap.errors import TooFewData
from vinemap.ground.block import Block
from vinemap.scouting.incidence import block_share
from vinemap.season.value import Season
from vinemap.service.stage_facts import block_stage, main_variety, stages_by_day
from vinemap.vineclock.days import Days
from vinemap.vineclock.rot import CLASS_FROM, Prone, RotDays, class_words, raised_by, rot_days
from vinemap.vineclock.stage import date_words
from vinemap.vineclock.weather import Weather
from vinemap.work.varieties import variety_named

WEEK_DAYS = 7

Scars = Sequence[tuple[dt.date, float]]


def rot_of(weather: Weather | None) -> RotDays | None:
    """Risk of rot by day at a station, None where nothing tells it."""
    try:
        return rot_days(weather) if weather is not None and len(weather) else None
    except TooFewData:
        return None


def scars_of(season: Season, block: str) -> Scars:
    """Share of clusters with mildew in each round of a block, by date; rounds that did not look there are left out."""
    found = []
    for scouted in sorted(season.rounds, key=lambda each: each.date):
        stops = scouted.stops.of_block(block)
        try:
            share = block_share(stops.examined, stops.infected, stops.is_targeted)
        except TooFewData:
            continue
        found.append((scouted.date, share.share))
    return tuple(found)


def prone_on(block: Block, scars: Scars, date: dt.date) -> Prone:
    """What makes a block's bunches prone to rot on a day: its main variety, and the mildew of the last round before it."""
    variety = main_variety(block)
    known = variety_named(variety)
    seen = [each for each in scars if each[0] <= date]
    on, share = seen[-1] if seen else (None, None)
    return Prone(variety if known.is_known else "", known.rot, known.density, share, on)


def rot_week_words(season: Season, date: dt.date, of_station: Mapping[str, tuple[RotDays | None, Days | None]]) -> str:
    """The worst day for bunch rot of the week that ends on a date, over all blocks, as one sentence; "" where there was none.

    ``of_station``: by block, what its station tells of rot and of warmth.
    """
    worst: tuple[float, str] = (CLASS_FROM[0], "")
    last = date.toordinal()
    for block in season.blocks:
        found, days = of_station.get(block.name, (None, None))
        if found is None:
            continue
        inside = np.flatnonzero((found.date <= last) & (found.date > last - WEEK_DAYS) & np.isfinite(found.index))
        if not len(inside):
            continue
        at = int(inside[np.argmax(found.index[inside])])
        on = dt.date.fromordinal(int(found.date[at]))
        number = float(stages_by_day(block_stage(season, block.name, days, on), [on.toordinal()])[0])
        added, _ = raised_by(prone_on(block, scars_of(season, block.name), on), None if np.isnan(number) else number)
        index = float(found.index[at])
        if index + added > worst[0]:
            risk = class_words(index + added, index + added)
            raised = f", raised from {class_words(index, index)}" if class_words(index, index) != risk else ""
            hours = f"wet {found.event_hours[at]:.0f} h at {found.event_degc[at]:.0f} °C"
            worst = (index + added, f"Bunch rot: {risk} risk in {block.name} on {date_words(on)} ({hours}{raised}).")
    return worst[1]
