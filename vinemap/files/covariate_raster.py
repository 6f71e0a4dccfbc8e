"""One band of a small GeoTIFF (OGC 19-008, GeoTIFF 1.1), read at the vines: each gets the figure of the cell it stands in.

Nothing is reckoned between cells: a cell without a figure gives none to its neighbours, and codes stay codes.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from vinemap.columns import Bools, Floats
from vinemap.errors import FileError, InputError
from vinemap.files.covariate_reader import VinePlaces, place_all
from vinemap.files.projection import to_lonlat, to_system
from vinemap.files.text import Read, first_bytes, read_bytes
from vinemap.ground.block import Block
from vinemap.ground.covariates import Covariate
from vinemap.ground.frame import Frame

MOST_CELLS = 25_000_000
"""Cells over one block that are read at most: 25 ha in cells of 10 cm (a choice)."""

_MOST_PIECE_BYTES = 200_000_000
_STARTS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")  # TIFF 6.0, section 2, and its large form
_LARGEST = 1e12
_CACHE_BYTES = 64_000_000


def is_raster(path: Path) -> bool:
    """True where the file begins as a TIFF does. Raises FileError when it can't be opened."""
    return first_bytes(path).startswith(_STARTS)


def check_raster(path: Path) -> Read[tuple[()]]:
    """Nothing, for a raster that could be read over the right estate. Raises FileError for any other."""
    with _opened(Path(path)) as source:
        _refuse_unfit(Path(path).name, source)
    return Read(())


def read_raster(path: Path, blocks: Sequence[Block], frame: Frame, name: str) -> Read[Covariate]:
    """The raster's figures at the vines, living or not, of all blocks. Only the cells over the blocks are read.

    Vines outside it, or in a cell without a figure, are counted in a note. Raises FileError when the file is no GeoTIFF
    with one band of real figures, has no map system, is too fine, or holds no figure at any vine.
    """
    path = Path(path)
    places = place_all(blocks)
    with _opened(path) as source:
        _refuse_unfit(path.name, source)
        column, row = _cells(path.name, source, frame, places.at_m)
        inside = _inside(source, column, row)
        if not inside.any():
            raise _elsewhere(path.name, source, frame, places.at_m)
        values = np.full(len(places.at_m), np.nan)
        for block in _spans(places):
            here = block[inside[block]]
            if len(here):
                values[here] = _values(path.name, source, column[here], row[here])
    known = np.isfinite(values)
    if not known.any():
        raise FileError(
            f"{path.name} has no figure at any vine: its cells there are empty.",
            "Export it again with figures over the blocks.",
        )
    lost = [(int((~inside).sum()), "outside it"), (int((inside & ~known).sum()), "in a cell without a figure")]
    notes = tuple(f"{path.name}: {count:,} of {len(known):,} vines stand {what}." for count, what in lost if count)
    return Read(Covariate(name, path.name, places.at_m[known], values[known]), (), notes)


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """The raster, read from memory: no other file is looked at, whatever its name. Raises FileError."""
    data = read_bytes(path)
    if not data.startswith(_STARTS):
        raise FileError(f"{path.name} is not a TIFF.", "Export the raster as a GeoTIFF.")
    try:
        import rasterio
        from rasterio._err import CPLE_BaseError  # some errors come through as the library below reports them
        from rasterio.errors import NotGeoreferencedWarning, RasterioError
    except ImportError as error:
        raise FileError(
            f"{path.name} can't be read: this computer lacks a part that reads TIFFs ({error}).",
            "Make Vinemap ready again; on Linux see that libexpat1 is installed. Or bring the figures in as a table.",
        ) from error
    options = {"GDAL_CACHEMAX": _CACHE_BYTES, "GDAL_PAM_ENABLED": "NO", "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR"}
    try:
        with warnings.catch_warnings(), rasterio.Env(**options), rasterio.MemoryFile(data, ext="tif") as memory:
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            with memory.open(driver="GTiff") as source:
                yield source
    except (RasterioError, CPLE_BaseError, UnicodeDecodeError, MemoryError) as error:
        raise FileError(
            f"{path.name} can't be read as a TIFF: it is damaged, cut off, or packed in an unusual way.",
            "Export it again as a plain GeoTIFF.",
        ) from error


def _refuse_unfit(name: str, source: Any) -> None:
    from rasterio.enums import ColorInterp

    if source.count != 1:
        raise FileError(f"{name} has {source.count} bands.", "Export the one that you mean as a GeoTIFF of its own.")
    if "complex" in source.dtypes[0]:
        raise FileError(f"{name} holds complex numbers.", "Export plain figures, one to a cell.")
    if source.colorinterp[0] == ColorInterp.palette:
        raise FileError(f"{name} holds colours, not figures.", "Export the figures behind the picture.")
    if source.crs is None or not source.crs.to_wkt():
        raise FileError(f"{name} does not say in which map system it is.", "Export it as a GeoTIFF with its map system.")
    numbers = np.array(source.transform[:6])
    if source.transform.is_identity or not np.isfinite(numbers).all() or source.transform.determinant == 0.0:
        raise FileError(f"{name} does not say where its cells lie.", "Export it as a GeoTIFF with its place on the map.")
    scale, offset = source.scales[0], source.offsets[0]
    if not (np.isfinite([scale, offset]).all() and scale != 0.0):
        raise FileError(f"{name} gives a scale for its figures that can't be used.", "Export the figures themselves.")
    height, width = source.block_shapes[0]
    if height * width * np.dtype(source.dtypes[0]).itemsize > _MOST_PIECE_BYTES:
        raise FileError(
            f"{name} is too large: it can only be read in one piece.", "Cut it to the estate, or use larger cells."
        )


def _cells(name: str, source: Any, frame: Frame, at_m: Floats) -> tuple[Floats, Floats]:
    """Column and row (n,) in cells and parts of cells, from the raster's first corner, of places (n, 2) [m]."""
    lon, lat = to_lonlat(frame, at_m[:, 0], at_m[:, 1])
    try:
        x, y = to_system(source.crs.to_wkt(), lon, lat)
    except InputError as error:
        raise FileError(f"{name}: {error.what}", error.do) from error
    back = ~source.transform
    return back.a * x + back.b * y + back.c, back.d * x + back.e * y + back.f


def _inside(source: Any, column: Floats, row: Floats) -> Bools:
    inside: Bools = (column >= 0) & (column < source.width) & (row >= 0) & (row < source.height)
    return inside


def _spans(places: VinePlaces) -> list[np.ndarray]:
    """Numbers of the vines of each block."""
    return [np.arange(first, last) for first, last in zip(places.start[:-1], places.start[1:], strict=True)]


def _values(name: str, source: Any, column: Floats, row: Floats) -> Floats:
    """Figures (n,) of the cells that places lie in, NaN where a cell has none. Raises FileError."""
    from rasterio.windows import Window

    across, down = np.floor(column).astype(np.int64), np.floor(row).astype(np.int64)
    left, top = int(across.min()), int(down.min())
    width, height = int(across.max()) - left + 1, int(down.max()) - top + 1
    if width * height > MOST_CELLS:
        raise FileError(
            f"{name} has {width * height / 1e6:,.0f} million cells over one block; "
            f"at most {MOST_CELLS // 10**6} million can be read.",
            "Use larger cells: half a metre is fine enough for single vines.",
        )
    cells = source.read(1, window=Window(left, top, width, height), masked=True)
    found = cells[down - top, across - left]
    values: Floats = np.ma.getdata(found).astype(np.float64) * source.scales[0] + source.offsets[0]
    # beyond any measure: an empty cell that was not declared as one
    is_empty = np.ma.getmaskarray(found) | ~(np.abs(values) <= _LARGEST)
    return np.where(is_empty, np.nan, values)


def _elsewhere(name: str, source: Any, frame: Frame, at_m: Floats) -> FileError:
    """What to say of a raster that covers no vine."""
    if source.crs.is_geographic:
        lon, lat = to_lonlat(frame, at_m[:, 0], at_m[:, 1])
        back = ~source.transform
        if _inside(source, back.a * lat + back.b * lon + back.c, back.d * lat + back.e * lon + back.f).any():
            return FileError(f"{name} has latitude and longitude swapped.", "Export it with longitude across, latitude up.")
    return FileError(f"{name} lies elsewhere: it covers no vine of this estate.", "Check its map system, or choose another.")
