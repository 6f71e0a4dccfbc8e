"""What each step of the week shows, for a state of the desk: its page of the ledger, its map, and what must be computed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from vinemap.desk.fonts import measure
from vinemap.desk.map_corner import clock_corner, clock_of, rose_corner
from vinemap.desk.map_scene import MapScene
from vinemap.desk.scenes import DeskState, Scenes
from vinemap.errors import Tick
from vinemap.scouting.rounds import Round
from vinemap.scouting.walk import Walk
from vinemap.season.value import Season
from vinemap.service.answers import Answers, BlockRead, Ranking, first_options
from vinemap.service.beside_page import beside_page
from vinemap.service.ledger import Page, Why
from vinemap.service.next_walk import next_walk
from vinemap.service.pages import ground_page, read_page, walk_page, week_page, work_page
from vinemap.service.papers import block_plan, read_plan
from vinemap.service.strip import Strip, season_strip
from vinemap.service.why import why_row
from vinemap.sheets.crew_map import crew_maps
from vinemap.sheets.ink import Ink
from vinemap.sheets.marks import Page as Sheet
from vinemap.sheets.read_map import ReadPlan
from vinemap.vineclock.stage import date_words
from vinemap.work.ranking import OPEN, RowWork

FIELD_STEPS, RANK_STEPS = ("Walk", "Read"), ("Work", "Week", "Paper")
NO_ROUND = "No scouting round yet. Bring in the stops, or go to Walk for where to look first."


class Steps:
    """Content of the steps; knows seasons and answers, no widgets."""

    def __init__(self, answers: Answers, ink: Ink) -> None:
        self.answers = answers
        self.scenes = Scenes(answers, ink)
        self.ink = ink
        self._corner_of: tuple[object, ...] = ()
        self._corner_drawn: Sheet | None = None
        self._sheets_of: tuple[object, ...] = ()
        self._sheets: tuple[Sheet, ...] = ()

    def round_of(self, season: Season, state: DeskState) -> Round | None:
        """The round in view."""
        return season.round(state.round) if state.round is not None else None

    def missing(self, season: Season, state: DeskState) -> tuple[str, Callable[[Tick], object]] | None:
        """What must be computed before the step can be shown whole: words for it, and the work."""
        scouted = self.round_of(season, state)
        if scouted is None:
            return None
        beside = season.round(state.beside) if state.beside is not None else None
        for each in (scouted, beside):
            if each is not None and state.step in FIELD_STEPS + RANK_STEPS and not self.answers.has_reads(season, each):
                if state.step == "Read" and not self.answers.has_reads(season, each, first_options(season)):
                    return f"first look at round {each.number}", partial(self._first_look, season, each)
                return f"field of round {each.number}", lambda tick, each=each: self.answers.reads(season, each, tick)
        if state.step in RANK_STEPS and not self.answers.has_ranking(season, scouted):
            return "rows in order", lambda tick: self.answers.ranking(season, scouted, tick)
        return None

    def block_in_view(self, season: Season, state: DeskState) -> str:
        """The block the ledger is about: the one picked, else the first one."""
        names = [block.name for block in season.blocks]
        return state.block if state.block in names else (names[0] if names else "")

    def reads(self, season: Season, number: int | None) -> dict[str, BlockRead]:
        """The fields of a round, where they are at hand."""
        scouted = season.round(number) if number is not None else None
        if scouted is None or not self.answers.has_reads(season, scouted):
            return {}
        return self.answers.reads(season, scouted)

    def _first_look(self, season: Season, scouted: Round, tick: Tick) -> object:
        return self.answers.reads(season, scouted, tick, first_options(season))

    def seen(self, season: Season, number: int | None) -> dict[str, BlockRead]:
        """The fields of a round to look at, or until they are at hand a first look at them."""
        scouted = season.round(number) if number is not None else None
        first = first_options(season)
        if scouted is None or self.answers.has_reads(season, scouted) or not self.answers.has_reads(season, scouted, first):
            return self.reads(season, number)
        return self.answers.reads(season, scouted, options=first)

    def ranking(self, season: Season, state: DeskState) -> Ranking | None:
        """The rows in order, where they are at hand."""
        scouted = self.round_of(season, state)
        if scouted is None or not self.answers.has_ranking(season, scouted):
            return None
        return self.answers.ranking(season, scouted)

    def scene(self, season: Season, state: DeskState, number: int | None) -> MapScene:
        """The map of the step in a round, with what stands tall around; the bare ground where nothing can be said yet."""
        made = self._scene(season, state, number)
        return replace(made, edges=season.edges) if season.edges else made

    def _scene(self, season: Season, state: DeskState, number: int | None) -> MapScene:
        scouted = season.round(number) if number is not None else None
        reads = self.seen(season, number) if state.step == "Read" else self.reads(season, number)
        ranking = self.ranking(season, state)
        if state.step == "Read" and reads and scouted is not None:
            return self.scenes.read(season, scouted, reads, state.threshold)
        if state.step == "Walk" and season.blocks:
            block = self.block_in_view(season, state)
            return self.scenes.walk(season, block, self.walk(season, block, reads), reads, scouted if reads else None)
        if state.step in ("Work", "Week") and ranking is not None:
            made = self.scenes.work(season, ranking, state.work if state.step == "Work" else OPEN)
        else:
            made = self.scenes.ground(season)
        is_row_s = state.step == "Work" and state.chosen is not None
        return replace(made, corner=self._corner(season, state), insists=is_row_s)

    def _corner(self, season: Season, state: DeskState) -> Sheet | None:
        """On Work the sun on the row that is chosen; else, there and on Ground, the wind."""
        scouted, rose = self.round_of(season, state), self.answers.facts(season).rose
        if state.step not in ("Ground", "Work") or not season.blocks:
            return None
        clock = clock_of(season, state.chosen, scouted.date) if state.step == "Work" and scouted is not None else None
        key = rose, clock, season.estate
        if key != self._corner_of:
            drawn = clock_corner(*clock, self.ink) if clock is not None else None
            if drawn is None and rose is not None:
                drawn = rose_corner(rose, -season.estate.frame.convergence_deg, self.ink)
            self._corner_of, self._corner_drawn = key, drawn
        return self._corner_drawn

    def page(self, season: Season, state: DeskState) -> Page:
        """The ledger's page of the step."""
        scouted = self.round_of(season, state)
        reads = self.seen(season, state.round) if state.step == "Read" else self.reads(season, state.round)
        ranking = self.ranking(season, state)
        block = self.block_in_view(season, state)
        if state.step == "Ground" or not season.blocks:
            return ground_page(season, self.answers)
        if state.step == "Walk":
            place = season.block(block)
            assert place is not None
            vines = self.answers.vines(place)
            return walk_page(reads.get(block), block, vines, place.rows.labels, self.walk(season, block, reads))
        if scouted is None:
            return Page(state.step, "", note=NO_ROUND)
        beside = season.round(state.beside) if state.beside is not None else None
        if state.step == "Read" and reads and beside is not None and (others := self.reads(season, state.beside)):
            return beside_page((scouted, reads[block]), (beside, others[block]), state.threshold)
        if state.step == "Read" and reads:
            return read_page(reads[block], scouted, state.threshold)
        if ranking is not None and state.step == "Work":
            return work_page(ranking, season, state.work, state.block or None)
        if ranking is not None and state.step in ("Week", "Paper"):
            return week_page(ranking, season, self.answers.facts(season))
        return Page(state.block or season.estate.name, f"round {scouted.number}, {date_words(scouted.date)}")

    def why(self, season: Season, state: DeskState) -> Why | None:
        """The chain of figures of the chosen row."""
        work = self.chosen_work(season, state)
        ranking = self.ranking(season, state)
        return why_row(work, ranking, season.assumptions) if work is not None and ranking is not None else None

    def chosen_work(self, season: Season, state: DeskState) -> RowWork | None:
        """The piece of work in the chosen row, on the Work step."""
        ranking = self.ranking(season, state)
        if ranking is None or state.step != "Work":
            return None
        works = ranking.opening if state.work == OPEN else ranking.spraying
        return next((work for work in works if (work.block, work.row) == state.chosen), None)

    def walk(self, season: Season, block: str, reads: dict[str, BlockRead]) -> Walk:
        """The next walk of a block; the same one as long as its last round is the same."""
        place = season.block(block)
        assert place is not None
        field = reads[block].field if block in reads else None
        return next_walk(season, place, self.answers.vines(place), field)

    def sheets(self, season: Season, state: DeskState, printed: dt.datetime) -> tuple[Sheet, ...]:
        """The crew's maps of all blocks, or of the one picked; kept while the rows stay in order, an hour at most."""
        scouted, ranking = self.round_of(season, state), self.ranking(season, state)
        if scouted is None or ranking is None:
            return ()
        key = ranking, state.block, printed.date(), printed.hour
        if key != self._sheets_of:
            chosen = [block for block in season.blocks if state.block in ("", block.name) and len(block.rows)]
            plans = [block_plan(block, scouted, ranking, season, printed) for block in chosen]
            self._sheets_of, self._sheets = key, tuple(crew_maps(plans, measure)) if plans else ()
        return self._sheets

    def map_plan(self, season: Season, state: DeskState, printed: dt.datetime) -> ReadPlan | None:
        """The map of the block in view for paper, or None where there is none."""
        scouted, reads = self.round_of(season, state), self.reads(season, state.round)
        block = self.block_in_view(season, state)
        if scouted is None or block not in reads:
            return None
        return read_plan(reads[block], scouted, state.threshold, season, printed)

    def strip(self, season: Season, block: str, now: dt.date) -> Strip:
        """The season strip, with the work of a block, or of all; ``now`` dates a season with nothing in it."""
        return season_strip(season, block, self.answers.facts(season), now)
