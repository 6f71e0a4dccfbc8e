"""The sample estates come in whole: every file known by its content, nothing left out."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from vinemap.files.diary_reader import read_passes, read_sprays
from vinemap.files.estate_reader import read_estate
from vinemap.files.kinds import kind_of
from vinemap.files.outlines import centre_deg, read_outlines
from vinemap.files.placing import measured_row_spacing_m, place_blocks
from vinemap.files.projection import frame_for
from vinemap.files.row_lines import read_rows
from vinemap.files.stop_placing import place_stops
from vinemap.files.stop_reader import read_stops
from vinemap.files.vine_reader import apply_all_vines, read_vines
from vinemap.files.weather_reader import read_weather
from vinemap.ground.rowmaker import make_rows
from vinemap.ground.vines import usual_bearing_deg

SAMPLES = Path(__file__).parents[2] / "sample_blocks"


@pytest.mark.parametrize("name", ["marlquill", "wattlequern"])
def test_a_sample_estate(name):
    folder = SAMPLES / name
    estate = read_estate(folder / "estate.json")
    outlines, rows = read_outlines(folder / "outlines.geojson"), read_rows(folder / "rows.geojson")
    frame = frame_for(*centre_deg(outlines.value), estate.value.crs)
    blocks = place_blocks(outlines.value, rows.value, frame)
    vines = read_vines(folder / "vines.csv")
    applied = apply_all_vines(blocks.value, vines.value)
    passes = read_passes(folder / "passes.csv", applied.value)
    sprays = read_sprays(folder / "sprays.csv", applied.value)
    weather = read_weather(folder / "weather.csv", estate.value.offset_hours)
    reads = [estate, outlines, rows, blocks, vines, applied, passes, sprays, weather]
    for number, path in enumerate(sorted(folder.glob("stops_round_*.csv")), start=1):
        stops = read_stops(path)
        rounds = place_stops(stops.value, applied.value, frame)
        assert [each.number for each in rounds.value] == [number]
        assert len(rounds.value[0].stops) == len(path.read_text(encoding="utf-8").splitlines()) - 1
        reads += [stops, rounds]
    assert [str(problem) for read in reads for problem in read.problems] == []
    assert estate.value.is_invented
    counted = sum(each["properties"]["vines"] for each in json.loads((folder / "rows.geojson").read_text())["features"])
    assert sum(int(block.rows.vine_count.sum()) for block in applied.value) == counted
    for block in applied.value:
        # bent rows lean together in their middles, so they measure a little closer than they were laid out
        assert measured_row_spacing_m(block.rows) == pytest.approx(block.row_spacing_m, rel=0.02)


@pytest.mark.parametrize("name", ["marlquill", "wattlequern"])
def test_kinds_of_its_files(name):
    wanted = {"estate": "estate", "outlines": "outlines", "rows": "rows", "vines": "vines", "weather": "weather"}
    wanted |= {"passes": "passes", "sprays": "sprays"}
    for path in sorted((SAMPLES / name).iterdir()):
        if path.stem != "truth":
            assert kind_of(path) == wanted.get(path.stem, "stops")


def test_rows_made_from_its_large_outlines_hold_as_many_vines_as_their_area():
    folder = SAMPLES / "marlquill"
    outlines, rows = read_outlines(folder / "outlines.geojson"), read_rows(folder / "rows.geojson")
    blocks = place_blocks(outlines.value, rows.value, frame_for(*centre_deg(outlines.value))).value
    for block in blocks:
        made = make_rows(block.outline, usual_bearing_deg(block.rows), block.row_spacing_m, block.vine_spacing_m)
        expected = block.outline.area / (block.row_spacing_m * block.vine_spacing_m)
        assert made.vine_count.sum() == pytest.approx(expected, rel=0.02)
