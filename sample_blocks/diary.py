"""Work that was done on a sample estate, from its plan: passes with their hours, sprays with their times."""

from __future__ import annotations

import datetime as dt

from plans import EstatePlan, SprayPlan

from vinemap.ground.block import Block
from vinemap.ground.vines import place_vines
from vinemap.work.diary import Pass, Spray

HOURS_PER_HA = 0.55
"""One sprayer at 6 km/h with turns and refills."""
PRODUCTIVE_SHARE = 0.8
LAST_START_HOUR = 9.0
"""Later in the morning it is too warm and too windy to begin another block."""


def row_labels(text: str) -> tuple[str, ...]:
    """Labels of "1-12;15": a range takes whole numbers only."""
    labels: list[str] = []
    for part in text.split(";") if text else ():
        first, _, last = part.partition("-")
        labels += [str(number) for number in range(int(first), int(last) + 1)] if last else [first]
    return tuple(labels)


def done_passes(plan: EstatePlan, blocks: dict[str, Block]) -> list[tuple[Pass, str]]:
    """Passes with the crew's hours in quarters, and their rows as written."""
    passes = []
    for each in plan.passes:
        block = blocks[each.block]
        rows = row_labels(each.rows)
        unknown = set(rows) - set(block.rows.labels)
        if unknown:
            raise ValueError(f"{each.block} has no rows {sorted(unknown)}")
        vines = place_vines(block)
        inside = [not rows or block.rows.labels[row] in rows for row in vines.row]
        minutes = each.minutes * int((vines.is_living & inside).sum())
        hours = round(minutes / 60 / each.people / PRODUCTIVE_SHARE * 4) / 4
        passes.append((Pass(each.date, each.block, rows, each.kind, each.face, each.people, max(hours, 0.25)), each.rows))
    return passes


def _area_ha(block: Block, rows: tuple[str, ...]) -> float:
    """Area [ha] of a block, or of some of its rows."""
    if not rows:
        return float(block.outline.area) / 10_000
    counts = [int(count) for label, count in zip(block.rows.labels, block.rows.vine_count, strict=True) if label in rows]
    return sum(counts) * block.vine_spacing_m * block.row_spacing_m / 10_000


def _one_round(spray: SprayPlan, blocks: dict[str, Block]) -> list[tuple[Spray, str]]:
    """The sprayer's mornings: block after block, the rest on the next day."""
    todo = spray.only or tuple((name, "") for name in blocks if name not in spray.without)
    done = []
    now = spray.start
    for name, text in todo:
        if now.hour + now.minute / 60 > LAST_START_HOUR:
            now = dt.datetime.combine(now.date() + dt.timedelta(days=1), spray.start.time())
        rows = row_labels(text)
        minutes = 5 * max(2, round(_area_ha(blocks[name], rows) * HOURS_PER_HA * 12))
        end = now + dt.timedelta(minutes=minutes)
        done.append((Spray(now, end, name, rows, spray.materials, spray.rate_kg_per_ha, spray.water_l_per_ha), text))
        now = end + dt.timedelta(minutes=15)
    return done


def done_sprays(plan: EstatePlan, blocks: dict[str, Block]) -> list[tuple[Spray, str]]:
    """Sprays block by block, and their rows as written."""
    return [each for spray in plan.sprays for each in _one_round(spray, blocks)]
