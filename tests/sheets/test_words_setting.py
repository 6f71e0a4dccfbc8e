"""Every crew word in two languages, dates as people say them, and words that are wrapped or shrunk but never cut."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sheet_blocks import measure

from vinemap.sheets.setting import LEAST_PT, shrink, wrap
from vinemap.sheets.words import (
    FACE_LETTERS,
    FACE_WORDS,
    KIND_WORDS,
    WORDS,
    Both,
    day_words,
    heat_words,
    keep_out_words,
    sheet_words,
    work_words,
)
from vinemap.work.diary import KINDS

SAME_IN_BOTH = {"min"}


def test_every_word_has_both_languages_and_no_spare_space() -> None:
    for table in (KIND_WORDS, FACE_WORDS, FACE_LETTERS, WORDS):
        for words in table.values():
            for text in (words.english, words.spanish):
                assert text
                assert text == text.strip()
    for table in (KIND_WORDS, WORDS):
        for words in table.values():
            assert words.english != words.spanish or words.english in SAME_IN_BOTH


def test_every_kind_of_work_is_named_and_every_face_has_a_letter() -> None:
    assert tuple(KIND_WORDS) == KINDS
    assert set(FACE_WORDS) == set(FACE_LETTERS)
    assert FACE_LETTERS["west"] == Both("W", "O")


def test_a_day_is_said_with_its_weekday() -> None:
    # 15 June 2026 is a Monday by the civil calendar
    assert str(day_words(dt.date(2026, 6, 15))) == "Monday 15 June · lunes 15 de junio"
    said = {day_words(dt.date(2026, month, 1)).spanish.split()[-1] for month in range(1, 13)}
    assert len(said) == 12
    week = {day_words(dt.date(2026, 6, day)).english.split()[0] for day in range(1, 8)}
    assert len(week) == 7


def test_keep_out_says_from_when_to_when_in_both_languages() -> None:
    words = keep_out_words("Well Field", dt.datetime(2026, 6, 16, 5, 30), dt.datetime(2026, 6, 17, 8, 5))
    assert "from Tuesday 16 June 5:30 to Wednesday 17 June 8:05" in words.english
    assert "del martes 16 de junio 5:30 al miércoles 17 de junio 8:05" in words.spanish


def test_heat_and_sheet_words() -> None:
    assert heat_words(dt.time(14, 0)).english.startswith("Hot after 14:00.")
    assert str(sheet_words(2, 3)) == "sheet 2 of 3 · hoja 2 de 3"


@pytest.mark.parametrize(
    ("kinds", "english"),
    [
        ("LFD", "open the vines"),
        ("TP", "open the vines, spray"),
        ("CV", "cut out bad fruit, look again"),
        ("", "nothing to do"),
    ],
)
def test_what_is_done_follows_from_the_letters(kinds: str, english: str) -> None:
    assert work_words(kinds).english == english


@given(st.text(st.characters(categories=("L", "N", "P", "Zs")), max_size=80), st.floats(4.0, 60.0))
@settings(derandomize=True, max_examples=80)
def test_wrapped_words_lose_nothing_and_fit(text: str, width: float) -> None:
    lines = wrap(text, width, 10.0, measure)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert all(measure(line, 10.0, 400, False) <= width or len(line) == 1 for line in lines)


def test_words_shrink_as_far_as_the_least_size_and_never_grow() -> None:
    wide = measure("hilera", 10.0, 400, False)
    assert shrink("hilera", wide + 0.01, 10.0, measure) == 10.0
    assert shrink("hilera", wide * 0.8, 10.0, measure) == pytest.approx(8.0)
    assert shrink("hilera", wide * 0.1, 10.0, measure) == LEAST_PT
