"""What the page says of how good a map is, in the words a grower reads."""

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from vinemap.ground.block import Block
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.vines import place_vines
from vinemap.scouting.rounds import Round, Stops
from vinemap.service.answers import read_block
from vinemap.service.how_good import how_good, how_good_page, how_good_plan, inside_words
from vinemap.surface.calibration import Inside
from vinemap.surface.drifts import Tried
from vinemap.surface.field import FieldOptions
from vinemap.surface.pattern import Habit

OUTLINE = shapely.box(0, 0, 60, 75)
BLOCK = Block("Home", OUTLINE, make_rows(OUTLINE, 0.0, 2.5, 1.5), 2.5, 1.5)
VINES = place_vines(BLOCK)
ESTATE = SimpleNamespace(name="Invented", is_invented=True)
PRINTED = dt.datetime(2026, 6, 2, 18, 0)


def read_with(vines, infected):
    """A round of 20 clusters at each of some vines (by index), and the block read from it."""
    zeros = np.zeros(len(vines), int)
    labels = tuple(BLOCK.rows.labels[row] for row in VINES.row[vines])
    places = (VINES.x_m[vines], VINES.y_m[vines])
    stops = Stops(
        ("Home",), zeros, labels, VINES.ordinal[vines], *places, zeros + 20, np.array(infected, int), zeros, zeros, zeros > 0
    )
    scouted = Round(3, dt.date(2026, 6, 1), "Ada", "", stops)
    return read_block(BLOCK, VINES, scouted, FieldOptions()), scouted


def plan_of(read, scouted):
    return how_good_plan(read, scouted, SimpleNamespace(estate=ESTATE), PRINTED)


@pytest.fixture(scope="module")
def patchy():
    """48 stops, bad in one corner."""
    vines = np.arange(5, len(VINES), len(VINES) // 48)
    near = np.hypot(VINES.x_m[vines] - 50.0, VINES.y_m[vines] - 60.0) < 22.0
    return read_with(vines, np.random.default_rng(2).binomial(20, np.where(near, 0.5, 0.03)))


def test_the_table_compares_the_ways_to_map(patchy):
    page = how_good_page(*patchy)
    assert page.title == "How good is this map?"
    assert page.subtitle == "Home, round 3, 1 June"
    assert [line.cells[0] for line in page.lines] == [
        "the binomial field",
        "kriging",
        "inverse distance",
        "the block's own share",
    ]
    assert page.lines[3].cells[1:] == ("1.00", "")
    score = patchy[0].field.recipe.scores[0]
    low, high = np.exp(score.gain - 1.645 * score.gain_se), np.exp(score.gain + 1.645 * score.gain_se)
    assert page.lines[0].cells[1:] == (f"{np.exp(score.gain):.2f}", f"{low:.2f} to {high:.2f}")
    assert float(page.lines[0].cells[1]) > 1.2
    assert [line.is_soft for line in page.lines].count(False) == 1
    assert page.note.startswith("Chosen: ")
    assert "(" not in page.note


def test_the_pattern_is_told_in_metres_vines_and_rows(patchy):
    facts = {fact.label: fact.value for fact in how_good_page(*patchy).facts}
    middle, sd = patchy[0].field.recipe.learned
    along = np.exp(middle[2] + 1.645 * sd[2] * np.array([-1.0, 1.0]))
    assert facts["alike along the row"] == (
        f"{along[0]:.0f} to {along[1]:.0f} m, {along[0] / 1.5:.0f} to {along[1] / 1.5:.0f} vines"
    )
    assert facts["alike across the rows"].endswith(" rows")
    assert facts["no pattern at all"] == "unlikely"
    assert "Best guess: vines are alike up to" in " ".join(plan_of(*patchy).below_map)


def test_said_and_found_go_together(patchy):
    good = how_good(patchy[0])
    assert 2 <= len(good.said_found) <= 5
    assert sum(group.stops for group in good.said_found) == 48
    assert all(0.0 <= group.low <= group.found <= group.high <= 1.0 for group in good.said_found)
    assert good.said_found[-1].found > good.said_found[0].high
    assert good.inside.stops == 48
    assert how_good(patchy[0]) is good


def test_the_best_next_stops_are_named_by_row_and_vine(patchy):
    read, scouted = patchy
    plan = plan_of(read, scouted)
    stops = how_good(read).stops
    assert len(plan.places) == len(stops) >= 1
    first = stops[0].vine
    row, ordinal = BLOCK.rows.labels[VINES.row[first]], VINES.ordinal[first]
    assert plan.below_map[0].startswith(f"1: row {row}, vine {ordinal} would take ")
    assert plan.below_map[0].endswith(" % off the doubt")
    assert (plan.places[0].x_m, plan.places[0].y_m) == (VINES.x_m[first], VINES.y_m[first])
    # the middle vine of a span of ten is the fifth
    assert ordinal % 10 == 5


def test_columns_and_other_blocks_that_helped_are_named(patchy):
    read, scouted = patchy
    recipe = read.field.recipe
    tried = (Tried("elevation", 0.05, True), Tried("distance to the edge", -0.01, False))
    told = replace(recipe, tried=tried, habit=Habit(source="Far Field"))
    said = plan_of(replace(read, field=replace(read.field, recipe=told)), scouted).below_map
    assert "Columns that helped and are used: elevation (times 1.05)." in said
    assert "Tried, but of no help: distance to the edge." in said
    assert "With so few stops the pattern leans on Far Field." in said


def test_a_block_without_stops_says_so():
    read, scouted = read_with(np.zeros(0, int), [])
    page, plan = how_good_page(read, scouted), plan_of(read, scouted)
    assert page.lines == page.facts == ()
    assert page.note.startswith("Not known: there is no map of this block in this round.")
    assert plan.why_no_plot.startswith("No stop to hold against the map.")
    assert plan.below_map == ("Any first stop tells much, wherever it is. Step Walk plans them.",)
    assert plan.places == ()


def test_one_stop_is_too_few_to_say():
    read, scouted = read_with(np.array([100]), [3])
    page, plan = how_good_page(read, scouted), plan_of(read, scouted)
    assert page.lines == page.columns == ()
    assert page.note.endswith("So the ways to map were not scored.")
    assert [(fact.label, fact.value) for fact in page.facts] == [("pattern", "none found")]
    assert plan.why_no_plot == "1 stop in this block: too few to hold against the map. It takes 6."
    assert plan.said_found == plan.places == ()


def test_all_clean_is_one_group_on_the_axis():
    read, scouted = read_with(np.arange(5, len(VINES), 60), np.zeros(len(np.arange(5, len(VINES), 60))))
    (group,) = how_good(read).said_found
    assert group.found == group.low == 0.0
    assert 0.0 < group.said < 0.03
    assert group.high > 0.0
    assert float(how_good_page(read, scouted).lines[0].cells[1]) == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize(
    ("found", "ending"),
    [
        (98.4, "94 to 104 is as it should be."),
        (80.0, "it should be 94 to 104. The ranges of this map are too narrow."),
        (109.0, "94 to 104 would do. The ranges of this map are wider than need be."),
    ],
)
def test_whether_enough_fell_inside_is_judged(found, ending):
    words = inside_words(Inside(110, found, 94, 104))
    assert words.startswith(f"Of 110 stops left out, {found:.0f} fell inside their 90 % range")
    assert words.endswith(ending)
