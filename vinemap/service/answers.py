"""Answers about a season, each computed once: the field of a round, and the rows in order."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar, cast

import numpy as np

from vinemap.errors import Tick, TooFewData, no_tick
from vinemap.ground.block import Block, Vines
from vinemap.ground.covariates import Covariate
from vinemap.ground.vines import place_vines, usual_bearing_deg
from vinemap.scouting.incidence import Share, block_share
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.rules import PRACTICE
from vinemap.season.value import Season
from vinemap.service.helps import drifts_of
from vinemap.service.leaning import habit_for, has_few_stops, round_before
from vinemap.service.row_faces import Stand, estate_faces
from vinemap.service.stage_facts import stage_of
from vinemap.service.threads import WORKERS, one_thread
from vinemap.service.weather_facts import (
    WeatherFacts,
    pressure_on,
    rain_since,
    weather_facts,
)
from vinemap.surface.field import AUTO, BINOMIAL, FIRST_LOOK, Field, FieldOptions, field_at
from vinemap.surface.pattern import WEAK, Habit
from vinemap.surface.spans import GroupDraws, GroupIncidence, draw_groups, incidence_of, merged
from vinemap.vineclock.heat import hottest_ahead_degc
from vinemap.work.conditions import BlockDay, Outlook, RowFaces, Site, block_day
from vinemap.work.gains import Shares, gains, only_where
from vinemap.work.leaves import looks_of, warmth_of
from vinemap.work.ranking import OPEN, SPRAY, BlockGain, RowWork, ranked
from vinemap.work.spans import Spans, spans_of
from vinemap.work.sunburn import HEAT_DAYS

KEPT = 512
MOST_NOT_KNOWN = 0.5
"""Spans of which more than this is not known get no work, only another look."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True, eq=False)
class BlockRead:
    """A block read in a round: its vines, spans, stops and share; field and incidence by span and row, or why not.

    ``draws``, ``row_draws``: incidence of spans and of rows in draws of the whole field, for any other threshold or run.
    """

    block: Block
    vines: Vines
    spans: Spans
    stops: Stops
    share: Share | None
    field: Field | None
    by_span: GroupIncidence | None
    by_row: GroupIncidence | None
    draws: GroupDraws | None = None
    row_draws: GroupDraws | None = None
    why_not: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Ranking:
    """Rows in order on the date of a round, for opening and for a targeted spray, and what stands behind them.

    ``found``: by kind of work and block, incidence of the run in each row (rows,); ``parts``: the gain of every span.
    """

    date: dt.date
    opening: tuple[RowWork, ...]
    spraying: tuple[RowWork, ...]
    reads: dict[str, BlockRead]
    days: dict[str, BlockDay]
    faces: dict[str, RowFaces]
    found: dict[tuple[str, str], GroupIncidence]
    parts: tuple[BlockGain, ...]


NO_ROWS_YET = "It has no rows yet: make them on step Ground, or bring them in."


class Answers:
    """Keeps what was computed, by the very parts it was computed from; safe to ask from a job and from the window."""

    def __init__(self) -> None:
        self._lock = threading.RLock()
        self._kept: dict[tuple[Any, ...], Any] = {}

    def _once(self, key: tuple[Any, ...], make: Callable[[], T]) -> T:
        with self._lock:
            if key in self._kept:
                return cast(T, self._kept[key])
        made = make()
        with self._lock:
            # whoever was first gives the answer to all: later questions know it by its identity
            made = self._kept.setdefault(key, made)
            while len(self._kept) > KEPT:
                self._kept.pop(next(iter(self._kept)))
        return made

    def vines(self, block: Block) -> Vines:
        """Every vine place of a block."""
        return self._once(("vines", block), lambda: place_vines(block))

    def facts(self, season: Season) -> WeatherFacts:
        """What the weather says."""
        key = ("facts", season.all_stations, season.stages, season.estate, season.blocks, season.rounds, season.rules)
        return self._once(key, lambda: weather_facts(season, self._once))

    def has_reads(self, season: Season, scouted: Round, options: FieldOptions | None = None) -> bool:
        """Whether the fields of all blocks in that round are at hand."""
        options = options or whole_options(season)
        return all(_read_key(season, block, scouted, options) in self._kept for block in season.blocks)

    def reads(
        self, season: Season, scouted: Round, tick: Tick = no_tick, options: FieldOptions | None = None
    ) -> dict[str, BlockRead]:
        """The fields of all blocks in a round; a block with few stops leans on what the others have learned."""
        options = options or whole_options(season)
        made: dict[str, BlockRead] = {}
        few = {block.name for block in season.blocks if has_few_stops(scouted, block)}
        blocks = sorted(season.blocks, key=lambda block: block.name in few)
        for index, block in enumerate(blocks):
            ticked = _part(tick, index / len(blocks), 1 / len(blocks))
            # a first look teaches nothing, and does not wait to learn
            leans = block.name in few and options.method != FIRST_LOOK
            habit = self._habit(season, block, scouted, made) if leans else WEAK
            made[block.name] = self._read(season, block, scouted, replace(options, habit=habit), ticked)
        return {block.name: made[block.name] for block in season.blocks}

    def _read(self, season: Season, block: Block, scouted: Round, options: FieldOptions, tick: Tick) -> BlockRead:
        def make() -> BlockRead:
            with one_thread():
                return read_block(block, self.vines(block), scouted, options, season.covariates, tick)

        return self._once(_read_key(season, block, scouted, options), make)

    def _habit(self, season: Season, block: Block, scouted: Round, others: dict[str, BlockRead]) -> Habit:
        before = round_before(season, scouted)

        def make() -> Habit:
            with one_thread():
                return habit_for(block, before, others)

        return self._once(("habit", block, scouted, before, tuple(others.values())), make)

    def has_ranking(self, season: Season, scouted: Round) -> bool:
        """Whether the rows are already in order for that round."""
        return _ranking_key(season, scouted) in self._kept

    def ranking(self, season: Season, scouted: Round, tick: Tick = no_tick) -> Ranking:
        """The rows in order, on the date of a round."""

        def make() -> Ranking:
            reads = self.reads(season, scouted, _part(tick, 0.0, 0.7))
            return rank_rows(season, scouted, reads, self.facts(season), _part(tick, 0.7, 0.3))

        return self._once(_ranking_key(season, scouted), make)


def whole_options(season: Season) -> FieldOptions:
    """How the window makes its maps."""
    return FieldOptions(AUTO, season.assumptions.threshold, threads=WORKERS)


def first_options(season: Season) -> FieldOptions:
    """How the window makes the picture that stands until the map is there."""
    return replace(whole_options(season), method=FIRST_LOOK)


def _read_key(season: Season, block: Block, scouted: Round, options: FieldOptions) -> tuple[Any, ...]:
    # the habit follows from the rest; the round before counts only where a habit is asked for
    before = round_before(season, scouted) if has_few_stops(scouted, block) else None
    asked = (options.method, options.threshold, options.power, options.neighbours)
    return ("read", block, scouted, season.covariates, before, *asked)


def _ranking_key(season: Season, scouted: Round) -> tuple[Any, ...]:
    # every part of the season but its other rounds: place and standard time, too, move the sun on each face
    parts = (
        season.blocks,
        season.covariates,
        season.passes,
        season.sprays,
        season.stages,
        season.weather,
        season.stations,
        season.edges,
        season.rules,
        season.assumptions,
        season.rods,
        # and of the others what was seen through the vines
        tuple(each for each in season.rounds if each.stops.light.any()),
    )
    return ("ranking", scouted, season.estate, *parts)


def _part(tick: Tick, start: float, share: float) -> Tick:
    return lambda fraction: tick(start + share * fraction)


def read_block(
    block: Block,
    vines: Vines,
    scouted: Round,
    options: FieldOptions,
    covariates: Sequence[Covariate] = (),
    tick: Tick = no_tick,
) -> BlockRead:
    """The field of one block in one round; without stops there, a reason instead."""
    spans = spans_of(vines, block.rows.vine_spacing_m)
    stops = scouted.stops.of_block(block.name)
    if not len(block.rows):
        return BlockRead(block, vines, spans, stops, None, None, None, None, why_not=NO_ROWS_YET)
    options = replace(options, bearing_deg=usual_bearing_deg(block.rows))
    at_m = np.column_stack([vines.x_m, vines.y_m])
    try:
        share = block_share(stops.examined, stops.infected, stops.is_targeted)
        stops_m = np.column_stack([stops.x_m, stops.y_m])
        field = field_at(
            stops_m,
            stops.examined.astype(np.float64),
            stops.infected.astype(np.float64),
            at_m,
            options,
            drifts_of(block, vines, stops_m, covariates) if options.method in (AUTO, BINOMIAL) and len(stops) else (),
            tick,
        )
    except TooFewData as error:
        return BlockRead(block, vines, spans, stops, None, None, None, None, why_not=error.what)
    draws = draw_groups(field, at_m, spans.of_vine, vines.is_living.astype(np.float64))
    row_draws = merged(draws, spans.row)
    return BlockRead(
        block,
        vines,
        spans,
        stops,
        share,
        field,
        incidence_of(draws, options.threshold),
        incidence_of(row_draws, options.threshold),
        draws,
        row_draws,
    )


def rank_rows(
    season: Season, scouted: Round, reads: dict[str, BlockRead], facts: WeatherFacts, tick: Tick = no_tick
) -> Ranking:
    """Rows in order of what an hour saves, from the fields of a round and what the season brings."""
    assumptions, date = season.assumptions, scouted.date
    spray_dates = {spray.end.date() for spray in season.sprays if spray.end.date() <= date}
    opening: list[BlockGain] = []
    spraying: list[BlockGain] = []
    days: dict[str, BlockDay] = {}
    read_blocks = {name: read for name, read in reads.items() if read.by_span is not None}
    weathers = {name: facts.of(name) for name in read_blocks}
    rain = {each: rain_since(each, spray_dates, date) for each in set(weathers.values())}
    stages = {name: stage_of(season, name, weathers[name].days, date) for name in read_blocks}
    stands = [
        Stand(each.block, each.vines, each.spans, stages[name].harvest, weathers[name].rose)
        for name, each in read_blocks.items()
    ]
    faces = estate_faces(season, stands, date)
    row_hours = assumptions.sprayer_row_minutes / 60.0
    for number, (name, read) in enumerate(read_blocks.items()):
        assert read.by_span is not None
        days[name] = block_day(
            Site(read.block, read.vines, read.spans, faces[name]),
            Outlook(
                date,
                stages[name],
                pressure_on(weathers[name], date),
                rain[weathers[name]],
                warmth_of(weathers[name].days),
                looks_of(read.block, season.rounds, season.rods, date),
                assumptions.late_opening_effect if season.goes_by.late_opening == PRACTICE else 0.0,
                hottest_ahead_degc(season.weather_of(name), date, HEAT_DAYS),
            ),
            season.passes,
            season.sprays,
            assumptions,
        )
        # a span without a living vine has no incidence, and no clusters to save
        shares = Shares(*(np.nan_to_num(each) for each in (read.by_span.mean, read.by_span.low, read.by_span.high)))
        opened, sprayed = gains(read.spans, shares, days[name].drivers, assumptions)
        # nobody is sent to work where nothing is known: there one looks first
        known = np.nan_to_num(read.by_span.not_known_frac, nan=1.0) <= MOST_NOT_KNOWN
        labels = read.block.rows.labels
        opening.append(BlockGain(name, labels, read.spans, only_where(opened, known), OPEN))
        spraying.append(BlockGain(name, labels, read.spans, only_where(sprayed, known), SPRAY, row_hours))
        tick((number + 1) / len(read_blocks))
    least = assumptions.least_kg_per_hour / assumptions.kg_per_cluster
    opened_rows = ranked(tuple(opening), assumptions.crew_hours, least)
    sprayed_rows = ranked(tuple(spraying), assumptions.sprayer_hours, least)
    found = {
        (works[0].work, name): incidence_of_runs(reads[name], works)
        for rows in (opened_rows, sprayed_rows)
        for name in days
        if (works := [work for work in rows if work.block == name])
    }
    return Ranking(date, opened_rows, sprayed_rows, reads, days, faces, found, (*opening, *spraying))


def incidence_of_runs(read: BlockRead, works: Sequence[RowWork]) -> GroupIncidence:
    """Incidence of the run in each row (rows,) of a block, NaN in rows without work."""
    assert read.draws is not None
    assert read.field is not None
    spans = read.spans
    in_run = np.zeros(len(spans))
    for work in works:
        most = np.minimum(spans.last_vine, work.last_vine) - np.maximum(spans.first_vine, work.first_vine) + 1
        share = np.maximum(most, 0) / (spans.last_vine - spans.first_vine + 1)
        in_run += np.where(spans.row == work.row, share, 0.0)
    return incidence_of(merged(read.draws, spans.row, in_run), read.field.recipe.threshold)
