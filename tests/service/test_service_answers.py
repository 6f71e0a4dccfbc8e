"""Answers: computed from every part of the season they depend on, whole for odd blocks, and with a chain that adds up."""

from __future__ import annotations

import datetime as dt
import threading
from dataclasses import replace

import numpy as np
import pytest
import shapely

from vinemap.ground.block import FREE, MISSING, WALL, Block, RowTable, VineExceptions
from vinemap.ground.frame import Frame
from vinemap.ground.vines import place_vines
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.value import Estate, Season, StageDates
from vinemap.service.answers import Answers
from vinemap.service.why import why_row

DAY = dt.date(2026, 6, 12)
FRAME = Frame("EPSG:32610", 540_000.0, 4_250_000.0, 38.4, -122.5, 0.3)
BLOOM = (StageDates("", bloom=dt.date(2026, 5, 29)),)


def block_of(rows=5, count=30, missing=(), training=WALL, varieties=("Chardonnay",)):
    points = np.array([(2.5 * row, y) for row in range(rows) for y in (0.0, 1.5 * count)])
    table = RowTable(
        tuple(str(row + 1) for row in range(rows)),
        points,
        np.arange(0, 2 * rows + 1, 2),
        np.full(rows, 1.5),
        np.full(rows, count),
    )
    gone = np.array(missing, int)
    exceptions = VineExceptions(gone, np.full(len(gone), MISSING), np.full(len(gone), -1))
    outline = shapely.box(-2, -2, 2.5 * rows + 2, 1.5 * count + 2)
    return Block("Home", outline, table, 2.5, 1.5, varieties, training, exceptions=exceptions)


def round_of(block, at, examined=10, infected=2):
    vines, at = place_vines(block), np.array(at, int)
    zeros = np.zeros(len(at), int)
    labels = tuple(block.rows.labels[row] for row in vines.row[at])
    counts = np.full(len(at), examined), np.full(len(at), infected)
    places = vines.ordinal[at], vines.x_m[at], vines.y_m[at]
    return Round(1, DAY, "S", "", Stops(("Home",), zeros, labels, *places, *counts, zeros, zeros, zeros.astype(bool)))


def season_of(block, scouted, stages=BLOOM):
    return Season(Estate("Invented", FRAME, -8.0), (block,), (scouted,), stages=stages)


ODD = {
    "one row": (block_of(1), [3, 12, 25], 10, 2, 1),
    "one vine": (block_of(1, 1), [0], 10, 2, 1),
    "one stop": (block_of(), [33], 10, 2, 5),
    "no stops": (block_of(), [], 10, 2, 0),
    "nothing examined": (block_of(), [3, 40], 0, 0, 0),
    "all clean": (block_of(), range(0, 150, 9), 10, 0, 5),
    "all infected": (block_of(), range(0, 150, 9), 10, 10, 5),
    "a dead row": (block_of(missing=range(30, 60)), range(0, 150, 9), 10, 2, 4),
    "dead ends": (block_of(missing=[*range(10), *range(50, 60)]), range(0, 150, 9), 10, 2, 5),
    "no living vine": (block_of(missing=range(150)), range(0, 150, 9), 10, 2, 0),
    "free-standing": (block_of(training=FREE), range(0, 150, 9), 10, 2, 5),
}


@pytest.mark.parametrize("stages", [BLOOM, ()], ids=["bloom", "no bloom"])
@pytest.mark.parametrize("case", ODD)
def test_odd_blocks_are_ranked_whole_and_their_chain_adds_up(case, stages):
    block, at, examined, infected, rows = ODD[case]
    scouted = round_of(block, at, examined, infected)
    season = season_of(block, scouted, stages)
    ranking = Answers().ranking(season, scouted)
    assert (len(ranking.opening), len(ranking.spraying)) == (rows, rows)
    assert (ranking.reads["Home"].field is None) == (case in ("no stops", "nothing examined"))
    for work in ranking.opening + ranking.spraying:
        assert work.clusters == pytest.approx(work.here + work.around - work.burned)
        assert work.here == pytest.approx((work.left - work.worked) * work.vines * season.assumptions.clusters_per_vine)
        assert 0.0 <= work.low <= work.clusters * (1 + 1e-12)
        assert work.clusters <= work.high * (1 + 1e-12)
        assert work.hours > 0.0
        assert not any("nan" in fact.value for fact in why_row(work, ranking, season.assumptions).facts)


def test_nothing_that_moves_the_order_is_answered_from_an_older_season():
    block = block_of()
    scouted = round_of(block, range(0, 150, 9))
    season, answers = season_of(block, scouted), Answers()
    known = answers.ranking(season, scouted)
    assert answers.ranking(replace(season, rounds=()), scouted) is known
    estate = replace(season.estate, offset_hours=-7.0)
    assumptions = replace(season.assumptions, crew_hours=1.0)
    for changed in (
        replace(season, estate=estate),
        replace(season, assumptions=assumptions),
        replace(season, stages=()),
        replace(season, blocks=(replace(block, vigour=0.9),)),
    ):
        assert not answers.has_ranking(changed, scouted)
        assert answers.ranking(changed, scouted) is not known


def test_two_who_ask_at_once_get_one_answer():
    block = block_of()
    scouted = round_of(block, range(0, 150, 9))
    answers, season = Answers(), season_of(block, scouted)
    meet, got = threading.Barrier(2, timeout=10.0), []

    def ask():
        # both are inside the making before either has made it
        got.append(answers._once(("met",), lambda: (meet.wait(), object())[1]))

    threads = [threading.Thread(target=ask) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(10.0)
    assert len(got) == 2
    assert got[0] is got[1]
    assert answers.ranking(season, scouted) is answers.ranking(season, scouted)


def test_the_variety_of_a_row_is_that_of_its_living_vines():
    """A span without a living vine grows nothing, and must not make the rest of the row look less prone."""
    block = block_of(missing=range(10, 20))
    scouted = round_of(block, range(0, 150, 9))
    season = season_of(block, scouted)
    ranking = Answers().ranking(season, scouted)
    work = next(each for each in ranking.opening if each.row == 0)
    assert (work.first_vine, work.last_vine, work.vines) == (1, 30, 20)
    facts = {fact.label: fact.value for fact in why_row(work, ranking, season.assumptions).facts}
    assert facts["variety, against the most prone"] == "100 %"
