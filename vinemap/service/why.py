"""The chain of figures behind a row's place: each line leads to the next, the last is the one that was asked about."""

from __future__ import annotations

import math

from vinemap.canopy.choose import FaceChoice
from vinemap.columns import Floats, Ints
from vinemap.service.answers import Ranking
from vinemap.service.ledger import Fact, Why, percent, whole
from vinemap.vineclock.pressure import CLASS_WORDS
from vinemap.vineclock.stage import date_words
from vinemap.work.assumptions import Assumptions
from vinemap.work.conditions import BlockDay
from vinemap.work.diary import KINDS
from vinemap.work.ranking import OPEN, RowWork

KIND_WORDS = {
    "L": "opened lightly",
    "F": "opened firmly",
    "D": "opened on both faces",
    "P": "sprayed",
}
assert set(KIND_WORDS) <= set(KINDS)


def why_row(work: RowWork, ranking: Ranking, assumptions: Assumptions) -> Why:
    """Why a row stands where it does, for opening or for a spray."""
    day = ranking.days[work.block]
    runs = ranking.found[work.work, work.block]
    found = tuple(float(column[work.row]) for column in (runs.mean, runs.low, runs.high))
    until = date_words(day.horizon)
    facts = (
        Fact(f"found here on {date_words(ranking.date)}", f"{percent(found[0])}, {_bare(found[1])} to {_bare(found[2])}"),
        *_season_facts(work, day, ranking.reads[work.block].spans.living),
        Fact(f"left alone, by {until}", percent(work.left)),
        Fact(f"{KIND_WORDS[work.letter]}, by {until}", percent(work.worked)),
        Fact(f"clusters on {work.vines} vines", whole(work.vines * assumptions.clusters_per_vine)),
        Fact("kept clean in this row", whole(work.here)),
        Fact("spared around it", whole(work.around)),
        *([Fact("burned by the sun, laid bare", f"− {whole(work.burned)}")] if work.work == OPEN else []),
        Fact("clusters saved", f"{whole(work.clusters)}, {whole(work.low)} to {whole(work.high)}", True),
        Fact(f"as fruit, {assumptions.kg_per_cluster:g} kg each", f"{work.clusters * assumptions.kg_per_cluster:,.1f} kg"),
        Fact("time, one person" if work.work == OPEN else "time of the sprayer", hours_words(work.hours)),
        Fact("saved by an hour", f"{work.per_hour * assumptions.kg_per_cluster:,.1f} kg", True),
    )
    return Why(f"Why row {work.label}?", facts, _remark(work, ranking, day, assumptions))


def _season_facts(work: RowWork, day: BlockDay, living: Ints) -> tuple[Fact, ...]:
    row = work.row
    pressure = day.pressure
    spread = "" if pressure.low == pressure.high else f", {pressure.low} to {pressure.high}"
    facts = [
        Fact(f"pressure, {CLASS_WORDS[pressure.code]}", f"{pressure.index}{spread}"),
        Fact("fruit open to mildew", percent(day.window)),
        Fact("variety, against the most prone", percent(_mean(day.variety, work, living))),
        Fact("growth, by sun and wind here", f"{float(day.growth[row]):.2f} of usual"),
        Fact("last opened", _ago(day.days_since_pass, row)),
        Fact("last sprayed", _ago(day.days_since_spray, row)),
        Fact("cover left of that spray", percent(float(day.cover[row]))),
    ]
    if work.work == OPEN:
        facts.append(Fact(f"leaves closed, {day.leaves.words(row)}", percent(float(day.leaves.closed[row]))))
        trials = f", {percent(day.timing_trials)} by trials" if day.timing > day.timing_trials else ""
        facts.append(Fact("effect of opening at this stage", f"{percent(day.timing)}{trials}"))
    return tuple(facts)


def _mean(column: Floats, work: RowWork, living: Ints) -> float:
    """Mean of a column (spans,) over the living vines of the work."""
    cut = slice(work.spans[0], work.spans[1] + 1)
    return float((column[cut] * living[cut]).sum()) / max(work.vines, 1)


def _bare(share: float) -> str:
    return percent(share).removesuffix(" %")


def _ago(days: Floats, row: int) -> str:
    if math.isnan(float(days[row])):
        return "not this season"
    count = int(days[row])
    return {0: "today", 1: "yesterday"}.get(count, f"{count} days ago")


def hours_words(hours: float) -> str:
    """Hours as people say them: "1.7 h", "12 min"."""
    return f"{hours:.1f} h" if hours >= 0.95 else f"{max(round(hours * 60), 1)} min"


def face_words(work: RowWork, choice: FaceChoice) -> str:
    """The face or faces that the work is for: "east face", "both faces", "" for a spray."""
    if work.work != OPEN:
        return ""
    return "both faces" if work.letter == "D" else f"{choice.first.name} face"


def opening_words(work: RowWork, day: BlockDay, assumptions: Assumptions) -> list[str]:
    """How an opening is made, and what the stage and the heat that is forecast say of it."""
    said = ["Take the laterals with the leaves, until daylight shows through the vine (common practice)."]
    if day.timing_trials < 0.5:
        by = "so it counts for little here" if day.timing <= day.timing_trials else "here practice is believed"
        said.append(
            "This late, trials found no effect of opening on new infection (Austin & Wilcox 2011); practitioners open "
            f"again at pea size and later to dry out what is seen (common practice): {by}."
        )
    if day.heat_degc >= assumptions.heat_stop_degc:
        said.append(
            f"{day.heat_degc:.0f} °C are forecast: keep the hot face closed, open the other early in the day, or wait."
        )
    elif day.heat_degc >= assumptions.heat_caution_degc:
        said.append(f"{day.heat_degc:.0f} °C are forecast: fruit laid bare now burns more easily.")
    return said


def _remark(work: RowWork, ranking: Ranking, day: BlockDay, assumptions: Assumptions) -> str:
    parts = [f"Pressure {day.pressure.source}."] if day.pressure.source else []
    if day.stage.bloom is None:
        parts.append("Bloom is not entered: the fruit is taken as open for four weeks.")
    elif day.stage.is_bloom_estimated:
        parts.append(f"Bloom is estimated {day.stage.bloom_source}: {date_words(day.stage.bloom)}, a week either way.")
    if day.stage.is_harvest_assumed:
        parts.append(f"Harvest is not entered: {date_words(day.stage.harvest)} is taken.")
    if work.work == OPEN:
        parts += ranking.faces[work.block].choice(work.row).reasons
        parts += opening_words(work, day, assumptions)
    else:
        parts.append("Check your label and your local law before any spray; keep people out until re-entry is over.")
    return " ".join(parts)
