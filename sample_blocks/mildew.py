"""Invented mildew: incidence at every vine, day by day, as a logistic epidemic that spreads to the vines beside it."""

from __future__ import annotations

import datetime as dt

import numpy as np
import shapely
from dice import dice_for, draw_normal, smooth_field
from layout import BlockPlan
from plans import EstatePlan

from vinemap.columns import Bools, Floats, Ints
from vinemap.ground.block import REPLANT, Block, Vines
from vinemap.vineclock.weather import Weather
from vinemap.work.diary import Pass, Spray

GROWTH_PER_DAY = 0.20
"""At the best temperature on an average vine without cover: near the upper rates of van der Plank (1963)."""
ALONG_M, ACROSS_M, REACHES, SPREAD = 4.0, 2.5, 3.0, 0.30
"""Reach of spread along and across the rows [m], how many reaches are followed, and the share of new infections that comes
from other vines."""
SUSCEPTIBLE = {
    "Syrah": 0.85,
    "Zinfandel": 0.85,
    "Grenache noir": 0.75,
    "Mourvedre": 0.8,
    "Petite Sirah": 0.75,
    "Merlot": 0.95,
}
"""Growth by variety against the most susceptible (1); after the usual ratings, from memory."""
OPENED = {"L": 0.30, "F": 0.45, "D": 0.55, "R": 0.30, "T": 0.25}
"""Growth taken away by a pass; leaf removal took 54 to 73 % of severity (Chellemi & Marois 1992), here taken lower."""
CUT_OUT = 0.55
"""Share of mildewed clusters that a crew finds and cuts out."""
COVER_DAYS = {"sulfur": 12.0, "potassium bicarbonate": 8.0}
"""Days until a spray's cover is gone, where not 18; common practice."""
SPRAY_EFFECT = 0.75


def warmth_by_day(weather: Weather) -> tuple[Ints, Floats]:
    """Local days (ordinals) and the mean temperature response of each, 0..1 (beta curve after Calonnec et al. 2008)."""
    hours = (weather.time_utc + int(weather.offset_hours * 3600)) // 3600
    part = np.clip((weather.temp_degc - 5.0) / 28.0, 0.0, 1.0)
    low, high = 1.24, 0.27
    best = low / (low + high)
    response = (part / best) ** low * ((1.0 - part) / (1.0 - best)) ** high
    response = np.where(weather.temp_degc >= 35.0, -0.5, response)
    days = (hours // 24).reshape(-1, 24)[:, 0]
    return days.astype(np.int32) + dt.date(1970, 1, 1).toordinal(), response.reshape(-1, 24).mean(axis=1)


def fruit_window(day: int, bloom: dt.date) -> float:
    """How readily clusters take mildew, 0..1: fully to two weeks after bloom, hardly from four weeks (Ficke et al. 2003)."""
    after = day - bloom.toordinal()
    return float(np.interp(after, (14, 21, 28, 42, 60), (1.0, 0.65, 0.28, 0.06, 0.01)))


def _growth(plan: EstatePlan, block: BlockPlan, vines: Vines, rng: np.random.Generator) -> Floats:
    """Growth of each vine (n,) against an average one: variety, vigour, shade of trees, sheltered patches, and luck."""
    lines = shapely.union_all([shapely.LineString(line) for line in plan.trees])
    to_trees = shapely.distance(shapely.points(vines.x_m, vines.y_m), lines)
    shelter = smooth_field(rng, vines.x_m, vines.y_m, 70.0, 190.0)
    vigour = block.vigour - 0.5 + 0.15 * smooth_field(rng, vines.x_m, vines.y_m, 80.0, 250.0)
    own = 0.07 * draw_normal(rng, len(vines))
    susceptible = np.array([SUSCEPTIBLE.get(name, 1.0) for name, _ in block.varieties])[vines.variety]
    young = np.where(vines.status == REPLANT, 0.8, 1.0)
    return (
        block.luck * susceptible * young * np.exp(0.24 * shelter + 0.5 * vigour + 0.45 * np.exp(-to_trees / 14.0) + own - 0.1)
    )


def _start(block: BlockPlan, vines: Vines, growth: Floats, rng: np.random.Generator) -> Floats:
    """Incidence (n,) when the epidemic starts: patches where mildew wintered, likely in shelter, and a little anywhere."""
    incidence = 0.04 * block.inoculum * np.exp(0.4 * draw_normal(rng, len(vines)))
    likely = np.cumsum(growth**2)
    for _ in range(block.foci):
        centre = int(np.searchsorted(likely, rng.random() * likely[-1]))
        away = np.hypot((vines.along_m - vines.along_m[centre]) / 15.0, (vines.across_m - vines.across_m[centre]) / 10.0)
        incidence += block.inoculum * (0.5 + rng.random()) * np.exp(-away)
    return incidence


def _neighbours(vines: Vines, living: Ints) -> tuple[Ints, Ints, Floats]:
    """Pairs of living vines (from, to) within three reaches of each other, and the share that goes over."""
    points = shapely.points(vines.along_m[living] / ALONG_M, vines.across_m[living] / ACROSS_M)
    pairs = shapely.STRtree(points).query(points, predicate="dwithin", distance=REACHES)
    pairs = pairs[:, pairs[0] != pairs[1]]
    pairs = pairs[:, np.lexsort(pairs)]  # the tree's own order may change; sums must not
    here, there = living[pairs[0]], living[pairs[1]]
    away = np.hypot(
        (vines.along_m[here] - vines.along_m[there]) / ALONG_M, (vines.across_m[here] - vines.across_m[there]) / ACROSS_M
    )
    # It falls to nothing at the edge, where rounding on another machine decides whether a vine is in or out.
    share = np.maximum(np.exp(-away) - np.exp(-REACHES), 0.0)
    full = float(np.bincount(there, share, len(vines)).max())
    return here, there, share / full


def _row_mask(block: Block, vines: Vines, rows: tuple[str, ...]) -> Bools:
    """True (n,) for vines in the rows named, or everywhere when none is."""
    chosen = np.array([not rows or label in rows for label in block.rows.labels])
    mask: Bools = chosen[vines.row]
    return mask


def _kept_from(block: Block, vines: Vines, passes: list[Pass], sprays: list[Spray], day: int) -> tuple[Floats, Floats]:
    """Shares (n,) left on a day: of growth, after opening and cover; of incidence, after cutting out."""
    opened, cover, left = np.zeros(len(vines)), np.zeros(len(vines)), np.ones(len(vines))
    for each in passes:
        mask = _row_mask(block, vines, each.rows)
        if each.date.toordinal() <= day:
            opened[mask] = np.maximum(opened[mask], OPENED.get(each.kind, 0.0))
        if each.date.toordinal() == day and each.kind == "C":
            left[mask] = 1.0 - CUT_OUT
    for spray in sprays:
        age = day - spray.start.toordinal()
        if age >= 0:
            lasting = COVER_DAYS.get(spray.materials[0], 18.0)
            mask = _row_mask(block, vines, spray.rows)
            cover[mask] = np.maximum(cover[mask], np.clip(1.3 - 1.3 * age / lasting, 0.0, 1.0))
    return (1.0 - opened) * (1.0 - SPRAY_EFFECT * cover), left


def run_epidemic(
    plan: EstatePlan,
    number: int,
    block: Block,
    vines: Vines,
    weather: Weather,
    work: tuple[list[Pass], list[Spray]],
) -> Floats:
    """Incidence (rounds, vines) at the rounds of the estate, in thousandths; 0 where no vine lives."""
    rng = dice_for(plan.seed, 3, number)
    block_plan = plan.blocks[number]
    growth = GROWTH_PER_DAY * _growth(plan, block_plan, vines, rng)
    living = np.flatnonzero(vines.is_living).astype(np.int32)
    incidence = np.where(vines.is_living, _start(block_plan, vines, growth, rng), 0.0)
    here, there, share = _neighbours(vines, living)
    bloom = dict(plan.late_bloom).get(block.name, plan.bloom)
    wanted = [date.toordinal() for date, _ in plan.rounds]
    passes = [each for each in work[0] if each.block == block.name]
    sprays = [each for each in work[1] if each.block == block.name]
    found = np.empty((len(wanted), len(vines)))
    for day, warmth in zip(*warmth_by_day(weather), strict=True):
        if day in wanted:
            found[wanted.index(int(day))] = incidence
        if day < plan.budbreak.toordinal() + 20:
            continue
        kept, left = _kept_from(block, vines, passes, sprays, int(day))
        arriving = np.bincount(there, share * incidence[here], len(vines))
        pressing = (1.0 - SPREAD) * incidence + SPREAD * arriving
        rate = growth * max(float(warmth), 0.0) * kept * fruit_window(int(day), bloom)
        incidence = np.minimum(incidence + rate * pressing * (1.0 - incidence), 0.98) * left
        incidence[~vines.is_living] = 0.0
    return np.round(found, 3)
