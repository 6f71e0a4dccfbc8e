"""What a sample estate consists of before anything is drawn by chance."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from layout import BlockPlan
from weather import Climate


@dataclass(frozen=True)
class PassPlan:
    """Opening work: ``rows`` as on a crew's card ("1-12;15"), empty for the whole block; ``minutes`` for each vine."""

    date: dt.date
    block: str
    rows: str
    kind: str
    face: str
    people: int
    minutes: float


@dataclass(frozen=True)
class SprayPlan:
    """A round of the sprayer: it starts at ``start``, takes the blocks in order, and leaves some out.

    ``only`` names block and rows where it was not the whole estate; a block that takes the sprayer past noon is finished
    first, the others follow the next morning.
    """

    start: dt.datetime
    materials: tuple[str, ...]
    rate_kg_per_ha: float
    water_l_per_ha: float
    without: tuple[str, ...] = ()
    only: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class EstatePlan:
    """An estate: where its corner lies, its blocks, trees [m], dates, climate, work done and the days of its rounds.

    ``trees`` are lines of trees that shade and shelter; ``stage_dates`` apply to all blocks, ``late_bloom`` to some.
    """

    name: str
    folder: str
    seed: int
    crs: str
    corner_m: tuple[float, float]
    offset_hours: int
    blocks: tuple[BlockPlan, ...]
    trees: tuple[tuple[tuple[float, float], ...], ...]
    budbreak: dt.date
    bloom: dt.date
    veraison: dt.date
    harvest: dt.date
    late_bloom: tuple[tuple[str, dt.date], ...]
    climate: Climate
    passes: tuple[PassPlan, ...]
    sprays: tuple[SprayPlan, ...]
    rounds: tuple[tuple[dt.date, str], ...]
