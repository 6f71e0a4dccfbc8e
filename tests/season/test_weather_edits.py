"""Edits of stations, rules, edges, stages, rods and the lie of a block. The estate is invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from ground_to_edit import season_to_edit

from vinemap.canopy.rods import RodNote
from vinemap.errors import InputError
from vinemap.ground.edges import Edge
from vinemap.season import weather_edits as edits
from vinemap.season.rules import Rules
from vinemap.season.value import BrixSeen, StageSeen
from vinemap.vineclock.weather import Weather

DAY = dt.date(2031, 6, 1)


def weather(station: str, *hours: int) -> Weather:
    return Weather(station, -8.0, np.array(hours) * 3600, *(np.zeros(len(hours)),) * 6)


def with_two():
    return edits.with_station(edits.with_station(season_to_edit(), weather("home", 1, 2)), weather("hill", 1, 2, 3))


def test_the_first_station_is_the_estates_and_a_second_stands_beside_it():
    season = with_two()
    assert [each.station for each in season.all_stations] == ["home", "hill"]
    again = edits.with_station(season, weather("hill", 5))
    assert [len(each) for each in again.all_stations] == [2, 1]
    assert again.weather is season.weather


def test_a_block_goes_by_the_station_chosen_for_it_until_that_is_gone():
    season = with_two()
    block = season.blocks[0].name
    chosen = edits.choose_station(season, block, "hill")
    assert chosen.weather_of(block).station == "hill"
    assert chosen.weather_of(season.blocks[-1].name).station == "home"
    back = edits.choose_station(chosen, block, "")
    assert back.weather_of(block).station == "home"
    gone = edits.without_station(chosen, "hill")
    assert gone.weather_of(block).station == "home"
    assert gone.goes_by.station_of == ()
    assert [each.station for each in edits.without_station(chosen, "home").all_stations] == ["hill"]


@pytest.mark.parametrize(
    "edit",
    [
        lambda season: edits.choose_station(season, season.blocks[0].name, "moon"),
        lambda season: edits.choose_station(season, "no block", "hill"),
        lambda season: edits.without_station(season, "moon"),
        lambda season: edits.with_station(season, weather("hill", 3, 2)),
        lambda season: edits.with_rules(season, replace(Rules(), heat="1876")),
        lambda season: edits.with_edges(season, [Edge("hedge", np.array([(0.0, 0.0)]), 3.0)]),
        lambda season: edits.with_edges(season, [Edge("hedge", np.array([(0.0, 0.0), (9.0, 0.0)]), -3.0)]),
        lambda season: edits.with_rods(season, [RodNote(season.blocks[0].name, "", DAY, ("LXC",))]),
        lambda season: edits.with_rods(season, [RodNote("no block", "", DAY, ("LC",))]),
        lambda season: edits.note_brix(season, "", BrixSeen(DAY, 80.0)),
        lambda season: edits.note_stage(season, "no block", StageSeen(DAY, "BBCH", 65)),
        lambda season: edits.note_stage(season, "", StageSeen(DAY, "BBCH", 40)),
        lambda season: edits.note_stage(season, "", StageSeen(DAY, "E-L", 33)),
        lambda season: edits.with_lie(season, season.blocks[0].name, 80.0, 0.0),
        lambda season: edits.with_wall(season, season.blocks[0].name, 1.0, 0.5, 2.0),
    ],
)
def test_what_can_not_be_is_refused(edit):
    with pytest.raises(InputError):
        edit(with_two())


def test_what_was_seen_is_kept_by_day_and_beside_the_dates():
    season = edits.note_stage(season_to_edit(), "", StageSeen(DAY, "BBCH", 65))
    season = edits.note_stage(season, "", StageSeen(DAY - dt.timedelta(9), "BBCH", 57))
    season = edits.note_stage(season, "", StageSeen(DAY, "modified E-L", 23))
    season = edits.note_brix(season, "", BrixSeen(DAY, 8.0))
    (dates,) = (each for each in season.stages if not each.block)
    assert [each.number for each in dates.seen] == [57, 23]
    assert dates.brix == (BrixSeen(DAY, 8.0),)


def test_rules_that_are_the_usual_ones_change_nothing():
    season = season_to_edit()
    assert edits.with_rules(season, Rules()) is season
    assert edits.with_rules(season, Rules(heat="2013")).goes_by.heat == "2013"


def test_the_lie_and_the_size_of_vines_are_the_blocks():
    season = season_to_edit()
    name = season.blocks[0].name
    made = edits.with_wall(edits.with_lie(season, name, 12.0, -90.0), name, 1.2, 1.5, 0.6)
    assert (made.blocks[0].slope_deg, made.blocks[0].aspect_deg) == (12.0, 270.0)
    assert (made.blocks[0].wall.top_m, made.blocks[0].wall.fruit_m) == (1.2, 0.6)
    assert made.blocks[0].rows is season.blocks[0].rows
