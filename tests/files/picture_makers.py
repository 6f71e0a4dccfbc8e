"""Tiny invented aerial pictures around one block."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from affine import Affine
from raster_makers import HOME, block_at, grid, write_raster

from vinemap.errors import FileError
from vinemap.files.picture_reader import PictureFile, look_at_picture, open_picture
from vinemap.ground.frame import Frame

BLOCK = block_at("Long Acre", 0.0)
RGB = {"photometric": "RGB"}


def ramps(high: int, wide: int) -> np.ndarray:
    """Red grows with the column, green with the row; blue is 77."""
    red, green = np.linspace(0, 255, wide), np.linspace(0, 255, high)
    cells = np.stack([np.tile(red, (high, 1)), np.tile(green[:, None], (1, wide)), np.full((high, wide), 77)])
    return np.rint(cells).astype(np.uint8)


def noise(high: int, wide: int, bands: int = 3, kind: str = "uint8") -> np.ndarray:
    return np.random.default_rng(5).integers(0, np.iinfo(kind).max, (bands, high, wide), kind, endpoint=True)


def parts(pixels: np.ndarray) -> np.ndarray:
    """Red, green, blue, alpha (..., 4) of 0xAARRGGBB."""
    return np.stack([(pixels >> shift) & 255 for shift in (16, 8, 0, 24)], axis=-1).astype(int)


def at_home(path: Path, cells: np.ndarray, frame: Frame = HOME, **given: object) -> Path:
    """A picture of 20 cm to a pixel around the block, in the estate's own system."""
    corner = grid(frame, frame.crs, 0.2, cells.shape[1:], (-10.0, -10.0))
    return write_raster(path, cells, corner, frame.crs, **({} if len(cells) < 3 else RGB) | given)


def opened(path: Path, frame: Frame = HOME, crs: str = "") -> PictureFile:
    return open_picture(look_at_picture(path, [BLOCK], frame, crs), frame, path.parent)


def refused(path: Path, crs: str = "") -> str:
    with pytest.raises(FileError) as caught:
        look_at_picture(path, [BLOCK], HOME, crs)
    assert caught.value.do
    return str(caught.value)


def plain(path: Path, cells: np.ndarray, corner: Affine | None = None, prj: str = "") -> Path:
    """A PNG or JPEG; with a world file and a .prj file beside it where they are given."""
    form = {"driver": "PNG"} if path.suffix == ".png" else {"driver": "JPEG", "quality": 100}
    write_raster(path, cells, None, None, **form)
    if corner is not None:
        # width, turns, height of a pixel, and the middle of the first one
        a, b, c, d, e, f = corner[:6]
        figures = (a, d, b, e, c + (a + b) / 2, f + (d + e) / 2)
        ending = {".png": ".pgw", ".jpg": ".jgw"}[path.suffix]
        path.with_suffix(ending).write_text("\n".join(f"{figure:.10f}" for figure in figures), encoding="utf-8")
    if prj:
        from rasterio.crs import CRS

        system = CRS.from_user_input(prj).to_wkt(version="WKT1_ESRI")
        path.with_suffix(".prj").write_text(system, encoding="utf-8")
    return path
