"""The errors that a manager may see: what, where, why and what to do.

    VinemapError
      InputError     something typed or read can't be used
      FileError      a file can't be opened, read or written
      TooFewData     there is not enough to answer
    Cancelled        the manager pressed Stop; silent

Anything else is a defect of the program.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

Tick = Callable[[float], None]
"""Called with the fraction done, 0..1, by long work; may raise Cancelled."""


def no_tick(fraction: float) -> None:
    """The tick of somebody who does not want to know."""


class VinemapError(Exception):
    """An error in plain words: ``what`` happened and what to ``do`` about it."""

    def __init__(self, what: str, do: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.do = do

    def __str__(self) -> str:
        return f"{self.what} {self.do}".strip()


class InputError(VinemapError):
    """Something typed or read can't be used."""


class FileError(VinemapError):
    """A file can't be opened, read or written."""


class TooFewData(VinemapError):
    """There is not enough to answer the question."""


class Cancelled(Exception):
    """Long work was stopped on request."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that was left out of what was read, and why.

    ``place`` is where in the file ("line 14", "feature 3, block Long Acre"), ``field`` the column or property,
    ``value`` what stood there. Empty parts are left out of the sentence.
    """

    file: str
    place: str
    field: str
    value: str
    why: str
    do: str

    def __str__(self) -> str:
        where = ", ".join(part for part in (self.file, self.place) if part)
        about = f"{self.field} = {self.value}" if self.field and self.value else self.field or self.value
        return f"{where}: {about + ': ' if about else ''}{self.why}. {self.do}".rstrip()
