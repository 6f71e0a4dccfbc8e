"""Which parts make up each step of a season file, and reading them when they are needed."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vinemap.files.parts import hash_part, pack_part, unpack_part
from vinemap.files.season_store import damaged
from vinemap.season.history import History, Step
from vinemap.season.value import Season

Part = tuple[str, str]
"""A part's kind and hash."""
Manifest = tuple[Part, ...]
"""The parts of a season, in order."""

_LISTS = {
    "block": "blocks",
    "round": "rounds",
    "covariate": "covariates",
    "station": "stations",
    "edge": "edges",
    "rod": "rods",
}
_NEEDED = frozenset(("estate", "passes", "sprays", "stages", "assumptions"))
_SINGLES = (*sorted(_NEEDED), "weather", "aerial", "rules")


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a file stands: its steps, the number of the oldest of them, and how often the head has been moved."""

    history: History[Manifest]
    first: int
    change: int

    @property
    def head(self) -> int:
        """The number of the step we stand on."""
        return self.first + self.history.position


def list_parts(season: Season, before: Season | None, listed: Manifest) -> tuple[Manifest, dict[Part, bytes]]:
    """The manifest of a season, and the bytes of the parts that ``before``, whose manifest is ``listed``, did not share."""
    known = {} if before is None else {id(part): each for each, (_, part) in zip(listed, _parts_of(before), strict=True)}
    manifest: list[Part] = []
    fresh: dict[Part, bytes] = {}
    for kind, part in _parts_of(season):
        each = known.get(id(part))
        # an empty tuple is one object whatever it was meant to hold
        if each is None or each[0] != kind:
            body = pack_part(kind, part)
            each = (kind, hash_part(kind, body))
            fresh[each] = body
        manifest.append(each)
    return tuple(manifest), fresh


def write_step(db: sqlite3.Connection, n: int, step: Step[Manifest], fresh: dict[Part, bytes]) -> None:
    """Add a step and the parts that it needs."""
    written = json.dumps(step.season)
    seal = _seal(n, step.label, step.when_utc, written)
    db.executemany(
        "INSERT OR IGNORE INTO vinemap_part VALUES (?, ?, ?)", [(name, kind, body) for (kind, name), body in fresh.items()]
    )
    db.execute("INSERT INTO vinemap_step VALUES (?, ?, ?, ?, ?)", (n, step.label, step.when_utc, written, seal))


def drop_steps(db: sqlite3.Connection, before: Stand, after: Stand) -> None:
    """Forget the steps that the new history does not keep, and the parts that only they used."""
    db.execute("DELETE FROM vinemap_step WHERE n >= ? OR n < ?", (after.head, after.first))
    gone = _parts_in(before.history) - _parts_in(after.history)
    db.executemany("DELETE FROM vinemap_part WHERE hash = ?", [(name,) for _, name in gone])


def move_head(db: sqlite3.Connection, before: Stand, after: Stand) -> bool:
    """Stand on another step; False when the head is not where we left it."""
    step = after.history.steps[after.history.position]
    seal = _seal(after.head, step.label, step.when_utc, json.dumps(step.season))
    found = db.execute(
        "UPDATE vinemap_head SET n = ?, seal = ?, change = ? WHERE change = ?",
        (after.head, seal, after.change, before.change),
    )
    return found.rowcount == 1


def read_stand(db: sqlite3.Connection, path: Path) -> Stand:
    """The steps of a file and where it stands. Raises FileError when they are not as they were written."""
    rows = db.execute("SELECT n, label, when_utc, manifest, seal FROM vinemap_step ORDER BY n").fetchall()
    head = db.execute("SELECT n, seal, change FROM vinemap_head").fetchall()
    sound = bool(rows) and len(head) == 1 and all(_seal(*row[:4]) == row[4] for row in rows)
    if not sound or [row[0] for row in rows] != list(range(rows[0][0], rows[0][0] + len(rows))):
        raise damaged(path)
    n, seal, change = head[0]
    if not isinstance(change, int) or (n, seal) not in [(row[0], row[4]) for row in rows]:
        raise damaged(path)
    steps = tuple(
        Step(label, when_utc, tuple((kind, name) for kind, name in json.loads(manifest)))
        for _, label, when_utc, manifest, _ in rows
    )
    return Stand(History(steps, n - rows[0][0]), rows[0][0], change)


class Parts:
    """Parts of one file, read when needed and checked against their hash. The same part is always the same object."""

    def __init__(self, db: sqlite3.Connection, path: Path) -> None:
        self._db = db
        self._path = path
        self._known: dict[Part, Any] = {}
        self._tuples: dict[Manifest, tuple[Any, ...]] = {}

    def season(self, manifest: Manifest) -> Season:
        """The season that a manifest lists. Raises FileError when a part is missing or damaged."""
        single = {kind: self._part((kind, name)) for kind, name in manifest if kind in _SINGLES}
        if not single.keys() >= _NEEDED:
            raise damaged(self._path)
        several: dict[str, Any] = {field: self._several(_of_kind(manifest, kind)) for kind, field in _LISTS.items()}
        return Season(**single, **several)

    def read_from(self, db: sqlite3.Connection) -> None:
        """Read from another connection from now on."""
        self._db = db

    def remember(self, manifest: Manifest, season: Season) -> None:
        """Use the parts of a season in memory instead of reading them again."""
        for each, (_, part) in zip(manifest, _parts_of(season), strict=True):
            self._known.setdefault(each, part)
        for kind, field in _LISTS.items():
            self._tuples.setdefault(_of_kind(manifest, kind), getattr(season, field))

    def keep_only(self, history: History[Manifest]) -> None:
        """Forget the parts that no step of a history uses."""
        used = _parts_in(history)
        self._known = {each: part for each, part in self._known.items() if each in used}
        self._tuples = {listed: some for listed, some in self._tuples.items() if used.issuperset(listed)}

    def _several(self, listed: Manifest) -> tuple[Any, ...]:
        if listed not in self._tuples:
            self._tuples[listed] = tuple(self._part(each) for each in listed)
        return self._tuples[listed]

    def _part(self, each: Part) -> Any:
        if each not in self._known:
            kind, name = each
            found = self._db.execute("SELECT body FROM vinemap_part WHERE hash = ?", (name,)).fetchone()
            if found is None or hash_part(kind, found[0]) != name:
                raise damaged(self._path)
            self._known[each] = unpack_part(kind, found[0])
        return self._known[each]


def _of_kind(manifest: Manifest, kind: str) -> Manifest:
    return tuple(each for each in manifest if each[0] == kind)


def _parts_in(history: History[Manifest]) -> set[Part]:
    return {each for step in history.steps for each in step.season}


def _parts_of(season: Season) -> list[tuple[str, Any]]:
    """Kind and content of each part of a season, in the order of a manifest."""
    single = [(kind, getattr(season, kind)) for kind in _SINGLES]
    several = [(kind, part) for kind, field in _LISTS.items() for part in getattr(season, field)]
    return [(kind, part) for kind, part in single if part is not None] + several


def _seal(n: int, label: str, when_utc: int, manifest: str) -> str:
    return hashlib.sha256("\0".join((str(n), str(label), str(when_utc), str(manifest))).encode()).hexdigest()
