"""Tables of hundreds of columns, as loggers write them: names are compared fast, and as closely as one by one."""

from __future__ import annotations

from difflib import SequenceMatcher
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vinemap.errors import FileError
from vinemap.files import alike, matching
from vinemap.files.kinds import kind_of
from vinemap.files.matching import ENOUGH, likeness, propose

WORDS = ("wetness", "humidity", "soil", "sensor", "battery", "voltage", "solar", "radiation", "gust", "dew", "channel")
NAMES = st.one_of(
    st.text("abcdefghilmnoprstuvw ", min_size=1, max_size=24),
    # one letter wrong in a word that is known
    st.builds(
        lambda word, at, letter: word[: at % len(word)] + letter + word[at % len(word) + 1 :],
        st.sampled_from(
            ("windgeschwindigkeit", "luftfeuchte", "racimos revisados", "leaves examined", "parzelle", "vine row")
        ),
        st.integers(0, 40),
        st.sampled_from("xqz "),
    ),
)


@settings(derandomize=True, max_examples=150, deadline=None)
@given(NAMES, st.sampled_from(("wind_kmh", "rh_percent", "examined", "leaves_examined", "block", "row", "infected")))
def test_a_quick_look_passes_over_no_name_that_is_like_enough(name: str, ours: str) -> None:
    plainly, unit = matching.plain(name)
    words = [word for word in matching._said_plainly()[ours] if len(word) >= 4]
    nearest = max(SequenceMatcher(None, word, plainly).ratio() for word in words)
    found = likeness(name, ours)
    if plainly in matching._said_plainly()[ours] or len(plainly) < 4 or unit:
        return
    assert bool(found) == (nearest * 0.98 >= ENOUGH - 1e-12)
    assert not found or abs(found - nearest * 0.98) < 1e-6


def test_of_hundreds_of_columns_few_names_are_compared_letter_by_letter(monkeypatch) -> None:
    compared = []

    class Counted(SequenceMatcher):
        def quick_ratio(self) -> float:
            compared.append(1)
            return super().quick_ratio()

    monkeypatch.setattr(alike, "SequenceMatcher", Counted)
    heads = [f"{one} {other} {number}" for number, (one, other) in enumerate(product(WORDS, WORDS))] * 3
    propose("logger.csv", heads, [["1"] * len(heads)] * 3)
    # 16 a name; by their length alone it were hundreds, and 300 columns took 6 s
    assert len(compared) < 50 * len(heads)


def test_a_table_with_more_columns_than_any_has_is_refused_in_a_line_that_can_be_read(tmp_path) -> None:
    path = tmp_path / "turned.csv"
    heads = [f"wetness sensor {number}" for number in range(3000)]
    path.write_text(",".join(["date", "temp_c", *heads]) + "\n" + ",".join("1" * 3002) + "\n", encoding="utf-8")
    assert propose("turned.csv", heads, [["1"] * 3000]) is None
    with pytest.raises(FileError, match=r"its columns are date, temp_c, .* and 2,972 more\. ") as caught:
        kind_of(path)
    assert len(caught.value.what) < 800
