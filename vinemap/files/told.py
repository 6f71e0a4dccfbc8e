"""What the name and the words beside a mark tell, in files whose marks have no columns: KML and GPX."""

from __future__ import annotations

import re

_TOLD = re.compile(r"\s*([^\W\d][\w ]{0,39}?)\s*[=:]\s*(\S.*)")
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")
_ADDRESS = ("block", "row", "vine")


def told_by(text: str) -> dict[str, str]:
    """Values written as ``examined=20; infected=3``, one a line or parted by semicolons; all of them or none."""
    pieces = [piece for piece in re.split(r"[;\n\r]+", text) if piece.strip()]
    found = [_TOLD.fullmatch(piece) for piece in pieces]
    if not all(found):
        return {}
    return {match.group(1).casefold(): match.group(2).strip() for match in found if match}


def with_address(properties: dict[str, str]) -> dict[str, str]:
    """The properties, with block, row and vine from a name such as ``Long Acre / 12 / 34`` where none are given."""
    known = {key.casefold() for key in properties}
    parts = [part.strip() for part in properties.get("name", "").split("/")]
    if known & set(_ADDRESS) or not 2 <= len(parts) <= 3 or not all(parts):
        return properties
    return {**properties, **dict(zip(_ADDRESS, parts, strict=False))}


def number_or_text(text: str) -> float | str:
    """A coordinate; what is no number stays as it is, so that it is shown where it is refused."""
    text = text.strip()
    return float(text) if _NUMBER.fullmatch(text) else text
