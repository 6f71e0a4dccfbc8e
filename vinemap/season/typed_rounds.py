"""Edits of rounds as a manager writes them."""

from __future__ import annotations

import re

from vinemap.season.edits import without_round
from vinemap.season.typed_words import plain_text
from vinemap.season.value import Season

SIGN = r"^(?:delete|remove) (?:the )?round\b"
_FORM = r"(?:delete|remove) (?:the )?round (?P<number>\d{1,6})"


def typed(season: Season, text: str) -> tuple[Season, str] | None:
    """The season after a typed edit of a round, and what it did; None where the text is none. Raises InputError."""
    found = re.fullmatch(_FORM, plain_text(text))
    if found is None:
        return None
    number = int(found["number"])
    made = without_round(season, number)
    gone = season.round(number)
    stops = len(gone.stops) if gone is not None else 0
    return made, f"Round {number} is deleted, with its {stops} stops."
