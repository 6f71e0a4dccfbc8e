"""Whose column is which: words of six languages, spelling, units and values. All tables are invented."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import InputError
from vinemap.files.head_words import SAID, TABLES
from vinemap.files.matching import likeness, plain, proposal_for, propose, read_given, read_heads, values_fit, written
from vinemap.files.table import read_header, rename_heads
from vinemap.files.weather_units import TIMES, siblings

DAY = "2031-06-11"
STOP = (DAY, "Long Acre", "3", "4", "20", "2")
STOP_NAMES = ("date", "block", "row", "vine", "examined", "infected")
STOP_HEADS = [
    ("Scouting date", "Vineyard", "Row #", "Vine No.", "Bunches checked", "Bunches infected"),
    ("Fecha", "Cuartel", "Hilera", "Nº de cepa", "Racimos revisados", "Racimos con oídio"),
    ("Date", "Parcelle", "Rang", "Pied", "Grappes observées", "Grappes atteintes"),
    ("Datum", "Parzelle", "Reihe", "Rebstock Nr.", "Trauben geprüft", "befallene Trauben"),
    ("Data", "Vigneto", "Filare", "Ceppo", "Grappoli esaminati", "Grappoli colpiti"),
    ("Data", "Talhão", "Linha", "Videira", "Cachos observados", "Cachos doentes"),
]


@pytest.mark.parametrize("heads", STOP_HEADS, ids=("English", "Spanish", "French", "German", "Italian", "Portuguese"))
def test_stops_are_understood_in_six_languages_and_any_order(heads: tuple[str, ...]) -> None:
    for order in ((0, 1, 2, 3, 4, 5), (5, 3, 1, 0, 2, 4)):
        found = propose("a.csv", [heads[at] for at in order], [[STOP[at] for at in order]])
        assert found is not None
        assert (found.kind, found.lacking) == ("stops", ())
        assert {pair.theirs: pair.ours for pair in found.pairs} == dict(zip(heads, STOP_NAMES, strict=True))
        assert {pair.ours: pair.sample for pair in found.pairs} == dict(zip(STOP_NAMES, STOP, strict=True))


@pytest.mark.parametrize(
    ("heads", "values", "kind", "names"),
    [
        (
            ("Fecha y hora", "Temp. (°C)", "Lluvia [mm]", "Viento (m/s)"),
            (f"{DAY} 14:00", "20,5", "0", "2"),
            "weather",
            ("time", "temp_c", "rain_mm", "wind_ms"),
        ),
        (
            ("Datum", "Parzelle", "Reihen", "Arbeit", "Seite", "Personen", "Stunden"),
            (DAY, "Lang", "1-3", "F", "east", "3", "4.5"),
            "passes",
            ("date", "block", "rows", "kind", "face", "people", "hours"),
        ),
        (
            ("Début", "Fin", "Parcelle", "Rangs", "Matière active", "Dose (kg/ha)", "Volume de bouillie (L/ha)"),
            (f"{DAY}T05:00", f"{DAY}T06:00", "Long", "", "sulfur", "3", "400"),
            "sprays",
            ("start", "end", "block", "rows", "materials", "rate_kg_per_ha", "water_l_per_ha"),
        ),
        (
            ("Parcella", "Fila", "Pianta", "Stato", "Vitigno"),
            ("Lunga", "2", "7", "dead", "Barbera"),
            "vines",
            ("block", "row", "vine", "status", "variety"),
        ),
    ],
    ids=("weather", "passes", "sprays", "vines"),
)
def test_every_kind_of_table_is_understood(heads, values, kind, names) -> None:
    found = propose("a.csv", heads, [values])
    assert found is not None
    assert (found.kind, found.lacking) == (kind, ())
    assert {pair.theirs: pair.ours for pair in found.pairs} == dict(zip(heads, names, strict=True))


def test_a_slip_of_the_pen_is_forgiven_and_a_strange_word_is_not() -> None:
    assert likeness("Bunches infectd", "infected") > 0.84
    assert likeness("Reihhe", "row") > 0.84
    assert likeness("Weight", "infected") == 0.0
    assert likeness("infected", "infected") > likeness("infectados", "infected") > likeness("infectadox", "infected") > 0


def test_a_unit_that_is_not_ours_is_no_match() -> None:
    assert plain("Temp. (°F)") == ("temp", "f")
    assert likeness("Temp. (°C)", "temp_c") > 0.9
    for head, ours in (
        ("Temp. (°F)", "temp_c"),
        ("temp_f", "temp_c"),
        ("RH %", "rh_frac"),
        ("Infected (%)", "infected"),
        ("Wind (km/h)", "wind_ms"),
        ("Rain (inches)", "rain_mm"),
    ):
        assert likeness(head, ours) == 0.0, head


def test_values_speak_against_a_name() -> None:
    heads = ("Fecha", "Bloque", "Fila", "Cepa", "Examinados", "Infectados")
    lines = [(DAY, "Long Acre", "3", "4", "20", DAY)] * 5
    found = propose("a.csv", heads, lines)
    assert found is not None
    assert found.lacking == ("infected",)
    # more infected than examined: one of the two means something else
    lines = [(DAY, "Long Acre", "3", "4", "20", "55")] * 5
    found = propose("a.csv", heads, lines)
    assert found is not None
    assert found.lacking == ("infected",)
    assert not values_fit("vine", ["1.5", "2.5"])
    assert not values_fit("lat", ["-122.7"])
    assert not values_fit("scout", ["12", "13"])
    assert values_fit("examined", ["", "20", ""])
    # one wrong value in many is the business of its line
    assert values_fit("examined", ["20"] * 9 + ["many"])


def test_two_columns_for_one_of_ours_leave_the_better_one() -> None:
    heads = ("Fecha", "Bloque", "Fila", "Cepa", "Planta x", "Examinados", "infected", "Infectados")
    found = propose("a.csv", heads, [(DAY, "L", "3", "4", "9", "20", "1", "2")])
    assert found is not None
    pairs = {pair.ours: pair for pair in found.pairs}
    assert (pairs["infected"].theirs, pairs["infected"].is_guessed) == ("infected", False)
    assert (pairs["vine"].theirs, pairs["vine"].is_guessed) == ("Cepa", True)


def test_too_little_is_no_question() -> None:
    assert propose("a.csv", ("a", "b", "c"), [("1", "2", "3")]) is None
    assert propose("a.csv", ("Fecha", "Notas"), [(DAY, "x")]) is None
    assert propose("a.csv", (), []) is None


def test_a_table_of_ours_is_never_asked_about(tmp_path) -> None:
    for needed, others in TABLES.values():
        for names in (needed, (*needed, *others)):
            heads = names if "lon" in names or "examined" not in names else (*names, "lon", "lat")
            path = tmp_path / "t.csv"
            path.write_text(",".join(dict.fromkeys(heads)) + "\n" + ",".join("1" for _ in dict.fromkeys(heads)) + "\n")
            assert proposal_for(path) is None, names
    readings = tmp_path / "r.csv"
    readings.write_text("block,row,vine,vigour,height\nLong Acre,1,1,0.2,80\n", encoding="utf-8")
    assert proposal_for(readings) is None


def test_a_table_that_says_where_and_all_a_stop_needs_is_asked_about(tmp_path) -> None:
    path = tmp_path / "t.csv"
    path.write_text(f"block,row,vine,Datum,untersucht,befallen\nLong Acre,1,1,{DAY},20,3\n", encoding="utf-8")
    found = proposal_for(path)
    assert found is not None
    assert [pair.ours for pair in found.pairs if pair.is_guessed] == ["date", "examined", "infected"]


@pytest.mark.parametrize(
    "content", [b"", b"\xff\xfe", b"{}", b"a,a\n1,2\n", b'"a', b"\x89PNG\r\n", b"a,b\n", bytes(range(256))]
)
def test_what_is_no_table_is_left_to_its_reader(tmp_path, content: bytes) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(content)
    assert proposal_for(path) is None
    assert read_heads(tmp_path / "missing.csv") is None


def test_a_file_that_begins_with_very_many_empty_lines_is_no_reason_to_stop(tmp_path) -> None:
    path = tmp_path / "x.csv"
    path.write_text("\n" * 60_000 + "Fecha,Bloque,Fila,Cepa\n2031-06-11,L,1,1\n", encoding="utf-8")
    assert proposal_for(path) is None


@pytest.mark.parametrize("text", ["", "=", "a=", "=vine", "a=b", "a=vine,b=vine", "a=vine,a=row", "vine"])
def test_an_answer_that_says_nothing_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_given(text)


NAMES = st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=12).filter(
    lambda name: name.strip() == name
)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.lists(NAMES, min_size=1, max_size=5, unique_by=str.casefold))
def test_what_is_proposed_can_be_given_back(names: list[str]) -> None:
    pairs = list(zip(names, STOP_NAMES, strict=False))
    assert read_given(written(pairs)) == {theirs.casefold(): ours for theirs, ours in pairs}


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.permutations(list(zip(STOP_HEADS[1], STOP, STOP_NAMES, strict=True))), st.sampled_from([",", ";", "\t"]))
def test_only_the_first_line_is_renamed_whatever_the_order(tmp_path_factory, columns, separator) -> None:
    body = "\n".join(separator.join(value for _, value, _ in columns) for _ in range(3))
    text = "\n" + separator.join(head for head, _, _ in columns) + "\n" + body + "\n"
    names = {head.casefold(): ours for head, _, ours in columns}
    path = tmp_path_factory.mktemp("t") / "t.csv"
    path.write_text(rename_heads(text, names), encoding="utf-8")
    assert read_header(path) == tuple(ours for _, _, ours in columns)
    assert path.read_text(encoding="utf-8").split("\n")[2:] == (body + "\n").split("\n")


def test_a_column_in_the_way_of_a_name_steps_aside() -> None:
    assert rename_heads("row,Fila\nx,2\n", {"fila": "row"}) == "row (theirs),row\nx,2\n"


def test_no_word_stands_for_two_columns_of_one_kind() -> None:
    for kind, (needed, others) in TABLES.items():
        names = (*needed, *others)
        assert set(names) <= set(SAID), kind
        for first in names:
            for other in names[names.index(first) + 1 :]:
                if other in siblings(first) or {first, other} <= {*TIMES}:
                    # the same in another unit, told by the unit or the figures; a time of day is no date
                    continue
                assert not set(SAID[first]) & set(SAID[other]), (kind, first, other)
