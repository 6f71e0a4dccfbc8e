"""Nothing is lost from a season to tables and from these into a new season. All of it is invented."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from season_makers import FRAME, make_round, make_season

from vinemap.files.ground_reader import read_ground
from vinemap.files.layer_writer import write_layer
from vinemap.files.projection import to_local, to_lonlat
from vinemap.ground.block import FREE, WALL, Block, RowTable, VineExceptions, Wall
from vinemap.season.value import Estate, Season
from vinemap.service.bring_in import bring_in
from vinemap.service.given_layers import blocks_layer, marks_layer, rows_layer, stops_layer, vines_layer
from vinemap.service.ground_in import SAME_PLACE_M

NAMES = st.sampled_from(
    [
        "A",
        "007",
        "1e5",
        "=1+1",
        "-",
        "+7",
        "@home",
        "'quoted",
        '"Peña, alta"',
        "Höhe; tief",
        "Ñ 葡\U0001f347",
        "3/4".replace("/", "⁄"),
    ]
) | st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z"), exclude_characters="/"), min_size=1, max_size=6).map(
    lambda text: unicodedata.normalize("NFC", text)
).filter(lambda text: text == text.strip() and text)
VARIETIES = NAMES.filter(lambda name: ";" not in name)


@st.composite
def seasons(draw):
    """Blocks side by side with holes, bent rows, marks of vines, and one round of stops."""
    blocks = []
    for number, name in enumerate(draw(st.lists(NAMES, min_size=1, max_size=3, unique=True))):
        labels = draw(st.lists(NAMES, min_size=2, max_size=4, unique=True))
        apart_m, vine_m = draw(st.floats(1.5, 4.0)), draw(st.floats(0.8, 3.0))
        counts = draw(st.lists(st.integers(2, 30), min_size=len(labels), max_size=len(labels)))
        west = 200.0 * number
        lines = [
            np.array([[west + apart_m * row, vine_m * part * (count - 1)] for part in (0.0, 0.4, 1.001)])
            for row, count in enumerate(counts)
        ]
        rows = RowTable(
            tuple(labels), np.concatenate(lines), 3 * np.arange(len(labels) + 1), np.full(len(labels), vine_m), counts
        )
        east, north = west + apart_m * len(labels), vine_m * max(counts)
        outline = shapely.box(west - 1.0, -1.0, east, north).difference(shapely.box(east - 0.6, 0.2, east - 0.2, 0.7))
        varieties = tuple(draw(st.lists(VARIETIES, min_size=1, max_size=3, unique=True)))
        marked = draw(st.lists(st.integers(0, sum(counts) - 1), max_size=4, unique=True).map(sorted))
        some = np.arange(len(marked))
        differs = VineExceptions(np.array(marked), some % 3 + 1, np.minimum(some % 3, len(varieties)) - 1)
        figures = (apart_m, vine_m, varieties, draw(st.sampled_from((WALL, FREE))), draw(st.floats(0, 1)))
        wall = Wall(draw(st.floats(1.0, 2.5)), draw(st.floats(0.3, 1.5)), draw(st.floats(0.2, 1.0)))
        blocks.append(
            Block(name, outline, rows, *figures, differs, wall, draw(st.floats(0.0, 60.0)), draw(st.floats(0.0, 359.0)))
        )
    return Season(Estate("Invented", FRAME, -8.0, True), tuple(blocks))


def given_and_taken(season, *layers):
    with TemporaryDirectory() as folder:
        paths = [Path(folder) / f"{number}.csv" for number, _ in enumerate(layers)]
        for path, layer in zip(paths, layers, strict=True):
            if len(layer):
                write_layer(path, layer)
        return bring_in([path for path in paths if path.exists()], None, "again")


def same_place(points_m, frame, others_m, other_frame):
    lon, lat = to_lonlat(other_frame, *np.asarray(others_m).T)
    return abs(np.column_stack(to_local(frame, lon, lat)) - points_m).max() < SAME_PLACE_M


def check_blocks(season, made):
    assert [each.name for each in made.blocks] == [each.name for each in season.blocks]
    for old, new in zip(season.blocks, made.blocks, strict=True):
        assert (new.varieties, new.training, new.vigour) == (old.varieties, old.training, old.vigour)
        assert (new.wall, new.slope_deg, new.aspect_deg) == (old.wall, old.slope_deg, old.aspect_deg)
        assert (new.row_spacing_m, new.vine_spacing_m) == (old.row_spacing_m, old.vine_spacing_m)
        assert new.rows.labels == old.rows.labels
        assert new.rows.vine_count.tolist() == old.rows.vine_count.tolist()
        assert new.rows.vine_spacing_m == pytest.approx(old.rows.vine_spacing_m, rel=1e-3)
        assert new.rows.start.tolist() == old.rows.start.tolist()
        assert same_place(old.rows.xy_m, season.estate.frame, new.rows.xy_m, made.estate.frame)
        rings = [(each.outline.exterior, *each.outline.interiors) for each in (old, new)]
        for was, now in zip(*rings, strict=True):
            assert same_place(np.array(was.coords), season.estate.frame, np.array(now.coords), made.estate.frame)


@settings(max_examples=25, derandomize=True, deadline=None)
@given(seasons(), st.booleans())
def test_ground_and_marks_come_back_whole_from_tables(season, every_vine):
    layers = blocks_layer(season), rows_layer(season), (vines_layer if every_vine else marks_layer)(season)
    made, report = given_and_taken(season, *layers)
    assert report.problems == []
    check_blocks(season, made)
    for old, new in zip(season.blocks, made.blocks, strict=True):
        differs = dict(
            zip(new.exceptions.vine.tolist(), zip(new.exceptions.status, new.exceptions.variety, strict=True), strict=True)
        )
        for vine, status, variety in zip(
            old.exceptions.vine.tolist(), old.exceptions.status, old.exceptions.variety, strict=True
        ):
            now = differs.pop(vine, (0, -1))
            # the first variety is the block's, whether it is written beside the vine or not
            assert (now[0], max(now[1], 0)) == (status, max(variety, 0))
        assert all((status, max(variety, 0)) == (0, 0) for status, variety in differs.values())


def test_stops_come_back_too():
    plain = make_season()
    blocks = (plain.blocks[0], replace(plain.blocks[1], name="Peña alta"))
    season = replace(plain, blocks=blocks, rounds=(make_round(1), make_round(2)))
    layers = blocks_layer(season), rows_layer(season), stops_layer(season, season.rounds)
    made, report = given_and_taken(season, *layers)
    assert report.problems == []
    check_blocks(season, made)
    for old, new in zip(season.rounds, made.rounds, strict=True):
        assert (new.number, new.date, new.scout) == (old.number, old.date, old.scout)
        for column in ("vine", "examined", "infected", "leaves_examined", "leaves_infected", "is_targeted"):
            assert getattr(new.stops, column).tolist() == getattr(old.stops, column).tolist()
        assert new.stops.rows == old.stops.rows


@pytest.mark.parametrize("ending", ["geojson", "gpkg", "shp", "kml", "csv"])
def test_the_wall_and_the_slope_of_a_block_go_through_every_format(tmp_path, ending):
    plain = make_season()
    block = replace(plain.blocks[0], wall=Wall(2.2, 0.7, 0.9), slope_deg=12.0, aspect_deg=200.5)
    write_layer(tmp_path / f"blocks.{ending}", blocks_layer(replace(plain, blocks=(block,))))
    made, report = bring_in([tmp_path / f"blocks.{ending}"], None, "again")
    (new,) = made.blocks
    assert report.problems == []
    assert (new.wall, new.slope_deg, new.aspect_deg) == (block.wall, 12.0, 200.5)


@pytest.mark.parametrize(
    ("figures", "field", "words"),
    [
        ("1.0,0.5,1.4,0,", "fruit_m", "is above the top of the wall, 1 m"),
        ("99,0.5,1,0,", "wall_top_m", "must be from 0.1 to 5"),
        ("1.8,0.8,1,75,0", "slope_deg", "must be from 0 to 60"),
        ("1.8,0.8,1,10,", "aspect_deg", "which way the slope falls"),
    ],
)
def test_a_wall_or_slope_that_can_not_be_is_refused(tmp_path, figures, field, words):
    path = tmp_path / "a.csv"
    head = "block,wall_top_m,wall_width_m,fruit_m,slope_deg,aspect_deg,wkt\n"
    shape = '"POLYGON ((-122.7 38.6, -122.699 38.6, -122.699 38.601, -122.7 38.6))"\n'
    path.write_text(f"{head}A,{figures},{shape}B,,,,,,{shape}", encoding="utf-8")
    read = read_ground(path)
    assert [each.block for each in read.value.outlines] == ["B"]
    (problem,) = read.problems
    assert (problem.place, problem.field) == ("line 2", field)
    assert words in problem.why
