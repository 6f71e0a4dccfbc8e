"""What stands around a map: head, foot, cautions, legend, scale bar, north and the small signs of places."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vinemap.sheets.fit import Box, Fit
from vinemap.sheets.hatch import hatch
from vinemap.sheets.marks import Dots, Mark, Measure, Path, Strokes, Words
from vinemap.sheets.setting import BLACK, SOFT, WHITE, both, lead_mm, line, rectangle, shrink, wrap
from vinemap.sheets.words import KIND_WORDS, Both, sheet_words

LEFT_MM, RIGHT_MM = 9.5, 287.5
"""The margins of an A4 sheet that lies."""

WIDTH_MM, HEIGHT_MM = 297.0, 210.0
HEAD_MM = 19.8
"""Where the head ends."""

FOOT_MM = 205.8
BAR_LENGTHS_M = (1, 2, 4, 5, 10, 20, 40, 50, 100, 200, 400, 500, 1000, 2000)
CAUTION_PT, FOOT_PT = 9.4, 7.5


def head_marks(name: str, what: Both, right: Sequence[tuple[str, int]], measure: Measure) -> list[Mark]:
    """The block's name and what is done there; at the right a line or two (words, weight); a double rule below."""
    marks: list[Mark] = []
    widest = 0.0
    for number, (text, weight) in enumerate(right):
        size = shrink(text, 130.0, 11.25 - 0.75 * number, measure, weight)
        marks.append(Words(RIGHT_MM, 10.6 + 4.8 * number, text, size, weight, anchor="end", fill=BLACK))
        widest = max(widest, measure(text, size, weight, False))
    marks += _name_marks(name, str(what), RIGHT_MM - LEFT_MM - widest - 8.0, measure)
    marks.append(line(LEFT_MM, 18.6, RIGHT_MM, 18.6, 0.58))
    marks.append(line(LEFT_MM, 19.65, RIGHT_MM, 19.65, 0.18))
    return marks


def _name_marks(name: str, what: str, room_mm: float, measure: Measure) -> list[Mark]:
    """Name and work on one line if they fit; else the work below, and the name smaller or on more lines."""
    for size in (22.5, 20.0, 18.0):
        under = 14.0 * size / 22.5
        width = measure(name, size, 600, False)
        if width + 4.2 + measure(what, under, 400, True) <= room_mm:
            beside = Words(LEFT_MM + width + 4.2, 14.3, what, under, 400, True, fill=BLACK)
            return [Words(LEFT_MM, 14.3, name, size, 600, fill=BLACK), beside]
    for size in (17.0, 15.0, 13.0, 11.0, 9.0, 7.0):
        lines = wrap(name, room_mm, size, measure, 600)
        if len(lines) * lead_mm(size) <= 9.2 or size == 7.0:
            break
    small = shrink(what, room_mm, 10.5, measure, 400, True)
    first = 12.2 - (len(lines) - 1) * lead_mm(size)
    named: list[Mark] = [
        Words(LEFT_MM, first + n * lead_mm(size), text, size, 600, fill=BLACK) for n, text in enumerate(lines)
    ]
    return [*named, Words(LEFT_MM, 16.9, what, small, 400, True, fill=BLACK)]


def foot_marks(parts: Sequence[str], invented: str, sheet: tuple[int, int], measure: Measure) -> tuple[list[Mark], float]:
    """Estate, round, plan, printing at the left; the sheet's number at the right; and where the foot begins [mm].

    ``invented``: what is said heavily where the data is invented, else empty.
    """
    right = str(sheet_words(*sheet))
    indent = measure(f"{invented}   ", FOOT_PT, 700, False) if invented else 0.0
    room = RIGHT_MM - LEFT_MM - measure(right, FOOT_PT, 400, False) - 6.0
    lines = wrap(" · ".join(part for part in parts if part), room - indent, FOOT_PT, measure)
    first = FOOT_MM - (len(lines) - 1) * lead_mm(FOOT_PT)
    marks: list[Mark] = [Words(RIGHT_MM, FOOT_MM, right, FOOT_PT, anchor="end", fill=SOFT)]
    if invented:
        marks.append(Words(LEFT_MM, FOOT_MM, invented, FOOT_PT, 700, fill=BLACK))
    for number, each in enumerate(lines):
        marks.append(Words(LEFT_MM + indent, first + number * lead_mm(FOOT_PT), each, FOOT_PT, fill=SOFT))
    return marks, first - 4.2


def caution_marks(
    columns: Sequence[Sequence[Both]], call: Both, code: str, bottom_mm: float, measure: Measure
) -> tuple[list[Mark], float]:
    """The ruled box with the heavy bar, and where its upper edge is [mm]. The last column ends with the line to call."""
    room = (RIGHT_MM - LEFT_MM - 5.5) / max(len(columns), 1)
    texts = [[_lines_of(words, room - 6.0, measure) for words in column] for column in columns]
    lead = lead_mm(CAUTION_PT)
    tall = [sum(len(english) + len(spanish) for english, spanish in column) for column in texts]
    height = max(max(tall[:-1], default=0), tall[-1] + 1) * lead + 3.0
    top = bottom_mm - height
    marks: list[Mark] = [
        rectangle(LEFT_MM, top, RIGHT_MM - LEFT_MM, height, 0.26),
        rectangle(LEFT_MM, top, 2.1, height, 0.0, "", BLACK),
    ]
    for number, column in enumerate(texts):
        x, y = LEFT_MM + 5.5 + room * number, top + lead
        for english, spanish in column:
            for text, weight in [(each, 700) for each in english] + [(each, 400) for each in spanish]:
                marks.append(Words(x, y, text, CAUTION_PT, weight, weight == 400, fill=BLACK))
                y += lead
    x, y = LEFT_MM + 5.5 + room * (len(texts) - 1), bottom_mm - 2.0
    named = f"{call}: "
    marks.append(Words(x, y, named, CAUTION_PT, 700, fill=BLACK))
    right = RIGHT_MM - 2.5 - measure(code, 9.0, 600, False)
    marks.append(line(x + measure(named, CAUTION_PT, 700, False) + 1.0, y + 0.5, right - 4.0, y + 0.5, 0.22))
    marks.append(Words(RIGHT_MM - 2.5, y, code, 9.0, 600, anchor="end", fill=BLACK))
    return marks, top


def _lines_of(words: Both, room_mm: float, measure: Measure) -> tuple[list[str], list[str]]:
    return (
        wrap(words.english, room_mm, CAUTION_PT, measure, 700),
        wrap(words.spanish, room_mm, CAUTION_PT, measure, 400, True),
    )


def kind_legend(kinds: Sequence[str], x_mm: float, y_mm: float, pitch_mm: float) -> list[Mark]:
    """A swatch, the letter and its words in both languages for each kind."""
    marks: list[Mark] = []
    for number, kind in enumerate(kinds):
        y = y_mm + number * pitch_mm
        swatch = Box(x_mm, y - 3.2, 9.0, 4.0)
        marks.append(rectangle(swatch.x_mm, swatch.y_mm, swatch.width_mm, swatch.height_mm, 0.0, "", WHITE))
        marks += hatch(kind, swatch.polygon(), 0.0, BLACK)
        marks.append(rectangle(swatch.x_mm, swatch.y_mm, swatch.width_mm, swatch.height_mm, 0.22))
        marks.append(Words(x_mm + 11.2, y, kind, 11.25, 800, fill=BLACK))
        marks += both(x_mm + 16.0, y, KIND_WORDS[kind], 9.75 if pitch_mm > 8.0 else 8.6)
    return marks


def scale_bar(fit: Fit, x_mm: float, y_mm: float, room_mm: float) -> tuple[list[Mark], float]:
    """A bar of four parts, its metres and 1 : n, in a space 9 mm high; and the bar's length [mm]."""
    length_m = max((each for each in BAR_LENGTHS_M if each * fit.mm_per_m <= room_mm), default=BAR_LENGTHS_M[0])
    length = length_m * fit.mm_per_m
    marks: list[Mark] = [rectangle(x_mm, y_mm, length, 1.1, 0.2, BLACK, WHITE)]
    marks += [rectangle(x_mm + length * part / 4, y_mm, length / 4, 1.1, 0.0, "", BLACK) for part in (0, 2)]
    for share, text in ((0.0, "0"), (0.5, f"{length_m / 2:g}"), (1.0, f"{length_m:g} m")):
        anchor = "start" if share == 1.0 else "middle"
        x = x_mm + length * share - (0.9 if share == 1.0 else 0.0)
        marks.append(Words(x, y_mm + 4.4, text, 9.0, anchor=anchor, fill=BLACK))
    named = f"1 : {fit.scale:,.0f}".replace(",", " ")
    marks.append(Words(x_mm + length / 2, y_mm + 8.4, named, 8.6, 400, True, "middle", BLACK))
    return marks, length


def north_dart(x_mm: float, y_mm: float, turn_deg: float) -> list[Mark]:
    """A dart half black that points north, about its middle, 11 mm high with its letter."""
    angle = np.radians(turn_deg)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    middle = np.array([x_mm, y_mm])
    tip, left, notch, right, letter = (
        np.array(each) @ turn + middle for each in ((0.0, -3.6), (-1.5, 3.4), (0.0, 2.2), (1.5, 3.4), (0.0, -5.0))
    )
    return [
        Path((np.array([tip, left, notch, right]),), stroke=BLACK, width_mm=0.22, fill=WHITE, is_closed=True),
        Path((np.array([tip, left, notch]),), fill=BLACK, is_closed=True),
        Words(float(letter[0]), float(letter[1]) + 1.0, "N", 8.0, 500, True, "middle", BLACK),
    ]


def sun_sign(x_mm: float, y_mm: float) -> list[Mark]:
    """A small sun about a point, 8.4 mm wide."""
    angles = np.radians(np.arange(0, 360, 45))
    ray = np.column_stack([np.cos(angles), np.sin(angles)])
    ends = np.hstack([ray * 2.9, ray * 4.2]) + np.tile([x_mm, y_mm], 2)
    centre = Dots(np.array([[x_mm, y_mm]]), np.array([2.1]), stroke=BLACK, width_mm=0.34)
    return [centre, Strokes(ends, BLACK, 0.34)]


def place_sign(kind: str, x_mm: float, y_mm: float) -> list[Mark]:
    """The sign of a place: "gate" (two posts and a braced bar), "water" (a drop) or "shade" (half a round on a stem)."""
    at = np.array([x_mm, y_mm])
    if kind == "gate":
        posts = np.array([[-3.2, -2.6, -3.2, 2.6], [3.2, -2.6, 3.2, 2.6]]) + np.tile(at, 2)
        bars = np.array([[-2.8, -1.3, 2.8, -1.3], [-2.8, 0.9, 2.8, 0.9], [-2.8, 0.9, 2.8, -1.3]]) + np.tile(at, 2)
        return [Strokes(posts, BLACK, 0.8), Strokes(bars, BLACK, 0.36)]
    if kind == "water":
        turn = np.radians(np.linspace(-40, 220, 28))
        bulb = np.column_stack([1.9 * np.cos(turn), 0.7 + 1.9 * np.sin(turn)])
        ring = np.vstack([[0.0, -3.0], bulb]) + at
        smile = np.column_stack([np.linspace(-0.9, 0.9, 9), 1.0 + 0.8 * (1 - np.linspace(-1, 1, 9) ** 2)]) + at
        return [
            Path((ring,), stroke=BLACK, width_mm=0.42, fill=WHITE, is_closed=True),
            Path((smile,), stroke=BLACK, width_mm=0.34),
        ]
    turn = np.radians(np.linspace(180, 360, 24))
    roof = np.column_stack([3.6 * np.cos(turn), 2.9 * np.sin(turn)]) + at
    stem = np.array([[0.0, 0.0, 0.0, 2.9], [-3.0, 2.9, 3.0, 2.9]]) + np.tile(at, 2)
    return [Path((roof,), fill=BLACK, is_closed=True), Strokes(stem, BLACK, 0.46)]
