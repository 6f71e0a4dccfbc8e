"""How closed the leaves of each row are on a date: from what was seen last, and what has grown since."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vinemap.canopy.openness import CLOSED_BY_LIGHT, CLOSING_DEGREE_DAYS, closed_by_layers, regrowth
from vinemap.canopy.rods import RodNote, point_quadrat
from vinemap.columns import Floats, Ints
from vinemap.ground.block import Block
from vinemap.scouting.rounds import NOT_NOTED, Round
from vinemap.vineclock.days import Days

GROWTH_FROM_DEGC = 10.0
USUAL_DEGREE_DAYS = 11.0
"""Of a day on which nothing was read [degC days above 10]: a mean of 21 degC, stated assumption."""
LATEST_DAYS = 14
"""Days before a date whose warmth is taken to go on after it."""
RECKONED_AS_ROWS = 4.0
"""What is reckoned of a row counts as much as so many rows seen that were opened alike (stated assumption)."""

NOBODY_LOOKED, RECKONED, SEEN_ALIKE, SEEN_HERE = range(4)


@dataclass(frozen=True, slots=True)
class Look:
    """How closed a row was seen to be on a day: ``row`` "" for the whole block; ``closed`` 0 (open) .. 1 (closed)."""

    date: dt.date
    row: str
    closed: float


@dataclass(frozen=True, slots=True, eq=False)
class Warmth:
    """Degree days (n,) [degC days above 10] of days in a row from the ordinal ``first`` on, NaN where they are not known."""

    first: int
    degree_days: Floats

    def between(self, after: dt.date, until: dt.date) -> float:
        """Degree days [degC days] after one day up to and with another; days that were not read count as usual."""
        days = max((until - after).days, 0)
        start = after.toordinal() + 1 - self.first
        known = self.degree_days[max(start, 0) : max(start + days, 0)]
        known = known[~np.isnan(known)]
        return float(known.sum()) + USUAL_DEGREE_DAYS * (days - len(known))

    def a_day(self, date: dt.date) -> float:
        """Degree days of a day to come: the mean of the fortnight up to ``date``."""
        return self.between(date - dt.timedelta(days=LATEST_DAYS), date) / LATEST_DAYS


NO_WARMTH = Warmth(0, np.empty(0))


@dataclass(frozen=True, slots=True, eq=False)
class RowLeaves:
    """Leaves of a block's rows on a date.

    ``closed`` (rows,) 0 (open) .. 1 (closed); ``source`` (rows,): code of how that is known; ``days`` (rows,): days since it
    was seen or the row was opened, NaN where neither was.
    """

    closed: Floats
    source: Ints
    days: Floats

    def words(self, row: int) -> str:
        """How it is known how closed a row is, in few words."""
        days = int(np.nan_to_num(self.days[row]))
        ago = {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")
        seen = {SEEN_HERE: f"seen {ago}", SEEN_ALIKE: "as in rows seen", RECKONED: "reckoned"}
        return seen.get(int(self.source[row]), "never looked at")


def warmth_of(days: Days | None) -> Warmth:
    """Degree days of each day of a station."""
    if days is None or not len(days):
        return NO_WARMTH
    return Warmth(int(days.date[0]), np.maximum((days.max_degc + days.min_degc) / 2 - GROWTH_FROM_DEGC, 0.0))


def looks_of(block: Block, rounds: Sequence[Round], rods: Sequence[RodNote], date: dt.date) -> tuple[Look, ...]:
    """What was seen through the rows of a block, by scouts and by rods, up to a date.

    A round says of a row the mean of its stops there.
    """
    looks = []
    for scouted in rounds:
        if scouted.date > date or not scouted.stops.light.any():
            continue
        stops = scouted.stops.of_block(block.name)
        closed: dict[str, list[float]] = {}
        for row, light in zip(stops.rows, stops.light.tolist(), strict=True):
            if light != NOT_NOTED:
                closed.setdefault(row, []).append(CLOSED_BY_LIGHT[light])
        looks += [Look(scouted.date, row, float(np.mean(seen))) for row, seen in closed.items()]
    for note in rods:
        if note.block == block.name and note.date <= date and note.insertions:
            layers = point_quadrat(note.insertions).layers
            looks.append(Look(note.date, note.row, float(closed_by_layers(layers))))
    return tuple(looks)


def row_leaves(
    block: Block,
    since_pass: Floats,
    looks: Sequence[Look],
    date: dt.date,
    warmth: Warmth = NO_WARMTH,
    closing_degree_days: float = CLOSING_DEGREE_DAYS,
) -> RowLeaves:
    """How closed each row is on a date.

    ``since_pass`` (rows,): days since the row was last opened, NaN where it never was. What was seen after that counts, the
    newest; a look on the day of the opening came before it. A row that nobody looked at is
    reckoned as open on the day it was opened, else taken as closed, and leans on rows seen that were opened on the same day.
    Source: regrowth as in the canopy's rules; the rest is a stated assumption.
    """

    def grown(days: float) -> float:
        degree_days = warmth.between(date - dt.timedelta(days=days), date)
        return float(regrowth(degree_days, block.vigour, closing_degree_days))

    rows = len(block.rows)
    closed, source, days = np.ones(rows), np.full(rows, NOBODY_LOOKED, np.int32), since_pass.copy()
    opened = ~np.isnan(since_pass)
    for each in np.unique(since_pass[opened]):
        closed[since_pass == each] = grown(float(each))
    source[opened] = RECKONED
    labels = np.array(block.rows.labels, dtype=object)
    # the newest last, and of one day the row's own after the block's
    for look in sorted(looks, key=lambda look: (look.date, bool(look.row))):
        ago = (date - look.date).days
        meant = (labels == look.row) | (not look.row)
        meant &= ~(since_pass <= ago)
        if ago >= 0 and meant.any():
            closed[meant] = min(look.closed + grown(ago), 1.0)
            source[meant], days[meant] = SEEN_HERE, ago
    key = np.where(opened, since_pass, -1.0)
    for each in np.unique(key):
        alike = key == each
        seen, others = alike & (source == SEEN_HERE), alike & (source != SEEN_HERE)
        if seen.any() and others.any():
            told = closed[seen].sum() + RECKONED_AS_ROWS * closed[others].mean()
            closed[others] = told / (np.count_nonzero(seen) + RECKONED_AS_ROWS)
            days[others], source[others] = days[seen].min(), SEEN_ALIKE
    return RowLeaves(closed, source, days)
