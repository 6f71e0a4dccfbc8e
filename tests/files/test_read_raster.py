"""GeoTIFFs made on the fly and read at the vines."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest
from affine import Affine
from raster_makers import HOME, SOUTH, at_m, block_at, grid, write_empty, write_raster

from vinemap.errors import FileError
from vinemap.files import covariate_raster
from vinemap.files.covariate_raster import read_raster
from vinemap.files.kinds import kind_of
from vinemap.files.projection import to_lonlat
from vinemap.ground.covariates import Covariate, value_at
from vinemap.ground.frame import Frame

UTM = HOME.crs
# no vine on the edge of a cell of 2 m
BLOCK = block_at("Long Acre", 20.3, 30.7)
VINES = at_m(BLOCK)


def numbered(rows: int = 40, columns: int = 50, dtype: str = "float32") -> np.ndarray:
    """Cells numbered from the upper left, row by row."""
    return np.arange(rows * columns).reshape(rows, columns).astype(dtype)


def expected(frame: Frame, crs: str, transform: Affine, cells: np.ndarray, places_m: np.ndarray) -> np.ndarray:
    """The figure of the cell at each place, one by one, by the projection that the raster library itself has on board."""
    from rasterio.warp import transform as reproject

    lon, lat = to_lonlat(frame, places_m[:, 0], places_m[:, 1])
    found = []
    for x, y in zip(*reproject("EPSG:4326", crs, lon.tolist(), lat.tolist()), strict=True):
        column, row = ~transform @ (x, y)
        found.append(float(cells[math.floor(row), math.floor(column)]))
    return np.array(found)


def test_each_vine_takes_the_figure_of_the_cell_it_stands_in(tmp_path: Path) -> None:
    # upper left corner of the raster at easting 10, northing 90 of the frame, cells of 2 m: by hand
    cells = numbered()
    west, north = HOME.origin_x_m + 10.0, HOME.origin_y_m + 90.0
    path = write_raster(tmp_path / "v.tif", cells, Affine(2.0, 0.0, west, 0.0, -2.0, north), UTM)
    read = read_raster(path, (BLOCK,), HOME, "vigour")
    assert kind_of(path) == "raster"
    assert (read.value.name, read.value.source, read.notes) == ("vigour", "v.tif", ())
    np.testing.assert_allclose(read.value.points_m, VINES)
    # vine 1 of row 1: 10.3 m east and 59.3 m south of the corner, cell 5 of line 29; vine 10 of row 3: 15.3 m and 41.3 m
    found = value_at(read.value, np.array([[20.3, 30.7], [25.3, 48.7]]), 0.1)
    np.testing.assert_array_equal(found, [29 * 50 + 5, 20 * 50 + 7])


@pytest.mark.parametrize(
    ("frame", "crs", "cell"),
    [
        (HOME, "EPSG:4326", 2e-5),  # degrees; the register says latitude first, a GeoTIFF stores longitude first
        (HOME, "EPSG:3857", 2.0),
        (HOME, "EPSG:26910", 2.0),  # another datum
        (HOME, "EPSG:2226", 6.0),  # a plane in US feet
        (SOUTH, "EPSG:32755", 1.5),
        (SOUTH, "EPSG:7855", 1.5),
        (SOUTH, "EPSG:4326", 1e-5),
    ],
)
def test_any_map_system_on_both_halves_of_the_earth(tmp_path: Path, frame: Frame, crs: str, cell: float) -> None:
    cells = numbered(60, 60)
    transform = grid(frame, crs, cell, cells.shape, (5.0, 15.0))
    read = read_raster(write_raster(tmp_path / "v.tif", cells, transform, crs), (BLOCK,), frame, "v")
    np.testing.assert_array_equal(read.value.values, expected(frame, crs, transform, cells, VINES))
    # northern vines lie in earlier rows of the raster: a mirrored reading would turn this round
    assert read.value.values[0] > read.value.values[9] + 60


@pytest.mark.parametrize("turn_deg", [12.0, 90.0, 137.0, 261.0])
@pytest.mark.parametrize("mirror", [1.0, -1.0])
def test_turned_and_south_up_rasters(tmp_path: Path, turn_deg: float, mirror: float) -> None:
    cells = numbered(60, 60)
    x, y = HOME.origin_x_m + 24.0, HOME.origin_y_m + 40.0
    turned = Affine.translation(x, y) @ Affine.rotation(turn_deg) @ Affine.scale(2.0, 2.0 * mirror)
    transform = turned @ Affine.translation(-30.0, -30.0)
    read = read_raster(write_raster(tmp_path / "v.tif", cells, transform, UTM), (BLOCK,), HOME, "v")
    np.testing.assert_array_equal(read.value.values, expected(HOME, UTM, transform, cells, VINES))


def north_up(rows: int = 40, cell_m: float = 2.0) -> Affine:
    return grid(HOME, UTM, cell_m, (rows, 0), (10.0, 10.0))


def test_a_cell_is_its_area_also_where_the_file_counts_from_cell_middles(tmp_path: Path) -> None:
    import rasterio

    paths = [write_raster(tmp_path / name, numbered(), north_up(), UTM) for name in ("a.tif", "p.tif")]
    with rasterio.open(paths[1], "r+") as made:
        made.update_tags(AREA_OR_POINT="Point")
    assert paths[0].read_bytes() != paths[1].read_bytes()
    one, other = (read_raster(path, (BLOCK,), HOME, "v").value for path in paths)
    np.testing.assert_array_equal(one.values, other.values)


@pytest.mark.parametrize("dtype", ["uint8", "int16", "uint16", "int32", "uint32", "float32", "float64", "int8", "int64"])
@pytest.mark.parametrize(
    "packed",
    [{}, {"compress": "lzw", "predictor": 2}, {"compress": "deflate", "tiled": True, "blockxsize": 16, "blockysize": 16}],
)
def test_kinds_of_numbers_and_ways_of_packing(tmp_path: Path, dtype: str, packed: dict[str, object]) -> None:
    if dtype.startswith("float") and "predictor" in packed:
        packed = packed | {"predictor": 3}
    cells = (numbered() % 100).astype(dtype)
    read = read_raster(write_raster(tmp_path / "v.tif", cells, north_up(), UTM, **packed), (BLOCK,), HOME, "v")
    np.testing.assert_array_equal(read.value.values, expected(HOME, UTM, north_up(), cells, VINES))


def test_byte_orders_and_the_large_form(tmp_path: Path) -> None:
    for index, given in enumerate(({"ENDIANNESS": "BIG"}, {"BIGTIFF": "YES"})):
        path = write_raster(tmp_path / f"{index}.tif", numbered(), north_up(), UTM, **given)
        assert kind_of(path) == "raster"
        read = read_raster(path, (BLOCK,), HOME, "v")
        np.testing.assert_array_equal(read.value.values, expected(HOME, UTM, north_up(), numbered(), VINES))


def test_scale_and_offset_are_used_and_cells_without_a_figure_are_not(tmp_path: Path) -> None:
    cells = np.full((40, 50), -9999, "int16")
    cells[:25] = 400
    path = write_raster(tmp_path / "v.tif", cells, north_up(), UTM, nodata=-9999, scales=(0.001,), offsets=(0.25,))
    read = read_raster(path, (BLOCK,), HOME, "v")
    assert set(read.value.values) == {400 * 0.001 + 0.25}
    # lines 0 to 24 reach down to 40 m north: the vines at 30.7 to 38.7 m of each row are without
    np.testing.assert_allclose(np.unique(read.value.points_m[:, 1]), [40.7, 42.7, 44.7, 46.7, 48.7])
    assert read.notes == ("v.tif: 15 of 30 vines stand in a cell without a figure.",)


@pytest.mark.parametrize("empty", [np.nan, np.inf, -3.4e38, 1e30])
def test_cells_with_no_number_or_an_absurd_one_count_as_empty(tmp_path: Path, empty: float) -> None:
    cells = np.full((40, 50), empty, "float32")
    cells[:25] = 0.5
    read = read_raster(write_raster(tmp_path / "v.tif", cells, north_up(), UTM), (BLOCK,), HOME, "v")
    assert (len(read.value), read.notes) == (15, ("v.tif: 15 of 30 vines stand in a cell without a figure.",))


def test_a_mask_inside_the_file_is_heeded(tmp_path: Path) -> None:
    mask = np.full((40, 50), 255, "uint8")
    mask[25:] = 0
    path = write_raster(tmp_path / "v.tif", numbered(), north_up(), UTM, mask=mask)
    assert len(read_raster(path, (BLOCK,), HOME, "v").value) == 15


def test_vines_outside_are_told_and_two_blocks_far_apart_need_only_their_own_cells(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    far = block_at("Far", 1_980.3, 0.7)
    cells = np.zeros((600, 1000), "uint8")
    path = write_raster(tmp_path / "v.tif", cells, north_up(600), UTM, compress="deflate")
    # together they would need a window of about 1000 x 30 cells
    monkeypatch.setattr(covariate_raster, "MOST_CELLS", 200)
    read = read_raster(path, (BLOCK, far), HOME, "v")
    inside = at_m(BLOCK, far)
    inside = inside[inside[:, 1] >= 10.0]
    np.testing.assert_allclose(read.value.points_m, inside)
    assert read.notes == ("v.tif: 15 of 60 vines stand outside it.",)


def refused(path: Path, frame: Frame = HOME) -> str:
    with pytest.raises(FileError) as told:
        read_raster(path, (BLOCK,), frame, "v")
    assert told.value.do
    return str(told.value)


def test_what_can_not_be_used_is_said_in_plain_words(tmp_path: Path) -> None:
    path, cells, here = tmp_path / "v.tif", numbered(), north_up()
    path.write_bytes(b"block,row,vine\n")
    assert refused(path) == "v.tif is not a TIFF. Export the raster as a GeoTIFF."
    path.write_bytes(b"")
    assert "is empty" in refused(path)
    assert "no file" in refused(tmp_path / "none.tif")
    path.write_bytes(b"II*\0")
    assert "damaged, cut off" in refused(path)
    assert "has 3 bands. Export the one" in refused(write_raster(path, np.stack([cells] * 3), here, UTM))
    assert "complex numbers" in refused(write_raster(path, cells.astype("complex64"), here, UTM))
    assert "in which map system" in refused(write_raster(path, cells, here, None))
    assert "where its cells lie" in refused(write_raster(path, cells, None, UTM))
    assert "where its cells lie" in refused(write_raster(path, cells, Affine(2.0, 2.0, 0.0, 2.0, 2.0, 0.0), UTM))
    assert "lies elsewhere" in refused(write_raster(path, cells, here, "EPSG:32611"))
    assert "lies elsewhere" in refused(write_raster(path, cells, here, UTM), SOUTH)
    assert "no figure at any vine" in refused(write_raster(path, cells * 0, here, UTM, nodata=0))
    assert "scale for its figures" in refused(write_raster(path, cells, here, UTM, scales=(0.0,)))
    local = 'LOCAL_CS["a plan of the house",UNIT["metre",1]]'
    assert "map system given can't be used" in refused(write_raster(path, cells, here, local))


def test_a_picture_with_a_table_of_colours_is_no_measure(tmp_path: Path) -> None:
    colours = {value: (value, 0, 0, 255) for value in range(256)}
    path = write_raster(tmp_path / "v.tif", (numbered() % 200).astype("uint8"), north_up(), UTM, colormap=colours)
    assert refused(path) == "v.tif holds colours, not figures. Export the figures behind the picture."


def test_degrees_with_latitude_across_are_seen_through(tmp_path: Path) -> None:
    lon, lat = to_lonlat(HOME, 22.5, 40.0)
    swapped = Affine(2e-5, 0.0, float(lat) - 5e-4, 0.0, -2e-5, float(lon) + 5e-4)
    path = write_raster(tmp_path / "v.tif", numbered(50, 50), swapped, "EPSG:4326")
    assert "latitude and longitude swapped" in refused(path)


def test_too_fine_and_absurdly_large_rasters(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # a head that speaks of 4 million million cells
    transform = grid(HOME, UTM, 0.001, (2_000_000, 0), (-900.0, -900.0))
    path = write_empty(tmp_path / "v.tif", 2_000_000, 16384, transform, UTM)
    assert path.stat().st_size < 1_000_000
    assert "can only be read in one piece" in refused(path)
    monkeypatch.setattr(covariate_raster, "_MOST_PIECE_BYTES", 10**12)
    assert "v.tif has 90 million cells over one block; at most 25 million can be read." in refused(path)


def answer(path: Path) -> Covariate | None:
    """What was read, or None after a plain word; anything else fails the test."""
    try:
        return read_raster(path, (BLOCK,), HOME, "v").value
    except FileError as error:
        if not error.do:
            pytest.fail(f"nothing to do about: {error}")
        return None


@pytest.mark.parametrize(
    "packed", [{}, {"compress": "deflate"}, {"tiled": True, "blockxsize": 16, "blockysize": 16, "compress": "lzw"}]
)
def test_a_file_cut_anywhere_is_refused_or_read_as_it_was(tmp_path: Path, packed: dict[str, object]) -> None:
    path = write_raster(tmp_path / "whole.tif", numbered(), north_up(), UTM, **packed)
    whole, data = read_raster(path, (BLOCK,), HOME, "v").value, path.read_bytes()
    cut, refusals = tmp_path / "v.tif", 0
    for length in range(0, len(data), 64):
        cut.write_bytes(data[:length])
        found = answer(cut)
        refusals += found is None
        if found is not None:
            np.testing.assert_array_equal(found.values, whole.values)
    assert refusals > len(data) // 64 // 2


def test_a_byte_turned_anywhere_in_the_head_ends_in_plain_words_at_worst(tmp_path: Path) -> None:
    cells = numbered(8, 8)
    data = bytearray(write_raster(tmp_path / "whole.tif", cells, north_up(8, 10.0), UTM).read_bytes())
    turned, refusals = tmp_path / "v.tif", 0
    for place in range(len(data) - cells.nbytes):
        data[place] ^= 0xFF
        turned.write_bytes(data)
        data[place] ^= 0xFF
        found = answer(turned)
        refusals += found is None
        assert found is None or np.isfinite(found.values).all()
    assert refusals > 50


USER_DEFINED = (3072).to_bytes(2, "little") + b"\0\0\1\0"  # key of the projected system, its code in place


@pytest.mark.parametrize(
    ("was", "now"),
    [
        # the system's own name, in place of its number, is no text
        ((USER_DEFINED + (32610).to_bytes(2, "little"), b"WGS 84 /"), (USER_DEFINED + b"\xff\x7f", b"WGS\x94\x94\x94 /")),
        # the names of systems have lost their tag
        (((34737).to_bytes(2, "little") + b"\2\0",), ((34736).to_bytes(2, "little") + b"\2\0",)),
    ],
)
def test_heads_that_are_wrong_in_themselves_end_in_plain_words(
    tmp_path: Path, was: tuple[bytes, ...], now: tuple[bytes, ...]
) -> None:
    path = write_raster(tmp_path / "v.tif", numbered(), north_up(), UTM)
    data = path.read_bytes()
    for old, new in zip(was, now, strict=True):
        assert old in data
        data = data.replace(old, new)
    path.write_bytes(data)
    found = answer(path)
    assert found is None or len(found) == len(VINES)


def test_a_computer_without_the_library_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write_raster(tmp_path / "v.tif", numbered(), north_up(), UTM)
    monkeypatch.setitem(sys.modules, "rasterio", None)
    assert "this computer lacks a part that reads TIFFs" in refused(path)


def test_nothing_beside_the_file_is_looked_at(tmp_path: Path) -> None:
    path = write_raster(tmp_path / "v.tif", numbered(), north_up(), None)
    (tmp_path / "v.tif.aux.xml").write_text(f"<PAMDataset><SRS>{UTM}</SRS></PAMDataset>")
    (tmp_path / "v.tfw").write_text("2\n0\n0\n-2\n0\n0\n")
    assert "in which map system" in refused(path)
