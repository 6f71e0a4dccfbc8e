"""Rounds, work and dates follow the vines, rows and blocks that they name when the ground is put right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from vinemap.canopy.rods import RodNote
from vinemap.columns import Floats, Ints
from vinemap.errors import InputError
from vinemap.ground.block import Block
from vinemap.ground.follow import Reshaped, Went
from vinemap.ground.vines import place_vines, row_starts
from vinemap.scouting.rounds import Round, Stops
from vinemap.season.edits import with_blocks
from vinemap.season.value import Season, StageDates
from vinemap.work.diary import Pass, Spray

Work = TypeVar("Work", Pass, Spray)


def with_reshaped(season: Season, names: Sequence[str], reshaped: Reshaped) -> Season:
    """The season with some blocks as they are now, and everything that names their vines, rows or themselves following.

    ``names``: the blocks as they were, in the order of ``reshaped.went``. The new blocks stand where the first of them stood.
    Raises InputError, with what stands in the way, when a stop or a piece of work would lose its place.
    """
    olds = [block for name in names if (block := season.block(name)) is not None]
    follow = _Follow(olds, reshaped)
    blocks: list[Block] = []
    for block in season.blocks:
        if block is olds[0]:
            blocks.extend(reshaped.blocks)
        elif block not in olds:
            blocks.append(block)
    rounds = tuple(follow.round(each) for each in season.rounds)
    passes = tuple(new for each in season.passes for new in follow.work(each, f"the pass of {each.date.isoformat()}"))
    sprays = tuple(
        new for each in season.sprays for new in follow.work(each, f"the spray of {each.start.date().isoformat()}")
    )
    stages = follow.stages(season.stages)
    rods = tuple(new for each in season.rods for new in follow.rods(each))
    made = replace(
        season,
        blocks=tuple(blocks),
        rounds=season.rounds if all(a is b for a, b in zip(rounds, season.rounds, strict=True)) else rounds,
        passes=season.passes if passes == season.passes else passes,
        sprays=season.sprays if sprays == season.sprays else sprays,
        stages=season.stages if stages == season.stages else stages,
        rods=season.rods if rods == season.rods else rods,
    )
    return with_blocks(made, made.blocks)


class _Follow:
    """The way from some blocks to others."""

    def __init__(self, olds: Sequence[Block], reshaped: Reshaped) -> None:
        self.olds = {block.name: (block, went) for block, went in zip(olds, reshaped.went, strict=True)}
        self.news = reshaped.blocks
        self.places: dict[int, Floats] = {}
        self.starts: dict[int, dict[str, int]] = {}

    def round(self, scouted: Round) -> Round:
        """The round with its stops at the vines where they were."""
        stops = scouted.stops
        touched = [name for name in stops.blocks if name in self.olds]
        if not touched:
            return scouted
        names = [stops.blocks[index] for index in stops.block]
        rows, vine = list(stops.rows), stops.vine.copy()
        x_m, y_m = stops.x_m.copy(), stops.y_m.copy()
        for stop, name in enumerate(names):
            if name not in self.olds:
                continue
            block, went = self.olds[name]
            at = self._start(block)[rows[stop]] + int(vine[stop]) - 1
            if went.row[at] < 0:
                raise InputError(
                    f"Round {scouted.number} has a stop at {name} / {rows[stop]} / {vine[stop]}, which would be gone.",
                    "Keep that vine, or remove the round first.",
                )
            new = self.news[int(went.block[at])]
            names[stop], rows[stop], vine[stop] = new.name, new.rows.labels[int(went.row[at])], int(went.vine[at])
            there = self._start(new)[rows[stop]] + int(vine[stop]) - 1
            step = self._place(new)[there] - self._place(block)[at]
            if np.hypot(*step) > 1e-6:
                x_m[stop] += step[0]
                y_m[stop] += step[1]
        was = ([stops.blocks[index] for index in stops.block], list(stops.rows), stops.vine.tolist())
        if (names, rows, vine.tolist()) == was and np.array_equal([x_m, y_m], [stops.x_m, stops.y_m]):
            return scouted
        return replace(scouted, stops=_stops(stops, names, rows, vine, x_m, y_m))

    def work(self, done: Work, what: str) -> list[Work]:
        """The pass or spray on the rows where it was made, one for each block that they are in now."""
        if done.block not in self.olds:
            return [done]
        block, went = self.olds[done.block]
        starts, counts = self._start(block), dict(zip(block.rows.labels, block.rows.vine_count.tolist(), strict=True))
        vines = np.full(len(went.row), not done.rows)
        for label in done.rows:
            part = slice(starts[label], starts[label] + counts[label])
            vines[part] = True
            if (went.row[part] < 0).all():
                raise InputError(
                    f"Row {label} of block {done.block} is named by {what}, and would be gone.",
                    "Keep the row, or mend that first.",
                )
        vines &= went.row >= 0
        total, made = int(vines.sum()), []
        for number in sorted(set(went.block[vines].tolist())):
            here = vines & (went.block == number)
            new = self.news[number]
            is_whole = not done.rows and not self._others_in(number, went)
            rows = () if is_whole else _in_order(done.rows or block.rows.labels, block, went, number, new)
            moved = replace(done, block=new.name, rows=rows)
            if isinstance(moved, Pass) and int(here.sum()) < total:
                # the crew's hours are shared by vines, so that they still add up
                moved = replace(moved, hours=moved.hours * int(here.sum()) / total)
            made.append(moved)
        return made

    def rods(self, note: RodNote) -> list[RodNote]:
        """The rods in the row, or in the rows, where they were passed through."""
        if note.block not in self.olds:
            return [note]
        block, went = self.olds[note.block]
        labels = (note.row,) if note.row else block.rows.labels
        made = []
        for number in sorted(set(went.block[went.row >= 0].tolist())):
            is_whole = not note.row and not self._others_in(number, went)
            rows = ("",) if is_whole else _in_order(labels, block, went, number, self.news[number])
            made += [replace(note, block=self.news[number].name, row=row) for row in rows]
        if not made:
            raise InputError(
                f"Row {note.row} of block {note.block} is named by the rods of {note.date.isoformat()}, and would be gone.",
                "Keep the row, or delete these rods first.",
            )
        return made

    def stages(self, stages: Sequence[StageDates]) -> tuple[StageDates, ...]:
        """The dates of growth for the blocks that there are now."""
        made: dict[str, StageDates] = {}
        of_block = {each.block: each for each in stages}
        for new_number, new in enumerate(self.news):
            sources = [name for name, (_, went) in self.olds.items() if (went.block[went.row >= 0] == new_number).any()]
            dates = [of_block.get(name) for name in sources]
            plain = {None if each is None else replace(each, block="") for each in dates}
            if len(plain) > 1:
                raise InputError(
                    f"{' and '.join(sources)} have different dates of growth.",
                    "Give both the same dates first, in the estate file.",
                )
            if dates and dates[0] is not None:
                made[new.name] = replace(dates[0], block=new.name)
        kept: list[StageDates] = []
        for each in stages:
            if each.block not in self.olds:
                kept.append(each)
                continue
            follows = [name for name in made if name not in [one.block for one in kept]]
            kept.extend(made[name] for name in follows)
        return tuple(kept)

    def _others_in(self, number: int, went: Went) -> bool:
        """Do vines of another block stand in that new block too?"""
        return any((path.block == number).any() for _, path in self.olds.values() if path is not went)

    def _place(self, block: Block) -> Floats:
        if id(block) not in self.places:
            vines = place_vines(block)
            self.places[id(block)] = np.column_stack([vines.x_m, vines.y_m])
        return self.places[id(block)]

    def _start(self, block: Block) -> dict[str, int]:
        """The number of vine 1 of each row in its block."""
        if id(block) not in self.starts:
            starts = row_starts(block.rows).tolist()
            self.starts[id(block)] = dict(zip(block.rows.labels, starts[:-1], strict=True))
        return self.starts[id(block)]


def _in_order(was: Sequence[str], block: Block, went: Went, number: int, new: Block) -> tuple[str, ...]:
    """The rows of a new block where work on some rows of the old one was done, in the order in which it named them."""
    starts, found = row_starts(block.rows).tolist(), dict[str, None]()
    row_of = {label: row for row, label in enumerate(block.rows.labels)}
    for label in was:
        part = slice(starts[row_of[label]], starts[row_of[label] + 1])
        here = (went.block[part] == number) & (went.row[part] >= 0)
        found.update(dict.fromkeys(new.rows.labels[index] for index in dict.fromkeys(went.row[part][here].tolist())))
    return tuple(found)


def _stops(stops: Stops, names: Sequence[str], rows: Sequence[str], vine: Ints, x_m: Floats, y_m: Floats) -> Stops:
    blocks = tuple(dict.fromkeys(names))
    block = np.array([blocks.index(name) for name in names], np.int32)
    return replace(stops, blocks=blocks, block=block, rows=tuple(rows), vine=vine, x_m=x_m, y_m=y_m)
