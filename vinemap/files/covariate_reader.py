"""One column of figures by place, from CSV, GeoJSON points or a GeoPackage layer of points, put on the vines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

from vinemap.columns import Floats, Ints
from vinemap.errors import FileError, Problem
from vinemap.files.cells import Entry, Refused, keep_good, keep_good_lines, one_spelling
from vinemap.files.geojson import POINT, is_drawn, read_features
from vinemap.files.place_text import with_places
from vinemap.files.placing import local_points_each
from vinemap.files.point_layers import is_database, point_columns, read_point_layer
from vinemap.files.projection import from_projected
from vinemap.files.shapes import Mend
from vinemap.files.stop_reader import WAYS, at_point, read_where, says_where
from vinemap.files.table import read_header, read_table
from vinemap.files.text import Read
from vinemap.files.vine_address import first_vines, named_vine
from vinemap.ground.block import Block
from vinemap.ground.covariates import Covariate
from vinemap.ground.frame import Frame
from vinemap.ground.vines import place_vines

PLACE_COLUMNS = tuple(dict.fromkeys(name for way in WAYS for name in way))
_LARGEST = 1e12


@dataclass(frozen=True, slots=True, eq=False)
class ReadingDraft:
    """A figure, and where it was read: on ``vine`` of ``row``, at (lon, lat) [degrees] or at (easting, northing) [m]."""

    entry: Entry
    block: str
    row: str
    vine: int
    lonlat_deg: tuple[float, float] | None
    easting_m: tuple[float, float] | None
    value: float


@dataclass(frozen=True, slots=True, eq=False)
class VinePlaces:
    """Every vine place of an estate, block after block: ``at_m`` (n, 2) [m]; ``start`` (blocks + 1,) offsets."""

    at_m: Floats
    start: Ints


def place_all(blocks: Sequence[Block]) -> VinePlaces:
    """Where the vines of all blocks stand, living or not."""
    placed = [place_vines(block) for block in blocks]
    at_m = np.concatenate([np.empty((0, 2)), *(np.column_stack([each.x_m, each.y_m]) for each in placed)])
    return VinePlaces(at_m, np.cumsum([0, *(len(each) for each in placed)], dtype=np.int32))


def columns_of(path: Path) -> tuple[str, ...]:
    """Columns of a file by their lower-case names, those that say where left aside. Raises FileError."""
    path = Path(path)
    if is_database(path):
        found = dict.fromkeys(point_columns(path))
    elif is_drawn(path):
        entries = [feature.entry for feature in read_features(path, (POINT,)).value]
        found = dict.fromkeys(name for entry in entries for name in entry.values)
    else:
        found = dict.fromkeys(read_header(path))
    return tuple(name for name in found if name and name not in PLACE_COLUMNS)


def read_readings(path: Path, column: str, crs: str = "", mend: Mend | None = None) -> Read[tuple[ReadingDraft, ...]]:
    """Figures of one column, asked for in any case; ``crs`` is the map system of places where the file tells none.

    ``mend`` makes the repairs of points that were agreed to. Raises FileError when the file has no such column, or no places.
    """
    path = Path(path)
    wanted = one_spelling(column.strip()).casefold()
    if is_database(path):
        layer = read_point_layer(path, wanted, mend)
        return _readings(layer.value, wanted, layer.problems, layer.notes)
    if is_drawn(path):
        features = read_features(path, (POINT,), crs, mend)
        if features.value and not any(wanted in each.entry.values for each in features.value):
            raise no_column(path.name, column, columns_of(path))
        lines = [at_point(each) for each in features.value]
        return _readings(lines, wanted, features.problems, features.notes)
    written = next((name for name in read_header(path) if one_spelling(name) == wanted), "")
    if not written:
        raise no_column(path.name, column, columns_of(path))
    table = read_table(path, (written,), PLACE_COLUMNS)
    if not says_where(table.value.columns):
        raise FileError(
            f"{path.name} does not say where its figures were read.",
            "Add the columns block, row, vine, or lon, lat, or x_m, y_m.",
        )
    placed = with_places(table.value.lines, crs)
    return _readings(placed.value, written, (*table.problems, *placed.problems), (*table.notes, *placed.notes))


def no_column(name: str, column: str, columns: Sequence[str]) -> FileError:
    """What to say where a file has no such column."""
    return FileError(f"{name} has no column “{column}”.", f"It has: {', '.join(columns) or 'none that could be used'}.")


def _readings(
    entries: Sequence[Entry], column: str, problems: Sequence[Problem], notes: tuple[str, ...]
) -> Read[tuple[ReadingDraft, ...]]:
    kept, refused = keep_good_lines(entries, lambda entry: _reading(entry, column))
    return Read(tuple(kept), (*problems, *refused), notes)


def _reading(entry: Entry, column: str) -> ReadingDraft:
    value = entry.number(column, -_LARGEST, _LARGEST)
    return ReadingDraft(entry, entry.text("block"), *read_where(entry), value)


def place_readings(
    drafts: Sequence[ReadingDraft], blocks: Sequence[Block], frame: Frame, name: str, source: str
) -> Read[Covariate | None]:
    """The figures at the vines they belong to: the one named, or the nearest place of a vine; None where nothing is left.

    Several figures at one vine are averaged, and that is noted. Left out with a problem: a vine or block that is not
    there, a place further than a row spacing from any vine, a place in another block than the one named.
    """
    places = place_all(blocks)
    located, problems = _located(drafts, blocks, frame)
    named = {block.name: index for index, block in enumerate(blocks)}
    rows = [first_vines(block) for block in blocks]
    near = _nearest(located, places)

    def placed(item: tuple[int, ReadingDraft]) -> tuple[int, float]:
        index, draft = item
        if draft.row:
            block = named[draft.block]
            return int(places.start[block]) + named_vine(blocks[block], rows[block], draft.row, draft.vine), draft.value
        vine, away_m = near[index]
        block = int(np.searchsorted(places.start, vine, side="right")) - 1
        _refuse_far(draft, blocks[block], away_m)
        return vine, draft.value

    items = [(draft.entry, (index, draft)) for index, (draft, _) in enumerate(located)]
    kept, refused = keep_good(items, placed)
    if not kept:
        return Read(None, (*problems, *refused))
    vine, inverse = np.unique([each for each, _ in kept], return_inverse=True)
    times = np.bincount(inverse)
    values = np.bincount(inverse, [value for _, value in kept]) / times
    several = int((times > 1).sum())
    notes = (
        (f"{source}: more than one figure at {several:,} of {len(vine):,} vines; their mean was taken.",) if several else ()
    )
    return Read(Covariate(name, source, places.at_m[vine], values), (*problems, *refused), notes)


_Located = tuple[ReadingDraft, Floats | None]


def _located(drafts: Sequence[ReadingDraft], blocks: Sequence[Block], frame: Frame) -> tuple[list[_Located], list[Problem]]:
    """Each reading with its place (2,) [m], None where it names its vine."""
    names = [block.name for block in blocks]
    moved = iter(local_points_each(frame, [np.array([draft.lonlat_deg]) for draft in drafts if draft.lonlat_deg is not None]))

    def locate(draft: ReadingDraft) -> _Located:
        point: Floats | None = None
        if draft.lonlat_deg is not None:
            found = next(moved)
            if isinstance(found, Refused):
                raise found
            point = found[0]
        elif draft.easting_m is not None:
            point = np.array(from_projected(frame, *draft.easting_m))
        if draft.block and draft.block not in names:
            do = f"The blocks are {', '.join(names) or 'none'}."
            raise Refused("block", draft.block, "there is no block of this name", do)
        return draft, point

    return keep_good(((draft.entry, draft) for draft in drafts), locate)


def _nearest(located: Sequence[_Located], places: VinePlaces) -> dict[int, tuple[int, float]]:
    """Nearest vine and its distance [m] for each reading that is placed by a point, by its position in the list."""
    asked = [(index, point) for index, (_, point) in enumerate(located) if point is not None]
    if not asked or not len(places.at_m):
        return {}
    away_m, vine = cKDTree(places.at_m).query(np.array([point for _, point in asked]))
    pairs = zip(np.asarray(vine).tolist(), np.asarray(away_m).tolist(), strict=True)
    return {index: pair for (index, _), pair in zip(asked, pairs, strict=True)}


def _refuse_far(draft: ReadingDraft, block: Block, away_m: float) -> None:
    do = "Check its position, or give the row and vine instead."
    if away_m > max(block.row_spacing_m, block.vine_spacing_m):
        raise Refused("", "", f"is {away_m:,.0f} m from the nearest vine, of {block.name}", do)
    if draft.block and draft.block != block.name:
        raise Refused("block", draft.block, f"lies in {block.name}", do)
