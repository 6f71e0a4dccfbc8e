"""What the season brings to a row: sprays, passes, stage, re-entry. Arithmetic by hand; facts of the trade as noted."""

import datetime as dt

import numpy as np
import pytest
import shapely

from vinemap.ground.block import Block
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.vines import place_vines
from vinemap.work.assumptions import Assumptions
from vinemap.work.conditions import (
    Outlook,
    PressureNow,
    RowFaces,
    Site,
    Stage,
    block_day,
    closed_on,
    days_since_pass,
    last_sprays,
    row_growth,
)
from vinemap.work.diary import Pass, Spray
from vinemap.work.spans import spans_of

DAY = dt.date(2026, 6, 12)
BLOOM, HARVEST = dt.date(2026, 5, 29), dt.date(2026, 9, 12)


@pytest.fixture(scope="module")
def site():
    outline = shapely.box(0, 0, 30, 60)
    block = Block("Home", outline, make_rows(outline, 0.0, 3.0, 2.0), 3.0, 2.0, ("Chardonnay",))
    vines = place_vines(block)
    faces = RowFaces((), np.zeros(len(block.rows), np.int32), np.ones(len(block.rows)))
    return Site(block, vines, spans_of(vines, block.rows.vine_spacing_m), faces)


def spray(day, hour=6, rows=(), materials=("sulfur",), block="Home"):
    start = dt.datetime.combine(day, dt.time(hour))
    return Spray(start, start + dt.timedelta(hours=2), block, rows, materials, 5.0, 500.0)


def day_of(site, date=DAY, sprays=(), passes=(), rain=None, **stage):
    values = {"bloom": BLOOM, "is_bloom_estimated": False, "harvest": HARVEST, "is_harvest_assumed": False}
    outlook = Outlook(date, Stage(**(values | stage)), PressureNow(80, 80, 80, 2, ""), rain or {})
    return block_day(site, outlook, tuple(passes), tuple(sprays), Assumptions())


def test_the_last_pass_on_a_row_counts(site):
    passes = (
        Pass(DAY - dt.timedelta(days=20), "Home", (), "T", "both", 4, 3.0),
        Pass(DAY - dt.timedelta(days=5), "Home", ("1", "2"), "L", "east", 4, 1.0),
        Pass(DAY - dt.timedelta(days=2), "Home", (), "C", "both", 4, 1.0),
        Pass(DAY + dt.timedelta(days=1), "Home", (), "L", "east", 4, 1.0),
        Pass(DAY, "Elsewhere", (), "L", "east", 4, 1.0),
    )
    assert days_since_pass(site.block, passes, DAY)[:3].tolist() == [5.0, 5.0, 20.0]


def test_the_last_spray_on_a_row_counts(site):
    first, second = spray(DAY - dt.timedelta(days=9)), spray(DAY - dt.timedelta(days=3), rows=("2",))
    last = last_sprays(site.block, (second, first, spray(DAY + dt.timedelta(days=1))), DAY)
    assert last[0] == first
    assert last[1] == second


def test_cover_falls_to_nothing_over_the_interval_and_washes_off(site):
    """Sulfur at high pressure covers 7 days (Gubler et al. 1999): 3 of them gone leave 4/7; 12.5 mm of 25 take half."""
    made = spray(DAY - dt.timedelta(days=3))
    assert day_of(site, sprays=[made]).cover == pytest.approx(np.full(len(site.block.rows), 4 / 7))
    washed = day_of(site, sprays=[made], rain={made.end.date(): 12.5})
    assert washed.cover == pytest.approx(np.full(len(site.block.rows), 2 / 7))
    assert day_of(site).cover == pytest.approx(np.zeros(len(site.block.rows)))


def test_cover_slows_growth_and_growth_follows_pressure_and_window(site):
    bare, covered = day_of(site), day_of(site, sprays=[spray(DAY)])
    assert bare.drivers.growth.per_day[0] == pytest.approx(0.20 * 0.80 * bare.window)
    assert np.all(covered.drivers.growth.take[0] < bare.drivers.growth.take[0])
    assert covered.drivers.growth.take[0] == pytest.approx(np.full(len(site.spans), 1 - 0.70))


def test_nobody_enters_before_the_longest_reentry_is_over():
    """Re-entry runs from the end of the spray, the longest of what was mixed (common practice): 8:00 plus 24 h."""
    made = spray(DAY, materials=("potassium bicarbonate", "sulfur"))
    ends = dt.datetime.combine(DAY + dt.timedelta(days=1), dt.time(8))
    assert closed_on("Home", (made,), DAY) == (made.start, ends)
    assert closed_on("Home", (made,), DAY + dt.timedelta(days=1)) == (made.start, ends)
    assert closed_on("Home", (made,), DAY + dt.timedelta(days=2)) is None
    assert closed_on("Home", (made,), DAY - dt.timedelta(days=1)) is None
    assert closed_on("Elsewhere", (made,), DAY) is None


def test_an_unknown_material_closes_longest():
    made = spray(DAY, materials=("something of a neighbour's",))
    closed = closed_on("Home", (made,), DAY)
    assert closed is not None
    assert closed[1] - made.end == dt.timedelta(hours=72)


def test_no_spray_near_harvest(site):
    near = day_of(site, date=HARVEST - dt.timedelta(days=29), bloom=HARVEST - dt.timedelta(days=50))
    assert "harvest is in 29 days" in near.drivers.spray_stop
    assert day_of(site, date=HARVEST - dt.timedelta(days=30)).drivers.spray_stop == ""
    assert day_of(site, date=HARVEST + dt.timedelta(days=1)).drivers.spray_stop == "the fruit is picked"


def test_the_sum_ends_at_colour_or_harvest(site):
    assert day_of(site).horizon == BLOOM + dt.timedelta(days=63)
    assert day_of(site, veraison=BLOOM + dt.timedelta(days=70)).horizon == BLOOM + dt.timedelta(days=70)
    assert day_of(site, harvest=DAY + dt.timedelta(days=10)).horizon == DAY + dt.timedelta(days=10)
    late = day_of(site, date=BLOOM + dt.timedelta(days=80))
    assert late.horizon == late.date
    assert late.window == 0.0
    assert late.drivers.growth.take.shape == (0, len(site.spans))


def test_without_bloom_the_fruit_counts_as_open_for_four_weeks(site):
    day = day_of(site, bloom=None)
    assert day.horizon == DAY + dt.timedelta(days=28)
    assert day.window == 1.0
    assert day.timing == 1.0


def test_opening_helps_until_five_weeks_after_bloom(site):
    """Austin & Wilcox 2011: an effect two weeks after bloom, none five weeks after."""
    assert day_of(site, date=BLOOM + dt.timedelta(days=14)).timing == 1.0
    assert day_of(site, date=BLOOM + dt.timedelta(days=35)).timing == 0.0


def test_a_span_is_as_long_as_its_own_row_spaces_its_vines(site):
    spacing_m = np.linspace(1.0, 2.0, len(site.block.rows))
    spans = spans_of(site.vines, spacing_m)
    count = spans.last_vine - spans.first_vine + 1
    assert spans.length_m == pytest.approx(count * spacing_m[spans.row])


def test_sun_slows_growth_more_than_wind():
    """Shade against sun is 1.6 with the wind as usual (Austin & Wilcox 2012); the part of the wind is the smaller one."""
    sunny, windy, usual = row_growth(np.array([1.0, 0.5, 0.5]), np.array([0.5, 1.0, 0.5]))
    assert sunny < windy < usual == 1.0


def test_a_recent_opening_slows_growth_and_leaves_less_for_the_next(site):
    """A usual vine closes in 300 degree days: 7 days of 11 after a pass 223 parts of 300 are left, of a new one all."""
    done = Pass(DAY - dt.timedelta(days=7), "Home", ("1",), "F", "east", 4, 1.0)
    day = day_of(site, passes=[done])
    inside, outside = site.spans.row == 0, site.spans.row == 3
    assert day.drivers.opened[0, inside] == pytest.approx(np.full(inside.sum(), 223 / 300))
    assert day.drivers.opened[:, outside].max() == 0.0
    assert day.drivers.new_open[0] == 1.0
    assert day.drivers.new_open[14] == pytest.approx(1 - 14 * 11 / 300)
    assert day.drivers.growth.take[0, inside] == pytest.approx(day.drivers.growth.take[0, outside] * (1 - 0.5 * 223 / 300))


def test_an_opening_fades_as_the_leaves_close(site):
    day = day_of(site, passes=[Pass(DAY - dt.timedelta(days=28), "Home", (), "F", "east", 4, 1.0)])
    assert day.drivers.opened.max() == 0.0
    assert day.drivers.new_open[28:].max(initial=0.0) == 0.0
