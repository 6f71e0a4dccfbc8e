"""How a field is to be made."""

from __future__ import annotations

from dataclasses import dataclass

from vinemap.errors import InputError
from vinemap.surface.pattern import WEAK, Habit
from vinemap.surface.variogram import Variogram

AUTO, BINOMIAL, KRIGING, INVERSE_DISTANCE = "auto", "binomial", "kriging", "inverse-distance"
METHODS = (AUTO, BINOMIAL, KRIGING, INVERSE_DISTANCE)
BLOCK, FIRST_LOOK = "block", "first-look"
"""The block's own share, where no pattern was found; a usual pattern, until the map itself is worked out."""


@dataclass(frozen=True, slots=True)
class FieldOptions:
    """How a field is made: method, threshold 0..1, power and neighbours (inverse distance), row bearing [degrees], what is
    known of patterns beforehand, threads to work with, variogram of the logits (kriging; None: it is fitted).

    Raises InputError for a method or figure that can't be.
    """

    method: str = AUTO
    threshold: float = 0.10
    power: float = 2.0
    neighbours: int = 12
    bearing_deg: float = 0.0
    habit: Habit = WEAK
    threads: int = 1
    variogram: Variogram | None = None

    def __post_init__(self) -> None:
        if self.method not in (*METHODS, FIRST_LOOK):
            raise InputError(f"“{self.method}” is not a way to make a map.", f"Choose one of: {', '.join(METHODS)}.")
        if not 0.0 < self.threshold < 1.0:
            raise InputError("The threshold must lie between 0 and 100 %.", "Set it to 10 % if in doubt.")
        if self.variogram is not None and self.method != KRIGING:
            raise InputError("A given variogram is for kriging only.", "Choose the method kriging, or leave it out.")
