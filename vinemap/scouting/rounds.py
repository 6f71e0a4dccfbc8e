"""Scouting rounds and their stops, as columns."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np

from vinemap.columns import Bools, Bytes, Floats, Ints, freeze, nothing, zeros_where_empty

NOT_NOTED, DAYLIGHT, SOME_LIGHT, NO_LIGHT = range(4)
LIGHT_WORDS = ("", "daylight", "some", "none")
"""What a scout saw through the vine, by code (common practice: look whether daylight shows through)."""


@dataclass(frozen=True, slots=True, eq=False)
class Stops:
    """Stops of a round.

    ``blocks``: the names that ``block`` (n,) points into; ``rows``: n row labels; ``vine``: (n,) ordinal in the row;
    ``x_m``, ``y_m``: (n,) [m]; ``examined``, ``infected``: (n,) clusters; ``leaves_examined``, ``leaves_infected``: (n,),
    0 of 0 where leaves were not looked at; ``is_targeted``: (n,) true where the vine was chosen because trouble was
    expected, so that it may feed maps but not the block's own share (Madden & Hughes 1999, Phytopathology 89:1088);
    ``light``: (n,) code of what was seen through the vine, all ``NOT_NOTED`` where it is left out.
    """

    blocks: tuple[str, ...]
    block: Ints
    rows: tuple[str, ...]
    vine: Ints
    x_m: Floats
    y_m: Floats
    examined: Ints
    infected: Ints
    leaves_examined: Ints
    leaves_infected: Ints
    is_targeted: Bools
    light: Bytes = field(default_factory=nothing)

    def __post_init__(self) -> None:
        zeros_where_empty(self, "block", "light")
        freeze(
            self,
            block=np.int32,
            vine=np.int32,
            x_m=np.float64,
            y_m=np.float64,
            examined=np.int32,
            infected=np.int32,
            leaves_examined=np.int32,
            leaves_infected=np.int32,
            is_targeted=np.bool_,
            light=np.int8,
        )
        if len(self.rows) != len(self.block):
            raise ValueError("stops: row labels and columns differ in length")

    def __len__(self) -> int:
        return len(self.block)

    def take(self, keep: np.ndarray) -> Stops:
        """The stops at the indices, or where the mask is true."""
        index = np.flatnonzero(keep) if keep.dtype == bool else keep
        return Stops(
            self.blocks,
            self.block[index],
            tuple(self.rows[i] for i in index),
            self.vine[index],
            self.x_m[index],
            self.y_m[index],
            self.examined[index],
            self.infected[index],
            self.leaves_examined[index],
            self.leaves_infected[index],
            self.is_targeted[index],
            self.light[index],
        )

    def count_in(self, name: str) -> int:
        """How many stops stand in one block."""
        return int(np.count_nonzero(self.block == self.blocks.index(name))) if name in self.blocks else 0

    def of_block(self, name: str) -> Stops:
        """The stops in one block."""
        if name not in self.blocks:
            return self.take(np.zeros(len(self), bool))
        return self.take(self.block == self.blocks.index(name))


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Round:
    """One scouting round: its number (unique, from 1), date, scout, protocol in a few words, and its stops."""

    number: int
    date: dt.date
    scout: str
    protocol: str
    stops: Stops
