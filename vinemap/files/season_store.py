"""The season file's own tables: made, checked, migrated; one window at a time; what goes wrong in plain words."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import vinemap
from vinemap.errors import FileError
from vinemap.files.geopackage import APPLICATION_ID, list_table

SCHEMA = 4
FULL = "SQLITE_FULL"


def _to_version_2(db: sqlite3.Connection) -> None:
    """Nothing moves. From version 2 on there may be covariates, which a program for version 1 would lose at its next edit."""


def _to_version_3(db: sqlite3.Connection) -> None:
    """Nothing moves. From version 3 on there may be a picture below the map, which an older program would lose likewise."""


def _to_version_4(db: sqlite3.Connection) -> None:
    """Nothing moves. From version 4 on there may be more stations, tall edges, rods, stages seen and rules chosen."""


MIGRATIONS: dict[int, Callable[[sqlite3.Connection], None]] = {1: _to_version_2, 2: _to_version_3, 3: _to_version_4}
"""By the version they start from: what turns a file of that version into one of the next."""

_TABLES = (
    "CREATE TABLE vinemap_meta (id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, value TEXT NOT NULL)",
    "CREATE TABLE vinemap_part (hash TEXT PRIMARY KEY, kind TEXT NOT NULL, body BLOB NOT NULL) WITHOUT ROWID",
    """CREATE TABLE vinemap_step (n INTEGER PRIMARY KEY, label TEXT NOT NULL, when_utc INTEGER NOT NULL,
        manifest TEXT NOT NULL, seal TEXT NOT NULL)""",
    "CREATE TABLE vinemap_head (n INTEGER NOT NULL, seal TEXT NOT NULL, change INTEGER NOT NULL)",
    "CREATE TABLE vinemap_view (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
)

_USE_COPY = "Use your last copy of the file. Nothing in this one has been changed."


def make_tables(db: sqlite3.Connection, change: int) -> None:
    """Add the tables of our own to a GeoPackage, with a head that stands nowhere yet."""
    for table in _TABLES:
        db.execute(table)
    written = [("schema", str(SCHEMA)), ("program", f"Vinemap {vinemap.__version__}")]
    db.executemany("INSERT INTO vinemap_meta (key, value) VALUES (?, ?)", written)
    db.execute("INSERT INTO vinemap_head VALUES (0, '', ?)", (change,))
    list_table(db, "vinemap_meta", "what wrote this file")


def connect(path: Path, is_new: bool = False) -> sqlite3.Connection:
    """An open database whose commits are on the disk when they return.

    The rollback journal is deleted at each commit, so between edits the season is one file and nothing beside it.
    """
    mode = "rwc" if is_new else "rw"
    # a file may be opened beside the window and then handed to it: one thread at a time, not always the same one
    db = sqlite3.connect(f"{path.as_uri()}?mode={mode}", uri=True, timeout=5.0, isolation_level=None, check_same_thread=False)
    try:
        db.execute("PRAGMA journal_mode = DELETE")
        db.execute("PRAGMA synchronous = FULL")
        db.execute("PRAGMA trusted_schema = OFF")
    except sqlite3.Error:
        db.close()
        raise
    return db


def probe(db: sqlite3.Connection) -> None:
    """Begin to write and take it back: fails where the file or its folder can't be written.

    A full disk is no failure: the season on it can be looked at and copied, and each edit says that the disk is full.
    """
    db.execute("BEGIN IMMEDIATE")
    try:
        db.execute("UPDATE vinemap_head SET change = change + 1")
    except sqlite3.Error as error:
        if _name_of(error) != FULL:
            raise
    finally:
        if db.in_transaction:
            db.execute("ROLLBACK")


@contextmanager
def transaction(db: sqlite3.Connection) -> Iterator[None]:
    """All of what is written inside, or nothing."""
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
        db.execute("COMMIT")
    except BaseException:
        # a full disk may already have rolled back
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


def check(db: sqlite3.Connection, path: Path) -> int:
    """The schema version of a sound season file. Raises FileError for any other file."""
    if db.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID or not _has_table(db, "vinemap_meta"):
        raise _not_a_season(path)
    # a file cut short in a page of which the rest is empty reads as if nothing were wrong
    is_cut = path.stat().st_size % db.execute("PRAGMA page_size").fetchone()[0]
    if is_cut or db.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok":
        raise damaged(path)
    found = db.execute("SELECT value FROM vinemap_meta WHERE key = 'schema'").fetchone()
    if found is None or not str(found[0]).isdecimal():
        raise damaged(path)
    version = int(found[0])
    if version < 1:
        raise damaged(path)
    if version > SCHEMA:
        raise FileError(
            f"“{path.name}” was written by a newer Vinemap.",
            "Update Vinemap on this computer and open it again. Nothing in the file has been changed.",
        )
    return version


def migrate(db: sqlite3.Connection, version: int) -> None:
    """Bring a file forward to this program's schema, all steps or none."""
    with transaction(db):
        for start in range(version, SCHEMA):
            MIGRATIONS[start](db)
        db.execute("UPDATE vinemap_meta SET value = ? WHERE key = 'schema'", (str(SCHEMA),))
        db.execute("UPDATE vinemap_meta SET value = ? WHERE key = 'program'", (f"Vinemap {vinemap.__version__}",))


def copy_beside(db: sqlite3.Connection, path: Path, version: int) -> Path:
    """Put a copy of a file beside it, under a name that was free."""
    number = 1
    while (copy := path.with_name(f"{path.stem} (before update, version {version}, {number}){path.suffix}")).exists():
        number += 1
    copy_whole(db, copy)
    return copy


def copy_whole(db: sqlite3.Connection, target: Path) -> None:
    """Put what a database holds into another file, which appears whole or not at all. Raises FileError."""
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        try:
            with closing(sqlite3.connect(part)) as copy:
                db.backup(copy)
            with part.open("rb+") as written:
                os.fsync(written.fileno())
            os.replace(part, target)
        finally:
            part.unlink(missing_ok=True)
    except (sqlite3.Error, OSError) as error:
        why = f": {error.strerror}" if isinstance(error, OSError) and error.strerror else ""
        if _name_of(error) == FULL:
            why = ": there the disk is full"
        do = "Look whether the disk is full and its folder can be written, or choose another folder."
        raise FileError(f"The copy “{target.name}” can't be made{why}.", do) from error


@dataclass(frozen=True, slots=True)
class Hold:
    """A season that is open in this window. The system lets go of it when the program ends, however it ends."""

    mark: Path
    lock: sqlite3.Connection

    def release(self) -> None:
        """Let another window open the season."""
        with suppress(OSError):
            self.mark.unlink()
        self.lock.close()


def hold(path: Path) -> Hold:
    """Keep other windows from opening the season. Raises FileError when one has it open.

    The lock is on an empty file beside the season, not on the season, so that a map program can still read the layers.
    """
    mark = path.with_name(path.name + "-open")
    lock = sqlite3.connect(mark, timeout=0.0, isolation_level=None, check_same_thread=False)
    try:
        # without a journal: a lock needs no room on a full disk
        lock.execute("PRAGMA journal_mode = MEMORY")
        lock.execute("BEGIN EXCLUSIVE")
    except sqlite3.Error as error:
        lock.close()
        if _name_of(error).startswith("SQLITE_BUSY"):
            raise FileError(f"“{path.name}” is already open in another window.", "Go on there, or close it first.") from error
        raise
    return Hold(mark, lock)


@contextmanager
def in_plain_words(path: Path) -> Iterator[None]:
    """Turn what the database or the system says into a FileError that tells what to do."""
    try:
        yield
    except (sqlite3.ProgrammingError, sqlite3.InterfaceError):
        # ours to mend
        raise
    except sqlite3.Error as error:
        raise _plain(path, _name_of(error)) from error
    except UnicodeDecodeError as error:
        raise damaged(path) from error
    except OSError as error:
        raise FileError(
            f"“{path.name}” can't be read or written: {error.strerror}.", "Check the disk and the folder."
        ) from error


def damaged(path: Path) -> FileError:
    """What to say of a file whose content is not what was written."""
    return FileError(f"“{path.name}” is damaged.", _USE_COPY)


def _not_a_season(path: Path) -> FileError:
    return FileError(f"“{path.name}” is not a season file.", "Choose a file whose name ends in .vinemap.")


def _name_of(error: Exception) -> str:
    """What the database calls an error; "" for one that is not its own."""
    return str(getattr(error, "sqlite_errorname", ""))


def _plain(path: Path, name: str) -> FileError:
    if name == FULL:
        return FileError(
            "The disk is full; this edit was not saved.",
            "Free some space and do it again. All earlier edits are safe in the file.",
        )
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH")):
        return FileError(
            f"“{path.name}” can't be written in its folder.",
            "Use a folder of your own; if you have the file already, copy it there first.",
        )
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return FileError(f"Another program is using “{path.name}”.", "Close the file there and do it again.")
    if name.startswith("SQLITE_IOERR"):
        return FileError(
            f"The disk failed while “{path.name}” was read or written.",
            "Check that the disk is still plugged in and not full, then open the file again.",
        )
    if name == "SQLITE_NOTADB":
        return _not_a_season(path)
    return damaged(path)


def _has_table(db: sqlite3.Connection, name: str) -> bool:
    return db.execute("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", (name,)).fetchone() is not None
