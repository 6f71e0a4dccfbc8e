"""A file in metres that names no map system is asked about in the window. The estate is invented."""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely

from vinemap.desk.window import Window
from vinemap.files.projection import frame_for, to_lonlat
from vinemap.ground.block import Block, RowTable
from vinemap.season.value import Estate, Season
from vinemap.service.book import new_book
from vinemap.service.systems import without_system

FRAME = frame_for(-122.7, 38.6)
RING = [(10, 0), (30, 0), (30, 20), (10, 20), (10, 0)]
PROPERTIES = {"block": "Short Acre", "row_spacing_m": 2.5, "vine_spacing_m": 2.0, "bearing_deg": 0.0}


@pytest.fixture
def window(qtbot, tmp_path):
    rows = RowTable(("1", "2"), np.array([[0, 0], [0, 20], [2.5, 0], [2.5, 20]]), [0, 2, 4], [2.0, 2.0], [10, 10])
    block = Block("Long Acre", shapely.box(-2, -2, 5, 22), rows, 2.5, 2.0)
    window = Window(new_book(tmp_path / "a.vinemap", Season(Estate("Invented", FRAME, -8.0, True), (block,))))
    qtbot.addWidget(window)
    yield window
    window.close()


def outline(path, ring):
    geometry = {"type": "Polygon", "coordinates": [ring]}
    feature = {"type": "Feature", "properties": PROPERTIES, "geometry": geometry}
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}), encoding="utf-8")
    return path


def in_metres(path):
    return outline(path, [[x + FRAME.origin_x_m, y + FRAME.origin_y_m] for x, y in RING])


def in_degrees(path):
    return outline(path, np.column_stack(to_lonlat(FRAME, *zip(*RING, strict=True))).tolist())


def bring(window, monkeypatch, path, answer):
    asked = []
    monkeypatch.setattr(window.asking, "ask_files", lambda: [path])
    monkeypatch.setattr(window.asking, "ask_repairs", lambda _offers: ())
    monkeypatch.setattr(window.asking, "ask_system", lambda names: asked.append(names) or answer)
    window.asking.bring_in()
    return asked


def test_only_files_in_metres_without_a_system_are_asked_about(tmp_path):
    metres, degrees = in_metres(tmp_path / "m.geojson"), in_degrees(tmp_path / "d.geojson")
    table, broken = tmp_path / "t.csv", tmp_path / "b.json"
    table.write_text("date,examined,infected,x_m,y_m\n2031-06-11,20,1,526100,4272400\n", encoding="utf-8")
    broken.write_text("{", encoding="utf-8")
    assert without_system([degrees, metres, table, broken, tmp_path / "none"]) == [metres]


def test_the_number_places_the_block(window, tmp_path, monkeypatch):
    path = in_metres(tmp_path / "m.geojson")
    assert bring(window, monkeypatch, path, FRAME.crs.removeprefix("EPSG:")) == [["m.geojson"]]
    block = window.book.season.block("Short Acre")
    assert shapely.hausdorff_distance(block.outline, shapely.Polygon(RING)) < 0.02


def test_without_an_answer_nothing_comes_in_and_that_is_said(window, tmp_path, monkeypatch):
    bring(window, monkeypatch, in_metres(tmp_path / "m.geojson"), "")
    assert [block.name for block in window.book.season.blocks] == ["Long Acre"]
    assert bring(window, monkeypatch, in_degrees(tmp_path / "d.geojson"), "32610") == []
    assert window.book.season.block("Short Acre") is not None
