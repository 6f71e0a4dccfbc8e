"""One line of a table, or the properties of one feature, as text; and how each value is understood or refused."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar

from vinemap.errors import Problem

Item = TypeVar("Item")
Kept = TypeVar("Kept")

_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_MOMENT = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})[T ]([0-9]{2}:[0-9]{2})(:[0-9]{2})?(Z|[+-][0-9]{2}:?[0-9]{2})?")
_FIRST_YEAR, _LAST_YEAR = 1950, 2100
_SHOWN_LETTERS = 60
DATE_ADVICE = "Write year-month-day, for example 2026-06-12."


def one_spelling(text: str) -> str:
    """The text with each accented letter as one character, so that the same name from two systems is the same."""
    return text if text.isascii() else unicodedata.normalize("NFC", text)


class Refused(Exception):
    """A value that can't be used: caught where its line or feature is left out."""

    def __init__(self, field: str, value: str, why: str, do: str = "") -> None:
        super().__init__(why)
        self.field, self.value, self.why, self.do = field, value, why, do


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of a table or a feature: the file and place it came from, and its values by lower-case name."""

    file: str
    place: str
    values: Mapping[str, str]
    has_decimal_comma: bool = False

    def problem(self, field: str, value: str, why: str, do: str) -> Problem:
        """The problem of leaving this out."""
        shown = value if len(value) <= _SHOWN_LETTERS else value[:_SHOWN_LETTERS] + "…"
        return Problem(self.file, self.place, field, shown, why, do)

    def text(self, name: str) -> str:
        """The value, "" where there is none."""
        return self.values.get(name, "")

    def needed(self, name: str) -> str:
        """The value. Raises Refused when it is empty."""
        value = self.text(name)
        if not value:
            raise Refused(name, "", "there is nothing here", "Fill it in.")
        return value

    def number(self, name: str, low: float, high: float, ask: str = "") -> float:
        """A number from ``low`` to ``high``. Raises Refused; ``ask`` is what to check when it is outside."""
        value = self.needed(name)
        written = value.replace(",", ".") if self.has_decimal_comma and value.count(",") == 1 and "." not in value else value
        if not _NUMBER.fullmatch(written):
            raise Refused(name, value, "is not a number", "Write digits with a decimal point, without units.")
        number = float(written)
        if not low <= number <= high:
            raise Refused(name, value, f"must be from {low:g} to {high:g}", ask)
        return number

    def number_or_none(self, name: str, low: float, high: float, ask: str = "") -> float | None:
        """A number as ``number`` reads it, None where the value is empty."""
        return self.number(name, low, high, ask) if self.text(name) else None

    def whole(self, name: str, low: int, high: int) -> int:
        """A whole number from ``low`` to ``high``. Raises Refused."""
        number = self.number(name, float("-inf"), float("inf"))
        if number < low and low == 0:
            raise Refused(name, self.text(name), "is less than nothing", "Write a count, 0 or more.")
        if number != number // 1:
            raise Refused(name, self.text(name), "is not a whole number", "Write a count.")
        if not low <= number <= high:
            raise Refused(name, self.text(name), f"must be from {low} to {high}")
        return int(number)

    def date(self, name: str) -> dt.date:
        """A date written year-month-day. Raises Refused."""
        value = self.needed(name)
        if re.fullmatch(r"[0-9]{1,2}[/.-][0-9]{1,2}[/.-][0-9]{2,4}", value):
            raise Refused(name, value, "may be read as two different dates", DATE_ADVICE)
        if not _DATE.fullmatch(value):
            raise Refused(name, value, "is not a date", DATE_ADVICE)
        return self._within_years(name, value, value).date()

    def date_or_none(self, name: str) -> dt.date | None:
        """A date, None where the value is empty. Raises Refused."""
        return self.date(name) if self.text(name) else None

    def moment(self, name: str) -> dt.datetime:
        """A date and time, with its zone where one is written. Raises Refused."""
        value = self.needed(name)
        match = _MOMENT.fullmatch(value)
        if not match:
            raise Refused(name, value, "is not a date and time", "Write it as 2026-06-12T14:00, hours from 00 to 23.")
        day, minutes, seconds, zone = match.groups()
        return self._within_years(name, value, f"{day}T{minutes}{seconds or ''}{zone or ''}")

    def choice(self, name: str, words: Collection[str], default: str = "") -> str:
        """One of a few words, in any case; ``default`` where the value is empty. Raises Refused."""
        value = self.text(name) if default else self.needed(name)
        if not value:
            return default
        for word in words:
            if word.casefold() == value.casefold():
                return word
        raise Refused(name, value, "is not one of the words used here", f"Write one of: {', '.join(words)}.")

    def listed(self, name: str) -> tuple[str, ...]:
        """Parts of a value written ``A;B``; none where it is empty."""
        return tuple(part for part in (part.strip() for part in self.text(name).split(";")) if part)

    def _within_years(self, name: str, value: str, written: str) -> dt.datetime:
        try:
            moment = dt.datetime.fromisoformat(written)
        except ValueError as error:
            raise Refused(name, value, "is not in the calendar", DATE_ADVICE) from error
        if not _FIRST_YEAR <= moment.year <= _LAST_YEAR:
            raise Refused(name, value, "is too far away to be meant", "Check the year.")
        return moment


def keep_good(items: Iterable[tuple[Entry, Item]], read_one: Callable[[Item], Kept]) -> tuple[list[Kept], list[Problem]]:
    """What ``read_one`` makes of each item, and a problem at its entry for each that it refused."""
    kept: list[Kept] = []
    problems: list[Problem] = []
    for entry, item in items:
        try:
            kept.append(read_one(item))
        except Refused as refused:
            problems.append(entry.problem(refused.field, refused.value, refused.why, refused.do))
    return kept, problems


def keep_good_lines(lines: Iterable[Entry], read_one: Callable[[Entry], Kept]) -> tuple[list[Kept], list[Problem]]:
    """The same for the lines of a table."""
    return keep_good(((line, line) for line in lines), read_one)
