"""Whose column is which: a table with other names, order or language is matched to our columns, to be confirmed by hand."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from vinemap.errors import InputError, VinemapError
from vinemap.files.alike import ByLength, by_length, likest
from vinemap.files.cell_words import read_date, read_moment
from vinemap.files.climate_reader import is_climate
from vinemap.files.covariate_raster import is_raster
from vinemap.files.geojson import is_json
from vinemap.files.head_units import Turn, TurnUtc, turn_for
from vinemap.files.head_words import ALONE, DRAWN, LITTLE, NAMING, OTHER_UNITS, SAID, TABLES, UNITS
from vinemap.files.picture_reader import is_picture
from vinemap.files.point_layers import is_database
from vinemap.files.signs import ROW_LIST, SHAPES, kind_by_columns
from vinemap.files.stop_reader import WAYS, says_where
from vinemap.files.table import first_lines, records_as_written, table_text
from vinemap.files.weather_times import is_clock, is_moment
from vinemap.files.weather_units import BOUNDS as WEATHER_BOUNDS
from vinemap.files.weather_units import NO_READING, ORIGIN, TRACES, lacking_weather, siblings
from vinemap.vineclock.weather import ORIGIN_WORDS
from vinemap.work.varieties import plain_name

ENOUGH = 0.84
"""How alike two spellings must be to be proposed: 1 is the same. A choice."""
_KNOWN, _NAMED, _ALONE, _BELOW_KNOWN, _LEAST = 0.99, 0.985, 0.9, 0.98, 1e-9
_SHORTEST_GUESS = 4
_LINES_LOOKED_AT = 50
_MOST_MISFITS = 0.2
_LEAST_SHARE = 0.6
_MOST_COLUMNS = 1000
"""A table with more has its lines and columns the other way round, or is none of ours: a choice."""
_UNIT = re.compile(r"[\[(]([^\])]*)[\])]")
_DATE = re.compile(r"[0-9]{4}[-/.][0-9]{1,2}[-/.][0-9]{1,2}|[0-9]{1,2}[-/.][0-9]{1,2}[-/.][0-9]{2,4}")
_MOMENT = re.compile(rf"({_DATE.pattern})[T ]+[0-9]{{1,2}}:[0-9]{{2}}.*")
_NUMBER = re.compile(r"[+-]?([0-9]+[.,]?[0-9]*|[.,][0-9]+)([eE][+-]?[0-9]{1,3})?")
_COUNTS = ("examined", "infected", "leaves_examined", "leaves_infected", "vine", "round", "people", "vines")
_WORDS = ("scout", "sample_type", "light", "status", "variety", "kind", "face", "materials", "varieties", "training")
_BOUNDS = {
    "lon": (-180.0, 180.0),
    "lat": (-90.0, 90.0),
    "x_m": (-1e8, 1e8),
    "y_m": (-1e8, 1e8),
    **WEATHER_BOUNDS,
    "hours": (0.0, 1000.0),
    "rate_kg_per_ha": (0.0, 1000.0),
    "water_l_per_ha": (0.0, 10_000.0),
    "row_spacing_m": (0.3, 20.0),
    "vine_spacing_m": (0.3, 20.0),
    "bearing_deg": (-360.0, 360.0),
    "vigour": (0.0, 1.0),
}


@dataclass(frozen=True, slots=True)
class Sheet:
    """Columns as written and the first lines under them: of a table, with ``kind`` "", or of one kind of drawn feature."""

    kind: str
    heads: tuple[str, ...]
    lines: Sequence[Sequence[str]]


@dataclass(frozen=True, slots=True)
class Pair:
    """One of our columns and the one of theirs that is meant by it, with a value from under it."""

    ours: str
    theirs: str
    sample: str
    is_guessed: bool

    @property
    def example(self) -> str:
        """The value, and what becomes of it where it has another unit."""
        return shown_turned(self.theirs, self.ours, self.sample)


@dataclass(frozen=True, slots=True)
class Proposal:
    """Which of their columns is which of ours: to be shown before anything comes in.

    ``heads`` are their columns as written, ``samples`` a value under each. ``lacking`` are our columns that the kind of
    table needs and none was found for, ``offered`` all of ours that it may have.
    """

    file: str
    kind: str
    heads: tuple[str, ...]
    samples: tuple[str, ...]
    pairs: tuple[Pair, ...]
    lacking: tuple[str, ...]
    offered: tuple[str, ...]
    is_drawn: bool = False

    @property
    def given(self) -> str:
        """The pairs in one line that can be given back: Cepa=vine,Fila=row."""
        return written([(pair.theirs, pair.ours) for pair in self.pairs])


def written(pairs: Sequence[tuple[str, str]]) -> str:
    """Pairs of theirs and ours in one line."""
    return _in_line([f"{theirs}={ours}" for theirs, ours in pairs])


def _in_line(parts: Sequence[str]) -> str:
    stream = io.StringIO()
    csv.writer(stream, lineterminator="").writerow(parts)
    return stream.getvalue()


def answers_in(text: str) -> list[str]:
    """The answers of a text that holds one a line, each for another table or kind of drawn feature."""
    return [_in_line(parts) for parts in csv.reader(io.StringIO(text)) if any(part.strip() for part in parts)]


def read_given(text: str) -> dict[str, str]:
    """Ours by theirs (lower case) from a line such as ``Cepa=vine,Fila=row``. Raises InputError."""
    known = {ours for needed, others in (*TABLES.values(), *DRAWN.values()) for ours in (*needed, *others)}
    given: dict[str, str] = {}
    for part in next(csv.reader([text]), []):
        theirs, sign, ours = (piece.strip() for piece in part.rpartition("="))
        ours = ours.casefold()
        if not sign or not theirs:
            raise InputError(f"“{part.strip()}” does not say which column is which.", "Write theirs=ours, as in Cepa=vine.")
        if ours not in known:
            raise InputError(f"There is no column “{ours}” here.", f"It is one of: {', '.join(sorted(known))}.")
        if ours in given.values():
            raise InputError(f"Two columns are named to be “{ours}”.", "Keep one of them.")
        if siblings(ours).intersection(given.values()):
            raise InputError(f"Two columns are named to be what “{ours}” is, in other units.", "Keep one of them.")
        if theirs.casefold() in given:
            raise InputError(f"The column “{theirs}” is named twice.", "Keep one of them.")
        given[theirs.casefold()] = ours
    if not given:
        raise InputError("No column is named.", "Write theirs=ours, as in Cepa=vine,Fila=row.")
    return given


@lru_cache(maxsize=16)
def plain(head: str) -> tuple[str, str]:
    """A column's name without accents, capitals, units and little words; and its unit, "" where none is written."""
    head = re.sub(r"(?<=[a-zà-ÿ])(?=[A-Z])", " ", head)
    text = plain_name(head.replace("%", " percent ")).replace("°", " deg ")
    found = _UNIT.search(text)
    unit = " ".join(re.findall(r"[a-z0-9]+", found[1])) if found else ""
    unit = {"deg c": "c", "deg f": "f"}.get(unit, unit)
    words = re.findall(r"[a-z0-9]+", _UNIT.sub(" ", text))
    if not unit:
        for many in (3, 2, 1):
            tail = " ".join(words[-many:])
            if len(words) > many and (tail in OTHER_UNITS or any(tail in known for known in UNITS.values())):
                words, unit = words[:-many], tail
                break
    telling = [word for word in words if word not in LITTLE]
    return " ".join(telling or words), unit


def turn_of(theirs: str, ours: str) -> Turn | TurnUtc | None:
    """How the figures of their column are turned for ours, by the unit in its name; None where they are taken as they are."""
    return turn_for(ours, plain(theirs)[1])


def shown_turned(theirs: str, ours: str, sample: str) -> str:
    """A value from under a column of theirs, and what becomes of it under ours where it has another unit."""
    turn = turn_of(theirs, ours)
    now = turn(sample) if turn is not None and sample else None
    return sample if turn is None or now is None else f"{sample} {turn.unit}, read as {turn.shown(now)}"


@lru_cache(maxsize=1)
def _said_plainly() -> dict[str, frozenset[str]]:
    said = {}
    for ours, words in SAID.items():
        forms = {plain(word)[0] for word in words} | {" ".join(re.findall(r"[a-z0-9]+", word)) for word in words}
        said[ours] = frozenset(forms | {plain(ours)[0], ours.replace("_", " ")})
    return said


@lru_cache(maxsize=1)
def _said_by_length() -> dict[str, ByLength]:
    return {
        ours: by_length(word for word in words if len(word) >= _SHORTEST_GUESS) for ours, words in _said_plainly().items()
    }


def likeness(head: str, ours: str, kind: str = "") -> float:
    """How well their name fits a column of ours, 0..1; 1 is a known word for it, 0 one that can't be meant.

    ``kind`` is that of drawn features, "" for a table.
    """
    if head.strip().casefold() == ours:
        return 1.0
    name, unit = plain(head)
    is_other = unit not in UNITS.get(ours, frozenset()) and turn_for(ours, unit) is None
    if unit and is_other and (unit in OTHER_UNITS or ours in UNITS):
        return 0.0
    known = _said_plainly().get(ours, frozenset())
    if name in known:
        # a known word comes after the very name, before every likeness
        return _KNOWN
    if " ".join(word for word in name.split() if word not in NAMING) in known:
        return _NAMED
    if name in ALONE.get((kind, ours), ()):
        return _ALONE
    nearest = likest(name, _said_by_length().get(ours, {}), ENOUGH / _BELOW_KNOWN) if len(name) >= _SHORTEST_GUESS else 0.0
    return (nearest + _LEAST) * _BELOW_KNOWN if nearest else 0.0


def values_fit(ours: str, values: Sequence[str]) -> bool:
    """Whether values can stand under a column of ours, as far as one can see: a date is no count. Empty ones say nothing."""
    unread = (NO_READING | TRACES) if ours in WEATHER_BOUNDS else frozenset[str]()
    told = [value.strip() for value in values if value.strip() and value.strip().casefold() not in unread][:_LINES_LOOKED_AT]
    misfits = sum(not _fits(ours, value) for value in told)
    return misfits <= len(told) * _MOST_MISFITS


def _fits(ours: str, value: str) -> bool:
    if ours == "date":
        return bool(_DATE.fullmatch(value)) or read_date(value) is not None
    if ours == "clock":
        return is_clock(value)
    if ours == ORIGIN:
        return value.casefold() in ORIGIN_WORDS
    if ours == "time" and is_moment(value):
        return True
    if ours in ("time", "start", "end"):
        return bool(_MOMENT.fullmatch(value)) or read_moment(value) is not None
    is_number = bool(_NUMBER.fullmatch(value))
    if ours in _COUNTS:
        return is_number and float(value.replace(",", ".")).is_integer() and float(value.replace(",", ".")) >= 0
    if ours in _BOUNDS:
        low, high = _BOUNDS[ours]
        return is_number and low <= float(value.replace(",", ".")) <= high
    if ours in _WORDS:
        return not is_number and not _DATE.fullmatch(value)
    return not _DATE.fullmatch(value) and not _MOMENT.fullmatch(value)


def propose(
    file: str, heads: Sequence[str], lines: Sequence[Sequence[str]], given: Mapping[str, str] | None = None
) -> Proposal | None:
    """The likeliest kind of table and its pairs; ``given`` pairs (ours by theirs in lower case) are kept as they are.

    None where too little of any kind is found to be worth a question, or there are too many columns to ask about.
    """
    if len(heads) > _MOST_COLUMNS:
        return None
    offers = [_of_kind(kind, file, Sheet("", tuple(heads), lines), given or {}) for kind in TABLES]
    found = [offer for offer in offers if offer is not None]
    return max(found, key=lambda each: (not each[0].lacking, each[1], -len(each[0].lacking)))[0] if found else None


def propose_drawn(file: str, sheet: Sheet, given: Mapping[str, str] | None = None) -> Proposal | None:
    """The same for drawn features of one kind; None where a pair that was given can't be."""
    found = _of_kind(sheet.kind, file, sheet, given or {})
    return None if found is None else found[0]


def _of_kind(kind: str, file: str, sheet: Sheet, given: Mapping[str, str]) -> tuple[Proposal, float] | None:
    is_drawn, heads, lines = bool(sheet.kind), sheet.heads, sheet.lines
    needed, others = (DRAWN if is_drawn else TABLES)[kind]
    offered = (*needed, *others)
    if not set(given.values()) <= set(offered):
        return None
    columns = [[line[index] if index < len(line) else "" for line in lines[:_LINES_LOOKED_AT]] for index in range(len(heads))]
    chosen: dict[str, tuple[int, float]] = {}
    for index, head in enumerate(heads):
        ours = given.get(head.strip().casefold())
        if ours:
            chosen[ours] = index, 1.0
    if len(chosen) < len(given):
        return None
    scored = _scored(sheet, columns, offered)
    for score, _, ours, index in sorted(scored, key=lambda each: (-each[0], each[1])):
        if not chosen.keys() & {ours, *siblings(ours)} and index not in [taken for taken, _ in chosen.values()]:
            chosen[ours] = index, score
    _drop_impossible(chosen, columns)
    if "time" in chosen and "date" not in chosen and "clock" not in given.values():
        # a time of day beside whole times adds nothing
        chosen.pop("clock", None)
    is_weather = kind == "weather" and not is_drawn
    lacking = list(lacking_weather(chosen)) if is_weather else [ours for ours in needed if ours not in chosen]
    if not is_drawn and (len(lacking) > len(needed) * (1.0 - _LEAST_SHARE) or len(chosen) < 2):
        return None
    if not is_drawn and kind == "stops" and not says_where(chosen):
        way = max(WAYS, key=lambda names: len(set(names) & set(chosen)))
        lacking += [ours for ours in way if ours not in chosen]
    pairs = tuple(
        Pair(ours, heads[chosen[ours][0]].strip(), _sample(columns[chosen[ours][0]]), _is_other(heads, chosen, ours))
        for ours in offered
        if ours in chosen
    )
    samples = tuple(_sample(column) for column in columns)
    names = tuple(head.strip() for head in heads)
    made = Proposal(file, kind, names, samples, pairs, tuple(lacking), offered, is_drawn)
    return made, sum(score for _, score in chosen.values())


def _is_other(heads: Sequence[str], chosen: Mapping[str, tuple[int, float]], ours: str) -> bool:
    return heads[chosen[ours][0]].strip().casefold() != ours


def _scored(sheet: Sheet, columns: Sequence[Sequence[str]], offered: Sequence[str]) -> Iterator[tuple[float, int, str, int]]:
    for index, head in enumerate(sheet.heads):
        for place, ours in enumerate(offered):
            score = likeness(head, ours, sheet.kind) if head.strip() else 0.0
            if score and values_fit(ours, _turned(head, ours, columns[index])):
                yield score, place * len(sheet.heads) + index, ours, index


def _turned(theirs: str, ours: str, values: Sequence[str]) -> Sequence[str]:
    turn = turn_of(theirs, ours)
    return values if turn is None else [value if (now := turn(value)) is None else now for value in values]


def _drop_impossible(chosen: dict[str, tuple[int, float]], columns: Sequence[Sequence[str]]) -> None:
    """Take back a pair of counts where more are infected than were examined: one of them means something else."""
    for examined, infected in (("examined", "infected"), ("leaves_examined", "leaves_infected")):
        if examined in chosen and infected in chosen:
            pairs = zip(columns[chosen[examined][0]], columns[chosen[infected][0]], strict=True)
            counted = [
                (float(total), float(hit)) for total, hit in pairs if total.strip().isdecimal() and hit.strip().isdecimal()
            ]
            if sum(hit > total for total, hit in counted) > len(counted) * _MOST_MISFITS:
                del chosen[infected]


def _sample(values: Sequence[str]) -> str:
    return next((value.strip() for value in values if value.strip()), "")


def read_heads(path: Path) -> tuple[tuple[str, ...], list[list[str]]] | None:
    """Column names as written and the first lines of a CSV file; None where it is no such table, or can't be read."""
    path = Path(path)
    try:
        if is_picture(path) or is_database(path) or is_raster(path) or is_json(path) or is_climate(path):
            return None
        table = records_as_written(first_lines(table_text(path)[0]))
    except VinemapError:
        # it is refused in words where it is read
        return None
    if table is None:
        return None
    return table.heads, [list(record.cells) for record in table.records[:_LINES_LOOKED_AT]]


def is_ours(heads: Sequence[str]) -> bool:
    """Whether a table has every column that one of our kinds needs, by our own names."""
    names = {head.strip().casefold() for head in heads}
    if kind_by_columns(names) in ("truth", SHAPES, ROW_LIST):
        return True
    tables = ((kind, needed) for kind, (needed, _) in TABLES.items() if kind != "weather")
    return not lacking_weather(names) or any(
        set(needed) <= names and (kind != "stops" or says_where(names)) for kind, needed in tables
    )


def proposal_for(path: Path, given: Mapping[str, str] | None = None) -> Proposal | None:
    """What to ask about a file's columns; None where its names are ours, or it is no table that could be meant."""
    read = read_heads(path)
    if read is None or is_ours(read[0]):
        return None
    heads, lines = read
    proposal = propose(Path(path).name, heads, lines, given)
    if proposal is None or not any(pair.is_guessed for pair in proposal.pairs):
        return None
    names = {head.strip().casefold() for head in heads}
    # any table that says where may be one of other figures: only a whole match speaks against that
    if proposal.lacking and says_where(names):
        return None
    return proposal
