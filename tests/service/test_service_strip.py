"""The season strip: one axis of days with what is known of each."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from vinemap.service.strip import RoundMark, WorkMark, make_strip
from vinemap.work.conditions import Stage

START, BLOOM = dt.date(2026, 4, 1), dt.date(2026, 5, 29)


def stage(bloom, veraison=None):
    return Stage(bloom, False, dt.date(2026, 9, 15), False, veraison)


def test_the_axis_holds_everything_and_half_a_year():
    early = WorkMark(dt.date(2026, 3, 20), "T", dt.date(2026, 3, 20))
    strip = make_strip((RoundMark(1, dt.date(2026, 6, 12), 300, 12),), (early,), None, stage(BLOOM), 28.0, START)
    assert strip.first == early.date
    assert strip.last == START + dt.timedelta(days=183)
    assert strip.today == dt.date(2026, 6, 12)
    assert len(strip.window) == (strip.last - strip.first).days + 1
    # wide open on the day of bloom, closed before the season and after colour
    assert strip.window[(BLOOM - strip.first).days] == 1.0
    assert strip.window[(BLOOM - strip.first).days + 63] == 0.0
    assert strip.words_on(dt.date(2026, 6, 12)) == "12 June, fruit open to mildew 100 %, round 1"


@pytest.mark.parametrize("resists_days", [28.0, 62.0, 70.0])
def test_berries_that_resist_late_still_have_a_window(resists_days):
    strip = make_strip((), (), None, stage(BLOOM), resists_days, START)
    assert np.isfinite(strip.window).all()
    assert strip.window.max() == 1.0
    assert strip.window[-1] == 0.0


def test_without_bloom_nothing_is_claimed():
    strip = make_strip((), (), None, stage(None), 28.0, START)
    assert not strip.window.any()
    assert strip.window_words == "bloom not entered"


def test_an_entered_date_of_colour_closes_the_window_then():
    colour = BLOOM + dt.timedelta(days=80)
    strip = make_strip((), (), None, stage(BLOOM, colour), 28.0, START)
    after = (colour - strip.first).days
    assert strip.window[after - 5] > 0.0
    assert strip.window[after] == 0.0
