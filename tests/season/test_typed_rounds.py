"""Typed edits of rounds, and names that are hard to write. The estate is invented."""

from __future__ import annotations

from dataclasses import replace

import pytest
from ground_to_edit import season_to_edit

from vinemap.errors import InputError
from vinemap.season.typed_edits import looks_like_edit, typed_edit


def nowhere(lon_deg, lat_deg):
    raise AssertionError("no place was written")


def test_a_round_is_deleted_as_written_and_none_twice():
    season = season_to_edit()
    first = season.rounds[0]
    done = typed_edit(season, f"delete round {first.number}", nowhere)
    assert done.season.rounds == season.rounds[1:]
    assert done.said == (f"Round {first.number} is deleted, with its {len(first.stops)} stops.",)
    assert looks_like_edit(season, f"Remove the round {first.number}")
    with pytest.raises(InputError, match="There is no round"):
        typed_edit(done.season, f"delete round {first.number}", nowhere)


def test_a_name_with_a_line_break_is_written_with_a_blank():
    season = season_to_edit()
    block = replace(season.blocks[0], name="North\nSouth")
    broken = replace(season, blocks=(block, *season.blocks[1:]), rounds=(), passes=(), sprays=(), stages=())
    done = typed_edit(broken, "north south row 1, vines 1 to 5 missing", nowhere)
    assert done.season.blocks[0].name == "North\nSouth"
    assert done.season.blocks[0].exceptions is not block.exceptions
