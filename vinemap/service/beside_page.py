"""The ledger's page of a block in two rounds: did it grow, did it dry out, or is that noise?"""

from __future__ import annotations

import math

import numpy as np

from vinemap.errors import InputError
from vinemap.scouting.incidence import Change, change_between
from vinemap.scouting.rounds import Round
from vinemap.service.answers import BlockRead
from vinemap.service.ledger import Column, Fact, Line, Page, percent
from vinemap.service.pages import at_threshold
from vinemap.vineclock.stage import date_words

GROWING, DRYING, NO_CHANGE = "growing", "drying", "no clear change"


def beside_page(one: tuple[Round, BlockRead], other: tuple[Round, BlockRead], threshold: float) -> Page:
    """The block's change from the earlier round to the later one, and that of each row, surest first.

    A row counts as growing or drying only when its two 90 % intervals do not meet, which is stricter than 9 in 10.
    """
    (then_round, then), (now_round, now) = sorted((one, other), key=lambda pair: (pair[0].date, pair[0].number))
    name = now.block.name
    days = (now_round.date - then_round.date).days
    title, subtitle = f"{name}, {then_round.number} beside {now_round.number}", f"{days} days apart"
    if then.field is None or now.field is None or then.share is None or now.share is None:
        missing = then_round.number if then.field is None else now_round.number
        return Page(title, subtitle, note=f"Round {missing} has no stops here, so there is nothing to compare.")
    try:
        change = change_between(now.share, then.share, float(days))
    except InputError as error:
        return Page(title, subtitle, note=str(error))
    before, after = at_threshold(then, threshold), at_threshold(now, threshold)
    lines = []
    for row in np.argsort(-(after.mean - before.mean), kind="stable"):
        if after.vines[row] > 0:
            word = change_word((before.low[row], before.high[row]), (after.low[row], after.high[row]))
            cells = (now.block.rows.labels[row], percent(float(before.mean[row])), percent(float(after.mean[row])), word)
            lines.append(Line(name, int(row), cells, is_soft=word == NO_CHANGE))
    return Page(
        title=title,
        subtitle=subtitle,
        facts=(
            Fact(f"of all clusters, {date_words(then_round.date)}", percent(then.share.share)),
            Fact(f"of all clusters, {date_words(now_round.date)}", percent(now.share.share)),
            Fact("change, in points", points_words(change)),
            Fact("rows growing, drying", f"{_count(lines, GROWING)}, {_count(lines, DRYING)}"),
        ),
        columns=(
            Column("Row", 3.2),
            Column(date_words(then_round.date), 5, True),
            Column(date_words(now_round.date), 5, True),
            Column("Change", 8, True),
        ),
        lines=tuple(lines),
        note=pace_words(change),
    )


def change_word(then: tuple[float, float], now: tuple[float, float]) -> str:
    """Growing, drying or no clear change, from two intervals (low, high)."""
    if now[0] > then[1]:
        return GROWING
    return DRYING if now[1] < then[0] else NO_CHANGE


def points_words(change: Change) -> str:
    """A difference of shares in points of a hundred: "+7, between -1 and +15"."""
    difference, low, high = (round(100.0 * value) for value in (change.difference, change.interval.low, change.interval.high))
    return f"{difference:+d}, between {low:+d} and {high:+d}".replace("-", "−").replace("+0", "0").replace("−0", "0")


def pace_words(change: Change) -> str:
    """What the change amounts to, in a sentence."""
    if change.is_noise:
        return "The change of the whole block lies within the noise of sampling."
    if change.rate_per_day > 0:
        return f"All rows together: doubling in about {math.log(2.0) / change.rate_per_day:.0f} days while it is rare."
    return "All rows together: less than before. Fruit does not heal: rows were cut clean, or the stops differ."


def _count(lines: list[Line], word: str) -> int:
    return sum(line.cells[-1] == word for line in lines)
