"""Growth as a manager writes it. The estate is invented; its last known day is in 2031."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from ground_to_edit import season_to_edit

from vinemap.errors import InputError
from vinemap.ground.frame import Frame
from vinemap.season.typed_edits import looks_like_edit, typed_edit
from vinemap.season.value import BrixSeen, StageDates, StageSeen

JUNE_4 = dt.date(2031, 6, 4)


def after(text, season=None):
    return typed_edit(season or season_to_edit(), text, lambda lon, lat: (lon, lat))


def dates_of(done, block) -> StageDates:
    return next(each for each in done.season.stages if each.block == block)


@pytest.mark.parametrize(
    "text",
    [
        "bloom of Dogleg 28 May",
        "Dogleg bloom 28 May",
        "Dogleg: bloom was on 28 May 2031",
        "the date of bloom of dogleg is 2031-05-28",
        "flowering of Dogleg May 28, 2031",
        "full bloom in Dogleg on 28. May",
        "BLOOM OF DOGLEG 28 MAY.",
    ],
)
def test_bloom_in_many_words(text):
    assert looks_like_edit(season_to_edit(), text)
    done = after(text)
    assert dates_of(done, "Dogleg").bloom == dt.date(2031, 5, 28)
    assert done.said == ("Bloom of Dogleg is 28 May 2031.",)


@pytest.mark.parametrize(
    ("text", "field", "date"),
    [
        ("budbreak 2 April", "budbreak", dt.date(2031, 4, 2)),
        ("bud break 2 apr", "budbreak", dt.date(2031, 4, 2)),
        ("veraison of all blocks 30 July", "veraison", dt.date(2031, 7, 30)),
        ("colour 30 July", "veraison", dt.date(2031, 7, 30)),
        ("harvest is 20 September", "harvest", dt.date(2031, 9, 20)),
    ],
)
def test_without_a_block_all_are_meant(text, field, date):
    assert getattr(dates_of(after(text), ""), field) == date


@pytest.mark.parametrize(
    ("text", "scale", "number"),
    [
        ("Dogleg at E-L 27 on 4 June", "modified E-L", 27),
        ("E-L 27 in Dogleg on 4 June", "modified E-L", 27),
        ("Dogleg modified EL 27, 4 June", "modified E-L", 27),
        ("Dogleg at E-L 1977 33 on 4 June", "E-L 1977", 33),
        ("Dogleg is at BBCH 71 on 2031-06-04", "BBCH", 71),
        ("bbch 71 of Dogleg 4 June", "BBCH", 71),
    ],
)
def test_a_stage_keeps_its_scale(text, scale, number):
    done = after(text)
    assert looks_like_edit(season_to_edit(), text)
    assert dates_of(done, "Dogleg").seen == (StageSeen(JUNE_4, scale, number),)


def test_a_stage_is_told_by_name_and_the_trap_too():
    assert after("Dogleg at E-L 27 on 4 June").said == ("Dogleg: modified E-L 27 (fruit set) on 4 June 2031.",)
    assert "Write “E-L 1977 33” if that is meant." in after("Dogleg at E-L 33 on 4 July").said[0]
    entered = after("bloom of Dogleg 20 June").season
    assert "Check both." in after("Dogleg at E-L 31 on 4 June", entered).said[0]


@pytest.mark.parametrize(
    "text", ["Brix of Dogleg 8.5 on 3 August", "Dogleg 8,5 Brix on 3 August", "Dogleg: brix was 8.5, 2031-08-03"]
)
def test_brix(text):
    done = after(text)
    assert looks_like_edit(season_to_edit(), text)
    assert dates_of(done, "Dogleg").brix == (BrixSeen(dt.date(2031, 8, 3), 8.5),)
    assert "no new infection of fruit" in done.said[0]


def test_dates_that_are_there_stay_and_what_is_entered_can_be_forgotten():
    season = after("Dogleg at BBCH 71 on 4 June", after("bloom of Dogleg 28 May").season).season
    assert dates_of(after("bloom of Dogleg 30 May", season), "Dogleg").seen
    assert "It was 28 May 2031." in after("bloom of Dogleg 30 May", season).said[0]
    gone = after("forget bloom of Dogleg", season)
    assert dates_of(gone, "Dogleg").bloom is None
    assert dates_of(gone, "Dogleg").seen
    assert dates_of(after("forget stages of Dogleg", season), "Dogleg").seen == ()
    again = after("bloom of Dogleg 28 May", season)
    assert again.season is season
    assert again.said == ("Nothing changes: it is so already.",)
    with pytest.raises(InputError, match="Brix of Dogleg is not entered"):
        after("forget brix of Dogleg", season)


def test_south_of_the_equator_a_date_lies_in_the_season_that_goes_over_new_year():
    season = season_to_edit()
    south = replace(season.estate, frame=Frame("EPSG:32755", 500000.0, 6200000.0, -35.0, 147.0, 0.0))
    # the last day known is 20 May 2031: the season is from July 2030 to June 2031
    season = replace(season, estate=south, stages=())
    assert dates_of(after("bloom 20 November", season), "").bloom == dt.date(2030, 11, 20)
    assert dates_of(after("veraison 30 January", season), "").veraison == dt.date(2031, 1, 30)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Dogleg at BBCH 71", "on which day"),
        ("Dogleg at BBCH 40 on 4 June", "no stage of the vine"),
        ("bloom of Dogleg 31 June", "not in the calendar"),
        ("bloom of Dogleg 29 February", "not in the calendar"),
        ("bloom 1 March", "out of order"),
        ("brix 80 on 3 August", "no sugar of grapes"),
        ("Kestrel at E-L 27 on 4 June", "not understood"),
        ("bloom of Dogleg 5/6", "not understood"),
        ("bloom of Kestrel 28 May", "no block Kestrel"),
    ],
)
def test_what_can_not_be_is_refused(text, said):
    with pytest.raises(InputError, match=said):
        after(text)


def test_the_year_must_be_written_where_nothing_tells_it():
    season = replace(season_to_edit(), rounds=(), passes=(), sprays=(), stages=())
    with pytest.raises(InputError, match="in which year"):
        after("bloom 28 May", season)
    assert dates_of(after("bloom 28 May 2030", season), "").bloom == dt.date(2030, 5, 28)


def test_a_block_with_such_a_name_is_no_date():
    season = season_to_edit()
    blocks = (replace(season.blocks[0], name="Bloom Hill"), replace(season.blocks[1], name="B"))
    season = replace(season, blocks=blocks, rounds=(), passes=(), sprays=(), stages=())
    assert (
        dates_of(after("bloom of B 28 May 2031", season), "B").bloom == dates_of(after("bloom 28 May 2031", season), "").bloom
    )
    assert not looks_like_edit(season, "bloom hill")
    done = after("Bloom Hill row 3, vine 2 dead", season)
    assert done.season.stages == ()
    assert done.season.blocks[0] is not blocks[0]
