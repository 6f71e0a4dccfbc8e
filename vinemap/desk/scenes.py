"""What the map shows for a state of the desk, from the season and its answers."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np

from vinemap.desk.map_scene import GROUND, READ, WALK, WORK, BandMark, BlockScene, MapScene, StopMarks, WalkLine
from vinemap.scouting.rounds import Round, Stops
from vinemap.scouting.walk import Walk
from vinemap.season.value import Season
from vinemap.service.answers import Answers, BlockRead, Ranking
from vinemap.sheets.ink import Ink
from vinemap.vineclock.stage import date_words
from vinemap.work.ranking import OPEN, RowWork

GAIN_CLASSES = 5


@dataclass(frozen=True, slots=True)
class DeskState:
    """What the manager looks at: step, block ("" for all), round, round beside it, threshold, work, the chosen row,
    whether on Read the page of how good the map is stands in its place, and the day whose pressure is asked why."""

    step: str = "Read"
    block: str = ""
    round: int | None = None
    beside: int | None = None
    threshold: float = 0.10
    work: str = OPEN
    chosen: tuple[str, int] | None = None
    is_how_good: bool = False
    why_day: dt.date | None = None


def still_there(state: DeskState, season: Season, round_instead: int | None) -> DeskState:
    """The state without the round, block, row or weather that an edit took away."""
    if state.round not in [each.number for each in season.rounds]:
        state = replace(state, round=round_instead, beside=None)
    if state.block and season.block(state.block) is None:
        state = replace(state, block="")
    if state.why_day is not None and not season.all_stations:
        state = replace(state, why_day=None)
    if state.chosen is not None:
        block = season.block(state.chosen[0])
        if block is None or state.chosen[1] >= len(block.rows):
            state = replace(state, chosen=None)
    return state


def _stops(stops: Stops) -> StopMarks:
    return StopMarks(stops.x_m, stops.y_m, stops.examined, stops.infected)


class Scenes:
    """Makes scenes; a block that did not change keeps its very scene, so that its tiles hold."""

    def __init__(self, answers: Answers, ink: Ink) -> None:
        self._answers, self._ink = answers, ink
        self._kept: dict[tuple[object, ...], BlockScene] = {}

    def ground(self, season: Season) -> MapScene:
        """Blocks and rows, no shade."""
        blocks = tuple(self._bare(season, number) for number in range(len(season.blocks)))
        empty = "No block yet. Bring in an outline, or open the sample."
        return MapScene(blocks, GROUND, self._ink, empty=empty, north_deg=-season.estate.frame.convergence_deg)

    def read(self, season: Season, scouted: Round, reads: dict[str, BlockRead], threshold: float) -> MapScene:
        """The field of a round."""
        blocks = tuple(self._of_read(block.name, reads, scouted) for block in season.blocks)
        reach = [read.field.recipe.reach_m for read in reads.values() if read.field is not None]
        lost = f"not known: no stop within {min(reach):.0f} m" if reach else "not known"
        return MapScene(
            blocks,
            READ,
            self._ink,
            threshold=threshold,
            title=f"Round {scouted.number}",
            subtitle=date_words(scouted.date),
            not_known_words=lost,
            north_deg=-season.estate.frame.convergence_deg,
        )

    def walk(self, season: Season, block: str, walk: Walk, reads: dict[str, BlockRead], scouted: Round | None) -> MapScene:
        """The next walk over the last field."""
        base = self.read(season, scouted, reads, 0.1).blocks if scouted is not None else self.ground(season).blocks
        at = next((number for number, each in enumerate(season.blocks) if each.name == block), None)
        line = None
        if at is not None:
            vines = self._answers.vines(season.blocks[at])
            line = WalkLine(vines.x_m[walk.vine], vines.y_m[walk.vine])
        return MapScene(base, WALK, self._ink, walk=line, north_deg=-season.estate.frame.convergence_deg)

    def work(self, season: Season, ranking: Ranking, kind: str) -> MapScene:
        """Rows with their gain, pattern and letter."""
        rows = [each for each in (ranking.opening if kind == OPEN else ranking.spraying) if each.is_first]
        kg = season.assumptions.kg_per_cluster
        top = _nice(max((each.per_hour * kg for each in rows), default=1.0))
        blocks = tuple(
            self._of_work(season, number, [each for each in rows if each.block == block.name], ranking, top / kg)
            for number, block in enumerate(season.blocks)
        )
        ticks = tuple(f"{top * step / GAIN_CLASSES:g}" for step in range(GAIN_CLASSES + 1))
        return MapScene(
            blocks, WORK, self._ink, gain_ticks=ticks, north_deg=-season.estate.frame.convergence_deg, title="", subtitle=""
        )

    def _once(self, key: tuple[object, ...], made: BlockScene) -> BlockScene:
        return self._kept.setdefault(key, made)

    def _bare(self, season: Season, number: int) -> BlockScene:
        block = season.blocks[number]
        return self._once(("bare", block), BlockScene(block, self._answers.vines(block)))

    def _of_read(self, name: str, reads: dict[str, BlockRead], scouted: Round) -> BlockScene:
        read = reads[name]
        key = ("read", read)
        if key in self._kept:
            return self._kept[key]
        field = read.field
        if field is None:
            unknown = np.full(len(read.vines), 2, np.int8)
            nothing = np.zeros(len(read.vines))
            return self._once(key, BlockScene(read.block, read.vines, nothing, nothing, nothing, unknown))
        return self._once(
            key,
            BlockScene(read.block, read.vines, field.incidence, field.low, field.high, field.certainty, _stops(read.stops)),
        )

    def _of_work(self, season: Season, number: int, rows: list[RowWork], ranking: Ranking, top_per_hour: float) -> BlockScene:
        block = season.blocks[number]
        bands = tuple(_band(each, ranking, top_per_hour) for each in rows)
        return self._once(("work", block, bands), BlockScene(block, self._answers.vines(block), bands=bands))


def _band(work: RowWork, ranking: Ranking, top_per_hour: float) -> BandMark:
    step = min(int(GAIN_CLASSES * work.per_hour / top_per_hour), GAIN_CLASSES - 1)
    has_face = work.work == OPEN and work.letter != "D"
    face = ranking.faces[work.block].choice(work.row).first.normal_deg if has_face else float("nan")
    return BandMark(work.row, work.first_vine, work.last_vine, work.letter, step, face)


def _nice(value: float) -> float:
    """The next round number above a value: 1, 2, 5 and their tens."""
    power = 10.0 ** np.floor(np.log10(max(value, 1e-6)))
    return float(next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= value * 0.999))
