"""What a map leans on: other blocks and the round before when stops are few, and columns that help."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
import shapely
from scipy.special import expit

from vinemap.ground.block import Block, RowTable, VineExceptions
from vinemap.ground.covariates import Covariate, smoothed_at, value_at
from vinemap.ground.frame import Frame
from vinemap.ground.vines import place_vines
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.value import Estate, Season
from vinemap.service.answers import Answers, first_options, whole_options
from vinemap.service.helps import EDGE, VARIETY, drifts_of
from vinemap.service.leaning import FEW_STOPS
from vinemap.surface.field import BINOMIAL
from vinemap.surface.pattern import WEAK, pooled_habit

FRAME = Frame("EPSG:32610", 540_000.0, 4_250_000.0, 38.4, -122.5, 0.3)
ROWS, VINES_A_ROW = 24, 40


def block_of(name, east_m, varieties=("Chardonnay",), kinds=()):
    points = np.array([(east_m + 2.5 * row, y) for row in range(ROWS) for y in (0.0, 1.5 * (VINES_A_ROW - 1))])
    table = RowTable(
        tuple(str(row + 1) for row in range(ROWS)),
        points,
        np.arange(0, 2 * ROWS + 1, 2),
        np.full(ROWS, 1.5),
        np.full(ROWS, VINES_A_ROW),
    )
    other = np.array(kinds, int)
    exceptions = VineExceptions(other, np.zeros(len(other)), np.ones(len(other)))
    outline = shapely.box(east_m - 2, -2, east_m + 2.5 * ROWS, 1.5 * VINES_A_ROW + 2)
    return Block(name, outline, table, 2.5, 1.5, varieties, exceptions=exceptions)


def round_of(number, day, blocks, chosen, infected, examined=20):
    """A round of the chosen vines of every block, with so many clusters infected at each."""
    columns = [], [], [], [], []
    labels = []
    for index, (block, at) in enumerate(zip(blocks, chosen, strict=True)):
        vines = place_vines(block)
        labels += [block.rows.labels[row] for row in vines.row[at]]
        values = (np.full(len(at), index), vines.ordinal[at], vines.x_m[at], vines.y_m[at], infected[index])
        for column, value in zip(columns, values, strict=True):
            column.append(value)
    of_block, vine, x_m, y_m, hit = (np.concatenate(column) for column in columns)
    zeros = np.zeros(len(vine), int)
    names = tuple(block.name for block in blocks)
    looked = np.full(len(vine), examined)
    stops = Stops(names, of_block, tuple(labels), vine, x_m, y_m, looked, hit, zeros, zeros, zeros.astype(bool))
    return Round(number, day, "Ada", "", stops)


def hit_round_a_corner(block, at, rng):
    vines = place_vines(block)
    away_m = np.hypot(vines.x_m - vines.x_m[0], vines.y_m - vines.y_m[0])
    return rng.binomial(20, expit(0.5 - away_m / 12.0)[at])


@pytest.fixture(scope="module")
def season():
    rng = np.random.default_rng(4)
    blocks = (block_of("Many", 0.0), block_of("Few", 200.0))
    chosen = (np.arange(0, ROWS * VINES_A_ROW, 16), np.arange(5, ROWS * VINES_A_ROW, 120))
    rounds = []
    for number in (1, 2):
        # the block with few stops had many the first time
        at = (chosen[0], chosen[0] if number == 1 else chosen[1])
        hit = [hit_round_a_corner(block, each, rng) for block, each in zip(blocks, at, strict=True)]
        rounds.append(round_of(number, dt.date(2026, 6, 7 * number), blocks, at, hit))
    return Season(Estate("Invented", FRAME, -8.0), blocks, tuple(rounds))


def test_few_stops_lean_on_the_other_block_and_the_round_before_and_say_so(season):
    reads = Answers().reads(season, season.rounds[1])
    assert len(reads["Few"].stops) < FEW_STOPS <= len(reads["Many"].stops)
    assert season.rounds[1].stops.count_in("Few") == len(reads["Few"].stops)
    assert season.rounds[1].stops.count_in("elsewhere") == 0
    habit = reads["Few"].field.recipe.habit
    assert habit.source == "Many and this block in round 1"
    assert any("Many and this block in round 1" in note for note in reads["Few"].field.recipe.notes)
    assert reads["Many"].field.recipe.habit == WEAK
    # what was learned is surer than the weak prior, and never surer than blocks are alike
    assert all(one < weak for one, weak in zip(habit.sd, WEAK.sd, strict=True))
    assert all(one >= 0.5 * weak for one, weak in zip(habit.sd, WEAK.sd, strict=True))


def test_a_block_alone_leans_on_nothing(season):
    alone = replace(season, blocks=season.blocks[1:], rounds=season.rounds[1:])
    field = Answers().reads(alone, alone.rounds[0])["Few"].field
    assert field.recipe.habit == WEAK
    assert not any("Few stops" in note for note in field.recipe.notes)


def test_pooled_by_hand():
    learned = [((0.4, 1.0, 3.0, -0.5), (0.2, 0.75, 0.4, 0.2)), ((0.0, 0.0, 4.0, -0.7), (0.2, 0.75, 0.4, 0.2))]
    habit = pooled_habit(learned, "two")
    # alike in doubt, so the plain mean; 1 / (2 / (sd^2 + between^2)) + between^2 by hand
    np.testing.assert_allclose(habit.middle, (0.2, 0.5, 3.5, -0.6))
    between = 0.5 * np.array(WEAK.sd)
    sd = np.array(learned[0][1])
    np.testing.assert_allclose(habit.sd, np.minimum(np.sqrt(between**2 + (sd**2 + between**2) / 2), WEAK.sd))


def test_a_first_look_is_quick_and_says_that_it_is_one(season):
    answers = Answers()
    first = answers.reads(season, season.rounds[1], options=first_options(season))
    assert "First look" in first["Many"].field.recipe.notes[0]
    # nothing was learned yet that the block with few stops could lean on
    assert first["Few"].field.recipe.habit == WEAK
    assert len(first["Few"].field.recipe.notes) == 1
    assert not answers.has_reads(season, season.rounds[1])
    whole = answers.reads(season, season.rounds[1])
    assert "First look" not in " ".join(whole["Many"].field.recipe.notes)
    assert answers.has_reads(season, season.rounds[1])
    # near enough to look at: the same vines are bad
    assert np.corrcoef(first["Many"].field.incidence, whole["Many"].field.incidence)[0, 1] > 0.9


def test_a_column_that_drives_mildew_is_used_and_told():
    rng = np.random.default_rng(8)
    block = block_of("Home", 0.0)
    vines = place_vines(block)
    # patches of vigour that no stop's neighbour tells: every vine has its own
    vigour = rng.normal(0.0, 1.0, len(vines))
    places = np.column_stack([vines.x_m, vines.y_m])
    at = rng.choice(len(vines), 70, replace=False)
    hit = rng.binomial(20, expit(-2.0 + 1.5 * vigour))[at]
    scouted = round_of(1, dt.date(2026, 6, 7), (block,), (at,), [hit])
    columns = (
        Covariate("vigour", "vigour.csv", places, vigour),
        Covariate("noise", "n.csv", places, rng.normal(size=len(vines))),
    )
    season = Season(Estate("Invented", FRAME, -8.0), (block,), (scouted,), covariates=columns)
    options = replace(whole_options(season), method=BINOMIAL)
    truth = expit(-2.0 + 1.5 * vigour)
    fields = [
        Answers().reads(each, scouted, options=options)["Home"].field for each in (replace(season, covariates=()), season)
    ]
    tried = {one.name: one.is_used for one in fields[1].recipe.tried}
    assert tried["vigour"]
    assert not tried["noise"]
    without, with_it = (np.sqrt(((field.incidence - truth) ** 2).mean()) for field in fields)
    assert with_it < 0.5 * without


def test_variety_and_edge_are_there_for_every_vine():
    block = block_of("Home", 0.0, ("Chardonnay", "Zinfandel"), range(0, ROWS * VINES_A_ROW, 3))
    vines = place_vines(block)
    stops_m = np.column_stack([vines.x_m, vines.y_m])[[0, 1, 500]]
    drifts = {drift.name: drift for drift in drifts_of(block, vines, stops_m, ())}
    assert set(drifts) == {VARIETY, EDGE}
    np.testing.assert_array_equal(drifts[VARIETY].at_vines.sum(axis=1), 1.0)
    np.testing.assert_array_equal(drifts[VARIETY].at_stops[:, 1], [1.0, 0.0, 0.0])
    edge = drifts[EDGE].at_vines[:, 0]
    # vine 1 of row 1 stands 2 m from the outline, the middle of the block far inside
    assert edge[0] == pytest.approx(np.exp(-0.2))
    assert edge[0] > 3 * edge[ROWS * VINES_A_ROW // 2 + VINES_A_ROW // 2]


def test_notes_made_at_stops_are_told_to_all_vines_alike():
    noted = Covariate("canopy", "stops.csv", np.array([[0.0, 0.0], [10.0, 0.0], [20.0, 0.0]]), np.array([1.0, 3.0, 5.0]))
    # at its own place a note is not used: between the others by 1/distance, by hand (3/10 + 5/20) / (1/10 + 1/20)
    assert smoothed_at(noted, [[0.0, 0.0]])[0] == pytest.approx(11 / 3)
    assert smoothed_at(noted, [[10.0, 0.0]])[0] == pytest.approx(3.0)
    assert np.isnan(value_at(noted, np.array([[0.0, 5.1]]))[0])
    block = block_of("Home", 0.0)
    vines = place_vines(block)
    stops_m = np.column_stack([vines.x_m, vines.y_m])[::300]
    (drift,) = (each for each in drifts_of(block, vines, stops_m, (noted,)) if each.name == "canopy")
    assert np.isfinite(drift.at_stops).all()
    assert drift.at_vines.shape == (len(vines), 1)
    assert np.ptp(drift.at_vines) > 0.0


def test_a_column_that_knows_no_vine_is_left_out():
    block = block_of("Home", 0.0)
    vines = place_vines(block)
    far = Covariate("elsewhere", "f.csv", np.array([[9e3, 9e3]]), np.array([1.0]))
    assert EDGE in {drift.name for drift in drifts_of(block, vines, np.array([[0.0, 0.0], [30.0, 30.0]]), (far,))}
    assert "elsewhere" not in {drift.name for drift in drifts_of(block, vines, np.array([[0.0, 0.0], [30.0, 30.0]]), (far,))}
