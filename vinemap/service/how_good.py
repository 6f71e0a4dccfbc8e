"""How good the map of a block is: what it said of stops it had not seen, how far alike vines are, where to look next."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import expit

from vinemap.columns import Floats
from vinemap.ground.block import Block
from vinemap.scouting.incidence import clustered_share, wilson
from vinemap.scouting.rounds import Round
from vinemap.season.value import Season
from vinemap.service.answers import BlockRead
from vinemap.service.ledger import Column, Fact, Line, Page, percent
from vinemap.service.papers import sheet_code
from vinemap.service.report import counted
from vinemap.service.threads import one_thread
from vinemap.sheets.how_good_sheet import HowGoodPlan, Place, SaidFound
from vinemap.sheets.read_ledger import chance_words
from vinemap.surface.calibration import Group, Inside, groups_of, inside_ranges
from vinemap.surface.choose import LEAST_STOPS, WORDS, Score
from vinemap.surface.field import Field, Recipe
from vinemap.surface.next_stop import NextStop, next_stops
from vinemap.surface.options import BINOMIAL, BLOCK
from vinemap.vineclock.stage import date_words

TITLE = "How good is this map?"
FIRST_STOP = "Any first stop tells much, wherever it is. Step Walk plans them."
MIDDLE_LOW_HIGH = np.array([0.0, -1.6448536269514722, 1.6448536269514722])
"""The middle and the 90 % interval of a standard normal."""


@dataclass(frozen=True, slots=True, eq=False)
class HowGood:
    """What can be said of a block's map: groups of left-out stops, how many fell inside their range, best next stops.

    ``why_no_plot``, ``why_no_stops``: a sentence where there is none.
    """

    said_found: tuple[SaidFound, ...]
    inside: Inside | None
    stops: tuple[NextStop, ...]
    why_no_plot: str
    why_no_stops: str


@lru_cache(maxsize=8)
def how_good(read: BlockRead) -> HowGood:
    """What can be said of a block's map; all in sentences where there is none."""
    field = read.field
    if field is None:
        return HowGood((), None, (), f"No stop to hold against the map. {read.why_not}", FIRST_STOP)
    with one_thread():
        stops = _next_stops(read, field)
    why_no_stops = "" if stops else _why_no_stops(field)
    told = field.foretold
    if told is None:
        return HowGood((), None, stops, "This way of mapping does not tell what it thinks of a stop left out.", why_no_stops)
    if len(field.counts) < LEAST_STOPS:
        few = f"{counted(len(field.counts), 'stop')} in this block: too few to hold against the map. It takes {LEAST_STOPS}."
        return HowGood((), None, stops, few, why_no_stops)
    said_found = tuple(_said_found(group) for group in groups_of(field.counts, told))
    return HowGood(said_found, inside_ranges(told), stops, "", why_no_stops)


def _said_found(group: Group) -> SaidFound:
    share = clustered_share(group.examined, group.infected)
    range_90 = wilson(share.share * share.effective, share.effective, 0.90)
    return SaidFound(group.said, share.share, range_90.low, range_90.high, share.stops)


def _next_stops(read: BlockRead, field: Field) -> tuple[NextStop, ...]:
    """The best next stops among the middle living vines of all spans, for a stop of the usual size."""
    living = np.flatnonzero(read.vines.is_living)
    of_span = read.spans.of_vine[living]
    first = np.flatnonzero(np.diff(of_span, prepend=-1))
    middle = living[(first + np.append(first[1:], len(living)) - 1) // 2] if len(living) else living
    at_m = np.column_stack([read.vines.x_m, read.vines.y_m])
    usual = float(np.median(field.counts.examined))
    return next_stops(field, at_m, middle.astype(np.int32), read.vines.is_living, usual)


def _why_no_stops(field: Field) -> str:
    if not any(part.curve.structured_sill > 0.0 for part in field.doubt.parts) or field.recipe.method == BLOCK:
        return "No pattern was found, so every vine not yet looked at tells as much as any other."
    if field.recipe.method == BINOMIAL and field.recipe.no_pattern_chance > 0.5:
        return "It is not even likely that there is a pattern: any vine not yet looked at tells as much as another."
    return "So many stops, or such a map, that no single place stands out."


def inside_words(inside: Inside) -> str:
    """How many left-out stops fell inside their range, and what to think of it."""
    found = round(inside.found)
    said = f"Of {inside.stops} stops left out, {found} fell inside their 90 % range"
    right = f"{inside.low} to {inside.high}"
    if found < inside.low:
        return f"{said}; it should be {right}. The ranges of this map are too narrow."
    if found > inside.high:
        return f"{said}; {right} would do. The ranges of this map are wider than need be."
    return f"{said}; {right} is as it should be."


def stop_words(stop: NextStop, read: BlockRead) -> str:
    """One place to look next: "row 12, vine 34 would take 4 % off the doubt"."""
    label = read.block.rows.labels[int(read.vines.row[stop.vine])]
    ordinal = int(read.vines.ordinal[stop.vine])
    return f"row {label}, vine {ordinal} would take {percent(stop.gain_frac)} off the doubt"


def how_good_page(read: BlockRead, scouted: Round) -> Page:
    """The ledger's page: how the ways of mapping compare, and what was learned of the pattern."""
    subtitle = f"{read.block.name}, round {scouted.number}, {date_words(scouted.date)}"
    if read.field is None:
        return Page(TITLE, subtitle, note=f"Not known: there is no map of this block in this round. {read.why_not}")
    recipe = read.field.recipe
    return Page(
        TITLE,
        subtitle,
        facts=_pattern_facts(recipe, read.block),
        columns=(Column("Way to map", 10.6), Column("Times", 4.0, True), Column("Between", 7.0, True))
        if recipe.scores
        else (),
        lines=tuple(_score_line(score, recipe.method, read.block.name) for score in recipe.scores),
        note=_choice_words(recipe),
    )


def _pattern_facts(recipe: Recipe, block: Block) -> tuple[Fact, ...]:
    """How far alike vines are, in metres and in vines and rows, and how much of their differences neighbours share."""
    if recipe.method == BLOCK or not recipe.learned[0]:
        return (Fact("pattern", "none found" if recipe.method == BLOCK else "not told by this way"),)
    (_, share, _, _), (_, share_sd, _, _) = recipe.learned
    shared = 100.0 * expit(share + share_sd * MIDDLE_LOW_HIGH)
    (along, vine_m), (across, row_m) = _ranges_m(recipe, block)
    return (
        Fact("no pattern at all", chance_words(recipe.no_pattern_chance)),
        Fact("differences that neighbours share", f"{shared[0]:.0f} %, {_range_words(shared)}"),
        Fact("alike along the row", f"{_range_words(along)} m, {_range_words(along / vine_m)} vines"),
        Fact("alike across the rows", f"{_range_words(across)} m, {_range_words(across / row_m)} rows"),
    )


def _ranges_m(recipe: Recipe, block: Block) -> tuple[tuple[Floats, float], tuple[Floats, float]]:
    """How far alike vines are along and across, middle, low and high (3,) [m], each with its spacing [m].

    The doubts of range and ratio are added as if they were apart, which errs on the wide side.
    """
    (_, _, log_range, log_ratio), (_, _, range_sd, ratio_sd) = recipe.learned
    along: Floats = np.exp(log_range + range_sd * MIDDLE_LOW_HIGH)
    across: Floats = np.exp(log_range + log_ratio + np.hypot(range_sd, ratio_sd) * MIDDLE_LOW_HIGH)
    return (along, float(np.median(block.rows.vine_spacing_m))), (across, block.row_spacing_m)


def _range_words(figures: Floats) -> str:
    return f"{figures[1]:,.0f} to {figures[2]:,.0f}"


def _best_guess(recipe: Recipe, block: Block) -> str:
    (along, vine_m), (across, row_m) = _ranges_m(recipe, block)
    return (
        f"Best guess: vines are alike up to {along[0]:,.0f} m ({along[0] / vine_m:,.0f} vines) along the row and "
        f"{across[0]:,.0f} m ({across[0] / row_m:,.0f} rows) across."
    )


def _score_line(score: Score, method: str, block: str) -> Line:
    is_chosen = score.method == method
    times = np.exp(score.gain + score.gain_se * MIDDLE_LOW_HIGH)
    between = "" if score.method == BLOCK else f"{times[1]:.2f} to {times[2]:.2f}"
    return Line(block, -1, (WORDS[score.method], f"{times[0]:.2f}", between), is_soft=not is_chosen)


def _choice_words(recipe: Recipe) -> str:
    """Which way was chosen and why; the figures of the others stand in the table."""
    if not recipe.scores:
        return " ".join((*recipe.notes[:1], "So the ways to map were not scored."))
    first = recipe.notes[0]
    return f"{first.partition(' (')[0].removesuffix('.')}."


def _sentences(recipe: Recipe, block: Block) -> list[str]:
    """How far alike vines are, which columns helped, whom the pattern leans on."""
    said = [_best_guess(recipe, block)] if recipe.method != BLOCK and recipe.learned[0] else []
    helped = [f"{each.name} (times {np.exp(each.gain):.2f})" for each in recipe.tried if each.is_used]
    others = [each.name for each in recipe.tried if not each.is_used]
    if helped:
        said.append(f"Columns that helped and are used: {', '.join(helped)}.")
    if others:
        said.append(f"Tried, but of no help: {', '.join(others)}.")
    if recipe.habit.source:
        said.append(f"With so few stops the pattern leans on {recipe.habit.source}.")
    return said


def how_good_plan(read: BlockRead, scouted: Round, season: Season, printed: dt.datetime) -> HowGoodPlan:
    """All that the sheet shows, on the screen and on paper."""
    good = how_good(read)
    recipe = read.field.recipe if read.field is not None else None
    below_plot = [inside_words(good.inside)] if good.inside is not None else []
    below_map = [f"{number}: {stop_words(stop, read)}" for number, stop in enumerate(good.stops, start=1)]
    below_map += [good.why_no_stops] if good.why_no_stops else []
    below_map += _sentences(recipe, read.block) if recipe is not None else []
    return HowGoodPlan(
        block=read.block,
        stops=read.stops,
        said_found=good.said_found,
        below_plot=tuple(below_plot),
        why_no_plot=good.why_no_plot,
        places=tuple(Place(float(read.vines.x_m[stop.vine]), float(read.vines.y_m[stop.vine])) for stop in good.stops),
        below_map=tuple(below_map),
        estate=season.estate.name,
        round_words=f"round {scouted.number} of {date_words(scouted.date)}",
        code=sheet_code(season, read.block.name, scouted.date),
        printed=printed,
        is_invented=season.estate.is_invented,
    )
