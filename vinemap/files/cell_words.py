"""What growers write inside the cells of our tables, in six languages, and months as words in dates.

Common words of the trade, from memory: English, Spanish, French, German, Italian, Portuguese. A word counts where it means
one thing only: “leafing” alone does not say how hard, a lone O is west in Spanish and east in German. Case, accents, blanks,
dots and hyphens do not matter.
"""

from __future__ import annotations

import csv
import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from vinemap.files.head_units import Turn, TurnUtc
from vinemap.files.head_words import TABLES
from vinemap.files.table import records_as_written
from vinemap.files.table_repairs import write_record
from vinemap.files.weather_units import lacking_weather
from vinemap.work.varieties import plain_name

WORDS: dict[str, dict[str, str]] = {
    "status": {
        "living": "alive|live|viva|vivo|vivante|vivant|lebend|lebendig",
        "missing": "gap|absent|falta|faltante|ausente|marra|fallo|manquant|manquante|absente|fehlt|fehlend|Fehlstelle|"
        "Fehlstock|mancante|assente|fallanza|falha",
        "dead": "muerta|muerto|mort|morte|tot|abgestorben|morta|morto",
        "replant": "replanted|replantada|replantado|reposición|replanté|replantée|remplacé|remplacée|complantation|"
        "nachgepflanzt|Nachpflanzung|reimpianto|reimpiantata|rimpiazzo|replantio|retancha",
    },
    "face": {
        "north": "N|norte|nord|Norden",
        "north-east": "NE|northeast|noreste|nordeste|nord-est|Nordost|Nordosten",
        "east": "E|este|est|Ost|Osten|leste",
        "south-east": "SE|southeast|sureste|sudeste|sud-est|sueste|Südost|Südosten",
        "south": "S|sur|sud|Süd|Süden|sul",
        "south-west": "SW|southwest|suroeste|sudoeste|sud-ouest|sud-ovest|Südwest|Südwesten",
        "west": "W|oeste|ouest|ovest|Westen",
        "north-west": "NW|northwest|noroeste|nord-ouest|nord-ovest|Nordwest|Nordwesten",
        "both": "both sides|both faces|ambos|ambas|ambos lados|ambas caras|los dos|los dos lados|les deux|les deux faces|"
        "les deux côtés|deux faces|beide|beide Seiten|beidseitig|entrambi|entrambe|entrambi i lati|os dois|os dois lados|"
        "ambas as faces",
    },
    "kind": {
        "L": "open lightly|light leafing|abrir ligero|deshojado ligero|effeuillage léger|leichte Entblätterung|"
        "sfogliatura leggera|desfolha ligeira",
        "F": "open firmly|hard leafing|abrir firme|deshojado fuerte|effeuillage fort|starke Entblätterung|sfogliatura forte|"
        "desfolha forte",
        "D": "open both faces|abrir los dos lados|deshojado por ambas caras|effeuillage des deux faces|"
        "beidseitige Entblätterung|sfogliatura su entrambi i lati|desfolha dos dois lados",
        "R": "remove laterals|laterals|lateral removal|retirar laterales|desnietado|entre-cœurs|suppression des entre-cœurs|"
        "Geiztriebe entfernen|Ausgeizen|sfemminellatura|desneta",
        "T": "thin shoots|shoot thinning|desbrote|ébourgeonnage|Ausbrechen|scacchiatura|desbrota",
        "C": "cut out bad fruit|cortar fruta mala|couper les grappes malades|kranke Trauben ausschneiden|"
        "tagliare i grappoli malati|cortar cachos doentes",
        "V": "look again|verify|volver a ver|revoir|nachsehen|rivedere|rever",
    },
    "sample_type": {
        "random": "at random|aleatoria|aleatorio|al azar|aléatoire|au hasard|zufällig|Zufall|casuale|ao acaso",
        "targeted": "dirigida|dirigido|ciblé|ciblée|gezielt|mirato|mirata",
    },
    "light": {
        "daylight": "see daylight|open|luz de día|se ve la luz|abierto|abierta|luz do dia|on voit le jour|jour|ouvert|"
        "ouverte|Tageslicht|offen|luce del giorno|si vede la luce|aperto|aperta|vê-se a luz|aberto|aberta",
        "some": "some light|a little|algo|algo de luz|un poco|un peu|un peu de jour|etwas|etwas Licht|ein wenig|un po|"
        "un po di luce|alguma|alguma luz|um pouco",
        "none": "no light|closed|dense|nada|nada de luz|cerrado|cerrada|rien|fermé|fermée|kein Licht|nichts|geschlossen|"
        "dicht|niente|nessuna luce|chiuso|chiusa|nenhuma|nenhuma luz|fechado|fechada",
    },
    "training": {
        "row wall": "wall|trellised|trellis|vertical shoot positioned|vertical|VSP|espaldera|en espaldera|emparrado vertical|"
        "palissé|palissée|palissage|Spalier|Drahtrahmen|Drahtanlage|spalliera|controspalliera|espaldeira|espaldar",
        "free-standing": "free|head trained|bush|bush vine|goblet|vaso|en vaso|gobelet|Gobeletform|Buschrebe|alberello|taça",
    },
}
"""For each column that holds a few words of ours, what is written for each of them elsewhere."""

_MONTHS = (
    "January jan enero ene janvier janv Januar Jänner gennaio gen janeiro",
    "February feb febrero février févr fév Februar febbraio fevereiro fev",
    "March mar marzo mars März Maerz Mrz março",
    "April apr abril abr avril avr aprile",
    "May mayo mai maggio mag maio",
    "June jun junio juin Juni giugno giu junho",
    "July jul julio juillet juil Juli luglio lug julho",
    "August aug agosto ago août",
    "September sep sept septiembre setiembre septembre settembre sett set setembro",
    "October oct octubre octobre Oktober okt ottobre ott outubro out",
    "November nov noviembre novembre novembro",
    "December dec diciembre dic décembre déc Dezember dez dicembre dezembro",
)
_DATED = tuple(
    re.compile(pattern)
    for pattern in (
        # 3 juin 2025, 1er juin 2025, 3 de junio de 2025, 3. Juni 2025, 03-giu-25
        r"(?P<day>[0-9]{1,2})(?:o|a|er|st|nd|rd|th)?[\s./-]+(?:de\s+|of\s+)?(?P<month>[a-z]+)\.?,?"
        r"[\s./-]+(?:de\s+|del\s+)?(?P<year>[0-9]{4}|[0-9]{2})",
        # June 3, 2025
        r"(?P<month>[a-z]+)\.?[\s./-]+(?P<day>[0-9]{1,2})(?:st|nd|rd|th)?,?[\s./-]+(?P<year>[0-9]{4})",
        # 2025-Jun-03
        r"(?P<year>[0-9]{4})[\s./-]+(?P<month>[a-z]+)\.?[\s./-]+(?P<day>[0-9]{1,2})",
    )
)
_TIMED = re.compile(r"(?P<date>.*?[^\s,])[\s,]+(?P<time>[0-9]{2}:[0-9]{2}.*)", re.DOTALL)
_LAST_SHORT_YEAR = 49
"""Of years with two figures: 50 may be 1950 or 2050, both of which are years here."""


@dataclass(frozen=True, slots=True)
class Understood:
    """A value in our words; ``theirs`` and ``ours`` are what is told of it, ``example`` how a date was read."""

    value: str
    theirs: str
    ours: str
    example: str = ""


@dataclass(slots=True)
class Tally:
    """How often each word was read, by what is told of it, and the columns with words that are not known."""

    first: dict[tuple[str, str], Understood] = field(default_factory=dict)
    times: dict[tuple[str, str], int] = field(default_factory=dict)
    strange: dict[str, str] = field(default_factory=dict)

    def count(self, found: Understood) -> None:
        key = bare(found.theirs), found.ours
        self.first.setdefault(key, found)
        self.times[key] = self.times.get(key, 0) + 1

    def see(self, column: str, value: str, found: Understood | None) -> None:
        """Count what was read of a value under a column of ours, or that it is no word that is known."""
        if found is not None:
            self.count(found)
        elif column in WORDS and value and value.casefold() not in _own(column):
            self.strange.setdefault(column, value)

    def notes(self, file: str) -> tuple[str, ...]:
        """What was read as what, and how often; and the words that are not known."""
        notes = []
        for key, found in self.first.items():
            shown = f" ({found.example})" if found.example else ""
            times = "once" if self.times[key] == 1 else f"{self.times[key]:,} times"
            notes.append(f"{file}: {found.theirs} was read as {found.ours}{shown}: {times}.")
        for column, value in self.strange.items():
            known = "; ".join(f"{ours} ({', '.join(words.split('|'))})" for ours, words in WORDS[column].items())
            notes.append(f"{file}: {value} under {column} is no word that is known. Known are {known}.")
        return tuple(notes)


def bare(text: str) -> str:
    """A word in lower case without accents, blanks, dots and hyphens, for comparing."""
    return re.sub(r"[\s.'’–-]", "", plain_name(text).replace("œ", "oe"))


@lru_cache(maxsize=1)
def _known() -> dict[str, dict[str, str]]:
    return {
        column: {bare(word): ours for ours, words in of.items() for word in words.split("|")} for column, of in WORDS.items()
    }


@lru_cache(maxsize=1)
def _month_numbers() -> dict[str, int]:
    return {bare(word): number for number, words in enumerate(_MONTHS, start=1) for word in words.split()}


def read_word(column: str, value: str) -> Understood | None:
    """A word under a column of few words in ours; None where it is ours already, or not known."""
    ours = _known()[column].get(bare(value)) if value.casefold() not in _own(column) else None
    if ours is None:
        return None
    # a letter says little by itself
    told = f"{ours}, {WORDS[column][ours].split('|')[0]}" if len(ours) == 1 else ours
    return Understood(ours, value, told)


def read_date(value: str) -> Understood | None:
    """A date whose month is a word as year-month-day; None for any other, or one that is not in the calendar."""
    text = plain_name(value)
    for pattern in _DATED:
        match = pattern.fullmatch(text)
        month = _month_numbers().get(match["month"], 0) if match else 0
        if match is None or not month:
            continue
        year = int(match["year"])
        if len(match["year"]) == 2:
            if year > _LAST_SHORT_YEAR:
                return None
            year += 2000
        try:
            date = dt.date(year, month, int(match["day"])).isoformat()
        except ValueError:
            return None
        written = next(word for word in re.findall(r"[^\W\d_]+", value) if bare(word) == match["month"])
        return Understood(date, written, _MONTHS[month - 1].split()[0], f"{value} as {date}")
    return None


def read_moment(value: str) -> Understood | None:
    """The same for a date and time, which stays as it is written."""
    match = _TIMED.fullmatch(value)
    found = read_date(match["date"]) if match else None
    if match is None or found is None:
        return None
    whole = f"{found.value} {match['time']}"
    return Understood(whole, found.theirs, found.ours, f"{value} as {whole}")


def in_our_words(file: str, text: str, turns: Mapping[str, Turn | TurnUtc] | None = None) -> tuple[str, tuple[str, ...]]:
    """The text of a CSV file of our columns with our words in its cells, each line where it was, and notes on what was read.

    ``turns``: how the figures of columns in another unit are turned, by column of ours.
    A word that is not known stays as it is; then a note says which are.
    """
    table = records_as_written(text)
    if table is None:
        return text, ()
    readers = _readers(table.columns, turns or {})
    if not readers:
        return text, ()
    tally, lines = Tally(), list(table.lines)
    for record in table.records:
        cells = {at: record.cells[at].strip() for at in readers if at < len(record.cells)}
        found = {at: readers[at](cell) for at, cell in cells.items()}
        for at, each in found.items():
            tally.see(table.columns[at], cells[at], each)
        changed = {at: each for at, each in found.items() if each is not None}
        if not changed:
            continue
        # as written: the marks that keep a spreadsheet from running a cell are no part of it
        raw = next(csv.reader([f"{line}\n" for line in table.lines[record.start : record.end]], delimiter=table.separator))
        for at, each in changed.items():
            raw[at] = each.value
        write_record(lines, record.start, record.end, raw, table.separator)
    return ("\n".join(lines) if tally.first else text), tally.notes(file)


def _readers(columns: Sequence[str], turns: Mapping[str, Turn | TurnUtc]) -> dict[int, Callable[[str], Understood | None]]:
    """How the cells of each column are read, by its place; none where it is no table of ours."""
    used = {
        name
        for kind, (needed, others) in TABLES.items()
        if set(needed) <= set(columns) or (kind == "weather" and not lacking_weather(columns))
        for name in (*needed, *others)
        if name in columns
    }
    return {columns.index(name): read for name, read in readers_of(sorted(used, key=columns.index), turns).items()}


def readers_of(columns: Sequence[str], turns: Mapping[str, Turn | TurnUtc]) -> dict[str, Callable[[str], Understood | None]]:
    """How values under columns of ours are brought into our words and units, by column; none for those taken as they are."""
    readers: dict[str, Callable[[str], Understood | None]] = {}
    for name in columns:
        if name in turns:
            readers[name] = _turner(name, turns[name])
        elif name in WORDS:
            readers[name] = _word_reader(name)
        elif name == "date":
            readers[name] = lru_cache(maxsize=None)(read_date)
        elif name in ("time", "start", "end"):
            readers[name] = read_moment
    return readers


def _turner(column: str, turn: Turn | TurnUtc) -> Callable[[str], Understood | None]:
    def read(value: str) -> Understood | None:
        now = turn(value)
        return None if now is None else Understood(now, f"{column} in {turn.unit}", turn.to, f"{value} as {now}")

    return read


def _word_reader(column: str) -> Callable[[str], Understood | None]:
    return lru_cache(maxsize=None)(lambda value: read_word(column, value))


def _own(column: str) -> frozenset[str]:
    return frozenset(word.casefold() for word in WORDS[column])
