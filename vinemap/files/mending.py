"""Shapes are mended as they are read, alike in every format, on the record that all readers share: no file is touched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vinemap.files.geojson import POINT, geometry_kind, is_json
from vinemap.files.repairs import REPAIRS, TURN, Mended, Moves, Numbered, Place, mend_items, move_points


@dataclass(slots=True)
class Mending:
    """Makes the ``repairs`` that were agreed to, and says what it mended in each file and what else could be.

    ``home``: where the rest lies [degrees]; ``moves``: stops to move to their row, by file; ``row_named``: files that hold
    Points, and whether one of these names a row.
    """

    repairs: tuple[str, ...]
    home: Place | None = None
    moves: dict[Path, Moves] = field(default_factory=dict)
    mended: dict[Path, list[Mended]] = field(default_factory=dict)
    could: dict[Path, list[Mended]] = field(default_factory=dict)
    row_named: dict[Path, bool] = field(default_factory=dict)

    def __call__(self, path: Path, items: Sequence[Any]) -> Numbered:
        """The features of a file after the repairs, each with its number there."""
        # which way round an outline runs is a rule of GeoJSON alone (RFC 7946, 3.1.6)
        known = [name for name in REPAIRS if name != TURN or is_json(path)]
        agreed = [name for name in known if name in self.repairs]
        numbered, mended = mend_items(path.name, list(enumerate(items, start=1)), agreed, self.home)
        _, self.could[path] = mend_items(path.name, numbered, set(known).difference(agreed), self.home)
        numbered, moved = move_points(path.name, numbered, self.moves.get(path, {}))
        self.mended[path] = [*mended, *moved]
        points = [item for item in items if geometry_kind(item) == POINT]
        if points:
            self.row_named[path] = any(_names_row(item) for item in points)
        return numbered


def _names_row(item: Any) -> bool:
    told = item.get("properties")
    return isinstance(told, dict) and any(str(key).strip().casefold() == "row" for key in told)
