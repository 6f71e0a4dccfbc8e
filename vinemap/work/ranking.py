"""From gains per span to rows in order: which run of each row is worth the hours there are."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vinemap.columns import Floats
from vinemap.work.gains import OPENING_LETTERS, Gain
from vinemap.work.runs import best_run, row_slices
from vinemap.work.spans import Spans

OPEN, SPRAY = "open", "spray"
PRICE_STEPS = 40


@dataclass(frozen=True, slots=True)
class RowWork:
    """One piece of work in one row: what, which vines, what it saves and what it costs.

    ``rank``: 1 is first, over all blocks, within its kind of work; ``is_first``: it fits into the week's hours;
    ``work``: "open" or "spray"; ``letter``: kind of work; ``spans``: (first, last) index of its spans in the block;
    shares 0..1, clusters, hours of one person or of the sprayer.
    """

    rank: int
    is_first: bool
    block: str
    row: int
    label: str
    work: str
    letter: str
    spans: tuple[int, int]
    first_vine: int
    last_vine: int
    vines: int
    clusters: float
    low: float
    high: float
    here: float
    around: float
    burned: float
    left: float
    worked: float
    hours: float

    @property
    def per_hour(self) -> float:
        """Clusters saved by an hour."""
        return self.clusters / self.hours if self.hours > 0 else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class BlockGain:
    """Gain of one kind of work in one block, with what is needed to cut it into rows.

    ``row_hours``: hours that a row costs before the first vine, to get into it and out again.
    """

    block: str
    labels: tuple[str, ...]
    spans: Spans
    gain: Gain
    work: str
    row_hours: float = 0.0


def hour_prices(parts: tuple[BlockGain, ...], hours: float) -> tuple[float, float]:
    """Two prices of an hour [clusters/hour], next to each other: at the first the best runs take too many hours, at the
    second they fit.

    The price of the Lagrange relaxation of a knapsack (Everett 1963, Operations Research 11:399), found by bisection.
    """
    rows = [
        (part.gain.clusters[cut], part.gain.hours[cut], part.row_hours)
        for part in parts
        for _, cut in row_slices(part.spans.row)
        if part.gain.clusters[cut].any()
    ]
    if not rows:
        return 0.0, 0.0
    low, high = 0.0, max(float(np.max(gain / np.maximum(time, 1e-9))) for gain, time, _ in rows)
    for _ in range(PRICE_STEPS):
        price = (low + high) / 2.0
        taken = sum(_hours_of_run(*row, price) for row in rows)
        low, high = (price, high) if taken > hours else (low, price)
    return low, high


def _run_worth_it(gain: Floats, hours: Floats, row_hours: float, price: float) -> tuple[int, int] | None:
    """The best run of a row, if it is worth its own hours and those of the way in and out."""
    run = best_run(gain, hours, price)
    if run is None:
        return None
    cut = slice(run[0], run[1] + 1)
    return run if gain[cut].sum() > price * (hours[cut].sum() + row_hours) else None


def _hours_of_run(gain: Floats, hours: Floats, row_hours: float, price: float) -> float:
    run = _run_worth_it(gain, hours, row_hours, price)
    return float(hours[run[0] : run[1] + 1].sum()) + row_hours if run else 0.0


def ranked(parts: tuple[BlockGain, ...], hours: float, least_per_hour: float = 0.0) -> tuple[RowWork, ...]:
    """Rows of all blocks in order of clusters saved by an hour, for one kind of work and the hours there are.

    ``least_per_hour`` [clusters/hour]: what an hour must save to be worth it, however many hours there are.

    A row whose best run is worth its hours comes with that run and first; every other row with a gain comes whole. Where
    many rows are alike one price takes them all or none: then the hours that are left go to the best of them in turn.
    """
    low, high = (max(price, least_per_hour) for price in hour_prices(parts, hours))
    fitting: list[RowWork | None] = []
    wider: list[RowWork | None] = []
    whole: list[RowWork] = []
    for part in parts:
        for row, cut in row_slices(part.spans.row):
            if part.gain.clusters[cut].any():
                fitting.append(_best_work(part, row, cut, high))
                wider.append(_best_work(part, row, cut, low))
                whole.append(_row_work(part, row, (cut.start, cut.stop - 1), False))
    chosen = _filled(fitting, wider, hours)
    first = [work for work in chosen if work]
    later = [work for work, best in zip(whole, chosen, strict=True) if not best]
    first.sort(key=lambda work: (-work.per_hour, work.block, work.row))
    later.sort(key=lambda work: (-work.per_hour, work.block, work.row))
    return tuple(_with_rank(work, rank) for rank, work in enumerate(first + later, start=1))


def _best_work(part: BlockGain, row: int, cut: slice, price: float) -> RowWork | None:
    """The best run of a row at a price of an hour, None where it is not worth it."""
    run = _run_worth_it(part.gain.clusters[cut], part.gain.hours[cut], part.row_hours, price)
    return _row_work(part, row, (cut.start + run[0], cut.start + run[1]), True) if run else None


def _filled(fitting: list[RowWork | None], wider: list[RowWork | None], hours: float) -> list[RowWork | None]:
    """The work of each row: what fits, and its wider run where the hours left allow it, most saved by an added hour first."""
    chosen = list(fitting)
    left = hours - sum(work.hours for work in fitting if work)
    added: list[tuple[float, float, int]] = []
    for row, (now, more) in enumerate(zip(fitting, wider, strict=True)):
        if more is None:
            continue
        extra = more.hours - (now.hours if now else 0.0)
        if extra > 0.0:
            added.append((-(more.clusters - (now.clusters if now else 0.0)) / extra, extra, row))
    for _, extra, row in sorted(added):
        if extra <= left:
            chosen[row] = wider[row]
            left -= extra
    return chosen


def _row_work(part: BlockGain, row: int, spans: tuple[int, int], is_first: bool) -> RowWork:
    cut = slice(spans[0], spans[1] + 1)
    gain, living = part.gain, part.spans.living[cut]
    total = max(float(living.sum()), 1.0)

    def share(column: Floats) -> float:
        return float((column[cut] * living).sum() / total)

    letter = "P" if part.work == SPRAY else OPENING_LETTERS[round(share(gain.strength.astype(np.float64)))]
    return RowWork(
        rank=0,
        is_first=is_first,
        block=part.block,
        row=row,
        label=part.labels[row],
        work=part.work,
        letter=letter,
        spans=spans,
        first_vine=int(part.spans.first_vine[spans[0]]),
        last_vine=int(part.spans.last_vine[spans[1]]),
        vines=int(living.sum()),
        clusters=float(gain.clusters[cut].sum()),
        low=float(gain.low[cut].sum()),
        high=float(gain.high[cut].sum()),
        here=float(gain.here[cut].sum()),
        around=float(gain.around[cut].sum()),
        burned=float(gain.burned[cut].sum()),
        left=share(gain.left),
        worked=share(gain.worked),
        hours=float(gain.hours[cut].sum()) + part.row_hours,
    )


def _with_rank(work: RowWork, rank: int) -> RowWork:
    return replace(work, rank=rank)
