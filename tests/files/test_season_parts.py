from __future__ import annotations

import datetime as dt
import json
import struct
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from season_makers import make_block, make_round, make_season, make_weather, same

from vinemap.errors import FileError
from vinemap.files.parts import hash_part, pack_part, unpack_part
from vinemap.ground.block import Block, RowTable, VineExceptions, no_exceptions
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.value import StageDates
from vinemap.vineclock.weather import Weather
from vinemap.work.diary import Pass

SEASON = make_season()
PARTS = [
    ("estate", SEASON.estate),
    ("block", SEASON.blocks[0]),
    ("round", SEASON.rounds[1]),
    ("passes", SEASON.passes),
    ("sprays", SEASON.sprays),
    ("stages", SEASON.stages),
    ("weather", SEASON.weather),
    ("station", SEASON.stations[0]),
    ("edge", SEASON.edges[0]),
    ("rod", SEASON.rods[0]),
    ("rules", SEASON.rules),
    ("assumptions", SEASON.assumptions),
]


@pytest.mark.parametrize(("kind", "part"), PARTS, ids=[kind for kind, _ in PARTS])
def test_every_part_comes_back_as_it_was(kind: str, part: object) -> None:
    body = pack_part(kind, part)
    back = unpack_part(kind, body)
    assert same(back, part)
    assert pack_part(kind, back) == body


def test_the_comparison_sees_a_single_changed_figure() -> None:
    counts = SEASON.rounds[0].stops.infected.copy()
    counts[2] += 1
    changed = replace(SEASON.rounds[0], stops=replace(SEASON.rounds[0].stops, infected=counts))
    assert not same(changed, SEASON.rounds[0])
    assert hash_part("round", pack_part("round", changed)) != hash_part("round", pack_part("round", SEASON.rounds[0]))


def test_what_is_empty_comes_back_empty() -> None:
    bare = Block("b", shapely.box(0, 0, 1, 1), RowTable((), np.empty((0, 2)), [0], [], []), 2.0, 1.0)
    none = Stops((), [], (), [], [], [], [], [], [], [], [])
    for kind, part in [
        ("block", bare),
        ("round", Round(9, dt.date(2031, 1, 1), "", "", none)),
        ("weather", Weather("", 0.0, [], [], [], [], [], [], [])),
        ("passes", ()),
        ("sprays", ()),
        ("stages", (StageDates("x"),)),
    ]:
        assert same(unpack_part(kind, pack_part(kind, part)), part), kind


def test_columns_that_come_back_can_not_be_written() -> None:
    back = unpack_part("weather", pack_part("weather", make_weather()))
    with pytest.raises(ValueError, match="read-only"):
        back.temp_degc[0] = 1.0


def test_layout_is_the_documented_one() -> None:
    # worked by hand from the layout at the top of the module
    body = pack_part("weather", Weather("w", -8.0, [3600], [1.5], [0], [0], [0], [0], [0]))
    mark, layout, length = struct.unpack_from("<2sHI", body)
    assert (mark, layout) == (b"VP", 1)
    head = json.loads(body[8 : 8 + length])
    assert head["fields"] == {"station": "w", "offset_hours": -8.0}
    assert head["columns"][:2] == [["time_utc", "<i8", [1]], ["temp_degc", "<f8", [1]]]
    start = -(-(8 + length) // 8) * 8
    assert body[start : start + 16] == struct.pack("<qd", 3600, 1.5)


def test_no_class_is_named_in_the_bytes() -> None:
    for kind, part in PARTS:
        body = pack_part(kind, part)
        for word in (b"vinemap", b"RowTable", b"VineExceptions", b"StageDates", b"dataclass", b"numpy"):
            assert word not in body, kind


def test_plain_numbers_from_numpy_are_taken() -> None:
    done = (Pass(dt.date(2031, 5, 1), "b", (), "L", "east", np.int64(2), np.float32(1.5)),)
    assert unpack_part("passes", pack_part("passes", done)) == done


@pytest.mark.parametrize(
    "body",
    [b"", b"VP", b"XX" + pack_part("estate", SEASON.estate)[2:], b"VP\x02\x00" + pack_part("estate", SEASON.estate)[4:]],
    ids=["empty", "short", "other mark", "newer layout"],
)
def test_bytes_that_are_no_part_are_refused(body: bytes) -> None:
    with pytest.raises(FileError, match=r"\(estate\) can't be understood\. It may have been written by a newer Vinemap"):
        unpack_part("estate", body)


def test_a_part_cut_short_anywhere_is_refused() -> None:
    body = pack_part("round", make_round(1, stops=2))
    for end in range(len(body) - 1):
        with pytest.raises(FileError):
            unpack_part("round", body[:end])


finite = st.floats(allow_nan=False, allow_infinity=False, width=64)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(
    name=st.text(alphabet=st.characters(codec="utf-8"), max_size=12),
    vigour=finite,
    spacing=st.lists(st.floats(0.5, 3.0), min_size=1, max_size=4),
    differs=st.lists(
        st.tuples(st.integers(0, 99), st.integers(0, 3), st.integers(-1, 3)), max_size=5, unique_by=lambda x: x[0]
    ),
)
def test_any_block_comes_back(name: str, vigour: float, spacing: list[float], differs: list[tuple[int, int, int]]) -> None:
    usual = make_block(name, rows=len(spacing) + 1, vines=30)
    rows = replace(usual.rows, vine_spacing_m=np.array([*spacing, 1.0]))
    columns = np.array(sorted(differs)).reshape(-1, 3).T
    exceptions = VineExceptions(*columns) if differs else no_exceptions()
    block = replace(usual, vigour=vigour, rows=rows, exceptions=exceptions)
    assert same(unpack_part("block", pack_part("block", block)), block)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(st.lists(st.floats(), max_size=6))
def test_any_reading_comes_back_to_the_last_bit(readings: list[float]) -> None:
    column = np.array(readings, float)
    weather = Weather("w", 10.5, np.arange(len(readings)), *(column,) * 6)
    back = unpack_part("weather", pack_part("weather", weather))
    assert back.temp_degc.tobytes() == column.tobytes()
