"""JSON as text, and GeoJSON one feature to a line, with or without the record separators of RFC 8142."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from vinemap.errors import Problem
from vinemap.files.text import read_text

RECORD_SEPARATOR = "\x1e"
_HALF = r"\\u[dD][89a-fA-F][0-9a-fA-F]{2}"
_ESCAPE = re.compile(r"\\u[dD][89abAB][0-9a-fA-F]{2}\\u[dD][c-fC-F][0-9a-fA-F]{2}|(?P<half>" + _HALF + r")|\\.", re.DOTALL)
"""A letter in two halves, half a letter alone, or another escape (RFC 8259, 7 and 8.2)."""


def json_text(path: Path) -> tuple[str, tuple[str, ...]]:
    """The text of a JSON file as ``read_text``; half a letter, which is none and can't be written, becomes �, with a note."""
    text, notes = read_text(path)
    if "\\ud" not in text and "\\uD" not in text:
        return text, notes
    halves = sum(match["half"] is not None for match in _ESCAPE.finditer(text))
    if halves:
        text = _ESCAPE.sub(lambda match: "\N{REPLACEMENT CHARACTER}" if match["half"] else match[0], text)
        broken = "1 letter is broken and stands" if halves == 1 else f"{halves:,} letters are broken and stand"
        notes = (*notes, f"{Path(path).name}: {broken} as � now.")
    return text, notes


def is_json_lines(text: str) -> bool:
    """True where text is a feature a line, and not one value of JSON as a whole."""
    text = text.lstrip(" \t\r\n")
    first, _, rest = text.partition("\n")
    return text.startswith(RECORD_SEPARATOR) or (bool(rest.strip()) and _is_whole(first))


def read_json_lines(name: str, text: str) -> tuple[list[Any], tuple[Problem, ...]]:
    """The features, None for a record that is not sound, and a problem for each of those."""
    if RECORD_SEPARATOR in text:
        records = [(f"record {number}", each) for number, each in enumerate(text.split(RECORD_SEPARATOR)[1:], start=1)]
        lost = text.split(RECORD_SEPARATOR)[0].strip()
        records = ([("before record 1", lost)] if lost else []) + records
    else:
        records = [(f"line {number}", each) for number, each in enumerate(text.split("\n"), start=1)]
    items: list[Any] = []
    problems: list[Problem] = []
    for place, record in records:
        if not record.strip():
            continue
        try:
            value = json.loads(record)
        except (ValueError, RecursionError):
            problems.append(
                Problem(name, place, "", "", "is not JSON; it may be cut off", "Save it again from where it came.")
            )
            continue
        inner = value.get("features") if isinstance(value, dict) and value.get("type") == "FeatureCollection" else None
        items.extend(inner if isinstance(inner, list) else [value])
    return items, tuple(problems)


def _is_whole(line: str) -> bool:
    try:
        return isinstance(json.loads(line), dict)
    except (ValueError, RecursionError):
        return False
