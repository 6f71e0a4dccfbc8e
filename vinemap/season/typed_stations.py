"""Which weather station a block goes by, as a manager writes it: “Dogleg goes by station hill”."""

from __future__ import annotations

import re

from vinemap.errors import InputError
from vinemap.season.typed_words import plain_text, resolved_block
from vinemap.season.value import Season
from vinemap.season.weather_edits import choose_station, without_station

SIGN = r"\bgo(?:es)? by (?:the )?(?:first )?station\b|^(?:delete|remove) (?:the )?station\b"
_CHOICE = re.compile(r"(?P<block>.+?) go(?:es)? by (?:(?P<first>the first station)|(?:the )?station (?P<station>.+))")
_REMOVAL = re.compile(r"(?:delete|remove) (?:the )?station (?P<station>.+)")
_ALL = ("all", "all blocks", "every block", "the estate")


def typed(season: Season, text: str) -> tuple[Season, str] | None:
    """The season after an edit about stations and what there is to say; None for any other text. Raises InputError."""
    plain = plain_text(text)
    removal = _REMOVAL.fullmatch(plain)
    if removal:
        name = station_named(season, text[removal.start("station") :])
        followed = sum(1 for _, station in season.goes_by.station_of if station == name)
        made = without_station(season, name)
        now = f", its {followed} blocks go by {made.weather.station} now" if followed and made.weather else ""
        return made, f"Station {name} is removed{now}."
    choice = _CHOICE.fullmatch(plain)
    if choice is None:
        return None
    name = "" if choice["first"] else station_named(season, text[choice.start("station") :])
    if choice["block"] in _ALL:
        blocks = [block.name for block in season.blocks]
    else:
        blocks = [resolved_block(season, text[: choice.end("block")]).name]
    made = season
    for block in blocks:
        made = choose_station(made, block, name)
    told = f"station {name}" if name else "the first station"
    who = "All blocks go" if choice["block"] in _ALL else f"{blocks[0]} goes"
    return made, f"{who} by {told} now."


def station_named(season: Season, name: str) -> str:
    """The station of a name in any case, as it is written. Raises InputError."""
    wanted = plain_text(name.strip(" “”\"'."))
    found = next((each.station for each in season.all_stations if plain_text(each.station) == wanted), None)
    if found is None:
        names = ", ".join(each.station for each in season.all_stations) or "none yet"
        raise InputError(f"There is no station {name.strip()}.", f"The stations are: {names}.")
    return found
