"""Parts of a season whose words and numbers were changed: understood, or refused in plain words, and never a crash."""

from __future__ import annotations

import random
import struct
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from season_makers import make_season

from vinemap.errors import VinemapError
from vinemap.files.parts import pack_part, unpack_part

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fuzz"))
from fuzz_mutations import odd_node, spoil

SEASON = make_season()
START = struct.Struct("<2sHI")
PARTS = {
    "estate": SEASON.estate,
    "block": SEASON.blocks[0],
    "round": SEASON.rounds[0],
    "passes": SEASON.passes,
    "sprays": SEASON.sprays,
    "stages": SEASON.stages,
    "assumptions": SEASON.assumptions,
    "covariate": SEASON.covariates[0],
    "weather": SEASON.weather,
    "station": SEASON.stations[0],
    "edge": SEASON.edges[0],
    "rod": SEASON.rods[0],
    "rules": SEASON.rules,
}


def understood(kind: str, body: bytes) -> bool:
    said = None
    try:
        unpack_part(kind, body)
    except VinemapError as error:
        said = error
    assert said is None or (said.what and said.do)
    return said is None


@pytest.mark.parametrize("kind", PARTS)
def test_a_part_as_it_was_is_understood(kind: str) -> None:
    assert understood(kind, pack_part(kind, PARTS[kind]))


@settings(derandomize=True, max_examples=500, deadline=None)
@given(st.sampled_from(sorted(PARTS)), st.integers(0, 2**32))
def test_a_value_of_another_kind_never_breaks_it(kind: str, seed: int) -> None:
    body = pack_part(kind, PARTS[kind])
    length = START.unpack_from(body)[2]
    head = odd_node(body[START.size : START.size + length], random.Random(seed))
    before = START.size + length
    columns = bytes(-(START.size + len(head)) % 8) + body[before + -before % 8 :]
    understood(kind, START.pack(b"VP", 1, len(head)) + head + columns)


@settings(derandomize=True, max_examples=300, deadline=None)
@given(st.sampled_from(sorted(PARTS)), st.integers(0, 2**32))
def test_spoilt_bytes_never_break_it(kind: str, seed: int) -> None:
    understood(kind, spoil(pack_part(kind, PARTS[kind]), random.Random(seed)))
