"""Where the vines of a block stand in the season: what was entered or seen, else estimated from warmth, else as usual."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from vinemap.columns import Floats
from vinemap.errors import TooFewData
from vinemap.ground.block import Block
from vinemap.season.value import BrixSeen, Season, StageDates, StageSeen
from vinemap.vineclock.days import Days
from vinemap.vineclock.scales import (
    COLOUR,
    GREEN_TIP,
    HALF_BLOOM,
    RIPE,
    SCALES,
    SOFTENING,
    modified_by_day,
    modified_of,
    usual_days,
)
from vinemap.vineclock.stage import BUDBREAK_DAYS, NO_INFECTION_BRIX, VERAISON_DAYS, day_of_brix
from vinemap.vineclock.warmth_sums import (
    BLOOM_DEGREE_DAYS,
    COLOUR_DEGREE_DAYS,
    season_bounds,
    stage_by_warmth,
)
from vinemap.work.conditions import Stage
from vinemap.work.varieties import Variety, variety_named

HARVEST_NORTH, HARVEST_SOUTH = (9, 15), (3, 15)
SOUTHERN_SEASON_FROM = 7
"""Harvest where none was entered; stated assumption."""

Seen = TypeVar("Seen", StageSeen, BrixSeen)

ENTERED, SEEN, WARMTH, EXPECTED, USUAL = "entered", "by a stage seen", "by warmth", "expected by warmth", "usual"
"""How a date is known, best first."""


@dataclass(frozen=True, slots=True)
class Dated:
    """A date, or None where nothing tells it, and how it is known; ``why`` there is none."""

    date: dt.date | None
    how: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class BlockStage:
    """The dates of growth of a block in one season, each with how it is known; what was ``seen`` and ``brix`` by date."""

    block: str
    variety: str
    budbreak: Dated
    bloom: Dated
    colour: Dated
    harvest: Dated
    seen: tuple[StageSeen, ...]
    brix: tuple[BrixSeen, ...]

    @property
    def closes(self) -> dt.date | None:
        """The day of 8 Brix by measurement; where less was measured last, no sooner than the day after that; else None."""
        dates = [each.date for each in self.brix]
        reached = day_of_brix(dates, [each.brix for each in self.brix], NO_INFECTION_BRIX)
        if reached is not None or not dates or self.colour.date is None or dates[-1] < self.colour.date:
            return reached
        return dates[-1] + dt.timedelta(days=1)


def main_variety(block: Block) -> str:
    """The variety that most of a block's vines are of."""
    codes = block.exceptions.variety[block.exceptions.variety >= 0]
    counts = np.bincount(codes, minlength=len(block.varieties))
    counts[0] += int(block.rows.vine_count.sum()) - len(codes)
    return block.varieties[int(np.argmax(counts))]


def budbreak_of(season: Season) -> dt.date | None:
    """The earliest budbreak that was entered."""
    return min((each.budbreak for each in season.stages if each.budbreak), default=None)


def block_stage(season: Season, block: str, days: Days | None, date: dt.date) -> BlockStage:
    """The dates of growth of a block in the season that a date lies in, from the days of its station.

    What was entered for the block comes first, then what was entered for all, then a stage that was seen, then warmth.
    """
    is_southern = season.estate.frame.is_southern
    first, last = season_bounds(date, is_southern)
    own, shared = (_dates_of(season, name) for name in (block, ""))

    def entered(name: str) -> dt.date | None:
        found = (getattr(own, name), getattr(shared, name))
        return next((each for each in found if each is not None and first <= each <= last), None)

    seen = _by_date((*shared.seen, *own.seen), first, last)
    here = season.block(block)
    variety = main_variety(here) if here is not None else ""
    known = variety_named(variety)
    bloom = _known(entered("bloom"), _bloom_seen(seen)) or _by_warmth(
        days, date, is_southern, known.bloom_sum or BLOOM_DEGREE_DAYS
    )
    harvest = entered("harvest")
    return BlockStage(
        block=block,
        variety=variety,
        budbreak=_known(entered("budbreak"), _budbreak_seen(seen, bloom.date)) or _after(bloom.date, BUDBREAK_DAYS),
        bloom=bloom,
        colour=_known(entered("veraison"), _colour_seen(seen)) or _colour(days, date, is_southern, known, bloom.date),
        harvest=Dated(harvest or usual_harvest(date, is_southern), ENTERED if harvest else USUAL),
        seen=seen,
        brix=_by_date((*shared.brix, *own.brix), first, last),
    )


def stage_of(season: Season, block: str, days: Days | None, date: dt.date) -> Stage:
    """Bloom, colour and harvest of a block, as the reckoning of work takes them."""
    found = block_stage(season, block, days, date)
    return Stage(
        bloom=found.bloom.date,
        is_bloom_estimated=found.bloom.date is not None and found.bloom.how != ENTERED,
        harvest=found.harvest.date or usual_harvest(date, season.estate.frame.is_southern),
        is_harvest_assumed=found.harvest.how != ENTERED,
        veraison=found.colour.date if found.colour.how != USUAL else None,
        closes=found.closes,
        budbreak=found.budbreak.date if found.budbreak.how != USUAL else None,
        bloom_source="from a stage that was seen" if found.bloom.how == SEEN else "from warmth",
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


def _dates_of(season: Season, block: str) -> StageDates:
    return next((each for each in season.stages if each.block == block), StageDates(block))


def _by_date(all_seen: tuple[Seen, ...], first: dt.date, last: dt.date) -> tuple[Seen, ...]:
    """Of one season, by date; of two on one day the later one of the list, which is the block's own."""
    by_day = {each.date: each for each in all_seen if first <= each.date <= last}
    return tuple(by_day[day] for day in sorted(by_day))


def _known(entered: dt.date | None, seen: Dated | None) -> Dated | None:
    return Dated(entered, ENTERED) if entered is not None else seen


def _numbers(seen: tuple[StageSeen, ...]) -> list[tuple[int, dt.date]]:
    # a season file may name a scale that is not known here: nothing is read into its numbers
    return [(modified_of(each.scale, each.number), each.date) for each in seen if each.scale in SCALES]


def _nearest(seen: tuple[StageSeen, ...], wanted: int, low: int, high: int) -> Dated | None:
    """The date of a stage by the stage seen nearest to it in usual time; itself seen, it is as good as entered."""
    found = [(number, date) for number, date in _numbers(seen) if low <= number <= high]
    if not found:
        return None
    away = {number: usual_days(number) - usual_days(wanted) for number, _ in found}
    number, date = min(found, key=lambda each: abs(away[each[0]]))
    return Dated(date - dt.timedelta(days=round(away[number])), ENTERED if number == wanted else SEEN)


def _bloom_seen(seen: tuple[StageSeen, ...]) -> Dated | None:
    return _nearest(seen, HALF_BLOOM, 15, 33)


def _colour_seen(seen: tuple[StageSeen, ...]) -> Dated | None:
    return _nearest(seen, COLOUR, SOFTENING, COLOUR)


def _budbreak_seen(seen: tuple[StageSeen, ...], bloom: dt.date | None) -> Dated | None:
    found = _nearest(seen, GREEN_TIP, 3, 12)
    return None if found is None or (bloom is not None and found.date is not None and found.date >= bloom) else found


def _by_warmth(days: Days | None, date: dt.date, is_southern: bool, critical: float) -> Dated:
    if days is None:
        return Dated(None, USUAL)
    try:
        found = stage_by_warmth(days, date, is_southern, critical)
    except TooFewData as error:
        return Dated(None, USUAL, error.what)
    if found.date is None:
        return Dated(None, USUAL, found.words)
    return Dated(found.date, WARMTH if found.is_reached else EXPECTED)


def _after(bloom: dt.date | None, days: float) -> Dated:
    return Dated(None if bloom is None else bloom + dt.timedelta(days=round(days)), USUAL)


def _colour(days: Days | None, date: dt.date, is_southern: bool, variety: Variety, bloom: dt.date | None) -> Dated:
    warm = _by_warmth(days, date, is_southern, variety.colour_sum or COLOUR_DEGREE_DAYS)
    # colour cannot come before the berries are half grown
    if warm.date is not None and (bloom is None or warm.date > bloom + dt.timedelta(days=VERAISON_DAYS / 2)):
        return warm
    return _after(bloom, VERAISON_DAYS)


def stages_by_day(found: BlockStage, ordinal: npt.ArrayLike) -> Floats:
    """The number in the modified E-L scale (n,) of a block on days (n,) [ordinal]; NaN where nothing tells it."""
    dated = ((HALF_BLOOM, found.bloom), (GREEN_TIP, found.budbreak), (COLOUR, found.colour), (RIPE, found.harvest))
    known = [(number, each.date, each.how) for number, each in dated if each.date is not None and each.how != USUAL]
    entered = [(number, date) for number, date, how in known if how == ENTERED]
    estimated = [(number, date) for number, date, how in known if how != ENTERED]
    in_order = [*entered, *_numbers(found.seen), *estimated]
    if not in_order:
        return np.full(np.shape(ordinal), np.nan)
    return modified_by_day(in_order, ordinal)
