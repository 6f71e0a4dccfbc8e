"""What is believed of late opening, as it is written. The estate is invented."""

import pytest
from ground_to_edit import season_to_edit

from vinemap.errors import InputError
from vinemap.season.typed_edits import looks_like_edit, typed_edit


def nowhere(lon_deg, lat_deg):
    raise AssertionError("no place was written")


@pytest.mark.parametrize("text", ["believe practice", "Believe the practice."])
def test_a_belief_is_chosen_as_written(text):
    season = season_to_edit()
    assert looks_like_edit(season, text)
    done = typed_edit(season, text, nowhere)
    assert done.season.goes_by.late_opening == "practice"
    assert done.season.blocks is season.blocks


def test_believing_as_before_changes_nothing_and_going_back_is_one_step():
    season = season_to_edit()
    assert typed_edit(season, "believe trials", nowhere).season is season
    there = typed_edit(season, "believe practice", nowhere).season
    assert typed_edit(there, "believe trials", nowhere).season.goes_by == season.goes_by


def test_a_belief_that_is_none_is_refused_with_those_that_are():
    with pytest.raises(InputError) as told:
        typed_edit(season_to_edit(), "believe the moon", nowhere)
    assert "Use one of trials, practice" in told.value.do
