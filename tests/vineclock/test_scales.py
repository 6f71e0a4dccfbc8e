"""Stages in three scales. Numbers: Lorenz et al. 1995 (BBCH), Coombe 1995 (modified E-L), Eichhorn & Lorenz 1977."""

import datetime as dt

import numpy as np
import pytest

from vinemap.errors import InputError
from vinemap.vineclock.scales import (
    BBCH,
    EVENTS,
    MODIFIED,
    ORIGINAL,
    event_of,
    modified_by_day,
    modified_of,
    modified_on,
    stage_text,
    trap_words,
    usual_days,
)


@pytest.mark.parametrize(
    ("bbch", "modified"),
    [
        *[(5, 3), (9, 4), (11, 7), (15, 12), (53, 12), (55, 15), (57, 17), (60, 19), (61, 20), (65, 23), (69, 26)],
        *[(71, 27), (73, 29), (75, 31), (77, 32), (79, 33), (85, 34), (81, 35), (89, 38), (97, 47)],
    ],
)
def test_bbch_read_in_the_modified_scale(bbch, modified):
    assert modified_of(BBCH, bbch) == modified


def test_softening_comes_before_colour_though_its_number_is_higher():
    # BBCH lists 85 after 81; on the vine berries soften first (Coombe 1995).
    assert modified_of(BBCH, 85) < modified_of(BBCH, 81) <= modified_of(BBCH, 83) < modified_of(BBCH, 89)


def test_between_two_listed_stages_the_last_one_counts():
    assert modified_of(BBCH, 13) == 9
    assert modified_of(BBCH, 63) == 21
    assert stage_text(BBCH, 63) == "BBCH 63 (past one cap in ten off)"
    assert stage_text(BBCH, 5) == "BBCH 05 (woolly bud)"
    assert stage_text(MODIFIED, 1) == "modified E-L 1"


def test_the_two_scales_of_one_name_are_not_one():
    # 33 of 1977 is the beginning of bunch closure, 32 of the modified scale; budbreak is 5 there, 4 here.
    assert modified_of(ORIGINAL, 33) == 32
    assert modified_of(ORIGINAL, 5) == 4
    assert modified_of(ORIGINAL, 29) == 29
    assert stage_text(ORIGINAL, 33) == "E-L 1977 33 (bunches begin to close)"
    assert stage_text(MODIFIED, 33) == "modified E-L 33 (berries hard and green)"
    assert "“E-L 1977 33”" in trap_words(MODIFIED, 33)
    assert "“E-L 1977 5”" in trap_words(MODIFIED, 5)
    assert trap_words(ORIGINAL, 33) == "In the modified scale that is 32."
    assert trap_words(MODIFIED, 27) == trap_words(BBCH, 33) == trap_words(ORIGINAL, 27) == ""


@pytest.mark.parametrize(
    ("scale", "number"), [(BBCH, 30), (BBCH, 100), (BBCH, -1), (MODIFIED, 0), (MODIFIED, 48), ("E-L", 27)]
)
def test_numbers_that_no_scale_has(scale, number):
    with pytest.raises(InputError, match=r"no stage of the vine|no scale of growth stages"):
        modified_of(scale, number)


def test_events_stand_in_the_order_of_the_vine():
    modified = [each.modified for each in EVENTS]
    days = [each.days_from_bloom for each in EVENTS]
    assert modified == sorted(set(modified))
    assert days == sorted(set(days))
    assert all(modified_of(BBCH, each.bbch) == each.modified for each in EVENTS)
    assert all(each.original is None or modified_of(ORIGINAL, each.original) == each.modified for each in EVENTS)


def test_usual_days_and_back():
    for each in EVENTS:
        assert modified_on(usual_days(each.modified)) == pytest.approx(each.modified)
    assert event_of(27.9).name == "fruit set"
    assert event_of(1) is None


def test_stages_by_day_pass_through_what_is_known():
    budbreak, bloom, colour = dt.date(2031, 4, 13), dt.date(2031, 5, 28), dt.date(2031, 8, 10)
    days = np.arange(budbreak.toordinal() - 100, colour.toordinal() + 200)
    found = modified_by_day([(4, budbreak), (23, bloom), (35, colour)], days)
    for number, date in ((4, budbreak), (23, bloom), (35, colour)):
        assert found[date.toordinal() - days[0]] == pytest.approx(number)
    assert (np.diff(found) >= 0).all()
    assert (found[0], found[-1]) == (1.0, 47.0)
    # only bloom known: as usual, eight days to fruit set
    alone = modified_by_day([(23, bloom)], bloom.toordinal() + np.array([8, 63]))
    assert alone.tolist() == pytest.approx([27.0, 35.0])


def test_of_stages_that_contradict_each_other_the_first_counts():
    bloom = dt.date(2031, 5, 28)
    odd = [(23, bloom), (27, bloom - dt.timedelta(days=9)), (31, bloom + dt.timedelta(days=18))]
    days = bloom.toordinal() + np.array([-9, 0, 18])
    assert modified_by_day(odd, days).tolist() == modified_by_day([odd[0], odd[2]], days).tolist()
