"""A spray task for a sprayer's terminal: TASKDATA.XML with a grid of rates beside it.

Source: ISO 11783-10, XML schema 4.3 of 2018-06-04 (elements CTR, FRM, PFD, VPN, TSK, TZN, PDV and GRD of type 2) and
ISO 11783-11, online data base of 2024-03-10, entry 1 (setpoint volume per area, in hundredths of a mm3/m2). That cells go
from west to east and then from south to north is common practice of those who read the standard.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from vinemap import __version__
from vinemap.columns import Floats, freeze
from vinemap.errors import InputError
from vinemap.files.layer_xml import HEAD, xml_attributes
from vinemap.files.projection import to_local, to_lonlat
from vinemap.files.text import first_bytes
from vinemap.files.whole import made_beside, put_in_place, put_zipped
from vinemap.ground.frame import Frame

XML_NAME, FOLDER = "TASKDATA.XML", "TASKDATA"
SETPOINT_VOLUME = "0001"
PER_L_PER_HA = 10_000
"""1 L/ha is 1e6 mm3 on 1e4 m2, 100 mm3/m2, counted in hundredths."""
LEAST_L_PER_HA, MOST_L_PER_HA = 1.0, 10_000.0
LEAST_CELL_M, MOST_CELL_M = 0.1, 100.0
MOST_CELLS = 4_000_000
_MAKER = ("ManagementSoftwareManufacturer", "Vinemap")
_FROM_OFFICE = ("DataTransferOrigin", 1)
_MOST_LETTERS, _LAST_LETTERS = 32, 10
_NO_SPRAY, _BY_CELL = 0, 1
_SEMI_MAJOR_M, _ECCENTRICITY_2 = 6_378_137.0, 0.006694379990141317  # WGS 84


@dataclass(frozen=True, slots=True, eq=False)
class RateGrid:
    """Rates by cells. ``south_deg``, ``west_deg``: corner of the first cell; ``north_step_deg``, ``east_step_deg``: size of a
    cell [degrees]; ``l_per_ha``: (rows, columns), row 0 in the south, column 0 in the west.
    """

    south_deg: float
    west_deg: float
    north_step_deg: float
    east_step_deg: float
    l_per_ha: Floats

    def __post_init__(self) -> None:
        freeze(self, l_per_ha=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class SprayField:
    """A block to spray: its name, ``outline`` in lon, lat [degrees], area [m2] and the rates."""

    block: str
    outline: shapely.Polygon
    area_m2: float
    grid: RateGrid


def rate_grid(frame: Frame, outline: shapely.Polygon, strips: np.ndarray, l_per_ha: float, cell_m: float) -> RateGrid:
    """The rate in every cell whose middle lies in one of the ``strips`` (polygons) [m], 0 in the others.

    Raises InputError for a rate or size of cells that can't be, and where no cell's middle lies on a strip.
    """
    refuse_rate(l_per_ha)
    refuse_cells(cell_m)
    ground = shapely.union_all([outline, *strips])
    lon, lat = to_lonlat(frame, *shapely.get_coordinates(shapely.segmentize(ground, 10.0)).T)
    north_m, east_m = _degree_m(float(lat.mean()))
    # the terminal reckons with what is written: nine decimals are a tenth of a millimetre
    steps = round(cell_m / north_m, 9), round(cell_m / east_m, 9)
    south, west = math.floor(float(lat.min()) * 1e9) / 1e9, math.floor(float(lon.min()) * 1e9) / 1e9
    rows = math.ceil((float(lat.max()) - south) / steps[0])
    columns = math.ceil((float(lon.max()) - west) / steps[1])
    if rows * columns > MOST_CELLS:
        what = f"Cells of {cell_m:g} m make {rows * columns:,} cells in one block; at most {MOST_CELLS:,} are written."
        raise InputError(what, "Give larger cells.")
    middle_lat = south + (np.arange(rows) + 0.5) * steps[0]
    middle_lon = west + (np.arange(columns) + 0.5) * steps[1]
    x_m, y_m = to_local(frame, np.tile(middle_lon, rows), np.repeat(middle_lat, columns))
    area = shapely.union_all(strips)
    shapely.prepare(area)
    is_sprayed = shapely.contains_xy(area, x_m, y_m).reshape(rows, columns)
    if not is_sprayed.any():
        raise InputError(f"Cells of {cell_m:g} m miss every strip that is to be sprayed.", "Give smaller cells.")
    return RateGrid(south, west, *steps, np.where(is_sprayed, l_per_ha, 0.0))


def refuse_rate(l_per_ha: float) -> None:
    """Raise InputError for a rate [L/ha] that nobody sprays."""
    if not LEAST_L_PER_HA <= l_per_ha <= MOST_L_PER_HA:
        hint = f"Give {LEAST_L_PER_HA:g} to {MOST_L_PER_HA:g} L/ha."
        raise InputError(f"{l_per_ha:g} L/ha is no rate to spray.", hint)


def refuse_cells(cell_m: float) -> None:
    """Raise InputError for cells [m] finer than any sprayer can follow, or wider than any run of vines."""
    if not LEAST_CELL_M <= cell_m <= MOST_CELL_M:
        is_wide = cell_m > MOST_CELL_M
        hint = f"Give {LEAST_CELL_M:g} to {MOST_CELL_M:g} m."
        raise InputError(f"Cells of {cell_m:g} m are too {'large' if is_wide else 'small'}.", hint)


def refuse_name(path: Path) -> None:
    """Raise InputError for a file that is neither a zip nor called as a terminal looks for it."""
    if path.suffix.lower() != ".zip" and path.name.upper() != XML_NAME:
        raise InputError(
            f"A terminal looks for {XML_NAME}, not for {path.name}.", f"Call it {XML_NAME}, in a folder {FOLDER}."
        )


def write_taskdata(path: Path, estate: str, fields: Sequence[SprayField], is_invented: bool) -> None:
    """Write TASKDATA.XML with its grids beside it, or all of them in a zip.

    Raises InputError for another name or where a task or grids of something else lie there, FileError when it can't be
    written.
    """
    path = Path(path)
    grids = [(f"GRD{number:05d}", _bytes_of(each.grid)) for number, each in enumerate(fields, start=1)]
    xml = "".join(_lines(estate, fields, grids, "INVENTED " if is_invented else ""))
    is_zip = path.suffix.lower() == ".zip"
    refuse_name(path)
    if not is_zip:
        _refuse_taken(path, [name for name, _ in grids])
    with made_beside(path) as folder:
        (folder / XML_NAME).write_text(xml, encoding="utf-8", newline="\n")
        for name, body in grids:
            (folder / f"{name}.BIN").write_bytes(body)
        names = [*(f"{name}.BIN" for name, _ in grids), XML_NAME]
        if not is_zip:
            put_in_place([(folder / name, path.with_name(name) if name != XML_NAME else path) for name in names])
            return
        put_zipped(folder, {name: f"{FOLDER}/{name}" for name in names}, path)


def _refuse_taken(path: Path, grids: Sequence[str]) -> None:
    if path.is_file() and path.stat().st_size:
        # what a terminal writes back keeps our name, and holds what was sprayed
        head = first_bytes(path).decode("utf-8", "replace")
        if not all(each in head for each in (xml_attributes([_MAKER]), xml_attributes([_FROM_OFFICE]))):
            what = f"{path.name} is there already, from a terminal or another program. It may hold what was sprayed."
            raise InputError(what, "Choose another folder, or move it away first.")
        return
    taken = [f"{name}.BIN" for name in grids if path.with_name(f"{name}.BIN").exists()]
    if taken:
        raise InputError(f"{taken[0]} is there already and belongs to something else.", "Choose another folder.")


def _bytes_of(grid: RateGrid) -> bytes:
    """Cells as they stand in the file: 4 bytes each, the least first, from west to east and then from south to north."""
    stored = np.rint(grid.l_per_ha * PER_L_PER_HA).astype("<i4")
    return stored.tobytes()


def _lines(estate: str, fields: Sequence[SprayField], grids: Sequence[tuple[str, bytes]], mark: str) -> Iterator[str]:
    """The XML: who and where first, then what is referred to, then a task for each block."""
    yield HEAD
    head = [("VersionMajor", 4), ("VersionMinor", 3), _MAKER, ("ManagementSoftwareVersion", __version__), _FROM_OFFICE]
    yield f"<ISO11783_TaskData{xml_attributes(head)}>\n"
    (name,) = _designators([mark + estate])
    yield f"<CTR{xml_attributes([('A', 'CTR1'), ('B', name)])}/>\n"
    yield f"<FRM{xml_attributes([('A', 'FRM1'), ('B', name), ('I', 'CTR1')])}/>\n"
    names = _designators([mark + each.block for each in fields])
    for number, (each, name) in enumerate(zip(fields, names, strict=True), start=1):
        yield from _field_lines(number, each, name)
    shown = [("A", "VPN1"), ("B", 0), ("C", f"{1 / PER_L_PER_HA:.4f}"), ("D", 1), ("E", "L/ha")]
    yield f"<VPN{xml_attributes(shown)}/>\n"
    names = _designators([f"{mark}Spray {each.block}" for each in fields])
    for number, (each, name, (file, body)) in enumerate(zip(fields, names, grids, strict=True), start=1):
        yield from _task_lines(number, name, each.grid, (file, len(body)))
    yield "</ISO11783_TaskData>\n"


def _field_lines(number: int, each: SprayField, name: str) -> Iterator[str]:
    about = [("A", f"PFD{number}"), ("C", name), ("D", round(each.area_m2))]
    yield f"<PFD{xml_attributes([*about, ('E', 'CTR1'), ('F', 'FRM1')])}>\n"
    yield '<PLN A="1">\n'
    for index, ring in enumerate((each.outline.exterior, *each.outline.interiors)):
        yield f'<LSG A="{1 if index == 0 else 2}">\n'
        for lon, lat in shapely.get_coordinates(ring).tolist():
            yield f'<PNT A="2" C="{lat:.9f}" D="{lon:.9f}"/>\n'
        yield "</LSG>\n"
    yield "</PLN>\n</PFD>\n"


def _task_lines(number: int, name: str, grid: RateGrid, file: tuple[str, int]) -> Iterator[str]:
    about = [("A", f"TSK{number}"), ("B", name)]
    about += [("C", "CTR1"), ("D", "FRM1"), ("E", f"PFD{number}"), ("G", "1")]
    # before, outside and when the place is lost nothing is sprayed
    about += [(letter, str(_NO_SPRAY)) for letter in "HIJ"]
    yield f"<TSK{xml_attributes(about)}>\n"
    for code, words in ((_NO_SPRAY, "No spray"), (_BY_CELL, "By cell")):
        yield f"<TZN{xml_attributes([('A', code), ('B', words)])}>"
        yield f"<PDV{xml_attributes([('A', SETPOINT_VOLUME), ('B', 0), ('E', 'VPN1')])}/></TZN>\n"
    rows, columns = grid.l_per_ha.shape
    placed = [("A", f"{grid.south_deg:.9f}"), ("B", f"{grid.west_deg:.9f}")]
    placed += [("C", f"{grid.north_step_deg:.9f}"), ("D", f"{grid.east_step_deg:.9f}")]
    held: list[tuple[str, object]] = [("E", columns), ("F", rows), ("G", file[0]), ("H", file[1]), ("I", 2), ("J", _BY_CELL)]
    yield f"<GRD{xml_attributes([*placed, *held])}/>\n</TSK>\n"


def _designators(names: Sequence[str]) -> list[str]:
    """Names as a terminal shows them, 32 letters at most: cut in the middle, and numbered where two come out the same."""
    taken: list[str] = []
    for each in names:
        whole = " ".join(unicodedata.normalize("NFC", each).split())
        shown, number = _cut(whole, _MOST_LETTERS), 1
        while shown in taken:
            number += 1
            shown = f"{_cut(whole, _MOST_LETTERS - len(f' ({number})'))} ({number})"
        taken.append(shown)
    return taken


def _cut(text: str, most: int) -> str:
    """What tells long names apart often stands at their end: “West vineyard, upper..old vines”."""
    if len(text) <= most:
        return text
    return f"{text[: most - _LAST_LETTERS - 2].rstrip()}..{text[-_LAST_LETTERS:].lstrip()}"


def _degree_m(lat_deg: float) -> tuple[float, float]:
    """Metres of a degree of latitude and of longitude on WGS 84 (Snyder 1987, p. 24 to 25)."""
    sin_2 = math.sin(math.radians(lat_deg)) ** 2
    curved = 1.0 - _ECCENTRICITY_2 * sin_2
    meridian_m = _SEMI_MAJOR_M * (1.0 - _ECCENTRICITY_2) / curved**1.5
    parallel_m = _SEMI_MAJOR_M / math.sqrt(curved) * math.cos(math.radians(lat_deg))
    return math.radians(meridian_m), math.radians(parallel_m)
