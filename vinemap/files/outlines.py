"""Block outlines as they stand in a GeoJSON file, before they are put on the estate's frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from vinemap.columns import Floats
from vinemap.errors import InputError, Problem
from vinemap.files.cells import Entry, Refused, keep_good
from vinemap.files.geojson import POLYGON, Feature, read_features
from vinemap.files.text import Read
from vinemap.ground.block import TRAININGS, WALL, Wall
from vinemap.ground.rowmaker import LARGEST_SPACING_M, SMALLEST_SPACING_M

MOST_VARIETIES = 127
_METRES = "Is it in metres?"


@dataclass(frozen=True, slots=True, eq=False)
class OutlineDraft:
    """An outline: ``rings`` (k, 2) lon, lat [degrees], outer first; None where the file does not say.

    ``lie_deg``: the slope [degrees from level] and the bearing down it [degrees].
    """

    entry: Entry
    block: str
    rings: tuple[Floats, ...]
    row_spacing_m: float | None
    vine_spacing_m: float | None
    bearing_deg: float | None
    varieties: tuple[str, ...]
    training: str
    vigour: float
    wall: Wall | None = None
    lie_deg: tuple[float, float] | None = None


def read_outlines(path: Path) -> Read[tuple[OutlineDraft, ...]]:
    """Outlines (Polygons) of a GeoJSON file that may hold other features too. Raises FileError when it holds none."""
    read = read_features(path, (POLYGON,))
    outlines, problems = outlines_of(read.value)
    return Read(tuple(outlines), (*read.problems, *problems), read.notes)


def outlines_of(features: Sequence[Feature]) -> tuple[list[OutlineDraft], list[Problem]]:
    """The outlines among features, and a problem for each that was refused."""
    return keep_good(((each.entry, each) for each in features if each.kind == POLYGON), _outline)


def centre_deg(outlines: Sequence[OutlineDraft]) -> tuple[float, float]:
    """Middle of the estate (lon, lat) [degrees]: the median of its outlines, so that a stray one does not move it.

    Raises InputError when there are none.
    """
    if not outlines:
        raise InputError("There are no outlines to place the estate by.", "Read the block outlines first.")
    lon_deg, lat_deg = np.median([outline.rings[0].mean(axis=0) for outline in outlines], axis=0)
    return float(lon_deg), float(lat_deg)


def spacing_m(entry: Entry, name: str) -> float | None:
    """A spacing [m], None where it is not given. Raises Refused."""
    return entry.number_or_none(name, SMALLEST_SPACING_M, LARGEST_SPACING_M, _METRES)


def _outline(feature: Feature) -> OutlineDraft:
    entry = feature.entry
    varieties = tuple(dict.fromkeys(entry.listed("varieties") or entry.listed("variety")))
    if len(varieties) > MOST_VARIETIES:
        raise Refused("varieties", "", f"names more than {MOST_VARIETIES} varieties", "Split the block.")
    vigour = entry.number_or_none("vigour", 0.0, 1.0, "Give 0 for weak, 0.5 for usual, 1 for very strong.")
    return OutlineDraft(
        entry,
        block_name(entry, "block" if entry.text("block") else "name"),
        feature.parts,
        spacing_m(entry, "row_spacing_m"),
        spacing_m(entry, "vine_spacing_m"),
        entry.number_or_none("bearing_deg", -360.0, 360.0, "Give degrees clockwise from grid north."),
        varieties or ("unknown",),
        entry.choice("training", TRAININGS, WALL),
        0.5 if vigour is None else vigour,
        _wall(entry),
        _lie_deg(entry),
    )


def _wall(entry: Entry) -> Wall | None:
    """The row wall, its usual sizes where only some are told; None where none is. Raises Refused."""
    usual, top_most_m = Wall(), 5.0
    told = [entry.number_or_none(name, 0.1, top_most_m, _METRES) for name in ("wall_top_m", "wall_width_m", "fruit_m")]
    if told == [None, None, None]:
        return None
    top_m, width_m, fruit_m = (
        given or one for given, one in zip(told, (usual.top_m, usual.width_m, usual.fruit_m), strict=True)
    )
    if fruit_m > top_m:
        raise Refused("fruit_m", f"{fruit_m:g}", f"is above the top of the wall, {top_m:g} m", "Check both heights.")
    return Wall(top_m, width_m, fruit_m)


def _lie_deg(entry: Entry) -> tuple[float, float] | None:
    """Slope and the bearing down it [degrees], None where no slope is told. Raises Refused."""
    slope_deg = entry.number_or_none("slope_deg", 0.0, 60.0, "Give degrees from level.")
    if slope_deg is None:
        return None
    aspect_deg = entry.number_or_none("aspect_deg", -360.0, 360.0, "Give degrees clockwise from grid north.")
    if slope_deg and aspect_deg is None:
        raise Refused("aspect_deg", "", "it is not told which way the slope falls", "Give its bearing down, in degrees.")
    return slope_deg, (aspect_deg or 0.0) % 360.0


def block_name(entry: Entry, field: str = "block") -> str:
    """The name of a block. Raises Refused when there is none or it can't stand in ``block / row / vine``."""
    name = entry.text(field)
    if not name:
        raise Refused("block", "", "has no block name", "Give it the property “block”.")
    return without_slash("block", name)


def without_slash(field: str, name: str) -> str:
    """A name or label that can stand in ``block / row / vine``. Raises Refused."""
    if "/" in name:
        raise Refused(field, name, "holds a /, which parts block, row and vine", "Use another sign.")
    return name
