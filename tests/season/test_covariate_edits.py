from __future__ import annotations

import numpy as np
import pytest

from vinemap.errors import InputError
from vinemap.ground.covariates import Covariate
from vinemap.ground.frame import Frame
from vinemap.season import edits
from vinemap.season.value import Estate, Season

FRAME = Frame("EPSG:32610", 0.0, 0.0, 38.0, -122.0, 0.0)
EMPTY = Season(Estate("Invented", FRAME, -8.0))


def column(name: str, count: int = 3) -> Covariate:
    return Covariate(name, "a.csv", np.zeros((count, 2)) + np.arange(count)[:, None], np.arange(float(count)))


def test_columns_are_added_found_and_dropped_and_the_rest_is_the_same() -> None:
    vigour, height = column("Vigour"), column("height")
    season = edits.add_covariate(edits.add_covariate(EMPTY, vigour), height)
    assert season.covariates == (vigour, height)
    assert season.covariate("VIGOUR") is vigour
    assert season.covariate("soil") is None
    assert season.blocks is EMPTY.blocks
    dropped = edits.drop_covariate(season, "vigour")
    assert dropped.covariates == (height,)
    assert season.covariates == (vigour, height)


def test_the_same_name_takes_the_old_one_s_place_and_the_same_column_changes_nothing() -> None:
    old, other, new = column("vigour"), column("height"), column("VIGOUR", 4)
    season = edits.add_covariate(edits.add_covariate(EMPTY, old), other)
    assert edits.add_covariate(season, old) is season
    assert edits.add_covariate(season, new).covariates == (new, other)


@pytest.mark.parametrize("name", ["", "  ", " vigour", "a\nb", "a\0", "x" * 61])
def test_names_that_can_not_be_shown_are_refused(name: str) -> None:
    with pytest.raises(InputError, match="can't be the name of a column"):
        edits.add_covariate(EMPTY, column(name))


def test_a_column_without_values_one_too_many_and_one_that_is_not_there_are_refused() -> None:
    with pytest.raises(InputError, match="has no value at any vine"):
        edits.add_covariate(EMPTY, column("vigour", 0))
    full = EMPTY
    for number in range(edits.MOST_COVARIATES):
        full = edits.add_covariate(full, column(f"c{number}"))
    with pytest.raises(InputError, match="12 columns already"):
        edits.add_covariate(full, column("one more"))
    assert len(edits.add_covariate(full, column("C3", 5)).covariates) == edits.MOST_COVARIATES
    with pytest.raises(InputError, match=r"no column soil\. There are: c0, c1"):
        edits.drop_covariate(full, "soil")
    with pytest.raises(InputError, match="None has been brought in"):
        edits.drop_covariate(EMPTY, "soil")


def test_the_map_frame_stays_while_there_are_columns() -> None:
    season = edits.add_covariate(EMPTY, column("vigour"))
    other = Estate("Invented", Frame("EPSG:32611", 0.0, 0.0, 38.0, -117.0, 0.0), -8.0)
    with pytest.raises(InputError, match="map frame can't change"):
        edits.with_estate(season, other)
    assert edits.with_estate(EMPTY, other).estate is other
