"""What the ledger beside the map says, as plain data: the window only sets it in type."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fact:
    """A label tied to a figure by dots; ``is_heavy`` for the one that was asked about."""

    label: str
    value: str
    is_heavy: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """Head of a column; figures stand right, words left; ``is_interval`` for a drawn range; ``width`` in em."""

    head: str
    width: float
    is_right: bool = False
    is_interval: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the table: what it is about, its cells, and a range (low, middle, high) 0..1 for the drawn column."""

    block: str
    row: int
    cells: tuple[str, ...]
    interval: tuple[float, float, float] | None = None
    letter: str = ""
    is_soft: bool = False


@dataclass(frozen=True, slots=True)
class Why:
    """The chain of figures behind one line: a question, its facts, the last one the answer, and a remark."""

    question: str
    facts: tuple[Fact, ...]
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Page:
    """A page of the ledger."""

    title: str
    subtitle: str
    facts: tuple[Fact, ...] = ()
    columns: tuple[Column, ...] = ()
    lines: tuple[Line, ...] = ()
    more: str = ""
    note: str = ""
    caution: str = ""


def percent(share: float) -> str:
    """A share 0..1 as people say it: whole per cents, one decimal below two."""
    value = 100.0 * share
    return f"{value:.1f} %" if 0.0 < value < 1.95 else f"{value:.0f} %"


def percent_range(low: float, high: float) -> str:
    """A range of shares: "between 7 and 10"."""
    return f"between {percent(low).removesuffix(' %')} and {percent(high).removesuffix(' %')}"


def whole(number: float) -> str:
    """A count with thousands apart."""
    return f"{number:,.0f}"
