"""What is left of a spray, and how long an infection stays hidden."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.vineclock.cover import cover_left
from vinemap.vineclock.latency import days_to_spores, is_killed_by_heat, latent_days, latent_progress


def test_cover_falls_straight_and_rain_washes():
    assert cover_left([-1, 0, 3.5, 7, 20], 7.0, 0.0).tolist() == [0, 1, 0.5, 0, 0]
    assert cover_left(0.0, 7.0, [0, 12.5, 25, 60]).tolist() == [1, 0.5, 0, 0]
    assert cover_left([3.5], 7.0, 60.0, is_contact=False).tolist() == [0.5]


def test_cover_of_what_was_never_sprayed_or_not_measured():
    assert cover_left([np.nan], 7.0, 0.0).tolist() == [0]
    assert np.isnan(cover_left([1.0], 7.0, np.nan)[0])
    assert cover_left([8.0], 7.0, np.nan)[0] == 0  # worn off whatever fell
    assert cover_left([1.0], 4.0, np.nan, is_contact=False)[0] == 0.75


@given(st.floats(0, 60), st.floats(0.5, 40), st.floats(0, 100))
@settings(derandomize=True, max_examples=80, deadline=None)
def test_cover_never_grows(days, cover, rain):
    now = float(cover_left(days, cover, rain))
    assert 0 <= now <= 1
    assert float(cover_left(days + 1, cover, rain + 1)) <= now
    assert float(cover_left(days, cover, rain, is_contact=False)) >= now


def test_cover_refuses_nonsense():
    with pytest.raises(InputError, match="above 0"):
        cover_left([1.0], 0.0, 0.0)
    with pytest.raises(InputError, match="below 0"):
        cover_left([1.0], 7.0, -1.0)


def test_latent_period():
    # 44.7 + 0.067 T^2 - 3.244 T (Caffi et al. 2011), worked by hand.
    by_hand = {6: 27.648, 8: 23.036, 10: 18.96, 12: 15.42, 15: 11.115, 16: 9.948, 20: 6.62, 22: 5.76, 26: 5.648, 30: 7.68}
    assert latent_days(list(by_hand)).tolist() == pytest.approx(list(by_hand.values()), abs=1e-9)
    assert latent_days(24.2) == pytest.approx(5.43, abs=0.005)
    assert np.isinf(latent_days([4.9, 31.1, 35])).all()


def test_progress_of_a_colony():
    # Worked by hand: 3/6.62 + 4/11.115 = 0.813; one day at 24 degC brings 0.997, the next one spores.
    means = [20] * 3 + [15] * 4 + [24] * 2
    progress = latent_progress(means)
    assert progress[6] == pytest.approx(0.813, abs=5e-4)
    assert progress[7] == pytest.approx(0.997, abs=5e-4)
    assert days_to_spores(means) == 9
    assert days_to_spores(means[:-1]) is None
    assert days_to_spores([33] * 50) is None
    assert np.isnan(latent_progress([20, np.nan, 20])[1:]).all()


def test_heat_that_kills():
    # Colonies died after 3 h at 40 degC, 1.5 h at 42 or 1 h at 44.
    assert is_killed_by_heat([39.9] * 24, 1.0).any() == np.False_
    assert is_killed_by_heat([40, 40, 30, 40, 40, 40, 20], 1.0).tolist() == [False] * 5 + [True] * 2
    assert is_killed_by_heat([40, np.nan, 40, 40], 1.0).any() == np.False_
    assert is_killed_by_heat([42, 42, 42], 0.5).tolist() == [False, False, True]
    assert is_killed_by_heat([44], 1.0).tolist() == [True]
