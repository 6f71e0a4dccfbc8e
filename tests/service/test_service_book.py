"""An open season: edits are saved before they are told, and can be taken back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from vinemap.errors import FileError, InputError
from vinemap.files.season_file import read_season
from vinemap.ground.frame import Frame
from vinemap.season import edits
from vinemap.season.value import Estate, Season
from vinemap.service.book import Book, Edit, new_book, open_book

EMPTY = Season(Estate("Invented", Frame("EPSG:32610", 540_000.0, 4_250_000.0, 38.4, -122.5, 0.3), -8.0))


def named(name: str) -> Edit:
    return lambda season: edits.with_estate(season, replace(season.estate, name=name))


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    made = new_book(tmp_path / "s.vinemap", EMPTY)
    yield made
    made.close()


def test_an_edit_is_saved_when_it_is_told(book: Book) -> None:
    told = []
    book.listen(lambda: told.append(read_season(book.path).estate.name))
    book.apply("Rename", named("Once"))
    assert told == ["Once"]
    assert book.season.estate.name == "Once"


def test_undo_and_redo_walk_the_same_seasons(book: Book) -> None:
    told = []
    book.listen(lambda: told.append(book.season.estate.name))
    seasons = [book.season]
    for name in ("Once", "Twice"):
        book.apply(f"Rename to {name}", named(name))
        seasons.append(book.season)
    assert (book.undo_label, book.redo_label) == ("Rename to Twice", None)
    book.undo()
    assert book.season is seasons[1]
    assert (book.undo_label, book.redo_label) == ("Rename to Once", "Rename to Twice")
    book.undo()
    assert book.season is seasons[0]
    assert book.undo_label is None
    book.undo()
    book.redo()
    book.redo()
    assert book.season is seasons[2]
    book.redo()
    # where there is nothing to take back or do again, nobody is told
    assert told == ["Once", "Twice", "Once", "Invented", "Once", "Twice"]
    assert read_season(book.path).estate.name == "Twice"


def test_a_new_edit_ends_what_could_be_done_again(book: Book) -> None:
    book.apply("Rename to Once", named("Once"))
    book.undo()
    book.apply("Rename to Other", named("Other"))
    assert book.redo_label is None
    assert book.season.estate.name == "Other"


def test_an_edit_that_is_refused_changes_and_tells_nothing(book: Book) -> None:
    told: list[int] = []
    book.listen(lambda: told.append(1))
    before = book.season
    with pytest.raises(InputError, match="The estate has no name"):
        book.apply("Rename", named(" "))
    assert book.season is before
    assert (told, book.undo_label) == ([], None)


def test_listeners_are_told_in_turn_and_one_may_come_during_it(book: Book) -> None:
    told: list[str] = []

    def first() -> None:
        told.append("first")
        if len(told) == 1:
            book.listen(lambda: told.append("late"))

    book.listen(first)
    book.listen(lambda: told.append("second"))
    book.apply("Rename", named("Once"))
    assert told == ["first", "second"]
    book.undo()
    assert told[2:] == ["first", "second", "late"]


def test_a_season_is_open_in_one_book_at_a_time_and_keeps_its_steps(book: Book) -> None:
    book.apply("Rename", named("Once"))
    with pytest.raises(FileError, match="already open in another window"):
        open_book(book.path)
    book.close()
    again = open_book(book.path)
    try:
        assert again.undo_label == "Rename"
        again.undo()
        assert again.season.estate.name == "Invented"
    finally:
        again.close()


def test_without_rounds_none_is_looked_at(book: Book) -> None:
    assert book.round_looked_at() is None
    book.look_at_round(3)
    assert book.round_looked_at() is None
    assert book.undo_label is None
