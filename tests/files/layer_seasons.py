"""Invented seasons of any names, on any side of the globe, to be written and read back."""

from __future__ import annotations

import datetime as dt
import unicodedata
from pathlib import Path

import numpy as np
import shapely
from hypothesis import strategies as st

from vinemap.files.projection import frame_for
from vinemap.ground.block import TRAININGS, Block, RowTable, VineExceptions
from vinemap.ground.vines import place_vines
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.value import Estate, Season

PLACES = ((-122.7, 38.6), (145.3, -38.05), (-70.9, -33.6), (18.9, 47.1), (179.9, -39.5))
LETTERS = "aZ9 é ñ Ж 葡,;\"'\n=+-@()&<>#%|"


def _is_name(text: str) -> bool:
    return bool(text) and text == text.strip() and "/" not in text


names = st.text(LETTERS, min_size=1, max_size=8).map(lambda text: unicodedata.normalize("NFC", text)).filter(_is_name)
varieties = names.map(lambda text: text.replace(";", "")).filter(_is_name)


@st.composite
def blocks(draw: st.DrawFn, name: str, east_m: float) -> Block:
    """A block of straight rows and one bent row, with a hole between two of them or without."""
    count, vines = draw(st.integers(1, 4)), draw(st.integers(2, 12))
    labels = tuple(draw(st.lists(names, min_size=count, max_size=count, unique=True)))
    spacing_m = draw(st.sampled_from((1.0, 1.5, 1.83)))
    length_m = spacing_m * (vines - 1)
    lines = [np.array([[east_m + 3.0 * row, 0.0], [east_m + 3.0 * row, length_m]]) for row in range(count)]
    lines[-1] = np.insert(lines[-1], 1, [lines[-1][0, 0] + 0.3, length_m / 2], axis=0)
    start = np.concatenate([[0], np.cumsum([len(each) for each in lines])])
    table = RowTable(labels, np.concatenate(lines), start, np.full(count, spacing_m), np.full(count, vines))
    outline = shapely.box(east_m - 2, -2, east_m + 3.0 * count, length_m + 2)
    if draw(st.booleans()):
        outline = outline.difference(shapely.box(east_m + 1, -0.5, east_m + 2, 0.5))
    kinds = tuple(draw(st.lists(varieties, min_size=1, max_size=3, unique=True)))
    marked = sorted(draw(st.sets(st.integers(0, count * vines - 1), max_size=4)))
    codes = [draw(st.integers(0, 3)) for _ in marked]
    of_kind = [draw(st.integers(-1, len(kinds) - 1)) for _ in marked]
    differs = VineExceptions(np.array(marked), np.array(codes), np.array(of_kind))
    vigour = draw(st.sampled_from((0.0, 0.3, 0.5, 1.0)))
    return Block(name, outline, table, 3.0, spacing_m, kinds, draw(st.sampled_from(TRAININGS)), vigour, differs)


@st.composite
def seasons(draw: st.DrawFn) -> Season:
    """One or two blocks and a round or two."""
    frame = frame_for(*draw(st.sampled_from(PLACES)))
    called = draw(st.lists(names, min_size=1, max_size=2, unique=True))
    made = tuple(draw(blocks(name, 60.0 * index)) for index, name in enumerate(called))
    rounds = tuple(draw(_rounds(number, made)) for number in range(1, draw(st.integers(1, 2)) + 1))
    return Season(Estate(draw(names), frame, -8.0, True), made, rounds)


@st.composite
def _rounds(draw: st.DrawFn, number: int, made: tuple[Block, ...]) -> Round:
    lines = []
    for index, block in enumerate(made):
        vines = place_vines(block)
        for vine in sorted(draw(st.sets(st.integers(0, len(vines) - 1), min_size=1, max_size=4))):
            examined, leaves = draw(st.integers(1, 30)), draw(st.sampled_from((0, 10)))
            counts = (examined, draw(st.integers(0, examined)), leaves, draw(st.integers(0, leaves)))
            label = block.rows.labels[int(vines.row[vine])]
            place = (float(vines.x_m[vine]), float(vines.y_m[vine]))
            lines.append((index, label, int(vines.ordinal[vine]), *place, *counts, draw(st.booleans())))
    block, rows, *columns = zip(*lines, strict=True)
    stops = Stops(tuple(each.name for each in made), np.array(block), tuple(rows), *(np.array(each) for each in columns))
    words = ("random", "random and targeted", "targeted")[int(stops.is_targeted.any()) + int(stops.is_targeted.all())]
    return Round(number, dt.date(2031, 6, 10 + number), draw(names), words, stops)


def files_of(folder: Path) -> list[str]:
    """Names of what lies in a folder, hidden or not."""
    return sorted(each.name for each in folder.iterdir())
