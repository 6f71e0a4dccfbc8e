"""What stands in the sun's way as it is written: “Dogleg slopes 12° to the south-west”, “hedge along … 4 m high”."""

from __future__ import annotations

import re

import numpy as np

from vinemap.canopy.faces import COMPASS, compass_word
from vinemap.errors import InputError
from vinemap.ground.block import Block
from vinemap.ground.edges import Edge, free_name
from vinemap.season.typed_words import PLACE, ToLocal, about_block, place_m, plain_text
from vinemap.season.value import Season
from vinemap.season.weather_edits import with_edges, with_lie, with_wall

_METRES = r"(?P<{}>\d+(?:[.,]\d+)?) ?m(?:etres?|eters?)?"
_WORDS = "|".join(sorted((word.replace("-", "[- ]?") for word in COMPASS), key=len, reverse=True))
_SLOPE = re.compile(
    r"(?:the )?(?:slopes?|falls?)(?: is| of| by)? ?(?P<deg>\d+(?:[.,]\d+)?) ?(?:°|deg(?:rees?)?)"
    rf"(?:,? ?(?:down |falling |and falls )?(?:to )?(?:the )?(?P<way>{_WORDS}|\d+(?:\.\d+)? ?°?))?"
)
_LEVEL = re.compile(r"(?:is|lies) level")
_SIZES = re.compile(
    rf"(?:the )?vines(?: are)? {_METRES.format('top')} high,? (?:and )?{_METRES.format('width')} wide"
    rf"(?:,? ?(?:and |with )?(?:the )?fruit(?: is)? at {_METRES.format('fruit')})?"
)
_GONE = re.compile(r"(?:delete|remove) (?:the )?(?:tall edge|hedge|trees|wall|house) (?P<name>.+)")

_TALL = "(?:tall edge|hedge|trees|wall|house)"
SIGN = (
    r"\b(?:slopes?|falls?)\b.*\d ?(?:°|deg)|^(?:is|lies) level$|\bvines\b.*\bm\w* high\b"
    rf"|^(?:add (?:a |the )?)?{_TALL}\b.*\balong\b|^(?:delete|remove) (?:the )?{_TALL}\b"
)
EDGE_FORM = (
    rf"(?:add (?:a |the )?)?(?P<what>tall edge|hedge|trees|wall|house)(?: (?!along\b)(?P<name>.+?))? along "
    rf"(?P<line>{PLACE}(?:(?: to)? {PLACE})+),? {_METRES.format('height')} high(?:,? (?P<open>0?[.,]\d+|0|1) open)?"
)


def typed(season: Season, text: str) -> tuple[Season, str] | None:
    """The season with a slope, sizes of vines or without a tall edge, and what there is to say; None for another text.

    Raises InputError.
    """
    gone = _GONE.fullmatch(plain_text(text))
    if gone:
        return _without_edge(season, text[gone.start("name") :])
    try:
        block, rest = about_block(season, text)
    except InputError:
        return None
    plain = plain_text(rest).strip(" ,:")
    slope, level, sizes = _SLOPE.fullmatch(plain), _LEVEL.fullmatch(plain), _SIZES.fullmatch(plain)
    if not (slope or sizes or (level and block)):
        return None
    block = _one(season, block)
    if sizes:
        return _with_sizes(season, block, sizes)
    if level:
        return with_lie(season, block.name, 0.0, 0.0), f"{block.name} is level."
    assert slope is not None
    if not slope["way"]:
        raise InputError("It is not said which way it falls.", "Write for example “Dogleg slopes 12° to the south-west”.")
    way = slope["way"]
    aspect_deg = _number(way.rstrip(" °")) if way[0].isdigit() else 45.0 * _compass(way)
    made = with_lie(season, block.name, _number(slope["deg"]), aspect_deg)
    return made, f"{block.name} falls {_number(slope['deg']):g}° to the {compass_word(aspect_deg)}."


def with_typed_edge(season: Season, found: re.Match[str], to_local: ToLocal) -> tuple[Season, str]:
    """The season with a tall edge as ``EDGE_FORM`` found it, in place of one of its name. Raises InputError."""
    line = np.array([place_m(place, to_local) for place in re.findall(PLACE, found["line"])])
    name = (found["name"] or "").strip() or free_name(season.edges)
    edge = Edge(name, line, _number(found["height"]), _number(found["open"] or "0"))
    kept = [each for each in season.edges if plain_text(each.name) != plain_text(name)]
    long_m = float(np.hypot(*np.diff(line, axis=0).T).sum())
    how = f", {edge.open_frac:g} open" if edge.open_frac else ""
    return with_edges(season, [*kept, edge]), f"{name}: {long_m:.0f} m long, {edge.height_m:g} m high{how}."


def _without_edge(season: Season, name: str) -> tuple[Season, str]:
    kept = [each for each in season.edges if plain_text(each.name) != plain_text(name.strip())]
    if len(kept) == len(season.edges):
        names = ", ".join(each.name for each in season.edges) or "none yet"
        raise InputError(f"There is no tall edge {name.strip()}.", f"There are: {names}.")
    return with_edges(season, kept), f"{name.strip()} is gone."


def _with_sizes(season: Season, block: Block, sizes: re.Match[str]) -> tuple[Season, str]:
    fruit_m = _number(sizes["fruit"]) if sizes["fruit"] else min(block.wall.fruit_m, _number(sizes["top"]))
    top_m, width_m = _number(sizes["top"]), _number(sizes["width"])
    made = with_wall(season, block.name, top_m, width_m, fruit_m)
    return made, f"Vines of {block.name}: {top_m:g} m high, {width_m:g} m wide, fruit at {fruit_m:g} m."


def _one(season: Season, block: Block | None) -> Block:
    if block is None and len(season.blocks) != 1:
        names = ", ".join(each.name for each in season.blocks) or "none yet"
        raise InputError(f"It is not said which block. There are: {names}.", "Begin with its name.")
    return block or season.blocks[0]


def _compass(word: str) -> int:
    return COMPASS.index(next(each for each in COMPASS if each.replace("-", "") == re.sub("[- ]", "", word)))


def _number(text: str) -> float:
    return float(text.replace(",", "."))
