"""Which of two beliefs about late opening the estate goes by, as a manager writes it: “believe practice”."""

from __future__ import annotations

import re
from dataclasses import replace

from vinemap.season.rules import TRIALS
from vinemap.season.typed_words import plain_text
from vinemap.season.value import Season
from vinemap.season.weather_edits import with_rules

SIGN = r"^believe\b"


def typed(season: Season, text: str) -> tuple[Season, str] | None:
    """The season after a typed choice, and what it means; None where the text is none. Raises InputError."""
    found = re.fullmatch(r"believe (?:the )?(?P<choice>.+)", plain_text(text).strip())
    if found is None:
        return None
    choice = found["choice"].strip()
    made = with_rules(season, replace(season.goes_by, late_opening=choice))
    does = "does not count against mildew, as trials have it" if choice == TRIALS else "counts in part, by practice"
    return made, f"Opening from five weeks after bloom on {does}."
