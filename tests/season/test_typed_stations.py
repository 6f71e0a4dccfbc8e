"""Which station a block goes by, as it is written."""

from __future__ import annotations

from dataclasses import replace

import pytest
from ground_to_edit import season_to_edit

from vinemap.errors import InputError
from vinemap.season.typed_edits import looks_like_edit, typed_edit
from vinemap.season.weather_edits import with_station
from vinemap.vineclock.weather import Weather


def with_two(names=("hill", "Lower Valley")):
    season = replace(season_to_edit(), weather=None)
    for name in names:
        season = with_station(season, Weather(name, -8.0, [0], [20.0], [0], [0], [0], [0], [0]))
    return season


def do(season, text):
    return typed_edit(season, text, lambda lon, lat: (lon, lat))


@pytest.mark.parametrize("text", ["{} goes by station lower valley", "{} GOES BY the station Lower Valley."])
def test_a_block_goes_by_a_station_in_any_case_and_back(text):
    season = with_two()
    name = season.blocks[0].name
    done = do(season, text.format(name))
    assert done.said == (f"{name} goes by station Lower Valley now.",)
    assert done.season.weather_of(name).station == "Lower Valley"
    assert looks_like_edit(season, text.format(name))
    back = do(done.season, f"{name} goes by the first station")
    assert back.season.weather_of(name).station == "hill"
    assert do(season, f"{name} goes by the first station").season.weather_of(name).station == "hill"


def test_all_blocks_at_once_and_a_station_taken_out():
    season = with_two()
    done = do(season, "all blocks go by station Lower Valley")
    assert {done.season.weather_of(block.name).station for block in season.blocks} == {"Lower Valley"}
    gone = do(done.season, "remove station lower valley")
    assert [each.station for each in gone.season.all_stations] == ["hill"]
    assert {gone.season.weather_of(block.name).station for block in season.blocks} == {"hill"}
    assert "Station Lower Valley is removed" in gone.said[0]
    assert "go by hill now" in gone.said[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{} goes by station moon", "There is no station moon. The stations are: hill, Lower Valley."),
        ("Nowhere goes by station hill", "There is no block Nowhere"),
        ("remove station moon", "There is no station moon"),
    ],
)
def test_what_is_not_there_is_refused(text, words):
    season = with_two()
    with pytest.raises(InputError) as caught:
        do(season, text.format(season.blocks[0].name))
    assert words in str(caught.value)
