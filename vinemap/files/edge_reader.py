"""Tall edges out of drawn files: tree lines, hedges, walls and houses that shade vines or shelter them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from vinemap.columns import Floats
from vinemap.files.cells import Entry, keep_good
from vinemap.files.geojson import LINE, POINT, POLYGON, Feature, geometry_kind, property_texts, read_features
from vinemap.files.projection import to_local
from vinemap.files.shapes import Mend
from vinemap.files.text import Read
from vinemap.files.unused import unused_note
from vinemap.ground.edges import Edge
from vinemap.ground.frame import Frame

HEIGHT = "height_m"
OPENNESS = ("open", "porosity")
"""Share of light and wind that comes through; the one name or the other."""
_USED = {LINE: ("name", HEIGHT, *OPENNESS, "time"), POLYGON: ("name", HEIGHT, *OPENNESS, "time"), POINT: ()}


@dataclass(frozen=True, slots=True, eq=False)
class EdgeDraft:
    """A tall edge: its line (k, 2) lon, lat [degrees], height [m] and openness 0..1; ``name`` "" where none is told."""

    entry: Entry
    name: str
    line: Floats
    height_m: float
    open_frac: float


def are_edges(features: Sequence[Any]) -> bool:
    """True where every feature is a line or an outline that tells its height and names no block."""
    drawn = [item for item in features if geometry_kind(item)]
    told = [item["properties"] if isinstance(item.get("properties"), dict) else {} for item in drawn]
    texts = [property_texts(each) for each in told]
    return bool(drawn) and all(
        geometry_kind(item) in (LINE, POLYGON) and each.get(HEIGHT) and not each.get("block")
        for item, each in zip(drawn, texts, strict=True)
    )


def read_edges(path: Path, crs: str = "", mend: Mend | None = None) -> Read[tuple[EdgeDraft, ...]]:
    """Tall edges of a drawn file; ``crs`` is its map system where it tells none. Raises FileError when it holds none."""
    read = read_features(path, (LINE, POLYGON), crs, mend)
    drafts, problems = keep_good(((each.entry, each) for each in read.value), _edge)
    notes = (*read.notes, *unused_note(Path(path).name, read.value, _USED))
    return Read(tuple(drafts), (*read.problems, *problems), notes)


def _edge(feature: Feature) -> EdgeDraft:
    entry = feature.entry
    height_m = entry.number(HEIGHT, 0.3, 100.0, "Is it in metres?")
    told = [
        entry.number_or_none(name, 0.0, 1.0, "Give 0 for a wall, 0.5 for a thin hedge, 1 for nothing.") for name in OPENNESS
    ]
    open_frac = next((each for each in told if each is not None), 0.0)
    return EdgeDraft(entry, entry.text("name"), feature.parts[0], height_m, open_frac)


def place_edge(draft: EdgeDraft, name: str, frame: Frame) -> Edge:
    """The edge on the estate's frame, under a name. Raises InputError when it is out of reach."""
    return Edge(name, np.column_stack(to_local(frame, draft.line[:, 0], draft.line[:, 1])), draft.height_m, draft.open_frac)
