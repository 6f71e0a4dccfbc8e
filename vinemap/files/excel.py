"""Workbooks (.xlsx, ISO/IEC 29500) as the text of a table: values as they were last reckoned, nothing is run."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import warnings
import zipfile
from itertools import islice
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import ParseError

from vinemap.errors import FileError
from vinemap.files.archive import names_in, read_archive
from vinemap.files.signs import SIGNS
from vinemap.files.text import first_bytes, read_bytes

MOST_ABOVE = 20
"""Lines among which the column names are looked for."""
_OLD = b"\xd0\xcf\x11\xe0"
_WORKBOOK = "xl/workbook.xml"
_MOST_ROWS, _MOST_COLUMNS, _MOST_CELLS = 400_000, 200, 5_000_000
_MIDNIGHT = dt.time()
_DECLARATIONS = (b"<!DOCTYPE", b"<!ENTITY", "<!DOCTYPE".encode("utf-16-le"), "<!DOCTYPE".encode("utf-16-be"))
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\s[^>]*?ref="([A-Z]+(\d+):[A-Z]+(\d+))"')
_Rows = list[list[Any]]


def is_workbook(path: Path) -> bool:
    """True for an .xlsx workbook. Raises FileError when it can't be opened, or is one of the old binary kind."""
    if first_bytes(path).startswith(_OLD):
        raise FileError(
            f"{Path(path).name} is a workbook of the old kind, or locked with a password.",
            "Save it as .xlsx without a password, or as CSV.",
        )
    return _WORKBOOK in names_in(path)


def workbook_text(path: Path) -> tuple[str, tuple[str, ...]]:
    """The first sheet that names columns that are known here near its top, else the first that holds anything, as CSV.

    Dates are written year-month-day. Raises FileError when it is damaged, empty or too large.
    """
    path = Path(path)
    sheets = _sheets(path)
    if not sheets:
        raise FileError(f"{path.name} has no sheet with anything in it.", "Save it again from where it came.")
    known = [name for name, rows in sheets.items() if any(signs <= heads for heads in _heads(rows) for _, signs in SIGNS)]
    chosen = known[0] if known else next(iter(sheets))
    others = [name for name in sheets if name != chosen]
    notes = _merged_note(path)
    notes += (f"{path.name}: sheet {chosen} was read; left aside: {', '.join(others)}.",) if others else ()
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows(_texts(sheets[chosen]))
    return stream.getvalue(), notes


def _merged_note(path: Path) -> tuple[str, ...]:
    """What is said of cells merged over several lines: they look filled, but only the first line of them is."""
    sheets = [content for name, content in read_archive(path).items() if name.startswith("xl/worksheets/")]
    found = [match for content in sheets for match in _MERGED.findall(content) if match[1] != match[2]]
    if not found:
        return ()
    areas = ", ".join(match[0].decode() for match in found[:3]) + (", …" if len(found) > 3 else "")
    return (f"{path.name} has cells merged over several lines ({areas}): only the first line of each holds the value.",)


def _sheets(path: Path) -> dict[str, _Rows]:
    """Values of every visible sheet that holds any, by its name."""
    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    for content in read_archive(path).values():
        if any(word in content for word in _DECLARATIONS):
            raise FileError(
                f"{path.name} declares a document type or entities in it.", "No workbook needs them; save it again."
            )
    try:
        with warnings.catch_warnings():
            # of drawings and rules that are left aside
            warnings.simplefilter("ignore")
            book = load_workbook(io.BytesIO(read_bytes(path)), read_only=True, data_only=True, keep_links=False)
            try:
                found = {sheet.title: _rows(path.name, sheet) for sheet in book.worksheets if sheet.sheet_state == "visible"}
            finally:
                book.close()
    except (
        InvalidFileException,
        zipfile.BadZipFile,
        ParseError,
        KeyError,
        ValueError,
        TypeError,
        AttributeError,
        IndexError,
        OSError,
    ) as error:
        raise FileError(f"{path.name} is a damaged workbook.", "Save it again, or save the sheet as CSV.") from error
    return {name: rows for name, rows in found.items() if rows}


def _rows(name: str, sheet: Any) -> _Rows:
    # the size that a sheet tells of itself may be wrong
    sheet.reset_dimensions()
    rows: _Rows = []
    last = cells = 0
    for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
        cells += len(row)
        if number > _MOST_ROWS or len(row) > _MOST_COLUMNS or cells > _MOST_CELLS:
            raise FileError(
                f"{name}: the sheet {sheet.title} reaches beyond {_MOST_ROWS:,} lines, {_MOST_COLUMNS} columns or "
                f"{_MOST_CELLS:,} cells.",
                "Copy what belongs to the estate into a sheet of its own.",
            )
        rows.append(list(row))
        if any(value is not None and str(value).strip() for value in row):
            last = number
    return rows[:last]


def _heads(rows: _Rows) -> list[set[str]]:
    """Names in each of the first lines; titles may stand above the header."""
    filled = (row for row in rows if any(value is not None for value in row))
    return [{str(value).strip().casefold() for value in row if value is not None} for row in islice(filled, MOST_ABOVE)]


def _texts(rows: _Rows) -> list[list[str]]:
    """Cells as text, all lines of one width, so that a line stands at the number it has in the sheet."""
    width = max(len(row) for row in rows)
    while width > 1 and not any(len(row) >= width and row[width - 1] is not None for row in rows):
        width -= 1
    full = [[*row, *[None] * (width - len(row))][:width] for row in rows]
    timed = [
        any(isinstance(cell, dt.datetime) and cell.time() != _MIDNIGHT for cell in column)
        for column in zip(*full, strict=True)
    ]
    lines = [[_text(cell, has_times) for cell, has_times in zip(row, timed, strict=True)] for row in full]
    return [line if any(line) else [] for line in lines]


def _text(cell: Any, has_times: bool) -> str:
    if cell is None:
        return ""
    if isinstance(cell, dt.datetime):
        # a time of day is a fraction of a day in a workbook, off by microseconds
        moment = (cell + dt.timedelta(milliseconds=500)).replace(microsecond=0)
        return moment.isoformat() if has_times else moment.date().isoformat()
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return " ".join(str(cell).split())
