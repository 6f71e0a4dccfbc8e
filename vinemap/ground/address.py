"""Vine addresses, ``block / row / vine``, both ways."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import takewhile

from vinemap.errors import InputError


@dataclass(frozen=True, slots=True)
class Address:
    """A vine: block name, row label and ordinal from 1."""

    block: str
    row: str
    vine: int

    def __str__(self) -> str:
        return f"{self.block} / {self.row} / {self.vine}"


def read_address(text: str) -> Address:
    """The address written as ``block / row / vine``. Raises InputError when it is not one."""
    parts = [part.strip() for part in text.split("/")]
    if len(parts) != 3 or not all(parts) or not parts[2].isdecimal() or int(parts[2]) < 1:
        raise InputError(f"“{text}” is not a vine.", "Write block / row / vine, for example B / 12 / 34.")
    return Address(parts[0], parts[1], int(parts[2]))


def row_order(labels: Sequence[str]) -> list[int]:
    """Indices that put row labels in the order people count: 2 before 10, 10 before 10a."""

    def key(index: int) -> tuple[int, float, str]:
        label = labels[index]
        digits = "".join(takewhile(str.isdecimal, label))
        return (0, float(digits), label) if digits else (1, 0.0, label)

    return sorted(range(len(labels)), key=key)
