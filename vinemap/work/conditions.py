"""What the season brings to each row of a block, from a date to the day when the fruit resists or is picked."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np

from vinemap.canopy.choose import FaceChoice
from vinemap.canopy.openness import growth_factor, regrowth
from vinemap.columns import Floats, Ints, nothing
from vinemap.ground.block import Block, Vines
from vinemap.vineclock.cover import cover_left
from vinemap.vineclock.stage import BUDBREAK_DAYS, VERAISON_DAYS, fruit_window, opening_helps
from vinemap.work.assumptions import Assumptions
from vinemap.work.diary import OPENINGS, Pass, Spray
from vinemap.work.epidemic import Growth
from vinemap.work.gains import Drivers
from vinemap.work.leaves import NO_WARMTH, Look, RowLeaves, Warmth, row_leaves
from vinemap.work.materials import cover_days, material_named, preharvest_days, reentry_hours
from vinemap.work.spans import Spans
from vinemap.work.sunburn import burn_share, is_too_hot
from vinemap.work.varieties import take_of

NEW_MATERIAL = "sulfur"
"""What a targeted spray is taken to be until the manager says otherwise."""

LONGEST_DAYS = 90
NO_BLOOM_DAYS = 28
CONTACT_FRAC = ("M02", "NC", "BM02")


@dataclass(frozen=True, slots=True)
class Stage:
    """Bloom, colour and harvest of a block, with whether bloom and harvest were seen or stand in for what was not entered.

    ``closes``: the day of 8 Brix by measurement, from when fruit takes no new infection; None where colour stands in for it;
    ``bloom_source``: what an estimated bloom was estimated from.
    """

    bloom: dt.date | None
    is_bloom_estimated: bool
    harvest: dt.date
    is_harvest_assumed: bool
    veraison: dt.date | None = None
    closes: dt.date | None = None
    budbreak: dt.date | None = None
    bloom_source: str = "from warmth"

    def veraison_days(self, resists_days: float) -> float:
        """Days from bloom to 8 Brix, else to colour, else as usual; never before the berries resist."""
        closes = self.closes or self.veraison
        if self.bloom is None or closes is None:
            return max(VERAISON_DAYS, resists_days + 1.0)
        return max(float((closes - self.bloom).days), resists_days + 1.0)

    def budbreak_days(self) -> float:
        """Days from bloom to budbreak, negative: as entered or seen, else as usual."""
        if self.bloom is None or self.budbreak is None or self.budbreak >= self.bloom:
            return BUDBREAK_DAYS
        return float((self.budbreak - self.bloom).days)


@dataclass(frozen=True, slots=True)
class PressureNow:
    """Pressure on a date: index 0..100 with its range, class 0..2; ``source`` says where it comes from."""

    index: int
    low: int
    high: int
    code: int
    source: str


@dataclass(frozen=True, slots=True, eq=False)
class RowFaces:
    """Faces of a block's rows: ``choices`` and, for each row (rows,), the index of its own; growth factor (rows,).

    ``of_span``, ``span_growth``: (spans,) the same where tall edges make a difference within a row; else empty.
    """

    choices: tuple[FaceChoice, ...]
    of_row: Ints
    growth: Floats
    of_span: Ints = field(default_factory=nothing)
    span_growth: Floats = field(default_factory=nothing)

    def choice(self, row: int) -> FaceChoice:
        """The choice of one row."""
        return self.choices[int(self.of_row[row])]

    def growth_at(self, row: Ints) -> Floats:
        """Growth factor (spans,) of spans, each in its row (spans,)."""
        return self.span_growth if len(self.span_growth) else np.asarray(self.growth[row], np.float64)

    def hot_sun_kwh_m2(self, row: Ints) -> tuple[Floats, Floats]:
        """Hot sun until harvest (spans,) [kWh/m2] on the face opened first and on the hottest, of spans in these rows."""
        if not self.choices:
            return np.zeros(len(row)), np.zeros(len(row))
        of_span = self.of_span if len(self.of_span) else self.of_row[row]
        hot = np.array([(choice.hot_first, choice.hot_other) for choice in self.choices])[of_span]
        return hot[:, 0], hot[:, 1]


@dataclass(frozen=True, slots=True, eq=False)
class BlockDay:
    """What stands behind the figures of a block on a date; columns are (rows,).

    ``window``: fruit window today; ``horizon``: the day the sum ends; ``timing``: what opening still does, 0..1, and
    ``timing_trials`` what it does by trials alone; ``heat_degc``: the highest temperature that is forecast, NaN without one;
    ``days_since_pass``, ``days_since_spray``: NaN where none was made; ``cover``: left today, 0..1; ``leaves``: how closed;
    ``growth``: sun and wind on the row; ``variety``: (spans,) growth by variety.
    """

    date: dt.date
    stage: Stage
    pressure: PressureNow
    window: float
    horizon: dt.date
    timing: float
    timing_trials: float
    heat_degc: float
    days_since_pass: Floats
    days_since_spray: Floats
    cover: Floats
    leaves: RowLeaves
    growth: Floats
    variety: Floats
    drivers: Drivers


def rows_worked(block: Block, rows: tuple[str, ...]) -> np.ndarray:
    """Which rows (rows,) a diary entry means: all where it names none."""
    if not rows:
        return np.ones(len(block.rows), bool)
    return np.isin(np.array(block.rows.labels, dtype=object), list(rows))


def days_since_pass(block: Block, passes: tuple[Pass, ...], date: dt.date) -> Floats:
    """Days (rows,) since the last opening before or on a date; NaN where none was made."""
    days = np.full(len(block.rows), np.nan)
    for done in sorted((each for each in passes if each.block == block.name), key=lambda each: each.date):
        if done.date <= date and done.kind in OPENINGS:
            days[rows_worked(block, done.rows)] = (date - done.date).days
    return days


def last_sprays(block: Block, sprays: tuple[Spray, ...], date: dt.date) -> list[Spray | None]:
    """The last spray (rows,) that was finished on a row before or on a date."""
    last: list[Spray | None] = [None] * len(block.rows)
    for made in sorted((each for each in sprays if each.block == block.name), key=lambda each: each.end):
        if made.end.date() <= date:
            for row in np.flatnonzero(rows_worked(block, made.rows)):
                last[row] = made
    return last


def closed_on(block: str, sprays: tuple[Spray, ...], date: dt.date) -> tuple[dt.datetime, dt.datetime] | None:
    """From when until when nobody may be in a block, for sprays that keep it closed on a date; None when it is open.

    The longest re-entry time of all that was mixed counts from the end of the spray (common practice). The label rules.
    """
    day = dt.datetime.combine(date, dt.time())
    closed = [
        (made.start, end)
        for made in sprays
        if made.block == block
        and made.start.date() <= date
        and (end := made.end + dt.timedelta(hours=reentry_hours(made.materials))) > day
    ]
    return (min(start for start, _ in closed), max(end for _, end in closed)) if closed else None


def _is_contact(spray: Spray) -> bool:
    return all(material_named(name).frac in CONTACT_FRAC for name in spray.materials)


def _cover_path(last: list[Spray | None], date: dt.date, days: int, code: int, rain_since: dict[dt.date, float]) -> Floats:
    """Cover left (days, rows) from the last sprays; rain to come is not known and taken as none."""
    path = np.zeros((days, len(last)))
    ahead = np.arange(days)
    for spray in {each for each in last if each is not None}:
        rows = [row for row, each in enumerate(last) if each == spray]
        made = spray.end.date()
        rain = rain_since.get(made, 0.0)
        left = cover_left((date - made).days + ahead, cover_days(spray.materials, code), rain, _is_contact(spray))
        path[:, rows] = np.asarray(left).reshape(-1, 1)
    return path


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """A block with its vines, spans and the faces of its rows."""

    block: Block
    vines: Vines
    spans: Spans
    faces: RowFaces


@dataclass(frozen=True, slots=True)
class Outlook:
    """A date, the block's stage, the pressure then, and the rain [mm] from each spray's date until then; warmth of its days,
    and what was seen through the block's rows.

    ``late_effect``: what is left of the effect of opening however late, 0..1: none by trials; ``heat_degc``: the highest
    temperature that is forecast, NaN without a forecast.
    """

    date: dt.date
    stage: Stage
    pressure: PressureNow
    rain_since_mm: dict[dt.date, float]
    warmth: Warmth = NO_WARMTH
    looks: tuple[Look, ...] = ()
    late_effect: float = 0.0
    heat_degc: float = float("nan")


def block_day(
    site: Site, outlook: Outlook, passes: tuple[Pass, ...], sprays: tuple[Spray, ...], assumptions: Assumptions
) -> BlockDay:
    """Gather what drives mildew in a block from a date on.

    No forecast is used: pressure stays as it is today. Without a date of bloom the fruit is taken as open for four weeks.
    """
    block, spans, faces = site.block, site.spans, site.faces
    date, stage, pressure = outlook.date, outlook.stage, outlook.pressure
    since_bloom = float((date - stage.bloom).days) if stage.bloom else np.nan
    colour_days = stage.veraison_days(assumptions.fruit_resists_days)
    days = _days_ahead(date, stage, colour_days)
    if stage.bloom is None:
        window, by_trials = np.ones(days), 1.0
    else:
        window = fruit_window(
            since_bloom + np.arange(days), assumptions.fruit_resists_days, colour_days, stage.budbreak_days()
        )
        by_trials = float(opening_helps(since_bloom))
    passed = days_since_pass(block, passes, date)
    last = last_sprays(block, sprays, date)
    cover = _cover_path(last, date, max(days, 1), pressure.code, outlook.rain_since_mm)
    leaves = row_leaves(block, passed, outlook.looks, date, outlook.warmth, assumptions.closing_degree_days)
    grown = regrowth(outlook.warmth.a_day(date) * np.arange(days), block.vigour, assumptions.closing_degree_days)
    opened, new_open = _openness_paths(leaves, passed, since_bloom, grown, outlook.late_effect)
    variety = span_variety(block, site.vines, spans)
    row = spans.row
    bare = (1.0 - assumptions.spray_effect * cover[:days, row]) * (1.0 - assumptions.opening_effect * opened[:, row])
    take = bare * variety * faces.growth_at(row)
    drivers = Drivers(
        growth=Growth(assumptions.growth_per_day * pressure.index / 100.0 * window, take, assumptions.spread_share),
        opened=opened[:, row],
        new_open=new_open,
        cover=cover[:days, row],
        new_cover=np.asarray(cover_left(np.arange(days), cover_days((NEW_MATERIAL,), pressure.code), 0.0, True)).reshape(-1),
        burn=_burn(faces, outlook, colour_days, assumptions, row),
        closed=leaves.closed[row],
        is_too_hot=is_too_hot(outlook.heat_degc, assumptions),
        spray_stop=_spray_stop(date, stage.harvest, assumptions.last_spray_days),
    )
    return BlockDay(
        date=date,
        stage=stage,
        pressure=pressure,
        window=float(window[0]) if days else 0.0,
        horizon=date + dt.timedelta(days=days),
        timing=max(by_trials, outlook.late_effect),
        timing_trials=by_trials,
        heat_degc=outlook.heat_degc,
        days_since_pass=passed,
        days_since_spray=np.array([np.nan if each is None else (date - each.end.date()).days for each in last]),
        cover=cover[0],
        leaves=leaves,
        growth=faces.growth,
        variety=variety,
        drivers=drivers,
    )


def _burn(
    faces: RowFaces, outlook: Outlook, colour_days: float, assumptions: Assumptions, row: Ints
) -> tuple[Floats, Floats]:
    """Share (spans,) of clusters laid bare that burn, on the face opened first and on the other one."""
    since_bloom = float((outlook.date - outlook.stage.bloom).days) if outlook.stage.bloom else np.nan
    first, other = (
        burn_share(hot, since_bloom, colour_days, outlook.heat_degc, assumptions) for hot in faces.hot_sun_kwh_m2(row)
    )
    return first, other


def _openness_paths(
    leaves: RowLeaves, passed: Floats, since_bloom: float, grown: Floats, late_effect: float
) -> tuple[Floats, Floats]:
    """What is still open (days, rows) and what an opening made today would do (days,), 0..1; ``grown`` (days,): regrowth.

    Each has the effect of its own stage: of the day of the last opening, or of the day when a row was seen to be open.
    """
    helps = opening_helps(since_bloom - np.where(np.isnan(passed), leaves.days, passed))
    then = np.maximum(np.nan_to_num(helps, nan=1.0), late_effect)
    opened = np.maximum(1.0 - leaves.closed[None, :] - grown[:, None], 0.0) * then
    now = 1.0 if np.isnan(since_bloom) else max(float(opening_helps(since_bloom)), late_effect)
    return opened, (1.0 - grown) * now


def _days_ahead(date: dt.date, stage: Stage, colour_days: float) -> int:
    """Days from a date until nothing new can infect the fruit, or it is picked."""
    until_harvest = max((stage.harvest - date).days, 0)
    if stage.bloom is None:
        return min(NO_BLOOM_DAYS, until_harvest)
    until_colour = max((stage.bloom - date).days + round(colour_days), 0)
    return min(until_harvest, until_colour, LONGEST_DAYS)


def _spray_stop(date: dt.date, harvest: dt.date, last_spray_days: float) -> str:
    """Why no spray may be made: too near to harvest for the label's interval or for the buyer's."""
    wait = max(preharvest_days((NEW_MATERIAL,)), round(last_spray_days))
    left = (harvest - date).days
    if left < 0:
        return "the fruit is picked"
    if left < wait:
        return f"harvest is in {left} days, and the last spray is to be {wait} days before it"
    return ""


def span_variety(block: Block, vines: Vines, spans: Spans) -> Floats:
    """Growth (spans,) by variety: mean over the living vines of each span."""
    take = np.array([take_of(name) for name in block.varieties])[vines.variety]
    living = vines.is_living
    total = np.bincount(spans.of_vine, take * living, len(spans))
    mean: Floats = total / np.maximum(np.bincount(spans.of_vine, living, len(spans)), 1)
    return mean


def row_growth(sunny: Floats, along: Floats) -> Floats:
    """Growth factor (rows,) from the sun on each row, 0.5 usual, and the share of drying wind that blows along it."""
    return growth_factor(sunny, along)
