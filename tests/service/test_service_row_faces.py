"""The faces of rows: warmth to come, shade of the next row and of tall edges, and how sunny rows are among their like."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
import shapely

from vinemap.ground.block import FREE, WALL, Block, RowTable, Wall
from vinemap.ground.edges import Edge
from vinemap.ground.frame import Frame
from vinemap.ground.vines import place_vines
from vinemap.season.value import Estate, Season
from vinemap.service.row_faces import Stand, estate_faces, expected_air_of, row_clock
from vinemap.vineclock.weather import Weather
from vinemap.work.spans import spans_of

FRAME = Frame("EPSG:32610", 540_000.0, 4_250_000.0, 38.4, -122.5, 0.0)
DAY, HARVEST = dt.date(2026, 5, 5), dt.date(2026, 9, 15)


def block_of(bearings=(0.0,) * 8, training=WALL, length_m=60.0):
    """Rows side by side along the east, each at its own bearing."""
    starts = [(2.5 * number, 0.0) for number in range(len(bearings))]
    ends = [
        (x + length_m * np.sin(np.radians(bearing)), length_m * np.cos(np.radians(bearing)))
        for (x, _), bearing in zip(starts, bearings, strict=True)
    ]
    count = len(bearings)
    table = RowTable(
        tuple(str(number + 1) for number in range(count)),
        np.array([point for pair in zip(starts, ends, strict=True) for point in pair]),
        np.arange(0, 2 * count + 1, 2),
        np.full(count, 1.5),
        np.full(count, int(length_m / 1.5)),
    )
    return Block("Home", shapely.box(-90, -90, 90, 90), table, 2.5, 1.5, training=training)


def season_of(block, **parts):
    return Season(Estate("Invented", FRAME, -8.0), (block,), **parts)


def faces_of_block(season, block, day=DAY, rose=None):
    vines = place_vines(block)
    stand = Stand(block, vines, spans_of(vines, block.rows.vine_spacing_m), HARVEST, rose)
    return estate_faces(season, [stand], day)["Home"]


def test_hot_sun_in_may_tells_morning_from_afternoon():
    """Until September there will be heat, whatever the cool weeks before the date were: the afternoon face is spared."""
    start = dt.datetime(2026, 4, 1, 8, tzinfo=dt.UTC).timestamp()
    hours = np.arange(24 * 34)
    degc = 9.0 - 5.0 * np.cos((hours - 3) / 24 * 2 * np.pi)  # warmest at 15:00, never 20 degC
    blank = np.full(len(hours), np.nan)
    cool = Weather("invented", -8.0, (start + 3600 * hours).astype(np.int64), degc, *[blank] * 5)
    block = block_of()
    for weather in (None, cool):
        choice = faces_of_block(season_of(block, weather=weather), block).choice(0)
        assert choice.first.name == "east"
        assert [face.name for face in choice.spared] == ["west"]
        assert choice.margin > 0.5


def test_rows_of_all_bearings_grow_as_usual_on_average():
    block = block_of(bearings=[22.5 * step for step in range(8)])
    for day in (DAY, dt.date(2026, 7, 1), dt.date(2026, 9, 1)):
        growth = faces_of_block(season_of(block), block, day).growth
        # bearings are taken to a whole degree, and sun is half a degree off at most by that
        assert growth.mean() == pytest.approx(1.0, abs=0.003)
        assert np.ptp(growth) > 0.01


def test_narrow_rows_and_single_vines():
    """Rows nearer together shade each other (Zahavi et al. 2001: more mildew at 2 m than at 3 m); single vines leave gaps."""
    usual, narrow, wide = (replace(block_of(), row_spacing_m=spacing) for spacing in (2.5, 1.6, 4.0))
    single = block_of(training=FREE)
    growth = [faces_of_block(season_of(each), each).growth[0] for each in (narrow, usual, wide)]
    assert growth[0] > growth[1] > growth[2]
    free = faces_of_block(season_of(single), single)
    assert len(free.choices) == 1
    assert len(free.choices[0].spared) >= 2


def test_a_tall_hedge_shades_the_spans_beside_it_only():
    block = block_of()
    hedge = Edge("hedge", np.array([(22.0, 25.0), (22.0, 90.0)]), 8.0)
    shaded, free = (faces_of_block(season_of(block, edges=edges), block) for edges in ((hedge,), ()))
    spans = spans_of(place_vines(block), block.rows.vine_spacing_m)
    north = spans.first_vine > 20
    last_row = spans.row == 7
    assert len(free.of_span) == 0
    assert shaded.span_growth[north & last_row].min() > free.growth[7] + 0.02
    # nothing gains, and the far corner to the south-west hardly loses
    assert (shaded.span_growth >= free.growth[spans.row] - 1e-9).all()
    assert shaded.span_growth[(spans.row == 0) & (spans.first_vine == 1)][0] == pytest.approx(free.growth[0], abs=0.03)
    # the east face lies behind the hedge in the morning: both faces now differ by more
    row = int(np.flatnonzero(last_row & north)[0])
    assert shaded.choices[int(shaded.of_span[row])].margin > free.choice(7).margin
    # an open hedge takes less
    open_hedge = replace(hedge, open_frac=0.5)
    half = faces_of_block(season_of(block, edges=(open_hedge,)), block)
    assert (half.span_growth <= shaded.span_growth + 1e-9).all()


def test_hedges_that_are_far_away_change_nothing():
    block = block_of()
    far = Edge("hedge", np.array([(900.0, -90.0), (900.0, 90.0)]), 8.0)
    one, other = (faces_of_block(season_of(block, edges=edges), block) for edges in ((far,), ()))
    assert one.growth.tolist() == other.growth.tolist()
    assert len(one.of_span) == 0


def test_the_sun_clock_of_a_row():
    block = block_of(bearings=(0.0,))
    clock = row_clock(season_of(block), block, 0, dt.date(2026, 6, 21))
    east, west = clock.fruit_kw_m2
    assert [face.name for face in clock.faces] == ["east", "west"]
    assert east[clock.by_sun > 12.01].max() == 0
    assert west[clock.by_sun < 11.99].max() == 0
    # leaves 1.8 m high and 0.8 m wide, 2.5 m apart, fruit at 1.0 m: no sun there until it stands 25 degrees above the row
    first = clock.by_sun[east > 0][0]
    assert 6.5 < first < 7.3
    walled = season_of(block, edges=(Edge("wall", np.array([(8.0, -90.0), (8.0, 90.0)]), 12.0),))
    behind = row_clock(walled, block, 0, dt.date(2026, 6, 21))
    assert behind.by_sun[behind.fruit_kw_m2[0] > 0][0] > first + 1
    assert behind.fruit_kw_m2[1].tolist() == west.tolist()


def test_sizes_of_the_vines_and_the_slope_have_their_say():
    block = block_of(bearings=(90.0,))
    day = dt.date(2026, 10, 25)
    level = row_clock(season_of(block), block, 0, day)
    tall = replace(block, wall=Wall(2.6, 0.8, 1.0))
    steep = replace(block, slope_deg=25.0, aspect_deg=0.0)
    assert row_clock(season_of(tall), tall, 0, day).fruit_kw_m2.sum() < level.fruit_kw_m2.sum()
    # the sun stands 40 degrees high at noon; on a slope that falls to the north the row above, to the south, hides 49 degrees
    assert level.fruit_kw_m2[0].max() > 0.5
    assert row_clock(season_of(steep), steep, 0, day).fruit_kw_m2[0].max() < 0.1


def test_where_the_warmth_comes_from():
    block = block_of()
    assert expected_air_of(season_of(block), "Home", DAY, DAY).words() == "1 day as in a typical year at this latitude"
