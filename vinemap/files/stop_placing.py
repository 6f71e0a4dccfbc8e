"""Stops from files are put on vines and gathered into rounds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence

import numpy as np

from vinemap.columns import Floats
from vinemap.errors import Problem
from vinemap.files.cells import Refused, keep_good
from vinemap.files.placing import local_points_each
from vinemap.files.projection import from_projected
from vinemap.files.stop_reader import StopDraft
from vinemap.files.text import Read
from vinemap.files.vine_address import FirstVines, first_vines, named_vine, refuse_without_rows
from vinemap.ground.block import Block, Vines
from vinemap.ground.frame import Frame
from vinemap.ground.locate import nearest_block, nearest_vine
from vinemap.ground.vines import place_vines
from vinemap.scouting.rounds import Round, Stops

_Placed = tuple[StopDraft, int, int]
"""A stop, the index of its block and of its vine there."""

_Located = tuple[StopDraft, Floats | None]
_Near = tuple[int, float, int, float]
"""Block, distance from it [m], vine there and distance from that [m]."""


def place_stops(
    drafts: Sequence[StopDraft], blocks: Sequence[Block], frame: Frame, taken: Collection[int] = ()
) -> Read[tuple[Round, ...]]:
    """Rounds of the stops, each stop on its vine: the one named, or the nearest one that can carry fruit.

    Stops without a round number make one round a date, numbered after the others and after those ``taken``. Left out
    with a problem: a vine that is not there, a place further than a row spacing from any vine, a second date in a round,
    a round number that is taken.
    """
    vines: dict[int, Vines] = {}
    located, problems = _located(drafts, [block.name for block in blocks], frame)
    near = _nearest(located, blocks, vines)
    index_of = {block.name: index for index, block in reversed(list(enumerate(blocks)))}
    first_vine = [first_vines(block) for block in blocks]
    kept, refused = keep_good(
        ((draft.entry, index) for index, (draft, _) in enumerate(located)),
        lambda index: _placed(located[index][0], blocks, near.get(index), index_of, first_vine),
    )
    problems.extend(refused)
    numbers = _round_numbers([draft for draft, _, _ in kept], taken)
    of_round: dict[int, list[_Placed]] = {}
    of_taken: dict[int, list[StopDraft]] = {}
    for placed, number in zip(kept, numbers, strict=True):
        draft = placed[0]
        others = of_round.setdefault(number, [])
        if number in taken:
            of_taken.setdefault(number, []).append(draft)
        elif others and others[0][0].date != draft.date:
            why = f"round {number} is dated {others[0][0].date} at {others[0][0].entry.place}"
            do = "A round has one date; give the other date another round number."
            problems.append(draft.entry.problem("date", str(draft.date), why, do))
        else:
            others.append(placed)
    problems.extend(_taken_problem(number, drafts) for number, drafts in of_taken.items())
    rounds = [_round(number, stops, blocks, vines) for number, stops in sorted(of_round.items()) if stops]
    return Read(tuple(rounds), tuple(problems), tuple(_notes(of_round, blocks, vines)))


def _taken_problem(number: int, drafts: Sequence[StopDraft]) -> Problem:
    """One problem for all stops of a round whose number is taken, at the first of them."""
    others = f"; its {len(drafts)} stops were left out" if len(drafts) > 1 else ""
    do = "Give this round another number, or remove the one that is there."
    return drafts[0].entry.problem("round", str(number), f"there is already a round of this number{others}", do)


def _round_numbers(drafts: Sequence[StopDraft], taken: Collection[int]) -> list[int]:
    last = max([0, *taken, *(draft.number for draft in drafts)])
    undated = sorted({draft.date for draft in drafts if not draft.number})
    by_date = {date: last + index for index, date in enumerate(undated, start=1)}
    return [draft.number or by_date[draft.date] for draft in drafts]


def _located(drafts: Sequence[StopDraft], names: Sequence[str], frame: Frame) -> tuple[list[_Located], list[Problem]]:
    """Each stop with its place (2,) [m], None when it names its vine; and a problem for each that has no place here."""
    degrees = [np.array([draft.lonlat_deg]) for draft in drafts if not draft.row and draft.lonlat_deg is not None]
    moved = iter(local_points_each(frame, degrees))
    known = set(names)

    def locate(draft: StopDraft) -> _Located:
        found = next(moved) if not draft.row and draft.lonlat_deg is not None else None
        if draft.block and draft.block not in known:
            do = f"The blocks are {', '.join(names) or 'none'}."
            raise Refused("block", draft.block, "there is no block of this name", do)
        if not names:
            raise Refused("", "", "there are no blocks yet", "Read the outlines and rows first.")
        if draft.row:
            return draft, None
        if isinstance(found, Refused):
            raise found
        if found is not None:
            return draft, found[0]
        return draft, np.array(from_projected(frame, *(draft.easting_m or (np.nan, np.nan))))

    return keep_good(((draft.entry, draft) for draft in drafts), locate)


def _nearest(located: Sequence[_Located], blocks: Sequence[Block], vines: dict[int, Vines]) -> dict[int, _Near]:
    """Nearest vine of the named or nearest block for each stop that is placed by a point, by its position in the list."""
    near: dict[int, _Near] = {}
    asked: dict[str, list[tuple[int, Floats]]] = {}
    for index, (draft, point) in enumerate(located):
        if point is not None:
            asked.setdefault(draft.block, []).append((index, point))
    for name, of_name in sorted(asked.items()):
        offered = [index for index, block in enumerate(blocks) if name in ("", block.name)]
        points = np.array([point for _, point in of_name])
        found, away_m = nearest_block([blocks[index] for index in offered], points[:, 0], points[:, 1])
        for choice in np.unique(found):
            here = np.flatnonzero(found == choice)
            block = offered[int(choice)]
            if not len(blocks[block].rows):
                near.update((of_name[at][0], (block, float(away_m[at]), -1, np.inf)) for at in here.tolist())
                continue
            vine, vine_m = nearest_vine(_vines_of(block, blocks, vines), points[here, 0], points[here, 1])
            for at, *found_here in zip(here.tolist(), away_m[here].tolist(), vine.tolist(), vine_m.tolist(), strict=True):
                near[of_name[at][0]] = (block, *found_here)
    return near


def _placed(
    draft: StopDraft,
    blocks: Sequence[Block],
    near: _Near | None,
    index_of: Mapping[str, int],
    first_vine: Sequence[FirstVines],
) -> _Placed:
    if near is not None:
        index, away_m, vine, distance_m = near
        block = blocks[index]
        reach_m = max(block.row_spacing_m, block.vine_spacing_m)
        do = "Check the position, or give the row and vine instead."
        if away_m > reach_m:
            outside = f"outside {block.name}" if draft.block else f"outside every block; the nearest is {block.name}"
            raise Refused("", "", f"lies {outside}, {away_m:.0f} m away", do)
        refuse_without_rows(block)
        if distance_m > reach_m:
            raise Refused("", "", f"is {distance_m:.0f} m from the nearest vine of {block.name}", do)
        return draft, index, vine
    index = index_of[draft.block]
    return draft, index, named_vine(blocks[index], first_vine[index], draft.row, draft.vine)


def _vines_of(index: int, blocks: Sequence[Block], vines: dict[int, Vines]) -> Vines:
    if index not in vines:
        vines[index] = place_vines(blocks[index])
    return vines[index]


def _round(number: int, placed: Sequence[_Placed], blocks: Sequence[Block], vines: dict[int, Vines]) -> Round:
    drafts = [draft for draft, _, _ in placed]
    index, vine = np.array([(index, vine) for _, index, vine in placed]).T
    used, of_used = np.unique(index, return_inverse=True)
    row, ordinal = np.empty(len(placed), np.int32), np.empty(len(placed), np.int32)
    x_m, y_m = np.empty(len(placed)), np.empty(len(placed))
    for each in used.tolist():
        here, on = index == each, _vines_of(each, blocks, vines)
        for column, values in ((row, on.row), (ordinal, on.ordinal), (x_m, on.x_m), (y_m, on.y_m)):
            column[here] = values[vine[here]]
    labels = [blocks[each].rows.labels for each in index.tolist()]
    stops = Stops(
        tuple(blocks[each].name for each in used.tolist()),
        of_used.astype(np.int32),
        tuple(of_block[at] for of_block, at in zip(labels, row.tolist(), strict=True)),
        ordinal,
        x_m,
        y_m,
        np.array([draft.examined for draft in drafts], np.int32),
        np.array([draft.infected for draft in drafts], np.int32),
        np.array([draft.leaves_examined for draft in drafts], np.int32),
        np.array([draft.leaves_infected for draft in drafts], np.int32),
        np.array([draft.is_targeted for draft in drafts], np.bool_),
        np.array([draft.light for draft in drafts], np.int8),
    )
    scouts = dict.fromkeys(draft.scout for draft in drafts if draft.scout)
    protocol = ("random", "random and targeted", "targeted")[int(stops.is_targeted.any()) + int(stops.is_targeted.all())]
    return Round(number, drafts[0].date, ", ".join(scouts), protocol, stops)


def _notes(of_round: dict[int, list[_Placed]], blocks: Sequence[Block], vines: dict[int, Vines]) -> list[str]:
    """What was kept but deserves a second look: two stops on one vine, a stop on a vine that is down as gone."""
    notes = []
    living = {
        index: _vines_of(index, blocks, vines).is_living for index in {at for some in of_round.values() for _, at, _ in some}
    }
    for number, placed in sorted(of_round.items()):
        for (index, vine), times in Counter((index, vine) for _, index, vine in placed).items():
            if times == 1 and living[index][vine]:
                continue
            on = _vines_of(index, blocks, vines)
            address = f"{blocks[index].name} / {blocks[index].rows.labels[on.row[vine]]} / {on.ordinal[vine]}"
            if times > 1:
                notes.append(f"{address} has {times} stops in round {number}; all were kept.")
            if not living[index][vine]:
                notes.append(f"{address} was scouted in round {number} but is down as missing or dead.")
    return notes
