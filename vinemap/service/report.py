"""What came in from files and what did not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vinemap.errors import InputError, Problem, VinemapError
from vinemap.files.text import Read


@dataclass(slots=True)
class Report:
    """What came in, file by file, what was left out and why, and how things were understood.

    ``has_nothing_new``: the season stayed as it was.
    """

    kept: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    has_nothing_new: bool = False

    def took(self, read: Read[Any], what: str) -> None:
        """Write down what a reader gave."""
        self.kept.append(what)
        self.problems.extend(read.problems)
        self.notes.extend(read.notes)

    def nothing_new(self) -> None:
        """Say before all else that the season stayed as it was."""
        self.has_nothing_new = True
        self.kept.insert(0, NOTHING_CAME)

    def refuse(self, path: Path, error: VinemapError) -> None:
        """Write down that a whole file is of no use."""
        what = error.what.removeprefix(path.name).strip(" ,:").removesuffix(".")
        self.problems.append(Problem(path.name, "", "", "", what, error.do))


NOTHING_CAME = "Nothing came in."


class NothingGood(InputError):
    """Nothing of what was named can be used; ``problems`` says why, one for each thing, ``notes`` how it was read."""

    def __init__(self, what: str, do: str, problems: Sequence[Problem], notes: Sequence[str] = ()) -> None:
        super().__init__(what, do)
        self.problems = tuple(problems)
        self.notes = tuple(notes)

    def __str__(self) -> str:
        return " ".join([self.what, *map(str, self.problems[:5]), self.do]).strip()


def counted(count: int, thing: str, things: str = "") -> str:
    """How many of a thing: 1 row, 2 rows; ``things`` where the word for several takes more than an s."""
    return f"{count:,} {thing if count == 1 else things or thing + 's'}"
