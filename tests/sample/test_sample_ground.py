"""The invented ground: blocks of the sizes promised, rows and vines where vines can stand."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
import shapely

from vinemap.ground.block import FREE, LIVING
from vinemap.ground.vines import distance_along_m, row_bearings_deg, usual_bearing_deg


def test_marlquill_has_the_blocks_and_vines_promised(marlquill: Any) -> None:
    area_ha = {name: block.outline.area / 10_000 for name, block in marlquill.blocks.items()}
    assert len(area_ha) == 8
    assert min(area_ha.values()) == pytest.approx(0.6, abs=0.05)
    assert max(area_ha.values()) == pytest.approx(14.0, abs=0.1)
    total = sum(len(vines) for vines in marlquill.vines.values())
    assert 28_000 < total < 33_000
    assert "Peña Alta" in area_ha
    assert marlquill.page["invented"] is True


def test_wattlequern_is_small_and_southern(wattlequern: Any) -> None:
    assert len(wattlequern.blocks) == 2
    assert 500 < sum(len(vines) for vines in wattlequern.vines.values()) < 750
    lat = [point[1] for each in wattlequern.features("outlines.geojson") for point in each["geometry"]["coordinates"][0]]
    assert -38.1 < min(lat) < max(lat) < -38.0


def test_outlines_are_valid_turn_as_rfc_7946_asks_and_keep_apart(estate: Any) -> None:
    for each in estate.features("outlines.geojson"):
        outer, *holes = each["geometry"]["coordinates"]
        assert outer[0] == outer[-1]
        # RFC 7946, section 3.1.6: exterior rings anticlockwise, holes clockwise.
        assert shapely.is_ccw(shapely.LinearRing(outer))
        assert not any(shapely.is_ccw(shapely.LinearRing(hole)) for hole in holes)
    for block in estate.blocks.values():
        assert block.outline.is_valid
    for one, other in itertools.combinations(estate.blocks.values(), 2):
        assert one.outline.distance(other.outline) > 8.0, (one.name, other.name)
    together = shapely.union_all([block.outline for block in estate.blocks.values()]).bounds
    assert np.hypot(together[2] - together[0], together[3] - together[1]) < 1500.0


def test_every_vine_stands_inside_its_outline(estate: Any) -> None:
    for name, vines in estate.vines.items():
        outline = estate.blocks[name].outline
        shapely.prepare(outline)
        assert shapely.contains_xy(outline, vines.x_m, vines.y_m).all(), name
        # 1.2 m is kept from the outline; the files are rounded to about a centimetre.
        points = shapely.points(vines.x_m, vines.y_m)
        assert shapely.distance(points, outline.boundary).min() > 1.15, name


def test_row_lines_run_from_the_first_vine_to_the_last(estate: Any) -> None:
    for block in estate.blocks.values():
        rows = block.rows
        assert len(set(rows.labels)) == len(rows)
        assert rows.vine_count.min() >= 4
        length = np.array([distance_along_m(rows.line_m(row))[-1] for row in range(len(rows))])
        np.testing.assert_allclose(length, (rows.vine_count - 1) * rows.vine_spacing_m, atol=0.03)


def test_neighbouring_rows_keep_their_spacing(estate: Any) -> None:
    for block in estate.blocks.values():
        middle = [shapely.LineString(block.rows.line_m(row)) for row in range(len(block.rows))]
        away = [one.distance(other) for one, other in itertools.pairwise(middle)]
        # Pieces of a cut row follow one another in a line, so only the usual gap is asked about.
        assert np.median(away) == pytest.approx(block.row_spacing_m, abs=0.03), block.name


def test_rows_run_as_the_outline_says(estate: Any) -> None:
    seen = set()
    for each in estate.features("outlines.geojson"):
        about = each["properties"]
        bearing = usual_bearing_deg(estate.blocks[about["block"]].rows)
        away = (bearing - about["bearing_deg"] + 90.0) % 180.0 - 90.0
        # To the rounding of the files; for the curved block its mean direction, given to a whole degree.
        assert abs(away) < 0.2, about["block"]
        seen.add(about["bearing_deg"])
    assert len(seen) >= 2


def test_the_odd_shapes_are_there(marlquill: Any) -> None:
    blocks = marlquill.blocks
    assert len(blocks["Pumphouse Piece"].outline.interiors) == 1
    cut = [label for label in blocks["Pumphouse Piece"].rows.labels if label.endswith("a")]
    assert cut
    assert {label[:-1] for label in cut} <= set(blocks["Pumphouse Piece"].rows.labels)
    dogleg = blocks["Dogleg"].outline
    # A plain four-sided block fills nearly all of its bounding rectangle, an L leaves out a corner.
    assert dogleg.area < 0.70 * shapely.minimum_rotated_rectangle(dogleg).area
    assert np.diff(blocks["Crookbeam"].rows.start).min() > 2
    straight = blocks["Wrenfield"].rows
    assert np.ptp(row_bearings_deg(straight)) < 0.2


def test_free_standing_vines_make_a_square_grid(marlquill: Any) -> None:
    block, vines = marlquill.blocks["Marlpit Knoll"], marlquill.vines["Marlpit Knoll"]
    assert block.training == FREE
    assert block.row_spacing_m == block.vine_spacing_m == 2.4
    for metres in (vines.along_m, vines.across_m):
        # Angles on a circle of one spacing: all the same when the vines stand on a grid.
        turn = np.exp(2j * np.pi * metres / 2.4)
        assert abs(turn.mean()) > 0.99


def test_the_field_blend_is_mixed_vine_by_vine(marlquill: Any) -> None:
    block, vines = marlquill.blocks["Peña Alta"], marlquill.vines["Peña Alta"]
    share = np.bincount(vines.variety, minlength=len(block.varieties)) / len(vines)
    assert len(block.varieties) == 6
    assert share.min() > 0.03
    assert share[0] == share.max()
    along_a_row = (vines.row[1:] == vines.row[:-1]) & (vines.variety[1:] != vines.variety[:-1])
    assert along_a_row.mean() > 0.3
    assert all((marlquill.vines[name].variety == 0).all() for name in marlquill.blocks if name != "Peña Alta")


def test_a_few_vines_are_missing_dead_or_replanted_everywhere(estate: Any) -> None:
    for name, vines in estate.vines.items():
        share = (vines.status != LIVING).mean()
        assert 0.01 < share < 0.15, name
    total = np.bincount(np.concatenate([vines.status for vines in estate.vines.values()]), minlength=4)
    assert (total > 0).all()


def test_exceptions_are_only_exceptions_in_the_order_of_the_rows(estate: Any) -> None:
    for block in estate.blocks.values():
        assert (np.diff(block.exceptions.vine) > 0).all()
        assert ((block.exceptions.status != LIVING) | (block.exceptions.variety > 0)).all()
