"""The season file: every edit is saved as it is made; undo and redo are kept in the file."""

from __future__ import annotations

import json
import sqlite3
import time
from contextlib import closing, suppress
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Any

from vinemap.errors import FileError
from vinemap.files.geopackage import make_geopackage, update_layers
from vinemap.files.manifest import Manifest, Parts, Stand, drop_steps, list_parts, move_head, read_stand, write_step
from vinemap.files.season_store import (
    SCHEMA,
    Hold,
    check,
    connect,
    copy_beside,
    copy_whole,
    hold,
    in_plain_words,
    make_tables,
    migrate,
    probe,
    transaction,
)
from vinemap.season.history import begun, done, redone, undone
from vinemap.season.value import Season

SUFFIX = ".vinemap"


class SeasonFile:
    """An open season. Made by ``create`` and ``open_season``; close it, or use it in a ``with`` statement.

    After a FileError both the file and ``season`` are as they were before the call.
    """

    def __init__(self, path: Path, db: sqlite3.Connection, held: Hold, parts: Parts, stand: Stand, season: Season) -> None:
        self.path = path
        self._db = db
        self._hold = held
        self._parts = parts
        self._stand = stand
        self._season = season
        # by step number, so that undo gives back the very object that was edited
        self._seasons = {stand.head: season}
        self._identity = _identity(path)

    @property
    def season(self) -> Season:
        """The season as it stands."""
        return self._season

    @property
    def labels(self) -> tuple[str, ...]:
        """What each step was called, oldest first; the first is how the season began."""
        return tuple(step.label for step in self._stand.history.steps)

    @property
    def position(self) -> int:
        """The index in ``labels`` of the step we stand on."""
        return self._stand.history.position

    @property
    def undo_label(self) -> str | None:
        """What undo would take back, or None."""
        return self._stand.history.label_to_undo

    @property
    def redo_label(self) -> str | None:
        """What redo would do again, or None."""
        return self._stand.history.label_to_redo

    def apply(self, label: str, season: Season, when_utc: int | None = None) -> Season:
        """Save an edit: one step, one transaction. The season as it is makes no step.

        ``when_utc``: [s since 1970], now where not given. Raises FileError.
        """
        if season is self._season:
            return season
        when_utc = _now_utc() if when_utc is None else int(when_utc)
        manifest, fresh = list_parts(season, self._season, self._stand.history.season)
        history = done(self._stand.history, label, when_utc, manifest)
        stand = Stand(history, self._stand.head + 1 - history.position, self._stand.change + 1)
        self._look_again()
        with in_plain_words(self.path), transaction(self._db):
            self._move_head(stand)
            drop_steps(self._db, self._stand, stand)
            write_step(self._db, stand.head, history.steps[-1], fresh)
            update_layers(self._db, self._season, season, when_utc)
        self._parts.remember(manifest, season)
        self._parts.keep_only(history)
        self._seasons = {n: kept for n, kept in self._seasons.items() if stand.first <= n < stand.head}
        self._stand_on(stand, season)
        return season

    def undo(self) -> Season:
        """Go one step back; where there is none, stay. Raises FileError."""
        return self._go(replace(self._stand, history=undone(self._stand.history)))

    def redo(self) -> Season:
        """Go one step forward; where there is none, stay. Raises FileError."""
        return self._go(replace(self._stand, history=redone(self._stand.history)))

    def view(self, key: str, otherwise: Any = None) -> Any:
        """What ``set_view`` last kept under ``key``, or ``otherwise``. Not part of undo. Raises FileError."""
        with in_plain_words(self.path):
            return _view_of(self._db, key, otherwise)

    def set_view(self, key: str, value: Any) -> None:
        """Keep plain data (words, numbers, lists) about how the season is looked at. Raises FileError."""
        self._look_again()
        with in_plain_words(self.path), transaction(self._db):
            self._db.execute("INSERT OR REPLACE INTO vinemap_view VALUES (?, ?)", (key, json.dumps(value)))

    def save_copy(self, target: Path | str) -> None:
        """Put the season with all its steps into another file, whole or not at all; one that is there is replaced.

        Where the file itself can't be read any more, the season as it stands is written. Raises FileError, also when the
        target is the season itself or open in a window.
        """
        target = Path(target).resolve()
        if target == self.path:
            raise FileError(f"“{target.name}” is this season itself.", "Choose another name or folder for the copy.")
        with in_plain_words(target):
            held = hold(target)
            try:
                copy_whole(self._db, target)
            except FileError:
                # a stick that was pulled out: all that is needed is in memory
                if self.path.exists() or target.exists():
                    raise
                _write_new(target, self._season, _now_utc(), "Copy of the season")[0].close()
            finally:
                held.release()

    def close(self) -> None:
        """Let go of the file. There is nothing left to save."""
        self._db.close()
        self._hold.release()

    def __enter__(self) -> SeasonFile:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def _go(self, stand: Stand) -> Season:
        if stand.history is self._stand.history:
            return self._season
        stand = replace(stand, change=stand.change + 1)
        step = stand.history.steps[stand.history.position]
        self._look_again()
        with in_plain_words(self.path), transaction(self._db):
            season = self._seasons.get(stand.head) or self._parts.season(step.season)
            self._move_head(stand)
            update_layers(self._db, self._season, season, step.when_utc)
        self._stand_on(stand, season)
        return season

    def _look_again(self) -> None:
        """Go on with the file that is under this name now: another program may have put its own copy in our file's place.

        What is written to a file that was put away or thrown away would be lost without a word.
        """
        with in_plain_words(self.path):
            try:
                found = _identity(self.path)
            except FileNotFoundError as error:
                raise FileError(
                    f"“{self.path.name}” is no longer in “{self.path.parent}”; this edit was not saved.",
                    "Put it back, or write “save a copy” in the find line: this window still holds the season.",
                ) from error
            if found == self._identity:
                return
            db = connect(self.path)
            try:
                check(db, self.path)
                if not _is_same(read_stand(db, self.path), self._stand):
                    raise self._changed()
            except BaseException:
                db.close()
                raise
        self._db.close()
        self._db, self._identity = db, found
        self._parts.read_from(db)

    def _move_head(self, stand: Stand) -> None:
        if not move_head(self._db, self._stand, stand):
            raise self._changed()

    def _changed(self) -> FileError:
        return FileError(
            f"“{self.path.name}” has been changed by somebody else; this edit was not saved.",
            "Save a copy of what this window holds, then open the season again.",
        )

    def _stand_on(self, stand: Stand, season: Season) -> None:
        self._stand = stand
        self._season = season
        self._seasons[stand.head] = season


def create(path: Path | str, season: Season, when_utc: int | None = None, label: str = "Begin the season") -> SeasonFile:
    """Make a new season file. Raises FileError, also when there is already a file of that name."""
    path = Path(path).resolve()
    if path.exists():
        raise FileError(f"There is already a file “{path.name}”.", "Choose another name, or open that one.")
    if not path.parent.is_dir():
        raise FileError(f"There is no folder “{path.parent}”.", "Make the folder first, or choose another.")
    when_utc = _now_utc() if when_utc is None else int(when_utc)
    with in_plain_words(path):
        held = hold(path)
        try:
            db, manifest, stand = _write_new(path, season, when_utc, label)
        except BaseException:
            held.release()
            raise
    parts = Parts(db, path)
    parts.remember(manifest, season)
    return SeasonFile(path, db, held, parts, stand, season)


def _write_new(path: Path, season: Season, when_utc: int, label: str) -> tuple[sqlite3.Connection, Manifest, Stand]:
    """A new file that holds a season, or no file."""
    manifest, fresh = list_parts(season, None, ())
    stand = Stand(begun(label, when_utc, manifest), 1, 0)
    db = connect(path, is_new=True)
    try:
        with transaction(db):
            make_geopackage(db)
            make_tables(db, stand.change)
            move_head(db, stand, stand)
            write_step(db, stand.head, stand.history.steps[0], fresh)
            update_layers(db, None, season, when_utc)
    except BaseException:
        db.close()
        with suppress(OSError):
            path.unlink()
        raise
    return db, manifest, stand


def open_season(path: Path | str) -> SeasonFile:
    """Open a season file to work on it; a file of an older version is brought forward after a copy was put beside it.

    Raises FileError when it is not a season file, damaged, newer, open in another window, or can't be written.
    """
    path = _existing(path)
    with in_plain_words(path):
        held = hold(path)
        try:
            db = connect(path)
            try:
                version = check(db, path)
                probe(db)
                if version < SCHEMA:
                    copy_beside(db, path, version)
                    migrate(db, version)
                parts, stand = Parts(db, path), read_stand(db, path)
                season = parts.season(stand.history.season)
            except BaseException:
                db.close()
                raise
        except BaseException:
            held.release()
            raise
    parts.remember(stand.history.season, season)
    return SeasonFile(path, db, held, parts, stand, season)


def read_season(path: Path | str) -> Season:
    """The season in a file as it stands, to look at: nothing is written, and a window may have it open. Raises FileError."""
    path = _existing(path)
    with (
        in_plain_words(path),
        closing(connect(path)) as db,
        closing(sqlite3.connect(":memory:", isolation_level=None)) as copy,
    ):
        version = check(db, path)
        if version < SCHEMA:
            db.backup(copy)
            migrate(copy, version)
            db = copy
        return Parts(db, path).season(read_stand(db, path).history.season)


def read_view(path: Path | str, key: str, otherwise: Any = None) -> Any:
    """What ``view`` would say of a file that is only looked at. Raises FileError."""
    path = _existing(path)
    with in_plain_words(path), closing(connect(path)) as db:
        check(db, path)
        return _view_of(db, key, otherwise)


def _view_of(db: sqlite3.Connection, key: str, otherwise: Any) -> Any:
    found = db.execute("SELECT value FROM vinemap_view WHERE key = ?", (key,)).fetchone()
    # how the window last stood is not worth refusing a season for
    with suppress(ValueError, TypeError):
        return otherwise if found is None else json.loads(found[0])
    return otherwise


def _existing(path: Path | str) -> Path:
    path = Path(path).resolve()
    if not path.is_file():
        raise FileError(f"There is no file “{path.name}” in “{path.parent}”.", "Look for it, or choose another file.")
    if path.stat().st_size == 0:
        raise FileError(f"“{path.name}” is empty: it was never finished.", "Delete it and begin the season again.")
    return path


def _is_same(one: Stand, other: Stand) -> bool:
    steps, others = ([(each.label, each.when_utc, each.season) for each in stand.history.steps] for stand in (one, other))
    return (one.head, one.first, one.change) == (other.head, other.first, other.change) and steps == others


def _identity(path: Path) -> tuple[int, int]:
    """What tells a file from another that later has its name."""
    found = path.stat()
    return found.st_dev, found.st_ino


def _now_utc() -> int:
    return int(time.time())
