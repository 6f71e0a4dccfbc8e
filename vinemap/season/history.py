"""Undo and redo as a value: every state of the season that can still be gone back to, and where we stand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Generic, TypeVar

LIMIT_STEPS = 200
"""Edits that can be undone; older ones are forgotten (design default)."""

State = TypeVar("State")


@dataclass(frozen=True, slots=True, eq=False)
class Step(Generic[State]):
    """What an edit was called, when it was made [s since 1970 UTC], and the season after it.

    ``season`` is the season itself, or whatever stands for it where it is kept.
    """

    label: str
    when_utc: int
    season: State


@dataclass(frozen=True, slots=True, eq=False)
class History(Generic[State]):
    """Steps, oldest first; ``position`` is the one we stand on. The first step can't be undone."""

    steps: tuple[Step[State], ...]
    position: int

    @property
    def season(self) -> State:
        """The season where we stand."""
        return self.steps[self.position].season

    @property
    def label_to_undo(self) -> str | None:
        """What undo would take back, or None."""
        return self.steps[self.position].label if self.position > 0 else None

    @property
    def label_to_redo(self) -> str | None:
        """What redo would do again, or None."""
        return self.steps[self.position + 1].label if self.position + 1 < len(self.steps) else None


def begun(label: str, when_utc: int, season: State) -> History[State]:
    """A history that holds only its first season."""
    return History((Step(label, when_utc, season),), 0)


def done(history: History[State], label: str, when_utc: int, season: State) -> History[State]:
    """The history after one more edit; what had been undone is forgotten. The same season again is no edit."""
    if season is history.season:
        return history
    kept = history.steps[: history.position + 1][-LIMIT_STEPS:]
    return History((*kept, Step(label, when_utc, season)), len(kept))


def undone(history: History[State]) -> History[State]:
    """One step back, or the same history where there is nothing to undo."""
    return replace(history, position=history.position - 1) if history.position > 0 else history


def redone(history: History[State]) -> History[State]:
    """One step forward, or the same history where there is nothing to redo."""
    return replace(history, position=history.position + 1) if history.label_to_redo is not None else history
