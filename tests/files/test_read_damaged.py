"""Damaged files: whatever the bytes, a reader answers with what is good, with problems, or with a plain error."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import Problem, VinemapError
from vinemap.files.diary_reader import read_passes, read_sprays
from vinemap.files.estate_reader import read_estate
from vinemap.files.ground_reader import read_ground
from vinemap.files.kinds import kind_of
from vinemap.files.outlines import centre_deg
from vinemap.files.placing import place_blocks
from vinemap.files.projection import frame_for
from vinemap.files.stop_placing import place_stops
from vinemap.files.stop_reader import read_stops
from vinemap.files.vine_reader import apply_all_vines, read_vines
from vinemap.files.weather_reader import read_weather
from vinemap.ground.vines import place_vines

FRAME = frame_for(-122.7, 38.6)
RING = [[-122.7, 38.6], [-122.6993, 38.6], [-122.6993, 38.6007], [-122.7, 38.6007], [-122.7, 38.6]]
PROPERTIES = {"block": "Peña", "row_spacing_m": 3, "vine_spacing_m": 2.0, "bearing_deg": 12, "varieties": ["A", "B"]}
STOP = {"date": "2026-06-12", "round": 2, "examined": 15, "infected": 4, "sample_type": "random"}


def feature(kind, coordinates, properties):
    return {"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": coordinates}}


GROUND = {
    "type": "FeatureCollection",
    "features": [
        feature("Polygon", [RING], PROPERTIES),
        feature("LineString", [[-122.6999, 38.6001], [-122.6999, 38.6006]], {"block": "Peña", "row": 1, "vines": 20}),
        feature("LineString", [[-122.6998, 38.6001], [-122.6998, 38.6006]], {"block": "Peña", "row": "2"}),
        feature("Point", [-122.6999, 38.6003], STOP),
    ],
}
WHOLE = {
    "ground": json.dumps(GROUND, ensure_ascii=False),
    "stops": "round,date,scout,block,row,vine,examined,infected,leaves_examined,leaves_infected,sample_type\n"
    '1,2026-05-29,Inés,Peña,1,3,15,2,10,0,random\n1,2026-05-29,"B, x",Peña,2,5,12,0,,,targeted\n',
    "places": "date;lon;lat;examined;infected\n2026-05-29;-122,6999;38,6003;15;2\n2026-06-12;-122,6998;38,6002;9;9\n",
    "weather": "time,temp_c,rain_mm,wet_frac,rh_frac,wind_ms,wind_from_deg\n2026-07-01T13:00,31.5,0,0,0.4,2.5,290\n"
    "2026-07-01T22:00Z,32,0.2,,,,\n2026-07-02T15:00,30,,,1,,360\n",
    "passes": "date,block,rows,kind,face,people,hours\n2026-05-20,Peña,1-2,L,east,4,6.5\n2026-05-21,Peña,,D,both,2,8\n",
    "sprays": "start,end,block,rows,materials,rate_kg_per_ha,water_l_per_ha\n"
    "2026-05-20T05:30,2026-05-20T09:00,Peña,1;2,sulfur;oil,4.5,450\n",
    "vines": "block,row,vine,status,variety\nPeña,1,3,missing,\nPeña,2,4,dead,C\n",
    "estate": json.dumps({"estate": "X", "time_offset_hours": -8, "bloom": "2026-05-28", "stages": [{"block": "Peña"}]}),
}


@pytest.fixture(scope="module")
def blocks(tmp_path_factory):
    path = tmp_path_factory.mktemp("whole") / "ground.geojson"
    path.write_text(WHOLE["ground"], encoding="utf-8")
    ground = read_ground(path).value
    return place_blocks(ground.outlines, ground.rows, FRAME).value


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("damaged")


def read_ground_and_place(path, blocks):
    read = read_ground(path)
    drafts = read.value
    frame = frame_for(*centre_deg(drafts.outlines)) if drafts.outlines else FRAME
    placed = place_blocks(drafts.outlines, drafts.rows, frame)
    for block in placed.value:
        vines = place_vines(block)
        assert len(vines) > 0
        assert np.isfinite(vines.x_m).all()
        assert np.isfinite(vines.y_m).all()
    stops = place_stops(drafts.stops, placed.value, frame)
    return (*read.problems, *placed.problems, *stops.problems)


def read_and_place_stops(path, blocks):
    read = read_stops(path)
    placed = place_stops(read.value, blocks, FRAME)
    assert sum(len(each.stops) for each in placed.value) + len(placed.problems) == len(read.value)
    for each in placed.value:
        assert (each.stops.infected <= each.stops.examined).all()
        assert (each.stops.leaves_infected <= each.stops.leaves_examined).all()
        assert (each.stops.infected >= 0).all()
    return (*read.problems, *placed.problems)


def read_weather_and_look(path, blocks):
    read = read_weather(path, -8.0)
    assert (np.diff(read.value.time_utc) > 0).all()
    for share in (read.value.wet_frac, read.value.rh_frac):
        known = share[np.isfinite(share)]
        assert ((known >= 0) & (known <= 1)).all()
    return read.problems


def read_vines_and_apply(path, blocks):
    read = read_vines(path)
    applied = apply_all_vines(blocks, read.value)
    for block in applied.value:
        assert (np.diff(block.exceptions.vine) > 0).all()
        place_vines(block)
    return (*read.problems, *applied.problems)


READERS = {
    "ground": read_ground_and_place,
    "stops": read_and_place_stops,
    "places": read_and_place_stops,
    "weather": read_weather_and_look,
    "passes": lambda path, blocks: read_passes(path, blocks).problems,
    "sprays": lambda path, blocks: read_sprays(path, blocks).problems,
    "vines": read_vines_and_apply,
    "estate": lambda path, blocks: read_estate(path).problems,
}


def answer(function, *arguments):
    try:
        return function(*arguments), None
    except VinemapError as error:
        return None, error


def check(kind, path, blocks):
    """Problems of reading, after checking that nothing but a plain error comes out."""
    _, error = answer(kind_of, path)
    assert error is None or (error.what and error.do)
    problems, error = answer(READERS[kind], path, blocks)
    if problems is None:
        assert error.what
        assert error.do
        return None
    for problem in problems:
        assert isinstance(problem, Problem)
        assert problem.file == path.name
        assert problem.why
        assert str(problem)
    return problems


@pytest.mark.parametrize("kind", list(WHOLE))
def test_the_whole_files_are_read_without_a_problem(kind, blocks, folder):
    path = folder / f"{kind}.whole"
    path.write_text(WHOLE[kind], encoding="utf-8")
    assert check(kind, path, blocks) == ()


CUTS = st.tuples(st.floats(0, 1), st.integers(0, 6), st.binary(max_size=4))
WORDS = st.sampled_from(
    [
        b'"',
        b",",
        b";",
        b"\n",
        b"\r",
        b"-",
        b"e9",
        b"NaN",
        b"Infinity",
        b"null",
        b"[]",
        b"{}",
        b"1e400",
        b"\0",
        b"\xff",
        b"9" * 30,
    ]
)
SWAPS = st.tuples(st.floats(0, 1), st.integers(0, 6), WORDS)


@settings(derandomize=True, max_examples=400, deadline=None)
@given(st.sampled_from(sorted(WHOLE)), st.lists(st.one_of(CUTS, SWAPS), min_size=1, max_size=5))
def test_changed_bytes_never_break_a_reader(blocks, folder, kind, changes):
    data = WHOLE[kind].encode("utf-8")
    for where, gone, put in changes:
        at = int(where * len(data))
        data = data[:at] + put + data[at + gone :]
    path = folder / f"{kind}.changed"
    path.write_bytes(data)
    check(kind, path, blocks)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.sampled_from(sorted(WHOLE)), st.binary(max_size=300))
def test_any_bytes_never_break_a_reader(blocks, folder, kind, data):
    path = folder / f"{kind}.any"
    path.write_bytes(data)
    check(kind, path, blocks)


JSON = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5)),
    lambda inner: st.one_of(st.lists(inner, max_size=5), st.dictionaries(st.text(max_size=5), inner, max_size=3)),
    max_leaves=12,
)


@settings(derandomize=True, max_examples=200, deadline=None)
@given(
    st.sampled_from(
        ["type", "properties", "geometry", "coordinates", "ring", "position", "block", "row", "vines", "varieties"]
    ),
    st.integers(0, 3),
    JSON,
)
def test_any_value_anywhere_in_a_feature_never_breaks_a_reader(blocks, folder, where, index, value):
    ground = json.loads(WHOLE["ground"])
    chosen = ground["features"][index]
    if where in ("type", "properties", "geometry"):
        chosen[where] = value
    elif where == "coordinates":
        chosen["geometry"]["coordinates"] = value
    elif where in ("ring", "position"):
        inner = chosen["geometry"]["coordinates"]
        while where == "position" and isinstance(inner[0], list):
            inner = inner[0]
        inner[0] = value
    else:
        chosen["properties"][where] = value
    path = folder / "any.geojson"
    path.write_text(json.dumps(ground), encoding="utf-8")
    check("ground", path, blocks)


def test_cut_off_anywhere(blocks, folder):
    for kind, text in WHOLE.items():
        data = text.encode("utf-8")
        for end in range(0, len(data), 23):
            path = folder / f"{kind}.cut"
            path.write_bytes(data[:end])
            check(kind, path, blocks)
