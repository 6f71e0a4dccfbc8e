"""Words of six languages inside cells, and months in dates. All tables are invented."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.files.cell_words import _MONTHS, WORDS, bare, in_our_words, read_date, read_moment, read_word
from vinemap.files.diary_reader import FACES, PASS_KINDS
from vinemap.files.matching import propose, values_fit
from vinemap.files.stop_reader import RANDOM, TARGETED
from vinemap.ground.block import STATUS_WORDS
from vinemap.scouting.rounds import LIGHT_WORDS

MONTH_WORDS = [(number, word) for number, words in enumerate(_MONTHS, start=1) for word in words.split()]


def test_the_words_of_ours_are_those_the_readers_take() -> None:
    assert tuple(WORDS["status"]) == STATUS_WORDS
    assert tuple(WORDS["face"]) == FACES
    assert tuple(WORDS["kind"]) == PASS_KINDS
    assert tuple(WORDS["sample_type"]) == (RANDOM, TARGETED)
    assert tuple(WORDS["light"]) == LIGHT_WORDS[1:]


@pytest.mark.parametrize("column", list(WORDS))
def test_no_word_means_two_things(column: str) -> None:
    said = [(bare(word), ours) for ours, words in WORDS[column].items() for word in (ours, *words.split("|"))]
    meant = {word: {ours for other, ours in said if other == word} for word, _ in said}
    assert {word: ours for word, ours in meant.items() if len(ours) > 1} == {}


def test_no_month_is_another_in_another_language() -> None:
    meant = {bare(word): {number for number, other in MONTH_WORDS if bare(other) == bare(word)} for _, word in MONTH_WORDS}
    assert all(len(numbers) == 1 for numbers in meant.values())


@pytest.mark.parametrize(
    ("column", "value", "ours"),
    [
        ("status", "FALTA", "missing"),
        ("status", "manquante", "missing"),
        ("status", "Fehlstelle", "missing"),
        ("status", "reposicion", "replant"),
        ("face", "Südost", "south-east"),
        ("face", "sud ouest", "south-west"),
        ("face", "Leste", "east"),
        ("kind", "ébourgeonnage", "T"),
        ("kind", "Sfemminellatura", "R"),
        ("sample_type", "zufällig", "random"),
        ("light", "kein licht", "none"),
        ("light", "Luz de dia", "daylight"),
    ],
)
def test_a_word_is_known_in_any_case_without_its_accents(column: str, value: str, ours: str) -> None:
    found = read_word(column, value)
    assert found is not None
    assert (found.value, found.theirs) == (ours, value)


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("status", "Dead"),  # ours already
        ("status", "muerta?"),
        ("status", "medio muerta"),
        ("face", "O"),  # oeste, but Ost
        ("face", "NO"),  # noroeste, but Nordost
        ("kind", "effeuillage"),  # of which face, and how hard
        ("kind", "despampanado"),
        ("status", "faltas"),
    ],
)
def test_what_may_mean_two_things_or_is_not_the_very_word_is_not_read(column: str, value: str) -> None:
    assert read_word(column, value) is None


@pytest.mark.parametrize(
    ("written", "date"),
    [
        ("3 juin 2025", "2025-06-03"),
        ("1er août 2025", "2025-08-01"),
        ("03-giu-25", "2025-06-03"),
        ("3 de junio de 2025", "2025-06-03"),
        ("3. März 2025", "2025-03-03"),
        ("3 DEZ. 2025", "2025-12-03"),
        ("1º out 2025", "2025-10-01"),
        ("June 3rd, 2025", "2025-06-03"),
        ("2025-Jun-03", "2025-06-03"),
    ],
)
def test_a_month_as_a_word_says_which_is_the_day(written: str, date: str) -> None:
    found = read_date(written)
    assert found is not None
    assert found.value == date


@pytest.mark.parametrize(
    "written",
    [
        "03/04/2025",
        "2025-06-03",
        "31 juin 2025",
        "3 juin",
        "juin 2025",
        "3 juin 98",
        "3 juni 125",
        "3 jui 2025",
        "25 giu 03 06",
        "",
    ],
)
def test_any_other_date_is_left_to_be_refused(written: str) -> None:
    assert read_date(written) is None


@settings(derandomize=True, max_examples=60, deadline=None)
@given(
    st.dates(dt.date(1950, 1, 1), dt.date(2100, 12, 31)), st.sampled_from(MONTH_WORDS), st.sampled_from([" ", "-", "/", ". "])
)
def test_every_month_word_gives_the_date_it_was_written_from(day: dt.date, month: tuple[int, str], sign: str) -> None:
    date = day.replace(day=min(day.day, 28), month=month[0])
    for written in (f"{date.day}{sign}{month[1]}{sign}{date.year}", f"{date.year}{sign}{month[1]}{sign}{date.day:02d}"):
        found = read_date(written)
        assert found is not None
        assert found.value == date.isoformat()


def test_a_time_stays_as_it_is_written() -> None:
    found = read_moment("3 juin 2025, 14:00:30Z")
    assert found is not None
    assert found.value == "2025-06-03 14:00:30Z"
    assert read_moment("3 juin 2025") is None
    assert read_moment("2025-06-03T14:00") is None


def test_cells_are_put_in_our_words_line_for_line_and_all_of_it_is_told() -> None:
    text = (
        "block;row;vine;status;variety;notes\n"
        "Long Acre;1;3;Falta;;\n"
        'Long Acre;1;4;falta;\'-;"two\nlines; here"\n'
        "Long Acre;1;5;dead;;falta\n"
        "\n"
        "Long Acre;1;6;podrida;;\n"
        "Long Acre;1;7;tot;;"
    )
    told, notes = in_our_words("v.csv", text)
    assert told == text.replace("Falta", "missing").replace("4;falta", "4;missing").replace("tot", "dead")
    assert notes[:2] == ("v.csv: Falta was read as missing: 2 times.", "v.csv: tot was read as dead: once.")
    assert notes[2].startswith("v.csv: podrida under status is no word that is known. Known are living (alive, live, viva")
    assert len(notes) == 3


def test_a_letter_is_told_with_what_it_stands_for_and_a_date_with_how_it_was_read() -> None:
    text = "date,block,rows,kind,face,people,hours\n3 août 2025,A,1,ébourgeonnage,est,2,3\n4 août 2025,A,2,T,both,2,3\n"
    told, notes = in_our_words("p.csv", text)
    assert told == "date,block,rows,kind,face,people,hours\n2025-08-03,A,1,T,east,2,3\n2025-08-04,A,2,T,both,2,3\n"
    assert notes == (
        "p.csv: août was read as August (3 août 2025 as 2025-08-03): 2 times.",
        "p.csv: ébourgeonnage was read as T, thin shoots: once.",
        "p.csv: est was read as east: once.",
    )


@pytest.mark.parametrize(
    "text",
    [
        "block,row,status\nA,1,falta\n",  # no table of ours
        "date,block,row,vine,examined,infected,status\n2025-06-03,A,1,2,20,4,falta\n",  # a column that is not used there
        'block,row,vine,status,variety\n"A,1,2,falta,\n',
        "block,row,vine,status,variety\nA,1\n",
        "nothing",
    ],
)
def test_what_needs_no_words_is_the_very_same_text(text: str) -> None:
    assert in_our_words("a.csv", text) == (text, ())


def test_dates_with_months_may_stand_under_a_date_and_times_under_a_time() -> None:
    assert values_fit("date", ["3 juin 2025", "4 juin 2025"])
    assert values_fit("time", ["3 giu 2025 14:00"])
    assert not values_fit("date", ["3 ceps 2025"])
    found = propose(
        "a.csv", ("Date", "Parcelle", "Rang", "Pied", "Vus", "Atteints"), [["3 juin 2025", "Lang", "1", "2", "20", "4"]]
    )
    assert found is not None
    assert (found.kind, found.lacking) == ("stops", ())
