"""The rules of heat and infection as they are written: “heat rule 2013”, “infection rule ucce”."""

from __future__ import annotations

import re
from dataclasses import replace

from vinemap.errors import InputError
from vinemap.season.typed_words import plain_text
from vinemap.season.value import Season
from vinemap.season.weather_edits import with_rules
from vinemap.vineclock.infection import INFECTION_RULES, RULE_WORDS
from vinemap.vineclock.pressure import HEAT_RULES
from vinemap.vineclock.story import HEAT_WORDS

SIGN = r"^(?:heat|infection) rule\b"
_WRITTEN = re.compile(r"(?P<of>heat|infection) rule\b(?: (?:is|of|by))?:? ?(?P<name>.*)")


def typed(season: Season, text: str) -> tuple[Season, str] | None:
    """The season that goes by the rule that a text names, and what is said; None for another text. Raises InputError."""
    written = _WRITTEN.fullmatch(plain_text(text).strip())
    if written is None:
        return None
    of, asked = written["of"], written["name"].strip()
    known = {plain_text(each): each for each in (HEAT_RULES if of == "heat" else INFECTION_RULES)}
    name = known.get(asked)
    if name is None:
        raise InputError(f"“{asked}” is no rule of {of}.", f"Write {of} rule, and one of: {', '.join(known.values())}.")
    if of == "heat":
        return with_rules(season, replace(season.goes_by, heat=name)), f"Heat is {HEAT_WORDS[name]}."
    return with_rules(season, replace(season.goes_by, infection=name)), f"A primary infection is {RULE_WORDS[name]}."
