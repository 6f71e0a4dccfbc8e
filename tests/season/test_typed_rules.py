"""The rules of heat and infection, typed in. The estate is invented."""

from __future__ import annotations

import pytest
from ground_to_edit import season_to_edit

from vinemap.errors import InputError
from vinemap.season.rules import HEAT_1999, HEAT_2013, HOURS_12_15, MILLS, UCCE
from vinemap.season.typed_edits import looks_like_edit, typed_edit


def nowhere(lon_deg, lat_deg):
    raise AssertionError("no place was written")


@pytest.mark.parametrize(
    ("text", "name"),
    [("infection rule ucce", UCCE), ("Infection rule: 2/3 Mills", MILLS), ("infection rule is 12-15 h", HOURS_12_15)],
)
def test_the_rule_of_infection(text, name):
    season = season_to_edit()
    assert looks_like_edit(season, text)
    done = typed_edit(season, text, nowhere)
    assert done.season.goes_by.infection == name
    assert done.season.goes_by.heat == HEAT_1999
    assert done.said[0].startswith("A primary infection is ")


def test_the_rule_of_heat():
    done = typed_edit(season_to_edit(), "heat rule 2013", nowhere)
    assert done.season.goes_by.heat == HEAT_2013
    assert done.said[0] == "Heat is 38 °C (100 °F) for two hours on end."
    assert typed_edit(done.season, "heat rule 2013", nowhere).season is done.season


def test_a_rule_that_is_none():
    with pytest.raises(InputError, match="is no rule of heat"):
        typed_edit(season_to_edit(), "heat rule 1950", nowhere)
    with pytest.raises(InputError, match="is no rule of infection"):
        typed_edit(season_to_edit(), "infection rule", nowhere)
