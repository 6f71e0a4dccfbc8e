"""The pages of the ledger, one for each step of the week."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

import numpy as np

from vinemap.columns import Floats
from vinemap.ground.block import Vines
from vinemap.ground.vines import usual_bearing_deg
from vinemap.scouting.rounds import Round
from vinemap.scouting.walk import Walk
from vinemap.season.value import Season
from vinemap.service.answers import NO_ROWS_YET, Answers, BlockRead, Ranking
from vinemap.service.ledger import Column, Fact, Line, Page, percent, percent_range, whole
from vinemap.service.report import counted
from vinemap.service.stage_facts import block_stage
from vinemap.service.weather_facts import WeatherFacts, days_until_seen
from vinemap.service.why import face_words, hours_words
from vinemap.sheets.read_ledger import chance_words
from vinemap.surface.field import NOT_KNOWN, UNSURE
from vinemap.surface.options import BLOCK
from vinemap.surface.spans import GroupIncidence, chance_among_worst, incidence_of
from vinemap.vineclock.stage import NO_INFECTION_BRIX, date_words, stage_words, sugar_words
from vinemap.work.conditions import closed_on
from vinemap.work.materials import CHECK_LABEL
from vinemap.work.ranking import OPEN, RowWork

WORST_ROWS = 5
FEW_STOPS = 6
"""Fewer stops than this in a block tell little about where in it the mildew is (a choice)."""

SOFT_INK = "Rows in soft ink do not fit into the hours of this week, or save too little."
CAUTION = "Label and local law come first. Built-in times are generic: check your label."


def compass_axis(bearing_deg: float) -> str:
    """Which way rows run, in words: "N–S", "NE–SW", "E–W" or "SE–NW"."""
    return ("N–S", "NE–SW", "E–W", "SE–NW")[int((bearing_deg + 22.5) % 180.0 // 45.0)]


def ground_page(season: Season, answers: Answers) -> Page:
    """Blocks of the estate: what is where."""
    lines, vines, area = [], 0, 0.0
    for block in season.blocks:
        places = answers.vines(block)
        living = int(places.is_living.sum())
        vines += living
        area += block.outline.area / 10_000
        bearing = usual_bearing_deg(block.rows)
        cells = (
            block.name,
            f"{block.outline.area / 10_000:.1f}",
            str(len(block.rows)),
            whole(living),
            f"{compass_axis(bearing)} {round(bearing) % 180}°" if len(block.rows) else "no rows yet",
        )
        lines.append(Line(block.name, -1, cells))
    return Page(
        title=season.estate.name,
        subtitle="invented demonstration data" if season.estate.is_invented else f"map projection {season.estate.frame.crs}",
        facts=(
            Fact("blocks", str(len(season.blocks))),
            Fact("area", f"{area:.1f} ha"),
            Fact("living vines", whole(vines)),
            Fact("scouting rounds", str(len(season.rounds))),
            Fact("passes and sprays in the diary", f"{len(season.passes)} and {len(season.sprays)}"),
            *(Fact(f"column {each.name}, {each.source}", counted(len(each), "vine")) for each in season.covariates),
            *(Fact(f"{each.name}, to shade and shelter", f"{each.height_m:g} m high") for each in season.edges),
            *([Fact(f"picture {season.aerial.name}", "below the map")] if season.aerial is not None else []),
        ),
        columns=(
            Column("Block", 8.0),
            Column("ha", 2.9, True),
            Column("Rows", 3.3, True),
            Column("Vines", 4.2, True),
            Column("Rows run", 7.2, True),
        ),
        lines=tuple(lines),
        note=_what_lacks(season),
    )


def _what_lacks(season: Season) -> str:
    """What the ground still needs before it can be walked; nothing where it lacks nothing."""
    if not season.blocks:
        return "No block yet. Bring in an outline, or take the sample."
    bare = [block.name for block in season.blocks if not len(block.rows)]
    return f"No rows yet: {', '.join(bare)}. Make them from the outline, or bring them in." if bare else ""


def read_page(read: BlockRead, scouted: Round, threshold: float) -> Page:
    """One block read in one round: its share, and its rows in order of share."""
    subtitle = f"round {scouted.number}, {date_words(scouted.date)}, scouted by {scouted.scout or 'nobody named'}"
    if read.field is None or read.by_row is None or read.share is None:
        return Page(read.block.name, subtitle, note=f"Not known in this round. {read.why_not}")
    living = read.vines.is_living
    rows = at_threshold(read, threshold)
    worst = worst_count(read)
    among = among_worst(read, worst)
    lines = []
    for row in np.argsort(-rows.mean, kind="stable"):
        if not rows.vines[row] > 0:
            continue
        is_lost = bool(rows.not_known_frac[row] > 0.5)
        interval = (float(rows.low[row]), float(rows.mean[row]), float(rows.high[row]))
        over, worst_words = (
            "not known" if is_lost else chance_words(float(chance[row])) for chance in (rows.chance_above, among)
        )
        cells = (read.block.rows.labels[row], percent(interval[1]), over, "" if is_lost else worst_words)
        lines.append(Line(read.block.name, int(row), cells, interval, is_soft=is_lost))
    certainty = read.field.certainty[living]
    known = [int((certainty == code).sum()) for code in (0, UNSURE, NOT_KNOWN)]
    # why a way to make the map was chosen is told on the page of how good it is
    recipe = read.field.recipe
    share = read.share
    basis = "may be too high" if share.is_from_all_stops else "by rule"
    return Page(
        title=read.block.name,
        subtitle=f"{subtitle}; {whole(int(living.sum()))} vines",
        facts=(
            Fact("clusters looked at", whole(int(read.stops.examined.sum()))),
            Fact("with mildew", whole(int(read.stops.infected.sum()))),
            Fact(
                f"of all clusters, {basis}",
                f"{percent(share.share)}, {percent_range(share.interval.low, share.interval.high)}"
                if read.stops.infected.any()
                else f"none seen, at most {percent(share.interval.high)}",
            ),
            Fact("vines known, unsure, not known", ", ".join(whole(count) for count in known)),
        ),
        columns=(
            Column("Row", 3.4),
            Column("Share", 4.4, True),
            Column("How sure", 6.2, is_interval=True),
            Column(f"Over {percent(threshold)}", 6.4, True),
            Column(f"Worst {worst}", 5.2, True),
        ),
        lines=tuple(lines),
        note=" ".join(recipe.notes[1:] if recipe.scores and recipe.method != BLOCK else recipe.notes),
    )


def worst_count(read: BlockRead) -> int:
    """How many rows of a block are called its worst: five, or in a small block a quarter of them."""
    assert read.row_draws is not None
    return max(1, min(WORST_ROWS, int((read.row_draws.weight > 0.0).sum()) // 4))


@lru_cache(maxsize=8)
def among_worst(read: BlockRead, worst: int) -> Floats:
    """Chance (rows,) of each row to be among so many worst rows of its block."""
    assert read.row_draws is not None
    return chance_among_worst(read.row_draws, worst)


@lru_cache(maxsize=8)
def at_threshold(read: BlockRead, threshold: float) -> GroupIncidence:
    """Incidence by row with the chance to be above another threshold, without making the field again."""
    assert read.row_draws is not None
    return incidence_of(read.row_draws, threshold)


def work_page(ranking: Ranking, season: Season, kind: str, block: str | None) -> Page:
    """Rows in order of what an hour saves, for opening or for a spray; all blocks, or one."""
    rows = [work for work in (ranking.opening if kind == OPEN else ranking.spraying) if block in (None, work.block)]
    first = [work for work in rows if work.is_first]
    kg = season.assumptions.kg_per_cluster
    lines = tuple(
        Line(
            work.block,
            work.row,
            (
                *(() if block else (work.block,)),
                work.label,
                work.letter,
                f"{work.first_vine}–{work.last_vine}",
                f"{work.per_hour * kg:,.1f}",
                hours_words(work.hours),
            ),
            letter=work.letter,
            is_soft=not work.is_first,
        )
        for work in rows
    )
    name = block or "All blocks"
    return Page(
        title=name,
        subtitle=f"what to do first: {_work_subtitle(first, kind)}",
        columns=(
            *(() if block else (Column("Block", 7.4),)),
            Column("Row", 3.2),
            Column("", 2.0),
            Column("Vines", 4.8),
            Column("kg/h", 3.8, True),
            Column("Time", 4.4, True),
        ),
        lines=lines,
        note=_work_note(ranking, rows, kind, block),
        caution="" if kind == OPEN else CAUTION,
    )


def _work_subtitle(first: list[RowWork], kind: str) -> str:
    hours = sum(work.hours for work in first)
    what = "hand work, one person" if kind == OPEN else "the sprayer"
    return f"{counted(len(first), 'row')}, {hours_words(hours)} of {what}" if first else "nothing here"


def _work_note(ranking: Ranking, rows: list[RowWork], kind: str, block: str | None) -> str:
    if rows:
        reads = {name: read for name, read in ranking.reads.items() if block in (None, name)}
        lost = sum(_rows_not_known(read) for read in reads.values())
        few = [name for name, read in reads.items() if read.field is not None and len(read.stops) < FEW_STOPS]
        said = [SOFT_INK] if not all(work.is_first for work in rows) else []
        if lost:
            said.append(f"Not known well enough to work in: {counted(lost, 'row')}. Walk there first.")
        if few:
            said.append(f"Few stops in {', '.join(few)}: the order of rows there is little better than a guess.")
        return " ".join(said)
    days = [day for name, day in ranking.days.items() if block in (None, name)]
    if not days:
        return "No stops here in this round, so no order of rows. Scout first."
    if kind != OPEN and all(day.drivers.spray_stop for day in days):
        return f"No spray: {days[0].drivers.spray_stop}. {CHECK_LABEL}"
    if all(day.horizon <= day.date for day in days):
        return "Nothing to gain: no new fruit infection is expected from here to harvest. Keep bad fruit out of the bins."
    if all(day.pressure.index == 0 for day in days):
        return "Nothing to gain while the pressure is 0. Look again when it rises."
    return "Nothing to gain by this work now."


def _rows_not_known(read: BlockRead) -> int:
    """Rows of which more than half is not known."""
    return int((read.by_row.not_known_frac > 0.5).sum()) if read.by_row is not None else 0


def week_page(ranking: Ranking, season: Season, weather: WeatherFacts) -> Page:
    """The hours there are and what fits into them, block by block, with who must keep out until when."""
    kg = season.assumptions.kg_per_cluster
    lines = []
    for block in season.blocks:
        work = [each for each in ranking.opening + ranking.spraying if each.block == block.name and each.is_first]
        closed = closed_on(block.name, season.sprays, ranking.date)
        if work or closed:
            hand = sum(each.hours for each in work if each.work == OPEN)
            spray = sum(each.hours for each in work if each.work != OPEN)
            saved = sum(each.clusters for each in work if each.work == OPEN) * kg
            until = f"{date_words(closed[1].date())} {closed[1]:%H:%M}" if closed else "free"
            lines.append(Line(block.name, -1, (block.name, f"{hand:.1f}", f"{spray:.1f}", f"{saved:,.0f}", until)))
    opening = [each for each in ranking.opening if each.is_first]
    spraying = [each for each in ranking.spraying if each.is_first]
    return Page(
        title=f"The week of {date_words(ranking.date)}",
        subtitle="what fits into the hours, best first",
        facts=(
            Fact("hand hours used", f"{sum(each.hours for each in opening):.1f} of {season.assumptions.crew_hours:g}"),
            Fact("sprayer hours used", f"{sum(each.hours for each in spraying):.1f} of {season.assumptions.sprayer_hours:g}"),
            Fact("fruit saved by opening", _kg_range(opening, kg), True),
            Fact("fruit saved by spraying", _kg_range(spraying, kg), True),
        ),
        columns=(
            Column("Block", 8.6),
            Column("Hand h", 3.7, True),
            Column("Spray h", 3.9, True),
            Column("kg", 3.8, True),
            Column("Keep out to", 6.6, True),
        ),
        lines=tuple(lines),
        note=" ".join((*_stage_of_week(ranking, season), *_look_again(ranking, weather))),
        caution=f"{CAUTION} Open before you spray, then keep out until re-entry is over.",
    )


def _stage_of_week(ranking: Ranking, season: Season) -> tuple[str, ...]:
    """What the stage of the fruit means this week, where all blocks bloomed on one day, else of the first to bloom."""
    if not ranking.days:
        return ("No block was scouted in this round.",)
    name, day = min(ranking.days.items(), key=lambda each: each[1].stage.bloom or dt.date.max)
    first, date = day.stage, ranking.date
    resists_days = season.assumptions.fruit_resists_days
    said = stage_words(first.bloom, date, resists_days, first.is_bloom_estimated, first.bloom_source)
    sugar = [each for each in block_stage(season, name, None, date).brix if each.date <= date]
    if not sugar or sugar[-1].brix < NO_INFECTION_BRIX:
        return said[1:] or said
    # once sugar closes the fruit, that says more than when its berries began to resist
    return (sugar_words([each.date for each in sugar], [each.brix for each in sugar], date), *said[2:])


def _look_again(ranking: Ranking, weather: WeatherFacts) -> tuple[str, ...]:
    """When to look whether it worked: colonies seen before that were there already."""
    days = days_until_seen(weather, ranking.date)
    if days is None:
        return ()
    seen = date_words(ranking.date + dt.timedelta(days=days))
    return (f"What infects today is seen from about {seen}: look then whether the work has helped.",)


def _kg_range(works: list[RowWork], kg: float) -> str:
    low, mid, high = (sum(getattr(work, name) for work in works) * kg for name in ("low", "clusters", "high"))
    return f"{mid:,.0f} kg, {low:,.0f} to {high:,.0f}"


def work_words(work: RowWork, ranking: Ranking) -> str:
    """One piece of work in words: "open firmly, east face, vines 11 to 40"."""
    face = face_words(work, ranking.faces[work.block].choice(work.row))
    names = {"L": "open lightly", "F": "open firmly", "D": "open both faces", "P": "spray"}
    parts = [names[work.letter], face if work.letter in ("L", "F") else "", f"vines {work.first_vine} to {work.last_vine}"]
    return ", ".join(part for part in parts if part)


def walk_page(read: BlockRead | None, block_name: str, vines: Vines, labels: tuple[str, ...], walk: Walk) -> Page:
    """The next walk of a block: its stops in order."""
    lines = tuple(
        Line(
            block_name,
            int(vines.row[vine]),
            (
                str(number),
                f"{labels[int(vines.row[vine])]} / {int(vines.ordinal[vine])}",
                "trouble likely" if is_targeted else "by rule",
            ),
            is_soft=not is_targeted,
        )
        for number, (vine, is_targeted) in enumerate(zip(walk.vine, walk.is_targeted, strict=True), start=1)
    )
    based = "from the last round" if read is not None and read.field is not None else "no round here yet: all by rule"
    return Page(
        title=block_name,
        subtitle=f"the next walk, {based}",
        facts=(
            Fact("stops", str(len(walk.vine))),
            Fact("where trouble is likely", str(int(walk.is_targeted.sum()))),
            Fact("on foot", f"{walk.length_m / 1000:.1f} km"),
            Fact("time, one person", hours_words(walk.hours)),
        ),
        columns=(Column("Stop", 3), Column("Row / vine", 6), Column("Why", 7)),
        lines=lines,
        note=NO_ROWS_YET
        if not labels
        else "At each stop: 10 clusters from both sides, look inside, and 10 lower leaves. Write counts, not impressions.",
    )
