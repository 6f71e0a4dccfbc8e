"""Copies of a season, asked for and one for each day; and a file that is moved, replaced or gone while it is open."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from season_makers import make_season, same

from vinemap.errors import FileError
from vinemap.files import season_file, season_store
from vinemap.files.season_copies import KEPT_DAYS, copies_folder, copy_season, keep_daily_copy
from vinemap.files.season_file import SeasonFile, create, open_season, read_season
from vinemap.season.edits import mark_vines
from vinemap.season.value import Season
from vinemap.service.book import open_book

needs_posix = pytest.mark.skipif(os.name == "nt", reason="an open file can't be moved there")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    made = tmp_path / "a.vinemap"
    with create(made, real_season(), 0) as opened:
        opened.apply("mark", marked(opened.season, 9), 1)
    return made


@pytest.fixture
def opened(path: Path) -> Iterator[SeasonFile]:
    with season_file.open_season(path) as each:
        yield each


def real_season() -> Season:
    season = make_season()
    return replace(season, estate=replace(season.estate, is_invented=False))


def marked(season: Season, vine: int) -> Season:
    return mark_vines(season, "Long Acre", "1", vine, vine, 1)


def names(folder: Path) -> list[str]:
    """What lies in a folder, but for the marks that a season is open."""
    return sorted(each.name for each in folder.iterdir() if "-open" not in each.name)


def test_a_copy_is_a_season_with_all_its_steps(opened: SeasonFile, tmp_path: Path) -> None:
    opened.save_copy(tmp_path / "b.vinemap")
    assert names(tmp_path) == ["a.vinemap", "b.vinemap"]
    with open_season(tmp_path / "b.vinemap") as copy:
        assert same(copy.season, opened.season)
        assert copy.labels == opened.labels
        assert same(copy.undo(), make_real_again(opened))


def make_real_again(opened: SeasonFile) -> Season:
    before = opened.undo()
    opened.redo()
    return before


def test_a_copy_takes_the_place_of_an_old_one_but_of_no_open_season(opened: SeasonFile, tmp_path: Path) -> None:
    target = tmp_path / "b.vinemap"
    target.write_bytes(b"old")
    opened.save_copy(target)
    assert same(read_season(target), opened.season)
    with open_season(target), pytest.raises(FileError, match="already open in another window"):
        opened.save_copy(target)
    with pytest.raises(FileError, match="is this season itself"):
        opened.save_copy(tmp_path / "." / "a.vinemap")


def test_a_copy_that_fails_leaves_the_old_one(opened: SeasonFile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "b.vinemap"
    target.write_bytes(b"old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(season_store.os, "fsync", full)
    with pytest.raises(FileError, match=r"The copy “b\.vinemap” can't be made: No space left on device"):
        opened.save_copy(target)
    assert target.read_bytes() == b"old"
    assert names(tmp_path) == ["a.vinemap", "b.vinemap"]


def test_the_command_copies_beside_a_window(opened: SeasonFile, path: Path, tmp_path: Path) -> None:
    copy_season(path, tmp_path / "b.vinemap")
    assert same(read_season(tmp_path / "b.vinemap"), opened.season)
    with pytest.raises(FileError, match=r"There is already a file “b\.vinemap”"):
        copy_season(path, tmp_path / "b.vinemap")
    with pytest.raises(FileError, match=r"There is no file “c\.vinemap”"):
        copy_season(tmp_path / "c.vinemap", tmp_path / "d.vinemap")
    with pytest.raises(FileError, match="can't be made"):
        copy_season(path, tmp_path / "nowhere" / "d.vinemap")


def test_each_day_of_work_leaves_one_copy_and_seven_stay(opened: SeasonFile, path: Path) -> None:
    folder = copies_folder(path)
    first = dt.date(2031, 5, 1)
    assert keep_daily_copy(opened, first) == folder / "a 2031-05-01.vinemap"
    before = opened.season
    opened.apply("more", marked(opened.season, 11), 5)
    assert keep_daily_copy(opened, first) is None
    assert same(read_season(folder / "a 2031-05-01.vinemap"), before)
    ours = folder / "a 2031-05-01 mine.vinemap"
    other = folder / "b 2020-01-01.vinemap"
    for each in (ours, other):
        each.write_bytes(b"not a daily copy of this season")
    days = [first + dt.timedelta(days=3 * n) for n in range(1, 10)]
    for day in days:
        keep_daily_copy(opened, day)
    kept = [f"a {day.isoformat()}.vinemap" for day in days[-KEPT_DAYS:]]
    assert names(folder) == sorted([*kept, ours.name, other.name])


def test_the_first_edit_of_a_day_keeps_the_season_as_it_was(path: Path) -> None:
    book = open_book(path)
    before = book.season
    assert not copies_folder(path).exists()
    book.apply("mark", lambda season: marked(season, 12))
    book.apply("mark", lambda season: marked(season, 13))
    book.undo()
    book.close()
    (copy,) = copies_folder(path).iterdir()
    assert same(read_season(copy), before)


def test_an_invented_season_and_one_only_looked_at_keep_no_copies(tmp_path: Path) -> None:
    made = tmp_path / "a.vinemap"
    create(made, make_season(), 0).close()
    book = open_book(made)
    book.look_at_round(1)
    book.apply("mark", lambda season: marked(season, 12))
    book.close()
    assert names(tmp_path) == ["a.vinemap"]


def test_an_edit_is_saved_and_the_trouble_told_where_no_copy_can_be_made(path: Path) -> None:
    copies_folder(path).write_bytes(b"a file where the folder should be")
    book = open_book(path)
    book.apply("mark", lambda season: marked(season, 12))
    assert book.copy_trouble.startswith("Today's copy of the season was not made.")
    season = book.season
    copies_folder(path).unlink()
    book.apply("mark", lambda season: marked(season, 13))
    assert book.copy_trouble == ""
    book.undo()
    book.close()
    assert same(read_season(path), season)


@needs_posix
def test_a_file_that_is_gone_takes_no_edit_and_can_be_saved_elsewhere(opened: SeasonFile, path: Path, tmp_path: Path) -> None:
    before = opened.season
    path.unlink()
    for edit in (lambda: opened.apply("more", marked(before, 11), 5), opened.undo, lambda: opened.set_view("round", 1)):
        with pytest.raises(FileError, match=r"“a\.vinemap” is no longer in .*; this edit was not saved\. Put it back"):
            edit()
    assert opened.season is before
    opened.save_copy(tmp_path / "saved.vinemap")
    with open_season(tmp_path / "saved.vinemap") as saved:
        assert same(saved.season, before)
        assert saved.labels == ("Begin the season", "mark")


@needs_posix
def test_a_folder_pulled_out_from_under_the_window(tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    with create(stick / "a.vinemap", real_season(), 0) as opened:
        shutil.rmtree(stick)
        with pytest.raises(FileError, match="is no longer in"):
            opened.apply("mark", marked(opened.season, 9), 1)
        # nor can what was open be read any more
        opened._db.close()
        opened._db = sqlite3.connect(":memory:")
        opened._db.execute("PRAGMA trusted_schema = OFF")
        opened.save_copy(tmp_path / "saved.vinemap")
    assert (tmp_path / "saved.vinemap").exists()


@needs_posix
def test_a_season_that_was_moved_away_and_back_goes_on(opened: SeasonFile, path: Path, tmp_path: Path) -> None:
    shutil.move(path, tmp_path / "moved")
    with pytest.raises(FileError, match="is no longer in"):
        opened.apply("more", marked(opened.season, 11), 5)
    shutil.move(tmp_path / "moved", path)
    after = opened.apply("more", marked(opened.season, 11), 5)
    assert same(read_season(path), after)


@needs_posix
def test_the_same_file_put_in_its_own_place_takes_the_next_edits(opened: SeasonFile, path: Path, tmp_path: Path) -> None:
    shutil.copy(path, tmp_path / "copy")
    os.replace(tmp_path / "copy", path)
    after = opened.apply("more", marked(opened.season, 11), 5)
    assert same(read_season(path), after)
    assert same(opened.undo(), read_season(path))


@needs_posix
def test_another_state_put_in_its_place_is_not_written_over(opened: SeasonFile, path: Path, tmp_path: Path) -> None:
    opened.save_copy(tmp_path / "copy.vinemap")
    with open_season(tmp_path / "copy.vinemap") as copy:
        copy.apply("by somebody else", marked(copy.season, 20), 9)
    os.replace(tmp_path / "copy.vinemap", path)
    theirs, ours = read_season(path), opened.season
    with pytest.raises(FileError, match="changed by somebody else; this edit was not saved"):
        opened.apply("more", marked(opened.season, 11), 5)
    assert same(read_season(path), theirs)
    opened.save_copy(tmp_path / "ours.vinemap")
    assert same(read_season(tmp_path / "ours.vinemap"), ours)
