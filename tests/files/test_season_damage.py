"""Everything that can go wrong with a season file: it is said in plain words and nothing is half-read or half-written."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from season_makers import make_round, make_season, make_weather, same

from vinemap.errors import FileError
from vinemap.files import season_file, season_store
from vinemap.files.season_file import create, open_season, read_season
from vinemap.season.edits import with_round, with_weather
from vinemap.season.value import Season


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A closed season file with one edit in it."""
    path = tmp_path / "a.vinemap"
    with create(path, make_season(), 1) as made:
        made.apply("Add round 3", with_round(made.season, make_round(3)), 2)
    return path


def alter(path: Path, change: str, *figures: object) -> None:
    db = sqlite3.connect(path)
    with db:
        assert db.execute(change, figures).rowcount == 1
    db.close()


def refused(path: Path, what: str, do: str) -> None:
    """Both ways of opening say so, and leave nothing beside the file."""
    beside = sorted(path.parent.iterdir()) if path.parent.exists() else []
    for opens in (open_season, read_season):
        with pytest.raises(FileError) as told:
            opens(path)
        assert what in told.value.what
        assert do in told.value.do
    assert (sorted(path.parent.iterdir()) if path.parent.exists() else []) == beside


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    refused(tmp_path / "none.vinemap", "There is no file “none.vinemap”", "choose another file")
    refused(tmp_path / "no folder" / "none.vinemap", "There is no file", "choose another file")


def test_an_empty_file(tmp_path: Path) -> None:
    (tmp_path / "a.vinemap").touch()
    refused(tmp_path / "a.vinemap", "is empty", "Delete it")


def test_a_file_of_another_kind(tmp_path: Path) -> None:
    (tmp_path / "a.vinemap").write_bytes(b"block,row,vine\n" * 100)
    refused(tmp_path / "a.vinemap", "“a.vinemap” is not a season file", "ends in .vinemap")


def test_another_database(tmp_path: Path) -> None:
    db = sqlite3.connect(tmp_path / "a.vinemap")
    db.execute("CREATE TABLE some (thing)")
    db.close()
    refused(tmp_path / "a.vinemap", "is not a season file", "ends in .vinemap")


def test_a_folder_of_that_name(tmp_path: Path) -> None:
    (tmp_path / "a.vinemap").mkdir()
    refused(tmp_path / "a.vinemap", "There is no file", "choose another file")


def test_a_file_is_never_written_over(path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(FileError, match=r"already a file “a\.vinemap”"):
        create(path, make_season())
    assert path.read_bytes() == before


def test_no_folder_to_make_it_in(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="There is no folder"):
        create(tmp_path / "nowhere" / "a.vinemap", make_season())


def test_creating_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(season_file, "update_layers", fail)
    with pytest.raises(FileError, match="No space left"):
        create(tmp_path / "a.vinemap", make_season())
    assert list(tmp_path.iterdir()) == []


def test_two_windows(path: Path) -> None:
    with open_season(path):
        with pytest.raises(FileError, match=r"“a\.vinemap” is already open in another window\. Go on there"):
            open_season(path)
        link = path.with_name("link.vinemap")
        link.symlink_to(path)
        with pytest.raises(FileError, match="already open"):
            open_season(link)
    open_season(path).close()


def test_a_hold_left_by_a_program_that_died_holds_nothing(path: Path) -> None:
    path.with_name("a.vinemap-open").touch()
    with open_season(path):
        pass
    assert [each.name for each in path.parent.iterdir()] == ["a.vinemap"]


def test_a_newer_file_is_left_alone(path: Path) -> None:
    alter(path, f"UPDATE vinemap_meta SET value = '{season_store.SCHEMA + 1}' WHERE key = 'schema'")
    before = path.read_bytes()
    refused(path, "“a.vinemap” was written by a newer Vinemap", "Update Vinemap")
    assert path.read_bytes() == before


@pytest.mark.parametrize("version", ["0", "x", ""])
def test_a_version_that_never_was(path: Path, version: str) -> None:
    alter(path, "UPDATE vinemap_meta SET value = ? WHERE key = 'schema'", version)
    refused(path, "is damaged", "last copy")


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE vinemap_part SET body = zeroblob(200) WHERE kind = 'weather'",
        "DELETE FROM vinemap_part WHERE kind = 'weather'",
        "UPDATE vinemap_step SET label = 'Add round 4' WHERE n = 1",
        "UPDATE vinemap_step SET manifest = '[]' WHERE n = 2",
        "DELETE FROM vinemap_step WHERE n = 2",
        "UPDATE vinemap_head SET n = 1",
        "DELETE FROM vinemap_head",
        "DELETE FROM vinemap_meta WHERE key = 'schema'",
    ],
)
def test_damage_of_each_kind(path: Path, change: str) -> None:
    alter(path, change)
    refused(path, "“a.vinemap” is damaged", "last copy")


def test_a_damaged_older_step_leaves_us_where_we_are(path: Path) -> None:
    with open_season(path) as opened:
        opened.apply("Other weather", with_weather(opened.season, make_weather(3)))
    alter(path, "UPDATE vinemap_part SET body = zeroblob(9) WHERE kind = 'weather' AND length(body) > 2000")
    with open_season(path) as opened:
        before = opened.season
        with pytest.raises(FileError, match="damaged"):
            opened.undo()
        assert opened.season is before
        assert opened.undo_label == "Other weather"
        opened.apply("Add round 4", with_round(before, make_round(4)))
        assert opened.undo() is before


def test_any_flipped_bit_is_reported_or_changes_nothing(path: Path) -> None:
    sound = path.read_bytes()
    season = read_season(path)
    rng = np.random.default_rng(11)
    reported = 0
    for place in rng.integers(0, len(sound), 150):
        broken = bytearray(sound)
        broken[place] ^= 1 << int(rng.integers(8))
        path.write_bytes(broken)
        try:
            found = read_season(path)
        except FileError:
            reported += 1
        else:
            assert same(found, season), int(place)
    assert reported > 10


def test_a_file_cut_short_is_reported(path: Path) -> None:
    sound = path.read_bytes()
    for end in range(1, len(sound), 4096 + 131):
        path.write_bytes(sound[:end])
        with pytest.raises(FileError):
            read_season(path)
        with pytest.raises(FileError):
            open_season(path)


def test_a_full_disk_loses_only_the_edit(path: Path) -> None:
    with open_season(path) as opened:
        before = opened.season
        pages = opened._db.execute("PRAGMA page_count").fetchone()[0]
        opened._db.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(FileError, match=r"The disk is full; this edit was not saved\. Free some space"):
            opened.apply("A year of hours", with_weather(before, make_weather(8760)))
        assert opened.season is before
        assert opened.undo_label == "Add round 3"
        assert same(read_season(path), before)
        opened._db.execute("PRAGMA max_page_count = 100000")
        after = opened.apply("A year of hours", with_weather(before, make_weather(8760)))
        assert same(read_season(path), after)


def test_a_failure_in_the_middle_of_an_edit_takes_all_of_it_back(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_season(path) as opened:
        before = opened.season
        sound = path.read_bytes()

        def fail(db: sqlite3.Connection, *_: object) -> None:
            db.execute("DELETE FROM stops")
            raise OSError(5, "Input/output error")

        monkeypatch.setattr(season_file, "update_layers", fail)
        for act in (lambda: opened.apply("Add round 4", with_round(before, make_round(4))), opened.undo):
            with pytest.raises(FileError, match="can't be read or written: Input/output error"):
                act()
            assert opened.season is before
            assert path.read_bytes() == sound


def _read_only(path: Path, is_new: bool = False) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True, isolation_level=None)


def test_a_file_that_can_not_be_written(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(season_file, "connect", _read_only)
    with pytest.raises(FileError, match=r"“a.vinemap” can't be written in its folder\. Use a folder of your own"):
        open_season(path)
    assert len(read_season(path).rounds) == 3


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write everywhere")
def test_a_folder_that_can_not_be_written(path: Path) -> None:
    path.parent.chmod(0o555)
    try:
        with pytest.raises(FileError, match="can't be written in its folder"):
            open_season(path)
        with pytest.raises(FileError, match="can't be written in its folder"):
            create(path.with_name("b.vinemap"), make_season())
        assert len(read_season(path).rounds) == 3
    finally:
        path.parent.chmod(0o755)


def test_another_program_that_writes_is_waited_for_and_then_named(path: Path) -> None:
    with open_season(path) as opened:
        opened._db.execute("PRAGMA busy_timeout = 1")
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(FileError, match=r"Another program is using “a.vinemap”\. Close the file there"):
            opened.undo()
        other.close()
        assert len(opened.undo().rounds) == 2


def test_a_head_that_somebody_else_moved_is_noticed(path: Path) -> None:
    with open_season(path) as opened:
        before = opened.season
        alter(path, "UPDATE vinemap_head SET change = change + 1")
        with pytest.raises(FileError, match="has been changed by somebody else"):
            opened.apply("Add round 4", with_round(before, make_round(4)))
        assert opened.season is before


def _to_next(db: sqlite3.Connection) -> None:
    db.execute("UPDATE vinemap_step SET label = label WHERE n > 0")
    db.execute("CREATE TABLE vinemap_extra (n INTEGER PRIMARY KEY)")


def test_an_older_file_is_brought_forward_after_a_copy_was_put_beside_it(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    season = read_season(path)
    now = season_store.SCHEMA
    monkeypatch.setattr(season_store, "SCHEMA", now + 2)
    monkeypatch.setattr(season_file, "SCHEMA", now + 2)
    monkeypatch.setattr(season_store, "MIGRATIONS", {now: _to_next, now + 1: lambda db: None})
    before = path.read_bytes()
    assert same(read_season(path), season)
    assert path.read_bytes() == before
    with open_season(path) as opened:
        assert same(opened.season, season)
        assert opened.undo_label == "Add round 3"
    copy = path.with_name(f"a (before update, version {now}, 1).vinemap")
    assert sorted(path.parent.iterdir()) == sorted([path, copy])
    open_season(path).close()
    assert len(list(path.parent.iterdir())) == 2
    monkeypatch.undo()
    assert same(read_season(copy), season)
    refused(path, "newer Vinemap", "Update")


def test_bringing_forward_that_fails_changes_nothing(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(db: sqlite3.Connection) -> None:
        db.execute("DELETE FROM vinemap_step")
        db.execute("INSERT INTO nowhere VALUES (1)")

    now = season_store.SCHEMA
    monkeypatch.setattr(season_store, "SCHEMA", now + 1)
    monkeypatch.setattr(season_file, "SCHEMA", now + 1)
    monkeypatch.setattr(season_store, "MIGRATIONS", {now: fail})
    before = path.read_bytes()
    with pytest.raises(FileError):
        open_season(path)
    assert path.read_bytes() == before


def crash_images(
    path: Path, folder: Path, act: Callable[[season_file.SeasonFile], Season]
) -> tuple[list[Path], list[Season]]:
    """What a killed program would have left before each statement of an edit, and the seasons before and after it."""
    images: list[Path] = []

    def keep(_: str) -> None:
        image = folder / f"{len(images)}.vinemap"
        shutil.copy(path, image)
        journal = Path(f"{path}-journal")
        if journal.exists():
            shutil.copy(journal, f"{image}-journal")
        images.append(image)

    with open_season(path) as opened:
        before = opened.season
        # one page of memory, so that unfinished pages do reach the file
        opened._db.execute("PRAGMA cache_size = 1")
        opened._db.set_trace_callback(keep)
        after = act(opened)
        opened._db.set_trace_callback(None)
    return images, [before, after]


@pytest.mark.parametrize(
    ("act", "reaches_file"),
    [
        (lambda opened: opened.apply("Other weather", with_weather(opened.season, make_weather(2000))), True),
        (lambda opened: opened.apply("Add round 4", with_round(opened.season, make_round(4, stops=12))), False),
        (lambda opened: opened.undo(), False),
    ],
    ids=["weather", "round", "undo"],
)
def test_death_between_any_two_statements_leaves_the_season_before(
    path: Path, tmp_path: Path, act: Callable[[season_file.SeasonFile], Season], reaches_file: bool
) -> None:
    folder = tmp_path / "images"
    folder.mkdir()
    images, (before, after) = crash_images(path, folder, act)
    assert len(images) >= 5
    if reaches_file:
        # else the case would show nothing: the unfinished edit must be in the file, to be rolled back
        assert images[-1].read_bytes() != images[0].read_bytes()
    for image in images:
        with open_season(image) as opened:
            assert same(opened.season, before)
            assert opened._db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert same(read_season(path), after)
