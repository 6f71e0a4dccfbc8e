"""Shapes are mended as they are read, alike in every format, on the record that all readers share: no file is touched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vinemap.files.geojson import POINT, geometry_kind, is_json
from vinemap.files.repairs import PLACE, REPAIRS, TURN, Mended, Moves, Numbered, Place, mend_items, move_points
from vinemap.files.row_blocks import Outline, in_blocks_by_place, in_one_block
from vinemap.files.vector_reader import IN_LAYER


@dataclass(slots=True)
class Mending:
    """Makes the ``repairs`` that were agreed to, and says what it mended in each file and what else could be.

    ``home``: where the rest lies [degrees]; ``moves``: stops to move to their row, by file; ``row_named``: files that hold
    Points, and whether one of these names a row; ``before``: how many features stand before each layer.
    ``block``: the one that rows are in which name none, ``placed`` how many were put there; ``outlines`` of all blocks.
    ``left_aside``: kinds of geometry that are not read, by file; ``others``: files written in another format than GeoJSON.
    """

    repairs: tuple[str, ...]
    home: Place | None = None
    moves: dict[Path, Moves] = field(default_factory=dict)
    mended: dict[Path, list[Mended]] = field(default_factory=dict)
    could: dict[Path, list[Mended]] = field(default_factory=dict)
    row_named: dict[Path, bool] = field(default_factory=dict)
    before: dict[Path, dict[str, int]] = field(default_factory=dict)
    block: str = ""
    placed: dict[Path, int] = field(default_factory=dict)
    outlines: list[Outline] = field(default_factory=list)
    left_aside: dict[Path, set[str]] = field(default_factory=dict)
    others: set[Path] = field(default_factory=set)

    def __call__(self, path: Path, items: Sequence[Any]) -> Numbered:
        """The features of a file after the repairs, each with its number there."""
        # which way round an outline runs is a rule of GeoJSON alone (RFC 7946, 3.1.6)
        is_geojson = is_json(path) and path not in self.others
        known = [name for name in REPAIRS if name != TURN or is_geojson]
        agreed = [name for name in known if name in self.repairs]
        aside = self.left_aside.get(path, set())
        asked = [(number, item) for number, item in enumerate(items, start=1) if geometry_kind(item) not in aside]
        numbered, mended = mend_items(path.name, asked, agreed, self.home)
        _, could = mend_items(path.name, numbered, set(known).difference(agreed), self.home)
        numbered, by_place = self._with_blocks(path, numbered)
        (mended if PLACE in agreed else could).extend(by_place)
        numbered, moved = move_points(path.name, numbered, self.moves.get(path, {}))
        self.mended[path], self.could[path] = [*mended, *moved], could
        points = [item for _, item in asked if geometry_kind(item) == POINT]
        if points:
            self.row_named[path] = any(_names_row(item) for item in points)
            self.before[path] = {item[IN_LAYER][0]: item[IN_LAYER][1] for item in points if IN_LAYER in item}
        return numbered

    def _with_blocks(self, path: Path, numbered: Numbered) -> tuple[Numbered, list[Mended]]:
        """The features with the blocks of rows that name none, where it was told or agreed; and what lies in which."""
        if self.block:
            numbered, self.placed[path] = in_one_block(numbered, self.block)
            return numbered, []
        made, by_place = in_blocks_by_place(path.name, numbered, self.outlines)
        return made if PLACE in self.repairs else numbered, by_place


def _names_row(item: Any) -> bool:
    told = item.get("properties")
    return isinstance(told, dict) and any(str(key).strip().casefold() == "row" for key in told)
