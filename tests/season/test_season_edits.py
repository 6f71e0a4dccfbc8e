from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import fields, replace
from itertools import chain

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.ground.block import DEAD, LIVING, MISSING, REPLANT, Block, RowTable
from vinemap.ground.frame import Frame
from vinemap.ground.vines import place_vines
from vinemap.scouting.rounds import Round, Stops
from vinemap.season import edits
from vinemap.season.value import Estate, Season, StageDates
from vinemap.vineclock.weather import Weather
from vinemap.work.assumptions import Assumptions
from vinemap.work.diary import Pass, Spray

DAY = dt.date(2031, 5, 20)
FRAME = Frame("EPSG:32610", 0.0, 0.0, 38.0, -122.0, 0.0)
VINES = (12, 7, 9)


def block(name: str) -> Block:
    xy = np.array([[2.5 * row, y] for row in range(3) for y in (0.0, 20.0)])
    rows = RowTable(("1", "2", "2a"), xy, np.array([0, 2, 4, 6]), np.ones(3), np.array(VINES))
    return Block(name, shapely.box(-1, -1, 6, 21), rows, 2.5, 1.0, ("red", "white"))


def scouted(number: int, name: str = "A", infected: int = 3, leaves: int = 0) -> Round:
    stops = Stops((name,), [0], ("2",), [4], [2.5], [3.0], [20], [infected], [0], [leaves], [False])
    return Round(number, DAY, "scout", "", stops)


def weather(*hours: int) -> Weather:
    return Weather("w", -8.0, np.array(hours) * 3600, *(np.zeros(len(hours)),) * 6)


OPENED = Pass(DAY, "A", ("1", "2a"), "F", "east", 2, 3.0)
SPRAYED = Spray(dt.datetime(2031, 5, 20, 6), dt.datetime(2031, 5, 20, 8), "A", (), ("sulfur",), 5.0, 600.0)
SEASON = Season(Estate("Invented", FRAME, -8.0, True), (block("A"), block("B")), (scouted(2),), weather=weather(1, 2))

GOOD: list[tuple[Callable[[Season], Season], set[str]]] = [
    (lambda season: edits.with_estate(season, replace(season.estate, name="Other")), {"estate"}),
    (lambda season: edits.with_blocks(season, [season.blocks[0]]), {"blocks"}),
    (lambda season: edits.with_block(season, block("C")), {"blocks"}),
    (lambda season: edits.with_block(season, block("A")), {"blocks"}),
    (lambda season: edits.without_block(season, "B"), {"blocks"}),
    (lambda season: edits.with_round(season, scouted(1)), {"rounds"}),
    (lambda season: edits.with_round(season, scouted(2, "B")), {"rounds"}),
    (lambda season: edits.without_round(season, 2), {"rounds"}),
    (lambda season: edits.with_weather(season, weather(5, 6, 7)), {"weather"}),
    (lambda season: edits.with_weather(season, None), {"weather"}),
    (lambda season: edits.with_passes(season, [OPENED]), {"passes"}),
    (lambda season: edits.with_sprays(season, [SPRAYED]), {"sprays"}),
    (lambda season: edits.with_stages(season, [StageDates("A", bloom=DAY), StageDates("")]), {"stages"}),
    (lambda season: edits.with_assumptions(season, Assumptions(threshold=0.0)), {"assumptions"}),
    (lambda season: edits.mark_vines(season, "A", "2", 3, 5, DEAD), {"blocks"}),
    (lambda season: edits.mark_variety(season, "A", "2", 3, 5, "white"), {"blocks"}),
]


@pytest.mark.parametrize(("edit", "touched"), GOOD)
def test_an_edit_changes_its_part_and_shares_the_rest(edit: Callable[[Season], Season], touched: set[str]) -> None:
    after = edit(SEASON)
    changed = {field.name for field in fields(Season) if getattr(after, field.name) is not getattr(SEASON, field.name)}
    assert changed == touched


NOTHING: list[Callable[[Season], Season]] = [
    lambda season: edits.with_estate(season, replace(season.estate)),
    lambda season: edits.with_blocks(season, list(season.blocks)),
    lambda season: edits.with_block(season, season.blocks[1]),
    lambda season: edits.with_round(season, season.rounds[0]),
    lambda season: edits.with_weather(season, season.weather),
    lambda season: edits.with_passes(season, []),
    lambda season: edits.with_sprays(season, []),
    lambda season: edits.with_stages(season, []),
    lambda season: edits.with_assumptions(season, Assumptions()),
    lambda season: edits.mark_vines(season, "A", "2", 3, 5, LIVING),
    lambda season: edits.mark_variety(season, "A", "2", 3, 5, "red"),
]


@pytest.mark.parametrize("edit", NOTHING)
def test_an_edit_that_changes_nothing_gives_back_the_same_season(edit: Callable[[Season], Season]) -> None:
    assert edit(SEASON) is SEASON


def with_work(season: Season) -> Season:
    season = edits.with_passes(season, [replace(OPENED, block="B")])
    return edits.with_stages(season, [StageDates("B", bloom=DAY)])


BAD: list[tuple[Callable[[Season], Season], str]] = [
    (
        lambda season: edits.with_estate(season, replace(season.estate, frame=replace(FRAME, origin_x_m=9.0))),
        "map frame can't",
    ),
    (lambda season: edits.with_estate(season, replace(season.estate, name=" ")), "estate has no name"),
    (lambda season: edits.with_blocks(season, [block("A"), block("A")]), "more than one block A"),
    (lambda season: edits.with_blocks(season, [block("A"), block("")]), "block has no name"),
    (
        lambda season: edits.with_block(season, replace(block("C"), rows=replace(block("C").rows, labels=("1", "1", "2")))),
        "more than one row of block C 1",
    ),
    (lambda season: edits.without_block(season, "A"), "Block A is still named by round 2"),
    (lambda season: edits.without_block(with_work(season), "B"), "Block B is still named by the pass of 2031-05-20"),
    (lambda season: edits.without_block(season, "Z"), "There is no block Z"),
    (lambda season: edits.with_round(season, scouted(0)), "0 is not the number of a round"),
    (lambda season: edits.with_round(season, scouted(3, "Z")), "Block Z, named by round 3, is not in this season"),
    (lambda season: edits.with_round(season, scouted(3, infected=21)), "A / 2 / 4 more is infected than was examined"),
    (lambda season: edits.with_round(season, scouted(3, infected=-1)), "A / 2 / 4 more is infected"),
    (lambda season: edits.with_round(season, scouted(3, leaves=1)), "A / 2 / 4 more is infected"),
    (lambda season: edits.without_round(season, 1), "There is no round 1"),
    (lambda season: edits.with_weather(season, weather(2, 1)), "not in order of time"),
    (lambda season: edits.with_weather(season, weather(2, 2)), "not in order of time"),
    (lambda season: edits.with_passes(season, [replace(OPENED, block="Z")]), "Block Z, named by the pass of 2031-05-20"),
    (lambda season: edits.with_passes(season, [replace(OPENED, rows=("1", "9"))]), "Row 9, named by the pass"),
    (lambda season: edits.with_passes(season, [replace(OPENED, kind="X")]), "“X” in the pass"),
    (lambda season: edits.with_passes(season, [replace(OPENED, people=0)]), "people or hours"),
    (lambda season: edits.with_passes(season, [replace(OPENED, hours=float("nan"))]), "people or hours"),
    (
        lambda season: edits.with_sprays(season, [replace(SPRAYED, end=dt.datetime(2031, 5, 20, 5))]),
        "The spray .* ends before",
    ),
    (lambda season: edits.with_sprays(season, [replace(SPRAYED, materials=())]), "names no material"),
    (lambda season: edits.with_sprays(season, [replace(SPRAYED, water_l_per_ha=-1.0)]), "rate or water"),
    (lambda season: edits.with_sprays(season, [replace(SPRAYED, block="Z")]), "Block Z, named by the spray"),
    (lambda season: edits.with_stages(season, [StageDates("A"), StageDates("A")]), "more than one set of dates for block A"),
    (lambda season: edits.with_stages(season, [StageDates("Z")]), "Block Z, named by the dates"),
    (
        lambda season: edits.with_stages(season, [StageDates("", budbreak=DAY, harvest=DAY)]),
        "for all blocks are out of order",
    ),
    (lambda season: edits.with_assumptions(season, Assumptions(spray_effect=1.1)), "1.1 can't be used for “spray effect”"),
    (lambda season: edits.with_assumptions(season, Assumptions(sprayer_kmh=0.0)), "“sprayer kmh”. Give a figure above 0"),
    (lambda season: edits.with_assumptions(season, Assumptions(kg_per_cluster=float("inf"))), "inf can't be used"),
    (lambda season: edits.mark_vines(season, "A", "7", 1, 1, DEAD), "Block A has no row 7"),
    (lambda season: edits.mark_vines(season, "A", "2", 0, 1, DEAD), "has no vines 0 to 1. Its vines are 1 to 7"),
    (lambda season: edits.mark_vines(season, "A", "2", 7, 8, DEAD), "has no vines 7 to 8"),
    (lambda season: edits.mark_vines(season, "A", "2", 5, 4, DEAD), "has no vines 5 to 4"),
    (lambda season: edits.mark_vines(season, "A", "2", 1, 1, 4), "not how a vine can be"),
    (lambda season: edits.mark_variety(season, "A", "2", 1, 1, "blue"), "does not list blue. It lists red, white"),
]


@pytest.mark.parametrize(("edit", "told"), BAD)
def test_misuse_is_told_in_plain_words(edit: Callable[[Season], Season], told: str) -> None:
    with pytest.raises(InputError, match=told) as error:
        edit(SEASON)
    assert error.value.do


def test_rounds_stay_in_order_and_a_number_is_there_once() -> None:
    season = SEASON
    for number in (5, 1, 3, 5):
        season = edits.with_round(season, scouted(number))
    assert [each.number for each in season.rounds] == [1, 2, 3, 5]


def test_a_block_keeps_its_place_when_it_is_replaced() -> None:
    season = edits.with_block(SEASON, block("A"))
    assert [each.name for each in season.blocks] == ["A", "B"]
    assert season.blocks[1] is SEASON.blocks[1]


def test_the_map_frame_can_be_chosen_while_nothing_is_on_it() -> None:
    empty = Season(SEASON.estate)
    moved = edits.with_estate(empty, replace(empty.estate, frame=replace(FRAME, origin_x_m=9.0)))
    assert moved.estate.frame.origin_x_m == 9.0


deeds = st.lists(
    st.tuples(
        st.integers(0, 2), st.integers(1, 7), st.integers(0, 4), st.sampled_from([LIVING, MISSING, REPLANT, "red", "white"])
    ),
    max_size=8,
)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(deeds)
def test_any_marks_read_back_as_a_plain_table_says(run: list[tuple[int, int, int, int | str]]) -> None:
    season = SEASON
    status = [[LIVING] * count for count in VINES]
    variety = [[0] * count for count in VINES]
    labels = SEASON.blocks[0].rows.labels
    for row, first, more, mark in run:
        last = min(first + more, VINES[row])
        for vine in range(first - 1, last):
            if isinstance(mark, int):
                status[row][vine] = mark
            else:
                variety[row][vine] = ("red", "white").index(mark)
        if isinstance(mark, int):
            season = edits.mark_vines(season, "A", labels[row], first, last, mark)
        else:
            season = edits.mark_variety(season, "A", labels[row], first, last, mark)
    vines = place_vines(season.blocks[0])
    states, varieties = list(chain.from_iterable(status)), list(chain.from_iterable(variety))
    assert vines.status.tolist() == states
    assert vines.variety.tolist() == varieties
    assert (np.diff(season.blocks[0].exceptions.vine) > 0).all()
    plain = sum(state == LIVING and sort == 0 for state, sort in zip(states, varieties, strict=True))
    assert len(season.blocks[0].exceptions.vine) == sum(VINES) - plain
