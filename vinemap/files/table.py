"""Tables as CSV (RFC 4180): comma, semicolon or tab, one header line, columns in any order."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from vinemap.errors import FileError, Problem
from vinemap.files.cells import Entry, one_spelling
from vinemap.files.excel import MOST_ABOVE, is_workbook, workbook_text
from vinemap.files.text import Read, read_text, write_text

_SEPARATORS = (",", ";", "\t")
_SEPARATOR_WORDS = {";": "semicolons", "\t": "tabs"}
_PLAIN_NUMBER = re.compile(r"[+-]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][+-]?[0-9]+)?|-")
_RUNS_AS_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_LINE = re.compile(r"([^\r\n]*)(?:\r\n|\r|\n)?")
_MOST_BROKEN_QUOTES = 100
_BEGINNING = 50_000
_TITLE_SHARE = 3


@dataclass(frozen=True, slots=True)
class Table:
    """Column names as written, in lower case without blanks around them, and the lines under them."""

    columns: tuple[str, ...]
    lines: tuple[Entry, ...]


def table_text(path: Path) -> tuple[str, tuple[str, ...]]:
    """The text of a CSV file or of a sheet of a workbook, and notes on how it was read. Raises FileError."""
    return workbook_text(path) if is_workbook(path) else read_text(path)


def read_header(path: Path) -> tuple[str, ...]:
    """Column names of a CSV file. Raises FileError when it is not one, or a name stands twice."""
    text, _ = table_text(path)
    return _header(Path(path).name, text)[2]


def read_table(path: Path, needed: Sequence[str], known: Sequence[str]) -> Read[Table]:
    """Lines of a CSV file; those whose number of values is not the header's are left out.

    Raises FileError when a ``needed`` column is missing, a name stands twice or there is no line under the header.
    Columns neither ``needed`` nor ``known`` are named in a note.
    """
    name = Path(path).name
    text, notes = table_text(path)
    skipped, separator, columns = _header(name, text)
    missing = [column for column in needed if column not in columns]
    if missing:
        raise FileError(
            f"{name} has no column “{missing[0]}”; it has {', '.join(column for column in columns if column) or 'none'}.",
            f"The first line must name the columns {', '.join(needed)}.",
        )
    unknown = [column for column in columns if column and column not in {*needed, *known}]
    if unknown:
        notes += (f"Columns not used in {name}: {', '.join(unknown)}.",)
    notes += _notes_above(name, text, skipped)
    if separator in _SEPARATOR_WORDS:
        notes += (f"{name} is separated by {_SEPARATOR_WORDS[separator]}; commas inside numbers are decimal commas.",)
    lines: list[Entry] = []
    problems: list[Problem] = []
    for place, cells in _records(name, text, skipped, separator, problems):
        while len(cells) > len(columns) and not cells[-1]:
            cells.pop()
        if not any(cells):
            continue
        if len(cells) != len(columns):
            why = f"has {len(cells)} values where the first line names {len(columns)} columns"
            problems.append(Problem(name, place, "", "", why, "Look for a missing or extra separator."))
            continue
        values = {column: cell for column, cell in zip(columns, cells, strict=True) if column}
        lines.append(Entry(name, place, values, separator != ","))
    if not lines and not problems:
        raise FileError(f"{name} has a line of column names but nothing under it.", "Add the lines and save it again.")
    return Read(Table(columns, tuple(lines)), tuple(problems), notes)


@dataclass(frozen=True, slots=True)
class Record:
    """One record as written: its ``place`` in the file, its cells, and the lines [start, end) it stands on, from 0."""

    place: str
    cells: tuple[str, ...]
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Written:
    """A CSV file as written: its lines without their ends, its separator, its columns, and the records under them.

    ``heads`` are the names of the columns with their capitals, ``columns`` those in lower case.
    """

    lines: tuple[str, ...]
    separator: str
    heads: tuple[str, ...]
    columns: tuple[str, ...]
    records: tuple[Record, ...]


def first_lines(text: str) -> str:
    """The beginning of a long text, up to a line's end: enough to see what the columns hold."""
    if len(text) <= _BEGINNING:
        return text
    return text[: max(text.rfind("\n", 0, _BEGINNING), text.rfind("\r", 0, _BEGINNING)) + 1] or text


def records_as_written(text: str) -> Written | None:
    """The records of a CSV file with the lines they stand on, so that one can be changed; None where it is no sound table."""
    try:
        skipped, separator, columns = _header("", text)
        problems: list[Problem] = []
        found = list(_records("", text, skipped, separator, problems))
    except FileError:
        return None
    records = []
    for place, cells in found:
        numbers = [int(number) for number in re.findall(r"[0-9]+", place)]
        records.append(Record(place, tuple(cells), numbers[0] - 1, numbers[-1]))
    lines = tuple(line.removesuffix("\n") for line in _lines(text))
    heads = tuple(cell.strip() for cell in _cells(lines[skipped - 1], separator))
    return Written(lines, separator, heads, columns, tuple(records))


def rename_heads(text: str, names: Mapping[str, str]) -> str:
    """The text of a CSV file with other column names; ``names`` holds the new by the old, in lower case.

    Only the first line is changed, so that every line keeps its number. Of two that would be called the same, the one
    that was not asked for gets a mark.
    """
    number, separator, columns = _header("", text)
    lines = _lines(text)
    taken = set(names.values())
    heads = [names.get(column) or (f"{column} (theirs)" if column in taken else column) for column in columns]
    stream = io.StringIO()
    csv.writer(stream, delimiter=separator, lineterminator="\n").writerow(heads)
    lines[number - 1] = stream.getvalue()
    return "".join(lines).removesuffix("\n")


def write_table(path: Path, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write a CSV file (comma, UTF-8). Text that a spreadsheet would run as a formula gets a ' before it.

    Raises FileError when it can't be written.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([_harmless(column) for column in columns])
    writer.writerows([_harmless(cell) for cell in row] for row in rows)
    write_text(path, stream.getvalue())


def _harmless(cell: object) -> object:
    # a cell with such a mark of its own gets one more, so that it reads back as it was
    if not isinstance(cell, str) or not cell.lstrip("'").startswith(_RUNS_AS_FORMULA) or _PLAIN_NUMBER.fullmatch(cell):
        return cell
    return f"'{cell}"


def _plain(cell: str) -> str:
    cell = one_spelling(cell.strip())
    return cell[1:] if cell.startswith("'") and cell.lstrip("'").startswith(_RUNS_AS_FORMULA) else cell


def _lines(text: str) -> list[str]:
    return [line + "\n" for line in text.replace("\r\n", "\n").replace("\r", "\n").split("\n")]


def _header(name: str, text: str) -> tuple[int, str, tuple[str, ...]]:
    """Lines up to and with the header, its separator, and the column names.

    Titles may stand above the header: lines with one cell, or with few in a sheet as wide as its fullest line.
    """
    # one by one: a long table is split into its lines only where they are read
    lines = (match[1] + "\n" for match in _LINE.finditer(text))
    filled = ((number, line) for number, line in enumerate(lines, start=1) if line.strip())
    first = [(number, *_split(line)) for number, line in islice(filled, MOST_ABOVE)]
    if not first:
        raise FileError(f"{name} is empty.", "Save it again from where it came.")
    fullest = max(_names(cells) for _, _, cells in first)
    number, separator, cells = next((each for each in first if not _is_title(each[2], fullest)), first[0])
    columns = tuple(cell.strip().casefold() for cell in cells)
    seen: set[str] = set()
    for column in columns:
        if column and column in seen:
            raise FileError(f"{name} names the column “{column}” twice.", "Rename or remove one of them.")
        seen.add(column)
    return number, separator, columns


def _split(line: str) -> tuple[str, list[str]]:
    """The separator that parts a line into the most cells, and these."""
    split = {separator: _cells(line, separator) for separator in _SEPARATORS}
    separator = max(_SEPARATORS, key=lambda each: len(split[each]))
    return separator, split[separator]


def _is_title(cells: Sequence[str], fullest: int) -> bool:
    names = _names(cells)
    return names < 2 or (len(cells) >= fullest and _TITLE_SHARE * names <= fullest)


def _names(cells: Sequence[str]) -> int:
    return sum(1 for cell in cells if cell.strip())


def _notes_above(name: str, text: str, skipped: int) -> tuple[str, ...]:
    """What is said of titles above the column names, which stand in line ``skipped``."""
    above = [match[1] for match in islice(_LINE.finditer(text), skipped - 1) if match[1].strip(" ,;\t")]
    if not above:
        return ()
    return (f"The column names of {name} stand in line {skipped}; what is above them was left aside.",)


def _cells(line: str, separator: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=separator))
    except (csv.Error, StopIteration):
        return []


def _records(name: str, text: str, skipped: int, separator: str, problems: list[Problem]) -> Iterator[tuple[str, list[str]]]:
    """Place and cells of each record under the header; a quotation mark left open costs its own line only."""
    lines = _lines(text)
    start, broken = skipped, 0
    while start < len(lines):
        reader = csv.reader(lines[start:], delimiter=separator, strict=True)
        done = 0
        try:
            for cells in reader:
                first, last = start + done + 1, start + reader.line_num
                done = reader.line_num
                yield (f"line {first}" if first == last else f"lines {first} to {last}"), [_plain(cell) for cell in cells]
            return
        except csv.Error:
            start += done + 1
        broken += 1
        if broken > _MOST_BROKEN_QUOTES:
            raise FileError(f"{name} has many quotation marks that do not close.", "Save it as CSV again.")
        why, do = "a quotation mark is not closed, or stands inside a value", "Remove it, or double it."
        problems.append(Problem(name, f"line {start}", "", "", why, do))
