"""KML and GPX: elements in the order of their schemas, names of any kind, nothing that XML can't hold."""

from __future__ import annotations

import dataclasses
from xml.etree import ElementTree

import numpy as np
import pyogrio
import pytest
from season_makers import make_season

from vinemap.errors import InputError
from vinemap.files.layer_writer import write_layer
from vinemap.files.layer_xml import GPX_SPACE, KML_SPACE
from vinemap.files.projection import to_lonlat
from vinemap.ground.vines import place_vines
from vinemap.service.given_layers import blocks_layer, ends_layer, rows_layer, stops_layer, walk_layer
from vinemap.service.next_walk import WALK_STOPS, next_walk

ODD = "Peña <&> \"alta\" 'x'\nÑ 葡\U0001f347"
WAYPOINT = ("ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type")
"""Children of a waypoint in the order of the GPX 1.1 schema, as far as they come before what a receiver adds."""
PLACEMARK = ("name", "visibility", "open", "description", "ExtendedData", "Point", "LineString", "Polygon")
"""Children of a placemark in the order of OGC 12-007r2, those that are used."""


def odd_season():
    season = make_season()
    renamed = dataclasses.replace(season.blocks[0], name=ODD)
    return dataclasses.replace(season, blocks=(renamed, *season.blocks[1:]))


def in_order(element, order):
    found = [order.index(child.tag.rpartition("}")[2]) for child in element]
    return found == sorted(found)


def test_waypoints_are_in_the_order_of_the_schema_and_named_as_vines(tmp_path):
    season = odd_season()
    path = tmp_path / "ends.gpx"
    write_layer(path, ends_layer(season))
    root = ElementTree.parse(path).getroot()
    assert root.tag == f"{{{GPX_SPACE}}}gpx"
    assert root.get("version") == "1.1"
    assert root.get("creator") == "Vinemap"
    assert [child.tag.rpartition("}")[2] for child in root][:2] == ["metadata", "wpt"]
    assert "Invented demonstration data" in root.findtext(f"{{{GPX_SPACE}}}metadata/{{{GPX_SPACE}}}desc")
    marks = root.findall(f"{{{GPX_SPACE}}}wpt")
    assert len(marks) == 2 * sum(len(block.rows) for block in season.blocks)
    assert all(in_order(mark, WAYPOINT) for mark in marks)
    names = [mark.findtext(f"{{{GPX_SPACE}}}name") for mark in marks]
    assert names[:3] == [f"{ODD} / 1 / 1", f"{ODD} / 1 / 30", f"{ODD} / 2 / 1"]
    vines = place_vines(season.blocks[0])
    lon, lat = to_lonlat(season.estate.frame, vines.x_m[[0, 29]], vines.y_m[[0, 29]])
    at = np.array([[float(mark.get("lon")), float(mark.get("lat"))] for mark in marks[:2]])
    assert abs(at - np.column_stack([lon, lat])).max() <= 0.51e-7
    assert pyogrio.read_info(path, layer="waypoints", force_feature_count=True)["features"] == len(marks)


def test_the_walk_for_a_phone_is_the_walk_of_the_window_in_its_order(tmp_path):
    season = make_season()
    block = season.blocks[0]
    vines = place_vines(block)
    walk = next_walk(season, block, vines, None)
    assert 0 < len(walk.vine) <= WALK_STOPS
    path = tmp_path / "walk.gpx"
    write_layer(path, walk_layer(season, [(block, vines, walk)]))
    names = [each.text for each in ElementTree.parse(path).getroot().iterfind(f"{{{GPX_SPACE}}}wpt/{{{GPX_SPACE}}}name")]
    labels = [block.rows.labels[row] for row in vines.row[walk.vine]]
    assert names == [f"Long Acre / {row} / {vine}" for row, vine in zip(labels, vines.ordinal[walk.vine], strict=True)]


@pytest.mark.parametrize("made", [blocks_layer, rows_layer, lambda season: stops_layer(season, season.rounds)])
def test_placemarks_are_in_order_and_hold_every_column(tmp_path, made):
    layer = made(odd_season())
    path = tmp_path / "a.kml"
    write_layer(path, layer)
    root = ElementTree.parse(path).getroot()
    assert root.tag == f"{{{KML_SPACE}}}kml"
    assert root.get("version") == "2.3"
    marks = list(root.iter(f"{{{KML_SPACE}}}Placemark"))
    assert len(marks) == len(layer)
    assert all(in_order(mark, PLACEMARK) for mark in marks)
    told = {each.get("name"): each[0].text for each in marks[0].iter(f"{{{KML_SPACE}}}Data")}
    wanted = {each.name: str(each.values[0]) for each in layer.columns if each.values[0] not in (None, "")}
    assert told == wanted
    assert pyogrio.read_info(path)["features"] == len(layer)


def test_an_outline_keeps_its_hole_in_kml(tmp_path):
    path = tmp_path / "a.kml"
    write_layer(path, blocks_layer(make_season()))
    polygon = next(ElementTree.parse(path).getroot().iter(f"{{{KML_SPACE}}}Polygon"))
    assert [child.tag.rpartition("}")[2] for child in polygon] == ["outerBoundaryIs", "innerBoundaryIs"]
    (ring,) = polygon[0].iter(f"{{{KML_SPACE}}}coordinates")
    pairs = [tuple(map(float, pair.split(","))) for pair in ring.text.split()]
    assert pairs[0] == pairs[-1]
    assert all(-123.1 < lon < -122.0 and 38.0 < lat < 38.9 for lon, lat in pairs)


@pytest.mark.parametrize("ending", [".kml", ".gpx"])
@pytest.mark.parametrize("sign", ["\x01", "\x0b", "\ufffe", "\x1f"])
def test_a_sign_that_xml_can_t_hold_is_refused(tmp_path, ending, sign):
    season = make_season()
    block = dataclasses.replace(season.blocks[0], name=f"Long{sign}Acre")
    layer = ends_layer(dataclasses.replace(season, blocks=(block,)))
    with pytest.raises(InputError, match="can't stand in such a file"):
        write_layer(tmp_path / f"a{ending}", layer)
    assert list(tmp_path.iterdir()) == []


def test_lines_and_polygons_are_no_waypoints(tmp_path):
    for layer in (blocks_layer(make_season()), rows_layer(make_season())):
        with pytest.raises(InputError, match="only places to go to"):
            write_layer(tmp_path / "a.gpx", layer)
