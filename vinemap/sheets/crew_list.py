"""The list of rows on a crew's map: a box to tick, row, letter, vines, side and minutes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vinemap.ground.block import Block
from vinemap.sheets.bands import Piece
from vinemap.sheets.marks import Mark, Measure, Words
from vinemap.sheets.setting import BLACK, FAINT, LEAST_PT, SOFT, both, lead_mm, line, rectangle, shrink, wrap
from vinemap.sheets.words import FACE_LETTERS, WORDS, Both

LIST_PT, HEAD_PT, NOTE_PT = 10.4, 9.2, 8.0
PITCH_MM, TIGHT_MM = 5.5, 4.5
"""From one row of the list to the next, and where there are many."""

HEAD_ROOM_MM, FOOT_ROOM_MM = 12.0, 8.5
ROW_MM, KIND_MM, VINES_MM, SIDE_MM = 13.0, 15.0, 20.0, 37.0
"""Columns, from the list's left: the row ends at, the others begin at."""


@dataclass(frozen=True, slots=True)
class ListPlace:
    """Where a list stands: its left, top and bottom [mm], how many columns, their width and the space between [mm]."""

    x_mm: float
    top_mm: float
    bottom_mm: float
    columns: int
    width_mm: float
    gap_mm: float

    def room(self, pitch_mm: float) -> int:
        """Lines in one column."""
        return max(int((self.bottom_mm - self.top_mm - HEAD_ROOM_MM - FOOT_ROOM_MM) / pitch_mm), 1)


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the list, as words. ``label_lines``: more than one where the row's name is long."""

    label_lines: tuple[str, ...]
    kind: str
    vines: str
    side: str
    minutes: float

    @property
    def lines(self) -> int:
        """Lines it takes."""
        return len(self.label_lines)


@dataclass(frozen=True, slots=True)
class ListPart:
    """The part of the list on one page. ``total_minutes`` is set where the list ends there; ``is_more`` where it goes on."""

    place: ListPlace
    pitch_mm: float
    entries: tuple[Entry, ...]
    total_minutes: float | None


def entry_lines(pieces: Sequence[Piece], block: Block, measure: Measure) -> tuple[Entry, ...]:
    """The pieces as rows of the list."""
    entries = []
    for piece in pieces:
        label = block.rows.labels[piece.row]
        label_lines = wrap(label, ROW_MM - 4.2, LIST_PT, measure, 800)
        if len(label_lines) > 1:
            label_lines = wrap(label, ROW_MM - 4.2, LEAST_PT, measure, 800)
        is_all = piece.first_vine <= 1 and piece.last_vine >= block.rows.vine_count[piece.row]
        vines = str(WORDS["all"]) if is_all else f"{piece.first_vine} – {piece.last_vine}"
        face = str(FACE_LETTERS.get(piece.face, piece.face)) if piece.side else ""
        entries.append(Entry(tuple(label_lines or [""]), piece.kind, vines, face, piece.minutes))
    return tuple(entries)


def list_pages(entries: tuple[Entry, ...], places: tuple[ListPlace, ListPlace]) -> tuple[ListPart, ...]:
    """The list cut into pages: beside the map first, then on sheets of its own."""
    total = sum(entry.minutes for entry in entries)
    first, later = places
    needed = sum(entry.lines for entry in entries)
    pitch = PITCH_MM if needed <= first.room(PITCH_MM) else TIGHT_MM
    parts: list[ListPart] = []
    rest = list(entries)
    while rest or not parts:
        place = later if parts else first
        taken = _fill(rest, place.room(pitch), place.columns)
        parts.append(ListPart(place, pitch, tuple(rest[:taken]), None if taken < len(rest) else total))
        rest = rest[taken:]
    return tuple(parts)


def _fill(entries: Sequence[Entry], room: int, columns: int) -> int:
    """How many entries go into columns of ``room`` lines; at least one."""
    column = used = 0
    for number, entry in enumerate(entries):
        if used and used + entry.lines > room:
            column, used = column + 1, 0
            if column == columns:
                return number
        used += entry.lines
    return len(entries)


def list_marks(part: ListPart, measure: Measure) -> list[Mark]:
    """The list's marks: heads, rows with a hair where the kind of work changes, and the sum or where it goes on."""
    place, room = part.place, part.place.room(part.pitch_mm)
    marks: list[Mark] = []
    rest = list(part.entries)
    x = place.x_mm
    for _ in range(place.columns):
        taken = _fill(rest, room, 1)
        if not taken:
            break
        marks += _heads(x, place.top_mm, place.width_mm)
        y = place.top_mm + HEAD_ROOM_MM + part.pitch_mm * 0.68
        for number, entry in enumerate(rest[:taken]):
            if number and entry.kind != rest[number - 1].kind:
                marks.append(line(x, y - part.pitch_mm * 0.72, x + place.width_mm, y - part.pitch_mm * 0.72, 0.14, FAINT))
            marks += _entry_marks(entry, x, y, place.width_mm, measure)
            y += entry.lines * part.pitch_mm
        rest = rest[taken:]
        end = y - part.pitch_mm * 0.66
        marks.append(line(x, end, x + place.width_mm, end, 0.22))
        if not rest:
            marks += _end_marks(part.total_minutes, x, end, place.width_mm, measure)
            break
        x += place.width_mm + place.gap_mm
    return marks


def _heads(x_mm: float, top_mm: float, width_mm: float) -> list[Mark]:
    """The heads of the columns, between two rules."""
    marks: list[Mark] = [line(x_mm, top_mm, x_mm + width_mm, top_mm, 0.4)]
    for at, name, anchor in (
        (ROW_MM, "row", "end"),
        (VINES_MM, "vines", "start"),
        (SIDE_MM, "side", "start"),
        (width_mm, "minutes", "end"),
    ):
        marks += both(x_mm + at, top_mm + 4.4, WORDS[name], HEAD_PT, 600, anchor)
    return [*marks, line(x_mm, top_mm + 10.6, x_mm + width_mm, top_mm + 10.6, 0.2)]


def _entry_marks(entry: Entry, x_mm: float, y_mm: float, width_mm: float, measure: Measure) -> list[Mark]:
    """One row of the list on its base line."""
    size = LIST_PT if entry.lines == 1 and measure(entry.label_lines[0], LIST_PT, 800, False) <= ROW_MM - 4.2 else LEAST_PT
    marks: list[Mark] = [rectangle(x_mm, y_mm - 2.95, 3.2, 3.2, 0.3)]
    for number, text in enumerate(entry.label_lines):
        marks.append(Words(x_mm + ROW_MM, y_mm + number * lead_mm(LEAST_PT), text, size, 800, anchor="end", fill=BLACK))
    vines_pt = shrink(entry.vines, SIDE_MM - VINES_MM - 1.0, 10.0, measure)
    side_pt = shrink(entry.side, width_mm - SIDE_MM - 8.5, 10.0, measure)
    return [
        *marks,
        Words(x_mm + KIND_MM, y_mm, entry.kind, LIST_PT, 700, fill=BLACK),
        Words(x_mm + VINES_MM, y_mm, entry.vines, vines_pt, fill=BLACK),
        Words(x_mm + SIDE_MM, y_mm, entry.side, side_pt, fill=BLACK),
        Words(x_mm + width_mm, y_mm, f"{entry.minutes:,.0f}", 10.0, anchor="end", fill=BLACK),
    ]


def _end_marks(total: float | None, x_mm: float, y_mm: float, width_mm: float, measure: Measure) -> list[Mark]:
    """The sum of the minutes under the list, or that there is more on the next sheet."""
    words = WORDS["more"] if total is None else WORDS["person"]
    room = width_mm - (0.0 if total is None else 13.0)
    lines = [text for each in (words.english, words.spanish) for text in wrap(each, room, NOTE_PT, measure, 400, True)]
    marks: list[Mark] = [
        Words(x_mm, y_mm + 4.0 + n * lead_mm(NOTE_PT), text, NOTE_PT, 400, True, fill=SOFT) for n, text in enumerate(lines)
    ]
    if total is not None:
        marks.append(Words(x_mm + width_mm, y_mm + 4.4, f"{total:,.0f}", 10.0, 700, anchor="end", fill=BLACK))
    return marks


def nothing_marks(why: Both, x_mm: float, y_mm: float, width_mm: float, measure: Measure) -> list[Mark]:
    """The sentence that there is nothing to do, and why, in both languages."""
    marks: list[Mark] = []
    y = y_mm
    for words in (WORDS["no work"], why):
        for text, weight in ((words.english, 600), (words.spanish, 400)):
            for each in wrap(text, width_mm, 11.25, measure, weight, weight == 400):
                marks.append(Words(x_mm, y, each, 11.25, weight, weight == 400, fill=BLACK))
                y += lead_mm(11.25)
        y += 3.0
    return marks
