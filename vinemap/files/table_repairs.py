"""What can be mended in tables, their lines staying where they are."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from vinemap.files.repairs import DONE, DUPLICATES, SWAP, Mended, Place, is_swapped
from vinemap.files.table import first_lines, records_as_written

_PLAIN = re.compile(r"[+-]?[0-9]*[.,]?[0-9]+([eE][+-]?[0-9]{1,3})?")


@dataclass(frozen=True, slots=True)
class MendedText:
    """The text of a table after its repairs."""

    text: str
    mended: tuple[Mended, ...]


def mend_table(file: str, text: str, repairs: Collection[str], home: Place | None) -> MendedText | None:
    """A CSV file after these repairs, its lines where they were; None where nothing is changed."""
    # parsing is slow beside a look whether any line stands there twice
    said = [line for line in text.splitlines() if line.strip()]
    can_swap = SWAP in repairs and home is not None and _has_lonlat(text)
    can_drop = DUPLICATES in repairs and len(set(said)) < len(said)
    table = records_as_written(text) if can_swap or can_drop else None
    if table is None:
        return None
    columns = {name: index for index, name in enumerate(table.columns)}
    mended: list[Mended] = []
    first: dict[tuple[str, ...], str] = {}
    lines = list(table.lines)
    for record in table.records:
        cells = [cell.strip() for cell in record.cells]
        key = tuple(cells)
        if not any(cells):
            continue
        if can_drop and key in first:
            lines[record.start : record.end] = [""] * (record.end - record.start)
            mended.append(Mended(file, record.place, DUPLICATES, f"{DONE[DUPLICATES]} {first[key]}"))
            continue
        first.setdefault(key, record.place)
        if can_swap and home is not None and len(cells) > max(columns.values()):
            lon, lat = columns["lon"], columns["lat"]
            place = _lonlat(cells[lon], cells[lat])
            if place is not None and is_swapped(*place, home):
                cells[lon], cells[lat] = cells[lat], cells[lon]
                write_record(lines, record.start, record.end, cells, table.separator)
                mended.append(Mended(file, record.place, SWAP, DONE[SWAP]))
    return MendedText("\n".join(lines), tuple(mended)) if mended else None


def table_places(text: str) -> list[Place]:
    """Longitude and latitude of each line of a CSV file that has them."""
    table = records_as_written(text) if _has_lonlat(text) else None
    if table is None:
        return []
    lon, lat = table.columns.index("lon"), table.columns.index("lat")
    whole = [record.cells for record in table.records if len(record.cells) > max(lon, lat)]
    found = [_lonlat(cells[lon], cells[lat]) for cells in whole]
    return [place for place in found if place is not None]


def write_record(lines: list[str], start: int, end: int, cells: Sequence[str], separator: str) -> None:
    """Put other cells in the place of one record, over as many lines as it had."""
    stream = io.StringIO()
    csv.writer(stream, delimiter=separator, lineterminator="\n").writerow(cells)
    new = stream.getvalue().removesuffix("\n").split("\n")
    lines[start:end] = [*new, *[""] * (end - start - len(new))][: end - start]


def _has_lonlat(text: str) -> bool:
    beginning = records_as_written(first_lines(text))
    return beginning is not None and {"lon", "lat"} <= set(beginning.columns)


def _lonlat(lon: str, lat: str) -> Place | None:
    if not (_PLAIN.fullmatch(lon) and _PLAIN.fullmatch(lat)):
        return None
    return float(lon.replace(",", ".")), float(lat.replace(",", "."))
