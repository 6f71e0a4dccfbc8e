"""An open season: what it is now, the edits that change it, and who wants to know."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path

from vinemap.errors import FileError
from vinemap.files.season_copies import keep_daily_copy
from vinemap.files.season_file import SeasonFile, create, open_season
from vinemap.season.value import Season

Edit = Callable[[Season], Season]
ROUND_VIEW = "round"
_COLUMNS_VIEW = "columns "
_REPORT_VIEW = "report"
_PICTURE_VIEW = "picture"


class Book:
    """A season file in the hand. Every edit is saved before it is told; listeners are called after the fact."""

    def __init__(self, file: SeasonFile) -> None:
        self._file = file
        self._listeners: list[Callable[[], None]] = []
        self._copied_on: dt.date | None = None
        self._copy_trouble = ""

    @property
    def season(self) -> Season:
        """The season as it stands."""
        return self._file.season

    @property
    def path(self) -> Path:
        """Where it is saved."""
        return self._file.path

    @property
    def undo_label(self) -> str | None:
        """What would be undone, or None."""
        return self._file.undo_label

    @property
    def redo_label(self) -> str | None:
        """What would be done again, or None."""
        return self._file.redo_label

    @property
    def copy_trouble(self) -> str:
        """Why today's copy of the season could not be made, or "". The edit itself was saved."""
        return self._copy_trouble

    def save_copy(self, target: Path) -> None:
        """Put the season with all its steps into another file; one that is there is replaced."""
        self._file.save_copy(target)

    def listen(self, listener: Callable[[], None]) -> None:
        """Call ``listener`` after every change."""
        self._listeners.append(listener)

    def apply(self, label: str, edit: Edit) -> None:
        """Make one edit, save it and tell."""
        season = edit(self._file.season)
        self._keep_copy()
        self._file.apply(label, season)
        self._tell()

    def undo(self) -> None:
        """Take the last edit back."""
        if self.undo_label is not None:
            self._keep_copy()
            self._file.undo()
            self._tell()

    def redo(self) -> None:
        """Make the edit again that was taken back."""
        if self.redo_label is not None:
            self._keep_copy()
            self._file.redo()
            self._tell()

    def round_looked_at(self) -> int | None:
        """Number of the round last looked at, or the latest one, or None without rounds."""
        numbers = [each.number for each in self.season.rounds]
        seen = self._file.view(ROUND_VIEW)
        return seen if seen in numbers else max(numbers, default=None)

    def look_at_round(self, number: int) -> None:
        """Remember which round is looked at; not an edit."""
        # a season whose file is gone can still be looked at
        with suppress(FileError):
            self._file.set_view(ROUND_VIEW, number)

    def picture_shown(self) -> bool | None:
        """Whether the picture is to be seen on every step or on none, or None where nobody said so."""
        found = self._file.view(_PICTURE_VIEW)
        return found if isinstance(found, bool) else None

    def show_picture(self, is_shown: bool | None) -> None:
        """Remember whether the picture is to be seen; not an edit."""
        # a season whose file is gone can still be looked at
        with suppress(FileError):
            self._file.set_view(_PICTURE_VIEW, is_shown)

    def columns_confirmed(self, heads: tuple[str, ...]) -> str:
        """Which column is which, as it was confirmed for a table with these heads; "" where it never was."""
        found = self._file.view(_COLUMNS_VIEW + ",".join(heads), "")
        return found if isinstance(found, str) else ""

    def confirm_columns(self, confirmed: Mapping[tuple[str, ...], str]) -> None:
        """Remember which column is which for tables with these heads; not an edit."""
        for heads, given in confirmed.items():
            self._file.set_view(_COLUMNS_VIEW + ",".join(heads), given)

    def keep_report(self, text: str) -> None:
        """Remember the report of the files last brought in; not an edit."""
        self._file.set_view(_REPORT_VIEW, text)

    def last_report(self) -> str:
        """The report of the files last brought in, "" where there is none."""
        found = self._file.view(_REPORT_VIEW, "")
        return found if isinstance(found, str) else ""

    def close(self) -> None:
        """Let go of the file."""
        self._listeners.clear()
        self._file.close()

    def _keep_copy(self) -> None:
        """Before the first edit of a day: a copy of the season as it was; none of what is invented."""
        today = dt.date.today()
        if self.season.estate.is_invented or self._copied_on == today:
            return
        try:
            keep_daily_copy(self._file, today)
        except FileError as error:
            # no copy is no reason to lose the edit as well
            self._copy_trouble = f"Today's copy of the season was not made. {error}"
        else:
            self._copied_on, self._copy_trouble = today, ""

    def _tell(self) -> None:
        for listener in tuple(self._listeners):
            listener()


def open_book(path: Path) -> Book:
    """Open a season file."""
    return Book(open_season(path))


def new_book(path: Path, season: Season) -> Book:
    """Begin a season file."""
    return Book(create(path, season))
