from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.ground.covariates import REACH_M, Covariate, value_at


def along(values: list[float], step_m: float = 2.0) -> Covariate:
    """Figures along a row eastwards."""
    return Covariate("vigour", "a.csv", np.column_stack([step_m * np.arange(len(values)), np.zeros(len(values))]), values)


def test_a_vine_takes_the_nearest_figure_within_reach() -> None:
    found = value_at(along([0.2, 0.4, 0.6]), np.array([[0.0, 0.0], [1.1, 0.0], [4.0, 5.0], [4.0, 5.01], [9.01, 0.0]]))
    np.testing.assert_array_equal(found, [0.2, 0.4, 0.6, np.nan, np.nan])
    assert REACH_M == 5.0


def test_the_reach_is_asked_for() -> None:
    np.testing.assert_array_equal(value_at(along([0.2]), np.array([[0.0, 20.0]]), reach_m=20.0), [0.2])


def test_nothing_known_and_nothing_asked() -> None:
    np.testing.assert_array_equal(value_at(along([]), np.zeros((2, 2))), [np.nan, np.nan])
    assert value_at(along([0.2]), np.empty((0, 2))).shape == (0,)


@pytest.mark.parametrize(
    ("points", "values"), [([[0, np.nan]], [1]), ([[0, 0]], [np.inf]), ([[0, 0, 0]], [1]), ([[0, 0]], [1, 2])]
)
def test_what_is_no_figure_or_place_is_a_defect(points: list[list[float]], values: list[float]) -> None:
    with pytest.raises(ValueError, match=r"covariate|columns"):
        Covariate("vigour", "a.csv", np.array(points), np.array(values))


def test_columns_can_not_be_written_to() -> None:
    made = along([0.2])
    with pytest.raises(ValueError, match="read-only"):
        made.values[0] = 1.0


PLACES = st.lists(st.tuples(st.integers(-200, 200), st.integers(-200, 200)), min_size=1, max_size=12, unique=True)


@settings(max_examples=60)
@given(
    PLACES,
    st.tuples(st.integers(-9999, 9999), st.integers(-9999, 9999)),
    st.tuples(st.integers(-250, 250), st.integers(-250, 250)),
)
def test_the_answer_is_that_of_looking_at_every_place_and_moves_with_the_ground(
    places: list[tuple[int, int]], shift: tuple[int, int], at: tuple[int, int]
) -> None:
    points, asked = np.array(places, float), np.array([at], float)
    values = np.arange(len(points), dtype=float)
    away_m = np.hypot(*(points - asked).T)
    found = value_at(Covariate("a", "b", points, values), asked)[0]
    near = set(values[(away_m <= REACH_M) & (away_m == away_m.min())])
    assert found in near if near else np.isnan(found)
    moved = value_at(Covariate("a", "b", points + shift, values), asked + shift)[0]
    assert moved in near if near else np.isnan(moved)
