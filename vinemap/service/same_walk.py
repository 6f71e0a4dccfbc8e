"""A walk that is in the season already: one sheet that grows all summer is brought in again and again."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Collection, Sequence

from vinemap.scouting.rounds import Round, Stops
from vinemap.service.report import counted


def known_walks(scouted: Sequence[Round], numbered: Collection[int], rounds: Sequence[Round]) -> dict[dt.date, Round]:
    """The rounds of the season, by their date, that hold every stop of one of those ``scouted``.

    One whose number the file itself gives, as in ``numbered``, is asked for as it is and never counts as known.
    """
    return {
        new.date: old
        for new in scouted
        for old in rounds
        if new.number not in numbered and old.date == new.date and _shared(new.stops, old.stops) == len(new.stops)
    }


def known_note(date: dt.date, known: Round) -> str:
    """What is said of a walk that is not taken a second time."""
    return f"The stops of {date} are in the season already, as round {known.number}."


def overlap_notes(scouted: Sequence[Round], rounds: Sequence[Round]) -> list[str]:
    """What is said where a new round holds some stops of one that is there: the same walk may count twice now."""
    return [
        f"Round {new.number} has the date of round {old.number}, and {counted(shared, 'stop')} of it stand there too. "
        "If it was one walk, undo this, and bring in only what is new as a walk with a number of its own."
        for new in scouted
        for old in rounds
        if old.date == new.date and (shared := _shared(new.stops, old.stops))
    ]


def _shared(one: Stops, other: Stops) -> int:
    """How many stops are in both: the same vine with the same counts."""
    return (_counts(one) & _counts(other)).total()


def _counts(stops: Stops) -> Counter[tuple[object, ...]]:
    columns = (stops.vine, stops.examined, stops.infected, stops.leaves_examined, stops.leaves_infected)
    names = [stops.blocks[index] for index in stops.block.tolist()]
    return Counter(zip(names, stops.rows, *(column.tolist() for column in columns), strict=True))
