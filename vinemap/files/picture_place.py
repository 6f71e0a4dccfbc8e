"""Where an aerial picture lies: by what it says itself, or by a world file and a .prj file beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from vinemap.errors import FileError, InputError
from vinemap.files.projection import from_system, to_local
from vinemap.files.text import read_text
from vinemap.ground.frame import Frame

if TYPE_CHECKING:
    from affine import Affine

PLAIN_ENDINGS = ("png", "jpg", "jpeg", "tif", "tiff")
ASK_SYSTEM = "Put its .prj file beside it, or name the system when you add it: --crs EPSG:32610, for example."


def world_endings(ending: str) -> tuple[str, ...]:
    """Endings of the world file of a picture with an ending: first and last letter and w, all of it and w, or wld."""
    return (f"{ending[:1]}{ending[-1:]}w", f"{ending}w", "wld")


def without_sides(paths: Sequence[Path]) -> list[Path]:
    """The paths without world and .prj files of pictures among them: choosing all of them means the picture."""
    sides: set[Path] = set()
    for path in paths:
        ending = path.suffix.lower().removeprefix(".")
        if ending in PLAIN_ENDINGS:
            sides |= {path.with_suffix(f".{each}") for each in (*world_endings(ending), "prj")}
    return [path for path in paths if path.with_suffix(path.suffix.lower()) not in sides]


@dataclass(frozen=True, slots=True)
class Place:
    """How pixels lie: ``forward`` from column and row to a map system, named by ``system``."""

    forward: Affine
    system: str

    def corners_m(self, name: str, frame: Frame, size_px: tuple[int, int]) -> tuple[tuple[float, float], ...]:
        """Upper left, upper right, lower right, lower left of the picture itself, in the frame. Raises FileError."""
        wide, high = size_px
        column, row = np.array([0.0, wide, wide, 0.0]), np.array([0.0, 0.0, high, high])
        forward = self.forward
        x = forward.a * column + forward.b * row + forward.c
        y = forward.d * column + forward.e * row + forward.f
        try:
            lon, lat = from_system(self.system, x, y)
        except InputError as error:
            raise FileError(f"{name}: {error.what}", "Give the system it is in, for example EPSG:32610.") from error
        if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
            raise elsewhere(name)
        try:
            east_m, north_m = to_local(frame, lon, lat)
        except InputError as error:
            raise elsewhere(name) from error
        return tuple(zip(east_m.tolist(), north_m.tolist(), strict=True))


def elsewhere(name: str) -> FileError:
    return FileError(f"{name} lies elsewhere: it covers no block of this estate.", "Check its map system, or choose another.")


def place_of(path: Path, source: Any, crs: str) -> Place:
    """Where a picture says that it lies, or what lies beside it; ``crs`` where neither names a system. Raises FileError."""
    forward = source.transform if source.driver == "GTiff" else None
    if forward is None or forward.is_identity:
        forward = _world_file(path)
    numbers = np.array(forward[:6])
    if not np.isfinite(numbers).all() or forward.determinant == 0.0:
        raise FileError(f"{path.name} gives a place on the map that can't be.", "Export it again with its place on the map.")
    system = source.crs.to_wkt() if source.crs is not None else ""
    beside = _beside(path, ("prj",))
    if not system and beside is not None:
        system = read_text(beside)[0].strip()
    system = system or crs.strip()
    if not system:
        raise FileError(
            f"{path.name} does not say in which map system it is.",
            ASK_SYSTEM,
        )
    return Place(forward, system)


def _beside(path: Path, endings: Sequence[str]) -> Path | None:
    """The file of the same name with another ending, in small or capital letters."""
    tried = (path.with_suffix(f".{each}") for ending in endings for each in (ending, ending.upper()))
    return next((each for each in tried if each.is_file()), None)


def _world_file(path: Path) -> Affine:
    """The six figures beside a picture: width, two turns and height of a pixel, and the middle of the first one."""
    from affine import Affine

    endings = world_endings(path.suffix.lower().removeprefix(".") or "x")
    found = _beside(path, endings)
    if found is None:
        raise FileError(
            f"{path.name} does not say where it lies.",
            f"Put its world file (.{endings[0]}) beside it, or export it as a GeoTIFF.",
        )
    try:
        a, d, b, e, c, f = (float(word) for word in read_text(found)[0].split())
    except ValueError as error:
        raise FileError(
            f"{found.name} is not a world file: it needs six figures, with points as decimal marks.",
            "Export the picture again with its world file.",
        ) from error
    return Affine(a, b, c - (a + b) / 2, d, e, f - (d + e) / 2)
