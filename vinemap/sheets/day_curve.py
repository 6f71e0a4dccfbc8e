"""The hours of one day, drawn: warmth against the band in which mildew thrives, rain, wet leaves, and what counts."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from vinemap.columns import Bools, Bytes, Floats, freeze
from vinemap.sheets.fit import Box
from vinemap.sheets.hatch import hatch
from vinemap.sheets.ink import Ink
from vinemap.sheets.marks import Dots, Mark, Measure, Path, Strokes, Words
from vinemap.sheets.setting import lead_mm, line, rectangle
from vinemap.units import degf_from_degc
from vinemap.vineclock.days import BAND_HIGH_DEGC, BAND_LOW_DEGC
from vinemap.vineclock.weather import ESTIMATED, READ

WORDS_PT, TICK_PT = 9.6, 9.0
LEFT_MM, RIGHT_MM = 24.0, 11.0
BRACKET_MM, LANE_MM = 7.0, 4.6
RAIN_TOP_MM = 5.0
"""Rain in an hour [mm] that fills its lane."""

KEYS = (
    "the longest run: 6 h count",
    "in the band, but broken off",
    "{heat:.0f} °C or more",
    "missing: what it can have been",
)
KEY_MM, KEY_GAP_MM = 4.8, 4.0
_HOURS_STEP = 3


@dataclass(frozen=True, slots=True, eq=False)
class DayHours:
    """Readings of one day, (m,) from midnight on, each ``step_hours`` [h] long; NaN where missing.

    ``temp_degc``; ``low_degc``, ``high_degc``: what a missing one can have been; ``rain_mm``; ``wet_frac`` 0..1; ``origin``:
    code of where it comes from; ``is_inside``: within the band; ``is_counted``: in the longest unbroken run; ``is_hot``: from
    ``heat_degc`` [degC] on.
    """

    step_hours: float
    temp_degc: Floats
    low_degc: Floats
    high_degc: Floats
    rain_mm: Floats
    wet_frac: Floats
    origin: Bytes
    is_inside: Bools
    is_counted: Bools
    is_hot: Bools
    heat_degc: float

    def __post_init__(self) -> None:
        numbers = ("temp_degc", "low_degc", "high_degc", "rain_mm", "wet_frac")
        flags = ("is_inside", "is_counted", "is_hot")
        freeze(self, **dict.fromkeys(numbers, np.float64), **dict.fromkeys(flags, np.bool_), origin=np.int8)

    def __len__(self) -> int:
        return len(self.temp_degc)


def curve_marks(hours: DayHours, box: Box, ink: Ink, measure: Measure) -> list[Mark]:
    """The day in a box [mm]: the curve with the band, the longest run bracketed, and lanes of rain, wet leaves and count."""
    plot = box.shrunk(LEFT_MM, BRACKET_MM, RIGHT_MM, 3 * LANE_MM + 6.0 + 1.3 * lead_mm(WORDS_PT))
    low, high = _span_degc(hours)
    x: Floats = plot.x_mm + plot.width_mm * hours.step_hours * np.arange(len(hours) + 1, dtype=np.float64) / 24.0

    def up(degc: Floats | float) -> Floats:
        return np.asarray(plot.bottom_mm - plot.height_mm * (np.asarray(degc) - low) / (high - low), np.float64)

    band = rectangle(plot.x_mm, float(up(BAND_HIGH_DEGC)), plot.width_mm, float(up(BAND_LOW_DEGC) - up(BAND_HIGH_DEGC)))
    marks: list[Mark] = [Path(band.rings, fill=ink.wash, is_closed=True)]
    marks += _axes(plot, (low, high), up(np.array([BAND_LOW_DEGC, BAND_HIGH_DEGC, hours.heat_degc])), hours.heat_degc, ink)
    middles = (x[:-1] + x[1:]) / 2
    marks += _missing(hours, x, up(hours.low_degc), up(hours.high_degc), ink)
    marks += _curve(hours, middles, up(hours.temp_degc), ink)
    marks += _bracket(hours, x, box.y_mm + BRACKET_MM - 1.0, ink)
    marks += _lanes(hours, x, plot, ink)
    return marks + _key(Box(box.x_mm, box.bottom_mm, box.width_mm, 0.0), hours.heat_degc, ink, measure)


def _span_degc(hours: DayHours) -> tuple[float, float]:
    """Least and most on the axis [degC]: the band, and all that was read or can have been."""
    known: Floats = np.concatenate([hours.temp_degc, hours.low_degc, hours.high_degc])
    known = known[np.isfinite(known)]
    low = min(BAND_LOW_DEGC - 3.0, *(known.min() - 1.0,) if len(known) else ())
    high = max(BAND_HIGH_DEGC + 3.0, *(known.max() + 1.0,) if len(known) else ())
    return float(low), float(high)


def _axes(plot: Box, span: tuple[float, float], edges_mm: Floats, heat_degc: float, ink: Ink) -> list[Mark]:
    """The edges of the band in both units, the heat that slows mildew where it is in sight, hours below."""
    marks: list[Mark] = []
    for degc, y in zip((BAND_LOW_DEGC, BAND_HIGH_DEGC, heat_degc), edges_mm.tolist(), strict=True):
        if not span[0] <= degc <= span[1]:
            continue
        dash = (1.0, 1.0) if degc == heat_degc else ()
        edge = np.array([[plot.x_mm, y], [plot.right_mm, y]])
        marks.append(Path((edge,), stroke=ink.ink_soft, width_mm=0.2, dash=dash))
        marks.append(Words(plot.x_mm - 1.5, y + 1.1, f"{degc:.1f} °C", TICK_PT, anchor="end", fill=ink.ink))
        marks.append(Words(plot.right_mm + 1.5, y + 1.1, f"{degf_from_degc(degc):.0f} °F", TICK_PT, fill=ink.ink_soft))
    for hour in range(0, 25, _HOURS_STEP):
        at = plot.x_mm + plot.width_mm * hour / 24
        below = plot.bottom_mm + 3 * LANE_MM
        marks.append(line(at, plot.y_mm, at, below + 1.0, 0.12, ink.hair))
        marks.append(Words(at, below + 4.4, f"{hour}:00", TICK_PT, anchor="middle", fill=ink.ink))
    return marks


def _curve(hours: DayHours, x: Floats, y: Floats, ink: Ink) -> list[Mark]:
    """Read hours in a whole line, estimated ones in dashes, forecast ones in dots; no line over what is missing."""
    marks: list[Mark] = []
    known = ~np.isnan(y)
    kind = np.where(known, hours.origin, -1)
    edges = np.flatnonzero(np.diff(kind)) + 1
    for start, stop in pairwise([0, *edges.tolist(), len(kind)]):
        if kind[start] < 0:
            continue
        # a run reaches to the next known reading, so that the line does not break where only its hand changes
        end = min(stop + 1, len(kind)) if stop < len(kind) and kind[stop] >= 0 else stop
        points = np.column_stack([x[start:end], y[start:end]])
        dash = {READ: (), ESTIMATED: (1.8, 0.8)}.get(int(kind[start]), (0.5, 0.7))
        if len(points) > 1:
            marks.append(Path((points,), stroke=ink.ink, width_mm=0.55, dash=dash))
        else:
            marks.append(Dots(points, np.array([0.5]), fill=ink.ink))
    return marks


def _missing(hours: DayHours, x: Floats, low: Floats, high: Floats, ink: Ink) -> list[Mark]:
    """Slanted strokes over all that a missing reading can have been."""
    marks: list[Mark] = []
    for number in np.flatnonzero(np.isnan(hours.temp_degc) & np.isfinite(low) & np.isfinite(high)):
        cell = shapely.box(x[number], high[number], x[number + 1], low[number])
        marks += hatch("L", cell, 0.0, ink.ink_faint, 0.8)
    return marks


def _bracket(hours: DayHours, x: Floats, y: float, ink: Ink) -> list[Mark]:
    """A bracket over the longest unbroken run, with its length and its hours."""
    run = np.flatnonzero(hours.is_counted)
    if not len(run):
        return []
    left, right = float(x[run[0]]), float(x[run[-1] + 1])
    step = hours.step_hours
    words = f"{len(run) * step:g} h unbroken, {clock(run[0] * step)} to {clock((run[-1] + 1) * step)}"
    bracket = np.array([[left, y + 1.8], [left, y], [right, y], [right, y + 1.8]])
    middle = min(max((left + right) / 2, float(x[0]) + 24.0), float(x[-1]) - 24.0)
    return [
        Path((bracket,), stroke=ink.ink, width_mm=0.5),
        Words(middle, y - 1.2, words, WORDS_PT, 600, anchor="middle", fill=ink.ink),
    ]


def clock(hours: float) -> str:
    """Hours after midnight as a time of day: "8:30"."""
    minutes = round(hours * 60)
    return f"{minutes // 60}:{minutes % 60:02d}"


def _lanes(hours: DayHours, x: Floats, plot: Box, ink: Ink) -> list[Mark]:
    """Rain as bars, wet leaves as a line as thick as the share of the hour, and what each hour counts."""
    marks: list[Mark] = []
    for number, name in enumerate(("rain", "leaves wet", "counts")):
        base = plot.bottom_mm + LANE_MM * (number + 1)
        marks.append(Words(plot.x_mm - 1.5, base - 0.9, name, WORDS_PT, 400, True, "end", ink.ink_soft))
        marks.append(line(plot.x_mm, base, plot.right_mm, base, 0.15, ink.ink_soft))
    high = LANE_MM - 0.8
    base = plot.bottom_mm + LANE_MM
    tall = high * np.minimum(np.nan_to_num(hours.rain_mm) / hours.step_hours / RAIN_TOP_MM, 1.0)
    wet = high * 0.7 * np.nan_to_num(hours.wet_frac)
    for number in range(len(hours)):
        left, wide = float(x[number]), float(x[number + 1] - x[number])
        if tall[number] > 0:
            marks.append(_cell(left + 0.15 * wide, base, 0.7 * wide, max(float(tall[number]), 0.4), ink.ink_soft))
        if wet[number] > 0:
            marks.append(_cell(left, base + LANE_MM, wide, float(wet[number]), ink.ink_soft))
    return marks + _counts(hours, x, base + 2 * LANE_MM, ink)


def _cell(left: float, base: float, wide: float, high: float, fill: str) -> Path:
    ring = np.array([[left, base - high], [left + wide, base - high], [left + wide, base], [left, base]])
    return Path((ring,), fill=fill, is_closed=True)


def _counts(hours: DayHours, x: Floats, base: float, ink: Ink) -> list[Mark]:
    """Full: in the longest run; open: in the band, but broken off; dots: hot; a stroke: missing."""
    marks: list[Mark] = []
    high = LANE_MM - 1.4
    for number in range(len(hours)):
        left, wide = float(x[number]), float(x[number + 1] - x[number])
        gap = min(0.3, 0.15 * wide)
        if hours.is_counted[number]:
            marks.append(_cell(left + gap, base - 0.4, wide - 2 * gap, high, ink.ink))
        elif hours.is_inside[number]:
            marks.append(rectangle(left + gap, base - 0.4 - high, wide - 2 * gap, high, 0.25, ink.ink))
    middle = (x[:-1] + x[1:]) / 2
    hot, lost = middle[hours.is_hot], middle[np.isnan(hours.temp_degc)]
    if len(hot):
        points = np.column_stack([np.concatenate([hot - 0.7, hot + 0.7]), np.full(2 * len(hot), base - 2.0)])
        marks.append(Dots(points, np.full(len(points), 0.45), fill=ink.ink))
    if len(lost):
        marks.append(
            Strokes(np.column_stack([lost - 0.6, lost * 0 + base - 0.8, lost + 0.6, lost * 0 + base - 3.0]), ink.ink, 0.25)
        )
    return marks


def _key(box: Box, heat_degc: float, ink: Ink, measure: Measure) -> list[Mark]:
    """What the cells of the lane mean, in one line that ends at the bottom of the box."""
    marks: list[Mark] = []
    texts = [each.format(heat=heat_degc) for each in KEYS]
    wide = sum(measure(text, WORDS_PT, 400, True) for text in texts)
    size = WORDS_PT * min(1.0, (box.width_mm - len(texts) * (KEY_MM + KEY_GAP_MM)) / wide)
    at, y = box.x_mm, box.bottom_mm - 0.6
    for number, text in enumerate(texts):
        if number == 0:
            marks.append(_cell(at, y, 3.6, 2.6, ink.ink))
        elif number == 1:
            marks.append(rectangle(at, y - 2.6, 3.6, 2.6, 0.25, ink.ink))
        elif number == 2:
            marks.append(Dots(np.array([[at + 1.1, y - 1.3], [at + 2.5, y - 1.3]]), np.full(2, 0.45), fill=ink.ink))
        else:
            marks += hatch("L", shapely.box(at, y - 2.6, at + 3.6, y), 0.0, ink.ink_faint, 0.8)
        marks.append(Words(at + KEY_MM, y, text, size, 400, True, fill=ink.ink))
        at += KEY_MM + measure(text, size, 400, True) + KEY_GAP_MM
    return marks
