"""Tiny invented GeoTIFFs, and an estate to lay them over."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from affine import Affine

from vinemap.columns import Floats
from vinemap.files.projection import frame_for, to_lonlat, to_system
from vinemap.ground.block import Block, RowTable
from vinemap.ground.frame import Frame
from vinemap.ground.vines import place_vines

HOME = frame_for(-122.70, 38.60)
SOUTH = frame_for(145.30, -38.05)


def block_at(name: str, east_m: float, north_m: float = 0.0, rows: int = 3, vines: int = 10) -> Block:
    """A block of straight rows northwards, 2.5 m apart, a vine every 2 m."""
    lines = [[[east_m + 2.5 * row, north_m], [east_m + 2.5 * row, north_m + 2.0 * vines]] for row in range(rows)]
    labels = tuple(str(row + 1) for row in range(rows))
    table = RowTable(labels, np.concatenate(lines), 2 * np.arange(rows + 1), np.full(rows, 2.0), np.full(rows, vines))
    outline = shapely.box(east_m - 1.5, north_m - 1.5, east_m + 2.5 * rows, north_m + 2.0 * vines + 1.5)
    return Block(name, outline, table, 2.5, 2.0)


def at_m(*blocks: Block) -> Floats:
    """Places (n, 2) [m] of all vines."""
    placed = [place_vines(block) for block in blocks]
    return np.concatenate([np.column_stack([each.x_m, each.y_m]) for each in placed])


def write_raster(path: Path, cells: np.ndarray, transform: Affine | None, crs: str | None, **given: Any) -> Path:
    """A GeoTIFF of one band, or of several when ``cells`` has three dimensions."""
    import rasterio

    bands = cells if cells.ndim == 3 else cells[None]
    count, height, width = bands.shape
    tags = {key: given.pop(key) for key in ("scales", "offsets", "colormap", "mask") if key in given}
    profile = {"driver": "GTiff", "count": count, "height": height, "width": width, "dtype": bands.dtype} | given
    if transform is not None:
        profile["transform"] = transform
    path.unlink(missing_ok=True)
    with warnings.catch_warnings(), rasterio.Env(GDAL_TIFF_INTERNAL_MASK="YES"):
        warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
        with rasterio.open(path, "w", crs=crs, **profile) as made:
            if "colormap" in tags:
                made.write_colormap(1, tags.pop("colormap"))
            made.write(bands)
            if "mask" in tags:
                made.write_mask(tags.pop("mask"))
            for key, value in tags.items():
                setattr(made, key, value)
    return path


def write_empty(path: Path, size: int, piece: int, transform: Affine, crs: str) -> Path:
    """A GeoTIFF whose head speaks of ``size`` by ``size`` cells, of which none is stored."""
    import rasterio

    form = {"sparse_ok": True, "tiled": True, "blockxsize": piece, "blockysize": piece, "compress": "deflate"}
    profile = {"driver": "GTiff", "count": 1, "height": size, "width": size, "dtype": "uint8"} | form
    with rasterio.open(path, "w", crs=crs, transform=transform, **profile):
        pass
    return path


def grid(frame: Frame, crs: str, cell: float, size: tuple[int, int], south_west_m: tuple[float, float]) -> Affine:
    """North-up transform of a raster (rows, columns) in any system whose lower left corner is at a place [m]."""
    lon, lat = to_lonlat(frame, south_west_m[0], south_west_m[1])
    x, y = to_system(crs, lon, lat)
    return Affine(cell, 0.0, float(x), 0.0, -cell, float(y) + cell * size[0])
