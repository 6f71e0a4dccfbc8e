"""An aerial picture with its place on the map: GeoTIFF (OGC 19-008), or PNG or JPEG with a world file beside it.

Nothing is kept of it but where it lies; its pixels are read piece by piece, from its own smaller copies where it has them.
"""

from __future__ import annotations

import threading
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from vinemap.columns import Floats
from vinemap.errors import FileError, InputError, Tick, no_tick
from vinemap.files.picture_pixels import (
    Floats32,
    Pixels,
    Stretch,
    find_stretch,
    how_shown,
    is_colour,
    may_be_grey,
    read_pixels,
    sample,
)
from vinemap.files.picture_place import ASK_SYSTEM, elsewhere, place_of
from vinemap.files.projection import to_lonlat, to_system
from vinemap.ground.block import Block
from vinemap.ground.frame import Frame
from vinemap.season.value import Aerial

if TYPE_CHECKING:
    from affine import Affine

MOST_PIXELS = 10_000_000_000
"""100,000 by 100,000: more is a mistake, or a map of a whole county (a choice)."""
MOST_PACKED_PIXELS = 100_000_000
"""PNG and JPEG can only be unpacked from their first line on: larger ones would keep the map waiting (a choice)."""
MOST_SIDE_M = 100_000.0
SMALL_PX = 2048
"""Longest side of the small copy that is held in memory: 16 MB at most."""

_DRIVERS = {b"\x89PNG\r\n\x1a\n": "PNG", b"\xff\xd8\xff": "JPEG"} | dict.fromkeys(
    (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"),
    "GTiff",  # TIFF 6.0, section 2, and its large form
)
_OPTIONS = {
    "GDAL_CACHEMAX": 64_000_000,
    "GDAL_PAM_ENABLED": "NO",
    "GDAL_DISABLE_READDIR_ON_OPEN": "TRUE",
    "GDAL_GEOREF_SOURCES": "INTERNAL",
    "GDAL_ERROR_ON_LIBJPEG_WARNING": "TRUE",
    "GDAL_MAX_DATASET_POOL_SIZE": 8,
}
_MOST_PIECE_BYTES = 200_000_000
_STRIPS = 32
_NODES = 17
_PROBES = 6
_BACK_HOME_M = 0.01


def _driver(path: Path) -> str:
    """What packs the file, by its first bytes; "" where it is no picture or can't be opened."""
    try:
        with path.open("rb") as stream:
            head = stream.read(8)
    except (OSError, ValueError):
        return ""
    return next((driver for start, driver in _DRIVERS.items() if head.startswith(start)), "")


def is_picture(path: Path) -> bool:
    """True for a PNG or JPEG, and for a TIFF of colours; one with a single band of figures is none.

    A file that can't be opened is none: whoever reads it as something else says so.
    """
    path = Path(path)
    driver = _driver(path)
    return _asked(path, is_colour) if driver == "GTiff" else driver != ""


def is_grey(path: Path) -> bool:
    """True for a TIFF of which only a person can say whether it is a grey picture or a column of figures."""
    path = Path(path)
    return _driver(path) == "GTiff" and _asked(path, may_be_grey)


def _asked(path: Path, question: Callable[[Any], bool]) -> bool:
    try:
        with _opened(path) as source:
            return question(source)
    except FileError:
        return False


@contextmanager
def _plain_words(name: str) -> Iterator[None]:
    """What the library below says, in words that tell what to do."""
    try:
        import rasterio
        from rasterio._err import CPLE_BaseError  # some errors come through as the library below reports them
        from rasterio.errors import NotGeoreferencedWarning, RasterioError
    except ImportError as error:
        raise FileError(
            f"{name} can't be read: this computer lacks a part that reads pictures ({error}).",
            "Make Vinemap ready again; on Linux see that libexpat1 is installed.",
        ) from error
    try:
        with warnings.catch_warnings(), rasterio.Env(**_OPTIONS):
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            yield
    except (RasterioError, CPLE_BaseError, UnicodeDecodeError, MemoryError, OSError) as error:
        raise FileError(
            f"{name} can't be read as a picture: it is damaged, cut off, or packed in an unusual way.",
            "Export it again as a GeoTIFF.",
        ) from error


def _open(path: Path) -> Any:
    import rasterio

    # by one driver only, and by a whole path: never a list of other files, never an address
    return rasterio.open(path.absolute(), driver=_driver(path) or "GTiff", sharing=False)


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    with _plain_words(path.name), _open(path) as source:
        yield source


def _refuse_size(name: str, source: Any) -> None:
    pixels = source.width * source.height
    if not (is_colour(source) or may_be_grey(source)):
        raise FileError(f"{name} holds figures, not colours.", "Export it as a picture of three bands of 8 or 16 bits.")
    if pixels > MOST_PIXELS:
        raise FileError(f"{name} is {source.width:,} by {source.height:,} pixels.", "Cut it to the estate.")
    if source.driver != "GTiff" and pixels > MOST_PACKED_PIXELS:
        raise FileError(
            f"{name} has {pixels / 1e6:,.0f} million pixels; a PNG or JPEG may have {MOST_PACKED_PIXELS // 10**6} million.",
            "Save it as a tiled GeoTIFF: of that only what is in sight is read.",
        )
    high, wide = source.block_shapes[0]
    if source.driver == "GTiff" and high * wide * source.count * np.dtype(source.dtypes[0]).itemsize > _MOST_PIECE_BYTES:
        raise FileError(f"{name} can only be read in one piece, which is too large.", "Save it as a tiled GeoTIFF.")


def check_picture(path: Path, crs: str = "") -> None:
    """Raise FileError for a picture that could not be laid below any map."""
    path = Path(path)
    with _opened(path) as source:
        _refuse_size(path.name, source)
        place_of(path, source, crs)
        _probe(source)


def _probe(source: Any) -> None:
    """Read a few pixels all over the picture, the last one too: a file that was cut off does not have them."""
    from rasterio.windows import Window

    for row in np.linspace(0, source.height - 1, _PROBES, dtype=int).tolist():
        for column in np.linspace(0, source.width - 1, _PROBES, dtype=int).tolist():
            source.read(1, window=Window(column, row, 1, 1))


def notes_of(path: Path) -> tuple[str, ...]:
    """Sentences on how a picture is shown, where that is not simply as it is. Raises FileError."""
    path = Path(path)
    with _opened(path) as source:
        return tuple(f"{path.name}: {each}" for each in how_shown(source))


def lacks_system(path: Path) -> bool:
    """True for a picture that has its place but names no map system, as nothing beside it does."""
    path = Path(path)
    try:
        with _opened(path) as source:
            place_of(path, source, "")
    except FileError as error:
        return error.do == ASK_SYSTEM
    return False


def look_at_picture(path: Path, blocks: Sequence[Block], frame: Frame, crs: str = "") -> Aerial:
    """Where a picture lies; ``crs`` names its map system where neither it nor a .prj beside it does.

    Raises FileError when it is none, is damaged, absurdly large, has no place, or covers no block.
    """
    path = Path(path)
    with _opened(path) as source:
        _refuse_size(path.name, source)
        place = place_of(path, source, crs)
        size_px = (source.width, source.height)
        corners_m = place.corners_m(path.name, frame, size_px)
        side_m = float(np.ptp(np.array(corners_m), axis=0).max())
        if side_m > MOST_SIDE_M:
            raise FileError(f"{path.name} reaches over {side_m / 1000:,.0f} km.", "Cut it to the estate.")
        ground = shapely.Polygon(corners_m)
        if not any(ground.intersects(block.outline) for block in blocks):
            raise elsewhere(path.name)
        _probe(source)
    absolute = path.absolute()
    return Aerial(path.name, str(absolute), corners_m, size_px, absolute.stat().st_size, crs.strip())


@dataclass(slots=True, eq=False)
class PictureFile:
    """A picture that is open, with a small copy of it (rows, columns) in memory. Any thread may read from it.

    ``step`` is how many of its pixels one of the small copy covers, across and down.
    """

    name: str
    frame: Frame
    size_px: tuple[int, int]
    system: str
    back: Affine
    small: Pixels
    step: tuple[float, float]
    stretch: Stretch
    _source: Any
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def read_piece(self, west_m: float, north_m: float, m_per_px: float, size: int) -> Pixels | None:
        """Pixels 0xAARRGGBB (size, size) of a square whose upper left corner is at a place [m], colours already times
        alpha; None where the picture has nothing there. Raises FileError when the file fails.

        The way from the map to the picture is worked out at 17 by 17 places and drawn straight between them: over a
        square of ten kilometres that is off by a thousandth of a pixel of the map at most.
        """
        column, row = self._pixels_at(west_m, north_m, m_per_px, size)
        wide, high = self.size_px
        if not (np.isfinite(column).all() and np.isfinite(row).all()):
            return None
        if column.max() <= 0 or row.max() <= 0 or column.min() >= wide or row.min() >= high:
            return None
        coarse = _coarseness(column, row, size)
        if coarse >= 0.7 * min(self.step):
            return sample(self.small, _spread(column / self.step[0], size), _spread(row / self.step[1], size))
        left, top = max(int(column.min()) - 2, 0), max(int(row.min()) - 2, 0)
        right, bottom = min(int(column.max()) + 3, wide), min(int(row.max()) + 3, high)
        shrink = max(coarse, 1.0)
        out = (max(round((bottom - top) / shrink), 1), max(round((right - left) / shrink), 1))
        pixels = self._read((left, top, right - left, bottom - top), out)
        if pixels is None:
            return None
        times = ((right - left) / out[1], (bottom - top) / out[0])
        return sample(pixels, _spread((column - left) / times[0], size), _spread((row - top) / times[1], size))

    def _pixels_at(self, west_m: float, north_m: float, m_per_px: float, size: int) -> tuple[Floats, Floats]:
        """Column and row (17, 17) in the picture of nodes from the first to the last pixel of a square."""
        off_m = np.linspace(0.5, size - 0.5, _NODES) * m_per_px
        east_m, north = np.meshgrid(west_m + off_m, north_m - off_m)
        try:
            lon, lat = to_lonlat(self.frame, east_m, north)
        except InputError:
            nowhere = np.full(east_m.shape, np.nan)
            return nowhere, nowhere
        x, y = to_system(self.system, lon, lat)
        back = self.back
        return back.a * x + back.b * y + back.c, back.d * x + back.e * y + back.f

    def _read(self, box: tuple[int, int, int, int], out: tuple[int, int]) -> Pixels | None:
        with self._lock:
            if self._source is None:
                return None
            with _plain_words(self.name):
                return read_pixels(self._source, box, out, self.stretch)

    def close(self) -> None:
        """Let go of the file; whoever still reads finds nothing."""
        with self._lock:
            source, self._source = self._source, None
        if source is not None:
            source.close()


def _coarseness(column: Floats, row: Floats, size: int) -> float:
    """Pixels of the picture to one of a square, across or down, from the nodes."""
    corner = (0, 0, -1), (0, -1, 0)
    (c0, c_right, c_down), (r0, r_right, r_down) = column[corner].tolist(), row[corner].tolist()
    area = abs((c_right - c0) * (r_down - r0) - (c_down - c0) * (r_right - r0))
    return float(max(area, 1e-12) ** 0.5 / size)


def _spread(nodes: Floats, size: int) -> Floats32:
    """The figures (17, 17) of the nodes drawn out in straight lines (size, size), to a thousandth of a pixel."""
    at = np.linspace(0.0, _NODES - 1.0, size)
    before = np.minimum(at.astype(int), _NODES - 2)
    share = at - before
    lines = (nodes[before] * (1.0 - share[:, None]) + nodes[before + 1] * share[:, None]).astype(np.float32)
    part = share.astype(np.float32)
    spread: Floats32 = lines[:, before] * (np.float32(1.0) - part) + lines[:, before + 1] * part
    return spread


def open_picture(aerial: Aerial, frame: Frame, folder: Path, tick: Tick = no_tick) -> PictureFile:
    """The picture of a season, ready to be read; looked for where it was, then in ``folder``, beside the season.

    Raises FileError when it is gone, or is not the one that was brought in.
    """
    path = next((each for each in (Path(aerial.path), folder / aerial.name) if each.is_file()), None)
    again = "Bring it in again, or write “remove the picture”."
    if path is None:
        raise FileError(f"The picture {aerial.name} is not where it was.", again)
    changed = FileError(f"The picture {aerial.name} has changed since it was brought in.", again)
    if path.stat().st_size != aerial.size_bytes:
        raise changed
    with _plain_words(aerial.name):
        source = _open(path)
        try:
            place = place_of(path, source, aerial.crs)
            size_px = (source.width, source.height)
            if size_px != aerial.size_px:
                raise changed
            corners_m = place.corners_m(aerial.name, frame, size_px)
            if not np.allclose(corners_m, aerial.corners_m, rtol=0.0, atol=_BACK_HOME_M):
                raise changed
            shrink = max(*size_px, SMALL_PX) / SMALL_PX
            small_px = (max(round(size_px[0] / shrink), 1), max(round(size_px[1] / shrink), 1))
            small, stretch = _read_small(source, small_px, tick)
        except BaseException:
            source.close()
            raise
    step = (size_px[0] / small_px[0], size_px[1] / small_px[1])
    return PictureFile(aerial.name, frame, size_px, place.system, ~place.forward, small, step, stretch, source)


def _read_small(source: Any, small_px: tuple[int, int], tick: Tick) -> tuple[Pixels, Stretch]:
    """The whole picture made small, strip by strip, and how its figures become colours."""
    wide, high = small_px
    stretch = find_stretch(source)
    small = np.zeros((high, wide), np.uint32)
    edges = np.unique(np.linspace(0, high, min(_STRIPS, high) + 1).astype(int))
    for first, last in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        tick(first / high)
        top, bottom = round(first * source.height / high), round(last * source.height / high)
        small[first:last] = read_pixels(source, (0, top, source.width, bottom - top), (last - first, wide), stretch)
    return small, stretch
