"""Where the vines of a block stand in the season: dates that were entered, else estimated or assumed."""

from __future__ import annotations

import datetime as dt

from vinemap.season.value import Season, StageDates
from vinemap.work.conditions import Stage

HARVEST_NORTH, HARVEST_SOUTH = (9, 15), (3, 15)
SOUTHERN_SEASON_FROM = 7
"""Harvest where none was entered; stated assumption."""


def _dates_for(season: Season, block: str) -> StageDates | None:
    """Dates entered for the block, else for all blocks."""
    named = [each for each in season.stages if each.block == block]
    general = [each for each in season.stages if not each.block]
    return next(iter(named or general), None)


def budbreak_of(season: Season) -> dt.date | None:
    """The earliest budbreak that was entered."""
    return min((each.budbreak for each in season.stages if each.budbreak), default=None)


def stage_of(season: Season, block: str, warm_bloom: dt.date | None, date: dt.date) -> Stage:
    """Bloom and harvest of a block: as entered for it, else as entered for all, else as estimated or assumed."""
    own = _dates_for(season, block)
    shared = _dates_for(season, "")
    bloom = (own.bloom if own else None) or (shared.bloom if shared else None)
    harvest = (own.harvest if own else None) or (shared.harvest if shared else None)
    veraison = (own.veraison if own else None) or (shared.veraison if shared else None)
    assumed = harvest is None
    return Stage(
        bloom=bloom or warm_bloom,
        is_bloom_estimated=bloom is None and warm_bloom is not None,
        harvest=harvest or usual_harvest(date, season.estate.frame.is_southern),
        is_harvest_assumed=assumed,
        veraison=veraison,
    )


def usual_harvest(date: dt.date, is_southern: bool) -> dt.date:
    """The usual day of harvest of the season that a date lies in: mid September in the north, mid March in the south."""
    if not is_southern:
        return dt.date(date.year, *HARVEST_NORTH)
    return dt.date(date.year + (date.month >= SOUTHERN_SEASON_FROM), *HARVEST_SOUTH)


def next_harvest(date: dt.date, is_southern: bool) -> dt.date:
    """The usual day of harvest that comes next."""
    this = usual_harvest(date, is_southern)
    return this if this >= date else this.replace(year=this.year + 1)
