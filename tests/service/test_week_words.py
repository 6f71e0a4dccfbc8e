"""What step Week says of the fruit once its sugar is measured. The estate is invented."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest
from stage_season_makers import season_with

from vinemap.season.value import BrixSeen, StageDates
from vinemap.service.pages import _stage_of_week
from vinemap.service.stage_facts import stage_of

BLOOM = dt.date(2031, 5, 28)


@pytest.mark.parametrize(
    ("brix", "first"),
    [
        ((), "Berries have resisted new infection since about 25 June."),
        ((BrixSeen(dt.date(2031, 8, 1), 6.0),), "Berries have resisted new infection since about 25 June."),
        ((BrixSeen(dt.date(2031, 8, 1), 9.0),), "Brix was 9.0 on 1 August, above 8 since about 1 August: no new infection"),
        ((BrixSeen(dt.date(2031, 8, 1), 16.0),), "Brix was 16.0 on 1 August, above 15 since about 1 August: colonies"),
        # measured after that week
        ((BrixSeen(dt.date(2031, 8, 20), 16.0),), "Berries have resisted"),
    ],
)
def test_sugar_takes_the_place_of_resistance_once_it_closes_the_fruit(brix, first):
    season = season_with((StageDates("", bloom=BLOOM, brix=brix),))
    date = dt.date(2031, 8, 10)
    days = {name: SimpleNamespace(stage=stage_of(season, name, None, date)) for name in "AB"}
    said = _stage_of_week(SimpleNamespace(days=days, date=date), season)
    assert said[0].startswith(first)
    assert "Opening now does nothing against mildew" in said[1]
    assert len(said) == 2
