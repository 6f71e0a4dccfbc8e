"""The sun clock of a row, drawn: when the sun stands on each face, how strongly, and which of it dries or burns."""

from __future__ import annotations

import numpy as np
import shapely

from vinemap.canopy.faces import LATE_FROM_HOURS, MORNING_UNTIL_HOURS, SunClock
from vinemap.columns import Bools, Floats
from vinemap.sheets.fit import Box
from vinemap.sheets.hatch import hatch
from vinemap.sheets.ink import Ink
from vinemap.sheets.marks import Dots, Mark, Measure, Path, Words
from vinemap.sheets.setting import lead_mm, line, shrink, wrap

NAME_PT, WORDS_PT, TICK_PT = 10.2, 9.6, 8.4
STRONG_KW_M2 = 0.8
"""Direct sun on an upright face that fills a lane; it is never much more."""

HOT_WEIGHT = 0.5
"""Sun counts as hot where the air makes it count this much or more: half of full at 27.5 degC."""

HOURS_STEP = 3
KEYS = ("morning: it dries", "in between", "late in the day", "hot: warm air too")


def sun_clock_marks(clock: SunClock, name: str, box: Box, ink: Ink, measure: Measure) -> list[Mark]:
    """Lanes in a box [mm], one for each face, hours along; ``name``: of the row and the day.

    The height in a lane is the strength of direct sun on the fruit. Morning sun is left white, late sun is hatched,
    all other is full; dots above are hot hours.
    """
    named = wrap(name, box.width_mm, NAME_PT, measure, 600)
    down = lead_mm(NAME_PT) * (len(named) - 1)
    marks: list[Mark] = [
        Words(box.x_mm, box.y_mm + 3.4 + lead_mm(NAME_PT) * number, text, NAME_PT, 600, fill=ink.ink)
        for number, text in enumerate(named)
    ]
    words = [f"{face.name}" for face in clock.faces]
    left = box.x_mm + max(measure(text, WORDS_PT, 400, True) for text in words) + 2.0
    key = _key(Box(box.x_mm, box.bottom_mm, box.width_mm, 0.0), ink, measure)
    high = box.height_mm - 6.0 - down - 4.0 - lead_mm(WORDS_PT) * 2.2
    lanes = Box(left, box.y_mm + 6.0 + down, box.right_mm - left - 2.0, high)
    first, last = clock_hours(clock)
    per_hour = lanes.width_mm / max(last - first, 1)
    high = lanes.height_mm / len(clock.faces)
    x = left + (clock.hour - first) * per_hour
    for hour in range(int(np.ceil(first / HOURS_STEP)) * HOURS_STEP, last + 1, HOURS_STEP):
        at = left + (hour - first) * per_hour
        marks.append(line(at, lanes.y_mm, at, lanes.bottom_mm + 0.8, 0.12, ink.hair))
        marks.append(Words(at, lanes.bottom_mm + 4.0, f"{hour}:00", TICK_PT, anchor="middle", fill=ink.ink_soft))
    for number, text in enumerate(words):
        base = lanes.y_mm + high * (number + 1)
        marks.append(Words(box.x_mm, base - 0.3, text, WORDS_PT, 400, True, fill=ink.ink))
        marks += _lane(clock, number, x, (base, high), ink)
        marks.append(line(left, base, lanes.right_mm, base, 0.2, ink.ink_soft))
    return marks + key


def clock_hours(clock: SunClock) -> tuple[int, int]:
    """The full hours of local standard time within which the sun is up."""
    if not len(clock.hour):
        return 6, 18
    return int(np.floor(clock.hour.min())), int(np.ceil(clock.hour.max()))


def _lane(clock: SunClock, number: int, x: Floats, lane: tuple[float, float], ink: Ink) -> list[Mark]:
    """The sun on one face; ``lane``: its base line and height [mm]."""
    base, high = lane
    strength: Floats = clock.fruit_kw_m2[number]
    top = base - (high - 1.6) * np.minimum(strength / STRONG_KW_M2, 1.0)
    is_morning, is_late = clock.by_sun < MORNING_UNTIL_HOURS, clock.by_sun >= LATE_FROM_HOURS
    marks: list[Mark] = []
    for which, kind in ((is_morning, "morning"), (~is_morning & ~is_late, "full"), (is_late, "late")):
        for shape in _areas(x, top, base, (strength > 0.0) & which):
            marks += _filled(shape, kind, ink)
    hot = (strength > 0.0) & (clock.hot_weight >= HOT_WEIGHT)
    if hot.any():
        points = np.column_stack([x[hot], top[hot] - 0.9])[::2]
        marks.append(Dots(points, np.full(len(points), 0.35), fill=ink.ink))
    return marks


def _areas(x: Floats, top: Floats, base: float, is_on: Bools) -> list[Floats]:
    """Rings between the base line and the strength, one for each unbroken time."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], is_on, [False]]).astype(np.int8)))
    half = float(np.diff(x).min()) / 2 if len(x) > 1 else 0.5
    rings = []
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        along = np.concatenate([[x[start] - half], x[start:stop], [x[stop - 1] + half]])
        over = np.concatenate([[top[start]], top[start:stop], [top[stop - 1]]])
        rings.append(np.column_stack([np.append(along, along[[-1, 0]]), np.append(over, [base, base])]))
    return rings


def _filled(ring: Floats, kind: str, ink: Ink) -> list[Mark]:
    """An area of sun: white, full or hatched, with its edge."""
    fill = {"morning": ink.sheet, "full": ink.ink_soft, "late": ink.sheet}[kind]
    marks: list[Mark] = [Path((ring,), fill=fill, is_closed=True)]
    shape = shapely.Polygon(ring)
    if kind == "late" and shape.is_valid:
        marks += hatch("F", shape, 0.0, ink.ink_soft)
    return [*marks, Path((ring,), stroke=ink.ink_soft, width_mm=0.2, is_closed=True)]


def _key(box: Box, ink: Ink, measure: Measure) -> list[Mark]:
    """What white, full, hatched and dots mean, in two lines that end at the bottom of the box."""
    marks: list[Mark] = []
    half = box.width_mm / 2
    size = min(shrink(text, half - 6.0, WORDS_PT, measure, 400, True) for text in KEYS)
    for number, (text, kind) in enumerate(zip(KEYS, ("morning", "full", "late", "hot"), strict=True)):
        x = box.x_mm + half * (number % 2)
        y = box.y_mm - lead_mm(WORDS_PT) * (1 - number // 2) - 0.6
        if kind == "hot":
            points = np.array([[x + 0.6 + 1.2 * k, y - 1.2] for k in range(3)])
            marks.append(Dots(points, np.full(3, 0.35), fill=ink.ink))
        else:
            ring = np.array([[x, y - 2.4], [x + 3.6, y - 2.4], [x + 3.6, y], [x, y]])
            marks += _filled(ring, kind, ink)
        marks.append(Words(x + 4.8, y, text, size, 400, True, fill=ink.ink))
    return marks
