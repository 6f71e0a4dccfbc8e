"""Beside the field on paper: the figures of the round, the worst rows with how sure, the legend; and the stop's mark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vinemap.columns import Floats, Ints
from vinemap.sheets.ink import INCIDENCE_TICKS, INCIDENCE_TOP, LIGHT, place_on_ramp
from vinemap.sheets.marks import Dots, Mark, Measure, Path, Strokes, Words
from vinemap.sheets.setting import lead_mm, line, rectangle, shrink, wrap
from vinemap.sheets.shade import PAPER, TICK_MM, WORN_GAP_MM, WORN_PEN_MM, threshold_line

COLUMN_MM = 78.0
MOST_ROWS = 14
STOP_MM = 0.47
"""Radius [mm] of a stop's ring for one cluster; areas are counts."""

BAR_TOP = 0.5
"""Incidence at the right end of the bar that shows how sure."""

_VINES, _SHARE, _BAR, _BAR_MM = 12.0, 34.0, 37.0, 20.0


@dataclass(frozen=True, slots=True)
class RowShare:
    """A row's worst stretch or the whole row: its label, "41–60", its share with range 0..1, and the chance that it is
    over the threshold. ``is_known`` is False where there is no stop near."""

    label: str
    vines: str
    share: float
    low: float
    high: float
    chance_over: float
    is_known: bool = True


def chance_words(chance: float) -> str:
    """A chance as a count: "9 in 10", "nearly sure", "unlikely"."""
    tenths = round(chance * 10)
    return f"{tenths} in 10" if 0 < tenths < 10 else ("nearly sure" if tenths else "unlikely")


def percent(share: float) -> str:
    """A share 0..1 as words: "23 %"."""
    return f"{100 * share:.0f} %"


def stop_marks(xy_mm: Floats, examined: Ints, infected: Ints) -> list[Mark]:
    """Stops (n, 2) [mm]: the ring's area is the clusters looked at, the pupil's those with mildew; a dash when none."""
    marks: list[Mark] = []
    if not len(xy_mm):
        return marks
    ring = STOP_MM * np.sqrt(np.maximum(examined, 1))
    marks.append(Dots(xy_mm, ring + 0.35, fill=PAPER))
    marks.append(Dots(xy_mm, ring, fill=PAPER, stroke=LIGHT.ink, width_mm=0.36))
    sick = infected > 0
    if sick.any():
        marks.append(Dots(xy_mm[sick], STOP_MM * np.sqrt(infected[sick].astype(np.float64)), fill=LIGHT.ink))
    if (~sick).any():
        half = np.array([0.55, 0.0])
        marks.append(Strokes(np.hstack([xy_mm[~sick] - half, xy_mm[~sick] + half]), LIGHT.ink, 0.36))
    return marks


def ledger_marks(
    facts: Sequence[tuple[str, str]],
    rows: Sequence[RowShare],
    threshold: float,
    note: str,
    x_mm: float,
    y_mm: float,
    measure: Measure,
) -> tuple[list[Mark], float]:
    """Facts with dotted leaders, the worst rows, what is left out, a note; and where they end [mm]."""
    marks: list[Mark] = []
    right = x_mm + COLUMN_MM
    y = y_mm
    for label, value in facts:
        size = shrink(f"{label}   {value}", COLUMN_MM - 3.0, 10.0, measure, 600)
        start, stop = x_mm + measure(label, size, 400, False) + 1.5, right - measure(value, size, 600, False) - 1.5
        marks.append(Words(x_mm, y, label, size, fill=LIGHT.ink))
        marks.append(Words(right, y, value, size, 600, anchor="end", fill=LIGHT.ink))
        if stop > start:
            leader = np.array([[start, y - 0.2], [stop, y - 0.2]])
            marks.append(Path((leader,), stroke=LIGHT.ink_faint, width_mm=0.22, dash=(0.22, 1.1)))
        y += 5.2
    worst = sorted((row for row in rows if row.is_known), key=lambda row: -row.share)[:MOST_ROWS]
    marks += _heads(x_mm, y, threshold)
    y += 11.0
    for row in worst:
        marks += _row_marks(row, threshold, x_mm, y, measure)
        y += 5.2
    marks.append(line(x_mm, y - 3.4, right, y - 3.4, 0.22, LIGHT.ink))
    sentences = [_left_out(rows, len(worst)), note]
    for number, sentence in enumerate(sentences):
        for text in wrap(sentence, COLUMN_MM, 9.2, measure, 400, number == 0):
            marks.append(Words(x_mm, y + 1.0, text, 9.2, 400, number == 0, fill=LIGHT.ink))
            y += lead_mm(9.2)
    return marks, y


def _left_out(rows: Sequence[RowShare], shown: int) -> str:
    """What the list does not show, in a sentence."""
    known = sum(row.is_known for row in rows)
    lost = len(rows) - known
    parts = [f"{known - shown} more rows" if known - shown > 1 else "1 more row"] if known > shown else []
    parts += [f"{lost} rows not known" if lost > 1 else "1 row not known"] if lost else []
    return ", ".join(parts) if rows else "No row is known yet."


def _heads(x_mm: float, y_mm: float, threshold: float) -> list[Mark]:
    right = x_mm + COLUMN_MM
    marks: list[Mark] = [line(x_mm, y_mm, right, y_mm, 0.42, LIGHT.ink)]
    for x, text, anchor in (
        (x_mm, "row", "start"),
        (x_mm + _VINES, "vines", "start"),
        (x_mm + _SHARE, "share", "end"),
        (x_mm + _BAR, "how sure", "start"),
        (right, f"over {percent(threshold)}", "end"),
    ):
        marks.append(Words(x, y_mm + 4.4, text, 9.0, 500, anchor=anchor, fill=LIGHT.ink_soft))
    return [*marks, line(x_mm, y_mm + 6.2, right, y_mm + 6.2, 0.2, LIGHT.ink)]


def _row_marks(row: RowShare, threshold: float, x_mm: float, y_mm: float, measure: Measure) -> list[Mark]:
    """One row of the ledger: figures, and a bar from low to high with the threshold dotted."""
    at = [x_mm + _BAR + _BAR_MM * min(value / BAR_TOP, 1.0) for value in (row.low, row.share, row.high, threshold)]
    middle = y_mm - 1.2
    dotted = np.array([[at[3], middle - 1.6], [at[3], middle + 1.6]])
    size = shrink(row.label, _VINES - 1.5, 10.4, measure, 700)
    vines = shrink(row.vines, _SHARE - _VINES - 9.5, 10.0, measure)
    ink = LIGHT.ink if row.chance_over >= 0.5 else LIGHT.ink_soft
    return [
        Words(x_mm, y_mm, row.label, size, 700, fill=LIGHT.ink),
        Words(x_mm + _VINES, y_mm, row.vines, vines, fill=LIGHT.ink),
        Words(x_mm + _SHARE, y_mm, percent(row.share), 10.0, anchor="end", fill=LIGHT.ink),
        line(x_mm + _BAR, middle, x_mm + _BAR + _BAR_MM, middle, 0.12, LIGHT.rule),
        Path((dotted,), stroke=LIGHT.ink, width_mm=0.2, dash=(0.3, 0.4)),
        line(at[0], middle, max(at[2], at[0] + 0.1), middle, 0.42, LIGHT.ink),
        Dots(np.array([[at[1], middle]]), np.array([0.8]), fill=LIGHT.ink),
        Words(x_mm + COLUMN_MM, y_mm, chance_words(row.chance_over), 10.0, anchor="end", fill=ink),
    ]


def legend_marks(threshold: float, reach_m: float, x_mm: float, y_mm: float, measure: Measure) -> list[Mark]:
    """The ramp with its ticks, what worn and ticked shade mean, two stops and the line of the threshold; 31 mm high."""
    marks: list[Mark] = [line(x_mm, y_mm - 4.5, x_mm + COLUMN_MM, y_mm - 4.5, 0.2, LIGHT.ink)]
    marks.append(Words(x_mm, y_mm, "clusters mildewed", 9.0, 400, True, fill=LIGHT.ink))
    places = place_on_ramp(np.array(INCIDENCE_TICKS)) / 255.0
    width = 60.0
    for step in range(60):
        colour = LIGHT.ramp[round(255 * (step + 0.5) / 60)]
        marks.append(rectangle(x_mm + step * width / 60, y_mm + 1.6, width / 60 + 0.05, 3.0, 0.0, "", colour))
    marks.append(rectangle(x_mm, y_mm + 1.6, width, 3.0, 0.2, LIGHT.ink))
    for tick, place in zip(INCIDENCE_TICKS, places, strict=True):
        x = x_mm + width * float(place)
        marks.append(line(x, y_mm + 4.6, x, y_mm + 5.4, 0.2, LIGHT.ink))
        text = percent(tick) if tick == INCIDENCE_TOP else f"{100 * tick:.0f}"
        marks.append(Words(x, y_mm + 8.6, text, 8.6, anchor="middle", fill=LIGHT.ink))
    return marks + _sure_legend(reach_m, x_mm, y_mm + 13.4, measure) + _stop_legend(threshold, x_mm, y_mm + 22.0, measure)


def _sure_legend(reach_m: float, x_mm: float, y_mm: float, measure: Measure) -> list[Mark]:
    """Unsure: worn; not known: ticks on bare paper."""
    unsure, lost = "unsure", f"not known: no stop within {reach_m:.0f} m"
    marks: list[Mark] = [rectangle(x_mm, y_mm - 3.0, 8.0, 4.0, 0.0, "", LIGHT.steps[4])]
    starts = np.arange(x_mm + 1.0, x_mm + 8.0, WORN_GAP_MM)
    ends = np.column_stack([starts, np.full(len(starts), y_mm - 3.0), starts - 0.0, np.full(len(starts), y_mm + 1.0)])
    ends[:, 2] -= np.minimum(4.0, starts - x_mm)
    ends[:, 3] = y_mm - 3.0 + (ends[:, 0] - ends[:, 2])
    marks.append(Strokes(ends, PAPER, WORN_PEN_MM))
    marks.append(rectangle(x_mm, y_mm - 3.0, 8.0, 4.0, 0.2, LIGHT.ink))
    marks.append(Words(x_mm + 10.0, y_mm, unsure, 9.2, fill=LIGHT.ink))
    left = x_mm + 12.5 + measure(unsure, 9.2, 400, False)
    marks.append(rectangle(left, y_mm - 3.0, 8.0, 4.0, 0.2, LIGHT.ink))
    middle = np.array([[left + 2.2, y_mm - 2.0], [left + 4.4, y_mm + 0.0], [left + 6.2, y_mm - 1.8]])
    half = np.array([TICK_MM / 2, -TICK_MM / 3])
    marks.append(Strokes(np.hstack([middle - half, middle + half]), LIGHT.ink_soft, 0.2))
    size = shrink(lost, x_mm + COLUMN_MM - left - 10.0, 9.2, measure)
    return [*marks, Words(left + 10.0, y_mm, lost, size, fill=LIGHT.ink)]


def _stop_legend(threshold: float, x_mm: float, y_mm: float, measure: Measure) -> list[Mark]:
    """Two stops as examples, and the line of the threshold."""
    examples = ((0, 20), (8, 20))
    marks: list[Mark] = []
    x = x_mm + STOP_MM * np.sqrt(20.0)
    for infected, examined in examples:
        marks += stop_marks(np.array([[x, y_mm - 1.1]]), np.array([examined], np.int32), np.array([infected], np.int32))
        text = f"{infected} of {examined}"
        marks.append(Words(x + 3.2, y_mm, text, 9.2, fill=LIGHT.ink))
        x += 3.2 + measure(text, 9.2, 400, False) + 4.6
    marks.append(threshold_line(np.array([[x, y_mm - 1.1], [x + 9.0, y_mm - 1.1]])))
    return [*marks, Words(x + 10.5, y_mm, f"{percent(threshold)} line", 9.2, fill=LIGHT.ink)]
