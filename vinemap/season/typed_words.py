"""The words of typed edits: blocks, rows, places and steps as they are written."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable

import numpy as np

from vinemap.columns import Floats
from vinemap.errors import InputError
from vinemap.ground.address import row_order
from vinemap.ground.block import Block
from vinemap.season.value import Season

ToLocal = Callable[[float, float], tuple[float, float]]
SIDE = "north|east|south|west"
_NUMBER = r"-?\d+(?:\.\d+)?"
PLACE = rf"{_NUMBER} ?, ?{_NUMBER}"
STEP = rf"\d+(?:\.\d+)? ?m(?:etres?|eters?)? (?:{SIDE})(?:(?: and|,)? \d+(?:\.\d+)? ?m(?:etres?|eters?)? (?:{SIDE}))?"
EXAMPLES = (
    "row 12, vines 30 to 44 dead",
    "reverse row 12",
    "renumber rows of Dogleg from 1 west to east",
    "merge Dogleg and Wrenfield as Dogleg",
)
_STEPS = {"north": (0.0, 1.0), "east": (1.0, 0.0), "south": (0.0, -1.0), "west": (-1.0, 0.0)}


def plain_text(text: str) -> str:
    """The text in lower case without accents, letter for letter, so that a place in one is the same place in the other.

    A name with a line break in it is written with a blank.
    """
    plain = (unicodedata.normalize("NFKD", letter)[:1].lower()[:1] or letter for letter in unicodedata.normalize("NFC", text))
    return "".join(" " if letter.isspace() else letter for letter in plain)


def not_understood(text: str) -> InputError:
    """The refusal of what is no edit, with examples."""
    return InputError(f"“{text}” is not understood.", f"Write for example {', '.join(f'“{each}”' for each in EXAMPLES)}.")


def about_block(season: Season, text: str) -> tuple[Block | None, str]:
    """The block that a text is about, or None, and the text without it. Raises InputError for a block that is not there.

    It is named at the beginning, or after “of”, “in” or “block”; after “to” where something is added.
    """
    text = unicodedata.normalize("NFC", text)
    plain = plain_text(text)
    blocks = sorted(season.blocks, key=lambda block: -len(block.name))
    for block in blocks:
        name = plain_text(block.name)
        if plain.startswith(name) and plain[len(name) : len(name) + 1] in ("", " ", ",", ":", "/"):
            return block, text[len(name) :].lstrip(" ,:/")
    link = "of|in|to" if plain.startswith("add ") else "of|in"
    for block in blocks:
        found = re.search(rf"\b(?:(?:{link})(?: block)?|block) {re.escape(plain_text(block.name))}(?=$|[ ,:;/])", plain)
        if found:
            return block, " ".join(f"{text[: found.start()].rstrip()} {text[found.end() :].lstrip(' ')}".split())
        found = re.match(
            rf"(?P<verb>renumber|reverse|flip|turn|spread) {re.escape(plain_text(block.name))}(?=$|[ ,:])", plain
        )
        if found:
            return block, f"{found['verb']} {text[found.end() :].strip(' ,:') or 'all rows'}"
    other = re.search(
        r"\b(?:of|in) (?:block )?(?!row|rows|the|block|vine|start|end|steps\b)(?P<name>[^,:/]+?)(?=$| from| row| vine|[,:/])",
        plain,
    )
    if other:
        raise _no_block(season, text[other.start("name") : other.end("name")])
    return None, text


def resolved_block(season: Season, name: str) -> Block:
    """The block of a name in any case. Raises InputError."""
    wanted = plain_text(name.strip().removeprefix("block "))
    found = next((block for block in season.blocks if plain_text(block.name) == wanted), None)
    if found is None:
        raise _no_block(season, name)
    return found


def row_named(block: Block, label: str) -> str:
    """The label of a row as the block has it. Raises InputError."""
    label = label.strip(" ,.:;")
    found = next((each for each in block.rows.labels if each == label), None)
    found = found or next((each for each in block.rows.labels if plain_text(each) == plain_text(label)), None)
    if found is None:
        raise InputError(f"Block {block.name} has no row {label}.", "Use a row label as it stands on the map.")
    return found


def rows_named(block: Block, text: str) -> tuple[str, ...]:
    """Labels of rows written as “row 12”, “rows 1 to 12, 15 and 17a” or “all rows”; a range takes what lies between.

    Raises InputError.
    """
    plain = plain_text(text).strip()
    if re.fullmatch(r"(?:all)?(?: ?the)?(?: ?rows?)?", plain):
        if plain in ("row", "rows", ""):
            raise InputError("It is not said which rows.", "Write “row 12”, “rows 1 to 12” or “all rows”.")
        return block.rows.labels
    order = [block.rows.labels[index] for index in row_order(block.rows.labels)]
    meant: set[str] = set()
    for part in re.split(r",|;|\band\b|&", re.sub(r"^(?:all )?(?:the )?rows? ", "", text.strip(), flags=re.IGNORECASE)):
        part = re.sub(r"^\s*rows? ", "", part, flags=re.IGNORECASE).strip()
        if not part:
            continue
        ends = re.fullmatch(r"(\S+?)\s*(?:\bto\b|-|–)\s*(\S+)", part) if part not in order else None
        if ends is None:
            meant.add(row_named(block, part))
            continue
        low, high = sorted(order.index(row_named(block, end)) for end in ends.groups())
        meant.update(order[low : high + 1])
    return tuple(label for label in order if label in meant)


def step_m(text: str) -> Floats:
    """A step (2,) [m east, north] written as “5 m east 2 m north”."""
    step = np.zeros(2)
    for amount, side in re.findall(rf"(\d+(?:\.\d+)?) ?m\w* ({SIDE})", plain_text(text)):
        step += float(amount) * np.array(_STEPS[side])
    return step


def place_m(text: str, to_local: ToLocal) -> tuple[float, float]:
    """A place [m] written as longitude, latitude [degrees]. Raises InputError."""
    lon, lat = (float(part) for part in text.split(","))
    if abs(lon) > 180.0 or abs(lat) > 90.0:
        raise InputError(f"{text} is not a place.", "Write longitude, then latitude, in degrees.")
    return to_local(lon, lat)


def _no_block(season: Season, name: str) -> InputError:
    names = ", ".join(block.name for block in season.blocks) or "none yet"
    return InputError(f"There is no block {name.strip()}.", f"The blocks are: {names}.")
