# ruff: noqa: TID253 (pictures are written with the library that reads them)
"""Aerial pictures that are refused, and what a season keeps of those that are not. All pictures are invented."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import rasterio
from hypothesis import given, settings
from hypothesis import strategies as st
from picture_makers import BLOCK, RGB, at_home, noise, opened, plain, refused
from raster_makers import HOME, grid, write_raster

from vinemap.errors import FileError
from vinemap.files import picture_reader
from vinemap.files.picture_reader import check_picture, is_picture, look_at_picture, open_picture
from vinemap.files.season_file import create, open_season, read_season
from vinemap.season.edits import with_aerial
from vinemap.season.value import Aerial, Estate, Season

# ---- what is refused


@pytest.mark.parametrize("words", ["1 0 0 -1 5", "0,2 0 0 -0,2 5 5", "a b c d e f", "1 0 0 -1 5 6 7"])
def test_a_broken_world_file_is_refused(tmp_path: Path, words: str) -> None:
    path = plain(tmp_path / "a.png", noise(20, 30))
    path.with_suffix(".pgw").write_text(words, encoding="utf-8")
    assert "a.pgw is not a world file: it needs six figures" in refused(path, "EPSG:32610")


def test_a_place_that_can_not_be_is_refused(tmp_path: Path) -> None:
    path = plain(tmp_path / "a.png", noise(20, 30))
    for words in ("0 0 0 0 5 5", "nan 0 0 -1 5 5", "1 2 2 4 5 5", "1e400 0 0 -1 5 5"):
        path.with_suffix(".pgw").write_text(words, encoding="utf-8")
        assert "a place on the map that can't be" in refused(path, "EPSG:32610")


def test_other_places_unknown_systems_and_no_place_are_refused(tmp_path: Path) -> None:
    cells = noise(20, 30)
    far = grid(HOME, HOME.crs, 0.2, (20, 30), (5_000.0, 5_000.0))
    assert "covers no block of this estate" in refused(write_raster(tmp_path / "a.tif", cells, far, HOME.crs, **RGB))
    path = plain(tmp_path / "b.png", cells, grid(HOME, HOME.crs, 0.2, (20, 30), (-1.0, -1.0)))
    assert "can't be used" in refused(path, "EPSG:999999")
    assert "can't be used" in refused(path, "somewhere")
    assert "covers no block" in refused(path, "EPSG:4326")
    path.with_suffix(".prj").write_text("PROJCS[cut off", encoding="utf-8")
    assert "can't be used" in refused(path)


def test_absurd_sizes_are_refused(tmp_path: Path, monkeypatch) -> None:
    corner = grid(HOME, HOME.crs, 0.2, (300_000, 300_000), (-10.0, -10.0))
    form = {"tiled": True, "blockxsize": 4096, "blockysize": 4096, "sparse_ok": True, "bigtiff": "YES", "compress": "deflate"}
    profile = {"driver": "GTiff", "count": 3, "height": 300_000, "width": 300_000, "dtype": "uint8"} | form | RGB
    with rasterio.open(tmp_path / "a.tif", "w", crs=HOME.crs, transform=corner, **profile):
        pass
    assert "is 300,000 by 300,000 pixels. Cut it to the estate." in refused(tmp_path / "a.tif")
    coarse = grid(HOME, HOME.crs, 10_000.0, (20, 30), (-10.0, -10.0))
    assert "reaches over 300 km" in refused(write_raster(tmp_path / "b.tif", noise(20, 30), coarse, HOME.crs, **RGB))
    monkeypatch.setattr(picture_reader, "MOST_PACKED_PIXELS", 500)
    path = plain(tmp_path / "c.png", noise(20, 30), grid(HOME, HOME.crs, 0.2, (20, 30), (-1.0, -1.0)))
    assert "a PNG or JPEG may have" in refused(path, HOME.crs)
    monkeypatch.setattr(picture_reader, "_MOST_PIECE_BYTES", 1000)
    assert "only be read in one piece" in refused(at_home(tmp_path / "d.tif", noise(20, 30)))


@pytest.mark.parametrize("name", ["a.tif", "a.png", "a.jpg"])
def test_a_picture_that_was_cut_off_is_refused_wherever_it_was_cut(tmp_path: Path, name: str) -> None:
    cells, corner = noise(120, 160), grid(HOME, HOME.crs, 0.2, (120, 160), (-10.0, -10.0))
    if name == "a.tif":
        # copies of itself and where its pieces are stand first, as a picture made to be read piece by piece has them
        made = write_raster(tmp_path / "b.tif", cells, corner, HOME.crs, driver="COG", blocksize=128, compress="deflate")
        whole = made.read_bytes()
    else:
        whole = plain(tmp_path / name, cells, corner).read_bytes()
    path = tmp_path / name
    path.write_bytes(whole)
    look_at_picture(path, [BLOCK], HOME, HOME.crs)
    for share in np.linspace(0.02, 0.98, 13):
        path.write_bytes(whole[: int(share * len(whole))])
        assert len(refused(path, HOME.crs)) > 20
        with pytest.raises(FileError):
            check_picture(path, HOME.crs)


@settings(max_examples=60)
@given(st.binary(max_size=200), st.sampled_from([b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"II*\0", b"MM\0*", b"II+\0", b""]))
def test_whatever_a_file_holds_it_is_refused_in_words(tmp_path_factory, rest: bytes, start: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "odd.tif"
    path.write_bytes(start + rest)
    is_picture(path)
    with pytest.raises(FileError):
        look_at_picture(path, [BLOCK], HOME, HOME.crs)


@settings(max_examples=60)
@given(st.integers(0, 2999), st.integers(0, 255))
def test_a_changed_byte_gives_a_picture_or_a_refusal(tmp_path_factory, at: int, byte: int) -> None:
    folder = tmp_path_factory.getbasetemp()
    whole = folder / "whole.tif"
    if not whole.exists():
        at_home(whole, noise(40, 60), compress="deflate")
    data = bytearray(whole.read_bytes())
    data[at % min(len(data), 600)] = byte
    path = folder / "changed.tif"
    path.write_bytes(data)
    try:
        is_picture(path)
        opened(path).close()
    except FileError:
        pass


# ---- kept in the season


def test_a_picture_is_found_where_it_was_or_beside_the_season_and_not_taken_for_another(tmp_path: Path) -> None:
    first, beside = tmp_path / "first", tmp_path / "beside"
    first.mkdir()
    beside.mkdir()
    path = at_home(first / "a.tif", noise(200, 300))
    aerial = look_at_picture(path, [BLOCK], HOME)
    shutil.move(path, beside / "a.tif")
    open_picture(aerial, HOME, beside).close()
    with pytest.raises(FileError, match=r"The picture a\.tif is not where it was\. Bring it in again"):
        open_picture(aerial, HOME, first)
    bytes_then = aerial.size_bytes
    at_home(path, noise(201, 300))
    with pytest.raises(FileError, match="has changed since it was brought in"):
        open_picture(aerial, HOME, first)
    at_home(path, noise(200, 300), compress="deflate")
    with pytest.raises(FileError, match="has changed since it was brought in"):
        open_picture(aerial, HOME, first)
    # as large a file, but elsewhere
    corner = grid(HOME, HOME.crs, 0.2, (200, 300), (-11.0, -10.0))
    write_raster(path, noise(200, 300), corner, HOME.crs, **RGB)
    assert path.stat().st_size == bytes_then
    with pytest.raises(FileError, match="has changed since it was brought in"):
        open_picture(aerial, HOME, first)
    path.write_bytes(bytes(bytes_then))
    with pytest.raises(FileError, match="can't be read as a picture"):
        open_picture(aerial, HOME, first)


def test_the_season_keeps_a_picture_through_closing_and_undo(tmp_path: Path) -> None:
    aerial = Aerial(
        "Öl.tif", "somewhere else", ((0.25, 1.0), (2.0, 1.0), (2.0, 0.0), (0.25, 0.0)), (20_000, 10_000), 5, "EPSG:32610"
    )
    season = Season(Estate("Invented", HOME, -8.0), (BLOCK,))
    with create(tmp_path / "a.vinemap", season) as file:
        file.apply("picture", with_aerial(season, aerial))
        assert with_aerial(file.season, Aerial(*[getattr(aerial, each) for each in Aerial.__slots__])) is file.season
    assert read_season(tmp_path / "a.vinemap").aerial == aerial
    with open_season(tmp_path / "a.vinemap") as file:
        assert file.season.aerial == aerial
        assert file.undo().aerial is None
        assert file.redo().aerial == aerial
        assert file.apply("none", with_aerial(file.season, None)).aerial is None
    assert read_season(tmp_path / "a.vinemap").aerial is None
