"""What a crew reads, in English and Spanish together. The letter of a kind of work means the same in both."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from vinemap.work.diary import OPENINGS


@dataclass(frozen=True, slots=True)
class Both:
    """The same words in English and in Spanish."""

    english: str
    spanish: str

    def __str__(self) -> str:
        return self.english if self.english == self.spanish else f"{self.english} · {self.spanish}"


SILENT = Both("", "")

KIND_WORDS = {
    "L": Both("open lightly", "abrir ligero"),
    "F": Both("open firmly", "abrir firme"),
    "D": Both("open both faces", "abrir los dos lados"),
    "R": Both("remove laterals", "retirar laterales"),
    "T": Both("thin shoots", "tallos: quitar de más"),
    "P": Both("spray (protect)", "pulverizar (proteger)"),
    "C": Both("cut out bad fruit", "cortar fruta mala"),
    "V": Both("look again (verify)", "volver a ver"),
}

FACE_WORDS = {
    "north": Both("north", "norte"),
    "north-east": Both("north-east", "noreste"),
    "east": Both("east", "este"),
    "south-east": Both("south-east", "sureste"),
    "south": Both("south", "sur"),
    "south-west": Both("south-west", "suroeste"),
    "west": Both("west", "oeste"),
    "north-west": Both("north-west", "noroeste"),
    "both": Both("both", "los dos"),
}

FACE_LETTERS = {
    "north": Both("N", "N"),
    "north-east": Both("NE", "NE"),
    "east": Both("E", "E"),
    "south-east": Both("SE", "SE"),
    "south": Both("S", "S"),
    "south-west": Both("SW", "SO"),
    "west": Both("W", "O"),
    "north-west": Both("NW", "NO"),
    "both": Both("both", "dos"),
}
"""Faces where there is no room for the word; west is O in Spanish."""

WORDS = {
    "open": Both("open the vines", "abrir las vides"),
    "spray": Both("spray", "pulverizar"),
    "cut": Both("cut out bad fruit", "cortar fruta mala"),
    "look": Both("look again", "volver a ver"),
    "none": Both("nothing to do", "nada que hacer"),
    "row": Both("row", "hilera"),
    "vines": Both("vines", "vides"),
    "side": Both("side", "lado"),
    "minutes": Both("min", "min"),
    "all": Both("all", "todas"),
    "start": Both("start", "empiece"),
    "gate": Both("gate", "puerta"),
    "water": Both("water", "agua"),
    "shade": Both("shade", "sombra"),
    "thick": Both("thick line = side to open", "línea gruesa = lado que se abre"),
    "morning": Both("morning side = thick line", "lado de la mañana = línea gruesa"),
    "afternoon": Both("afternoon side = thick line", "lado de la tarde = línea gruesa"),
    "person": Both("one person’s minutes", "minutos de una persona"),
    "call": Both("Call", "llame"),
    "label": Both("Label and local rules come first.", "La etiqueta y las reglas locales van primero."),
    "hands": Both("Wash hands before eating. Mind the blade.", "Lávese las manos antes de comer. Cuidado con el filo."),
    "no work": Both(
        "Nothing to open or spray in this block now.", "Ahora no hay nada que abrir ni pulverizar en este cuadro."
    ),
    "invented": Both("invented demonstration data", "datos inventados de muestra"),
    "more": Both("more rows on the next sheet", "más hileras en la hoja siguiente"),
}

_DAYS = (
    Both("Monday", "lunes"),
    Both("Tuesday", "martes"),
    Both("Wednesday", "miércoles"),
    Both("Thursday", "jueves"),
    Both("Friday", "viernes"),
    Both("Saturday", "sábado"),
    Both("Sunday", "domingo"),
)
_MONTHS = (
    Both("January", "enero"),
    Both("February", "febrero"),
    Both("March", "marzo"),
    Both("April", "abril"),
    Both("May", "mayo"),
    Both("June", "junio"),
    Both("July", "julio"),
    Both("August", "agosto"),
    Both("September", "septiembre"),
    Both("October", "octubre"),
    Both("November", "noviembre"),
    Both("December", "diciembre"),
)


def day_words(day: dt.date) -> Both:
    """A date with its weekday: "Monday 15 June", "lunes 15 de junio"."""
    name, month = _DAYS[day.weekday()], _MONTHS[day.month - 1]
    return Both(f"{name.english} {day.day} {month.english}", f"{name.spanish} {day.day} de {month.spanish}")


def clock_words(time: dt.time | dt.datetime) -> str:
    """A time of day on the clock of 24 hours: "5:30"."""
    return f"{time.hour}:{time.minute:02d}"


def printed_words(printed: dt.datetime) -> str:
    """When a sheet was printed: "printed 15 June 5:30"."""
    return f"printed {printed.day} {_MONTHS[printed.month - 1].english} {clock_words(printed)}"


def work_words(kinds: Iterable[str]) -> Both:
    """What is done in a block, from the letters of its work: "open the vines, spray"."""
    here = set(kinds)
    chosen = []
    for name, letters in (("open", set(OPENINGS)), ("spray", {"P"}), ("cut", {"C"}), ("look", {"V"})):
        if here & letters:
            chosen.append(WORDS[name])
    chosen = chosen or [WORDS["none"]]
    return Both(", ".join(each.english for each in chosen), ", ".join(each.spanish for each in chosen))


def keep_out_words(block: str, start: dt.datetime, end: dt.datetime) -> Both:
    """Until when to keep out of a block that is sprayed; local standard time."""
    from_day, to_day = day_words(start.date()), day_words(end.date())
    return Both(
        f"Keep out of {block} from {from_day.english} {clock_words(start)} to {to_day.english} {clock_words(end)}: spray.",
        f"No entre a {block} del {from_day.spanish} {clock_words(start)} al {to_day.spanish} {clock_words(end)}: "
        "pulverización.",
    )


def heat_words(time: dt.time) -> Both:
    """From what time it is too hot to work on."""
    clock = clock_words(time)
    return Both(f"Hot after {clock}. Stop, shade, water.", f"Calor después de las {clock}. Pare, sombra, agua.")


def sheet_words(number: int, total: int) -> Both:
    """The sheet's number of how many."""
    return Both(f"sheet {number} of {total}", f"hoja {number} de {total}")
