"""Where a block stands: entered, seen, by warmth, usual. Estates and weather are invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from stage_season_makers import season_with

from vinemap.ground.block import VineExceptions
from vinemap.season.value import BrixSeen, StageDates, StageSeen
from vinemap.service.stage_facts import (
    ENTERED,
    EXPECTED,
    SEEN,
    USUAL,
    WARMTH,
    Dated,
    block_stage,
    main_variety,
    stage_of,
)
from vinemap.vineclock.days import split_days
from vinemap.vineclock.weather import Weather

JUNE = dt.date(2031, 6, 10)
BLOOM = dt.date(2031, 5, 28)


def steady_days(first: dt.date, count: int, degc: float):
    start = (first.toordinal() - dt.date(1970, 1, 1).toordinal()) * 86_400
    hours = 24 * count
    return split_days(
        Weather("invented", 0.0, start + 3600 * np.arange(hours), np.full(hours, degc), *[np.full(hours, np.nan)] * 5)
    )


def stages(*given: StageDates):
    return season_with(stages=given)


def test_what_is_entered_for_the_block_goes_before_what_is_entered_for_all():
    season = stages(StageDates("", bloom=BLOOM, harvest=dt.date(2031, 9, 20)), StageDates("A", bloom=dt.date(2031, 6, 2)))
    found = block_stage(season, "A", None, JUNE)
    assert (found.bloom.date, found.bloom.how) == (dt.date(2031, 6, 2), ENTERED)
    assert found.harvest.date == dt.date(2031, 9, 20)
    assert (found.colour.date, found.colour.how) == (dt.date(2031, 6, 2) + dt.timedelta(days=63), USUAL)
    assert (found.budbreak.date, found.budbreak.how) == (dt.date(2031, 4, 3), USUAL)
    assert block_stage(season, "B", None, JUNE).bloom.date == BLOOM


def test_a_stage_that_was_seen_tells_bloom_better_than_warmth():
    # Fruit set is usually eight days after half bloom (from memory).
    season = stages(StageDates("A", seen=(StageSeen(dt.date(2031, 6, 5), "BBCH", 71),)))
    days = steady_days(dt.date(2031, 3, 1), 110, 12.0)
    found = block_stage(season, "A", days, JUNE)
    assert (found.bloom.date, found.bloom.how) == (BLOOM, SEEN)
    assert stage_of(season, "A", days, JUNE).bloom_source == "from a stage that was seen"
    # half bloom itself, seen, is its date
    season = stages(StageDates("A", seen=(StageSeen(BLOOM, "modified E-L", 23), StageSeen(JUNE, "BBCH", 71))))
    assert block_stage(season, "A", days, JUNE).bloom.how == ENTERED
    assert not stage_of(season, "A", days, JUNE).is_bloom_estimated


def test_33_of_1977_is_read_as_what_it_means():
    # Bunch closure (1977: 33) is usually 35 days after bloom, hard green berries (modified: 33) 45 days.
    seen_on = dt.date(2031, 7, 12)
    old, new = (
        block_stage(stages(StageDates("A", seen=(StageSeen(seen_on, scale, 33),))), "A", None, seen_on).bloom.date
        for scale in ("E-L 1977", "modified E-L")
    )
    assert (old - new).days == 10


def test_warmth_by_variety_where_nothing_was_entered_or_seen():
    # 1217 degC days for Chardonnay and 1299 for Cabernet Sauvignon (Parker et al. 2011): at 13 degC 94 and 100 days.
    days = steady_days(dt.date(2031, 3, 1), 260, 13.0)
    chardonnay = season_with(varieties=("Chardonnay",))
    cabernet = season_with(varieties=("Cabernet Sauvignon",))
    first = dt.date(2031, 3, 1)
    assert block_stage(chardonnay, "A", days, JUNE).bloom == Dated(first + dt.timedelta(days=93), WARMTH)
    assert block_stage(cabernet, "A", days, JUNE).bloom == Dated(first + dt.timedelta(days=99), WARMTH)
    # 2547 degC days to colour are 196 days.
    assert block_stage(chardonnay, "A", days, JUNE).colour == Dated(first + dt.timedelta(days=195), WARMTH)
    early = steady_days(first, 80, 13.0)
    assert block_stage(chardonnay, "A", early, JUNE).bloom == Dated(first + dt.timedelta(days=93), EXPECTED)
    assert block_stage(chardonnay, "A", None, JUNE).bloom.date is None


def test_dates_of_another_season_do_not_count():
    season = stages(StageDates("A", bloom=dt.date(2030, 5, 28)))
    assert block_stage(season, "A", None, JUNE).bloom.date is None
    assert block_stage(season, "A", None, dt.date(2030, 12, 31)).bloom.date == dt.date(2030, 5, 28)


def test_south_of_the_equator_the_season_goes_over_new_year():
    season = season_with(is_southern=True, stages=(StageDates("A", bloom=dt.date(2031, 11, 20)),))
    for date in (dt.date(2031, 12, 1), dt.date(2032, 2, 1), dt.date(2032, 6, 30)):
        found = block_stage(season, "A", None, date)
        assert (found.bloom.date, found.harvest.date) == (dt.date(2031, 11, 20), dt.date(2032, 3, 15))
    assert block_stage(season, "A", None, dt.date(2032, 7, 1)).bloom.date is None
    days = steady_days(dt.date(2031, 8, 30), 150, 13.0)
    warm = season_with(is_southern=True, varieties=("Chardonnay",))
    assert block_stage(warm, "A", days, dt.date(2032, 1, 20)).bloom.date == dt.date(2031, 8, 30) + dt.timedelta(days=93)


@pytest.mark.parametrize(
    ("brix", "closes"),
    [
        ([], None),
        ([(dt.date(2031, 7, 20), 4.0)], None),
        # below 8 after the usual day of colour (30 July): open until the next day at least
        ([(dt.date(2031, 8, 4), 7.0)], dt.date(2031, 8, 5)),
        ([(dt.date(2031, 8, 4), 6.0), (dt.date(2031, 8, 14), 10.0)], dt.date(2031, 8, 9)),
    ],
)
def test_sugar_measured_closes_the_fruit(brix, closes):
    season = stages(StageDates("A", bloom=BLOOM, brix=tuple(BrixSeen(*each) for each in brix)))
    stage = stage_of(season, "A", None, JUNE)
    assert stage.closes == closes
    assert stage.veraison_days(28.0) == ((closes - BLOOM).days if closes else 63.0)


def test_budbreak_entered_moves_the_beginning_of_the_window():
    season = stages(StageDates("A", budbreak=dt.date(2031, 4, 13), bloom=BLOOM))
    assert stage_of(season, "A", None, JUNE).budbreak_days() == -45.0
    assert stage_of(stages(StageDates("A", bloom=BLOOM)), "A", None, JUNE).budbreak_days() == -60.0


def test_the_main_variety_is_the_one_of_most_vines():
    season = season_with(varieties=("Merlot", "Syrah"))
    block = season.blocks[0]
    assert main_variety(block) == "Merlot"
    total = int(block.rows.vine_count.sum())
    others = VineExceptions(np.arange(total - 1), np.zeros(total - 1), np.ones(total - 1))
    assert main_variety(replace(block, exceptions=others)) == "Syrah"
