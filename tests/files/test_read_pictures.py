# ruff: noqa: TID253 (PROJ is what it is checked against)
"""Aerial pictures: what their bands, masks and places mean, and what is refused. All pictures are invented.

Places are checked against PROJ itself: where a pixel of the map falls in the picture is worked out anew for each of them.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from picture_makers import BLOCK, RGB, at_home, noise, opened, parts, plain, ramps, refused
from pyproj import Transformer
from raster_makers import HOME, SOUTH, grid, write_raster
from rasterio.enums import ColorInterp

from vinemap.files import picture_reader
from vinemap.files.kinds import kind_of
from vinemap.files.picture_pixels import sample
from vinemap.files.picture_reader import is_grey, is_picture, lacks_system, look_at_picture, notes_of
from vinemap.files.projection import frame_for
from vinemap.ground.frame import Frame

# ---- what is a picture


def test_pictures_are_told_from_columns_of_figures_by_their_bands(tmp_path: Path) -> None:
    cells = noise(20, 30, 4)
    kinds = {
        "three": at_home(tmp_path / "a.tif", cells[:3]),
        "four": at_home(tmp_path / "b.tif", cells),
        "deep": at_home(tmp_path / "c.tif", noise(20, 30, 3, "uint16")),
        "grey and alpha": at_home(tmp_path / "d.tif", cells[:2], alpha="YES"),
        "table": at_home(tmp_path / "e.tif", cells[:1] % 4, colormap={k: (k, 2, 3, 255) for k in range(4)}),
        "more": at_home(tmp_path / "m.tif", noise(20, 30, 6, "uint16")),
    }
    assert {name: kind_of(path) for name, path in kinds.items()} == dict.fromkeys(kinds, "picture")
    for name, other in (("f.tif", cells[:1]), ("g.tif", cells[:2]), ("h.tif", cells[:3].astype(np.float32))):
        assert kind_of(at_home(tmp_path / name, other)) == "raster", name
    for name in ("k.png", "k.jpg"):
        assert kind_of(plain(tmp_path / name, cells[:3])) == "picture"
    text = tmp_path / "l.csv"
    text.write_text("\x89PNG is not how a picture begins\n", encoding="utf-8")
    assert not is_picture(text)
    assert not is_picture(tmp_path)
    assert not is_picture(tmp_path / "none.tif")


# ---- where its pixels fall


def test_a_picture_in_the_estate_s_own_system_comes_out_as_it_is(tmp_path: Path) -> None:
    cells = noise(200, 300)
    picture = opened(at_home(tmp_path / "a.tif", cells))
    # its upper left corner is 10 m west and 30 m north of the origin
    found = parts(picture.read_piece(-10.0, 30.0, 0.2, 256))
    picture.close()
    assert np.abs(found[:200, :, :3] - np.moveaxis(cells[:, :, :256], 0, -1)).max() <= 1
    assert (found[:200, :, 3] == 255).all()
    assert (found[201:] == 0).all()


TURNED = Affine(0.25, 0.14, 0.0, 0.16, -0.21, 0.0)
SYSTEMS = [
    pytest.param(HOME, "EPSG:32610", Affine.scale(0.3, -0.3), id="own"),
    pytest.param(HOME, "EPSG:32610", TURNED, id="own turned"),
    pytest.param(HOME, "EPSG:4326", Affine.scale(3e-6, -3e-6), id="degrees"),
    pytest.param(HOME, "EPSG:32611", TURNED, id="next zone turned"),
    pytest.param(HOME, "EPSG:2226", Affine.scale(1.0, -1.0), id="feet"),
    pytest.param(SOUTH, "EPSG:28355", Affine.scale(0.3, -0.3), id="south"),
    pytest.param(SOUTH, "EPSG:3857", Affine.scale(0.4, 0.4), id="south, first row lowest"),
    pytest.param(frame_for(177.95, -17.8), "EPSG:32660", TURNED, id="at 180 degrees"),
]


@pytest.mark.parametrize("m_per_px", [0.11, 0.3, 1.3])
@pytest.mark.parametrize(("frame", "system", "turn"), SYSTEMS)
def test_pixels_fall_where_proj_says(tmp_path: Path, monkeypatch, frame: Frame, system: str, turn: Affine, m_per_px) -> None:
    wide, high = 400, 300
    # a small copy that is smaller than this picture, so that both ways to read it are gone
    monkeypatch.setattr(picture_reader, "SMALL_PX", 120)
    way = Transformer.from_crs(frame.crs, system, always_xy=True)
    x, y = way.transform(frame.origin_x_m + 5.0, frame.origin_y_m + 5.0)
    a, b, _, d, e, _ = turn[:6]
    corner = Affine(a, b, x - (a * wide + b * high) / 2, d, e, y - (d * wide + e * high) / 2)
    path = write_raster(tmp_path / "a.tif", ramps(high, wide), corner, system, **RGB)
    picture = opened(path, frame)
    size, west_m, north_m = 128, 5.0 - 64 * m_per_px, 5.0 + 60 * m_per_px
    found = parts(picture.read_piece(west_m, north_m, m_per_px, size))
    picture.close()
    off_m = (np.arange(size) + 0.5) * m_per_px
    east, north = np.meshgrid(frame.origin_x_m + west_m + off_m, frame.origin_y_m + north_m - off_m)
    x, y = way.transform(east, north)
    back = ~corner
    column, row = back.a * x + back.b * y + back.c, back.d * x + back.e * y + back.f
    inside = (column > 4) & (column < wide - 4) & (row > 4) & (row < high - 4)
    assert inside.sum() > 1000
    # half a level for each rounding on the way; a pixel of the picture is two thirds of a level, one of the map up to four
    assert np.abs(found[..., 0] - (column - 0.5) * 255 / (wide - 1))[inside].max() < 2.0
    assert np.abs(found[..., 1] - (row - 0.5) * 255 / (high - 1))[inside].max() < 2.0
    assert (found[inside][:, 2:] == (77, 255)).all()
    outside = (column < -4) | (column > wide + 4) | (row < -4) | (row > high + 4)
    assert (found[outside] == 0).all()


def test_nothing_where_the_picture_is_not_and_after_it_was_closed(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(picture_reader, "SMALL_PX", 50)
    picture = opened(at_home(tmp_path / "a.tif", noise(200, 300)))
    assert picture.read_piece(1000.0, 0.0, 0.2, 64) is None
    assert picture.read_piece(0.0, 0.0, 500.0, 64) is None or (picture.read_piece(0.0, 0.0, 500.0, 64) != 0).sum() <= 1
    assert picture.read_piece(0.0, 10.0, 0.1, 64) is not None
    picture.close()
    picture.close()
    assert picture.read_piece(0.0, 10.0, 0.1, 64) is None


def test_straight_lines_between_middles_of_pixels() -> None:
    pixels = np.array([[0xFF000000, 0xFFFF8040], [0x00000000, 0xFF10FF00]], np.uint32)
    across, down = (
        np.array([[0.5, 1.0, 1.5, 1.0, 0.1, 2.1]], np.float32),
        np.array([[0.5, 0.5, 0.5, 1.0, 0.1, 0.5]], np.float32),
    )
    found = parts(sample(pixels, across, down))[0]
    assert found[0].tolist() == [0, 0, 0, 255]
    assert np.abs(found[1] - [127.5, 64, 32, 255]).max() <= 0.5
    assert found[2].tolist() == [255, 128, 64, 255]
    assert np.abs(found[3] - np.array([255 + 16, 128 + 255, 64, 3 * 255]) / 4).max() <= 0.5
    assert found[4].tolist() == [0, 0, 0, 255]
    assert found[5].tolist() == [0, 0, 0, 0]


# ---- what its bands mean


def middle(path: Path, crs: str = "") -> np.ndarray:
    """Red, green, blue, alpha of the block's first 16 by 16 pixels, at the picture's own scale."""
    picture = opened(path, crs=crs)
    found = parts(picture.read_piece(0.0, 20.0, 0.2, 16))
    picture.close()
    return found


def test_what_is_empty_is_clear(tmp_path: Path) -> None:
    cells = np.full((3, 200, 300), 90, np.uint8)
    cells[:, 50:60, 50:58] = 0
    by_value = middle(at_home(tmp_path / "a.tif", cells, nodata=0))
    alpha = np.where(cells[:1] == 0, 0, 255).astype(np.uint8)
    by_band = middle(at_home(tmp_path / "b.tif", np.concatenate([cells, alpha]), alpha="YES"))
    by_mask = middle(at_home(tmp_path / "c.tif", cells, mask=alpha[0]))
    for found in (by_value, by_band, by_mask):
        assert (found[:10, :8] == 0).all()
        assert np.abs(found[11:, :] - (90, 90, 90, 255)).max() <= 1
        assert np.abs(found[:, 9:] - (90, 90, 90, 255)).max() <= 1


def test_half_clear_pixels_keep_half_their_colour(tmp_path: Path) -> None:
    cells = np.full((4, 200, 300), 200, np.uint8)
    cells[3] = 128
    assert np.abs(middle(at_home(tmp_path / "a.tif", cells, alpha="YES")) - (100, 100, 100, 128)).max() <= 1


def test_a_fourth_band_that_is_not_alpha_is_left_out(tmp_path: Path) -> None:
    cells = np.full((4, 200, 300), 200, np.uint8)
    cells[3] = 0
    assert np.abs(middle(at_home(tmp_path / "a.tif", cells, alpha="UNSPECIFIED")) - (200, 200, 200, 255)).max() <= 1


def test_colours_of_a_table_are_never_mixed_up(tmp_path: Path) -> None:
    cells = np.tile(np.array([[3, 200], [200, 3]], np.uint8), (100, 150))[None]
    table = {3: (10, 20, 30, 255), 200: (200, 100, 50, 255)}
    found = middle(at_home(tmp_path / "a.tif", cells, colormap=table))
    assert {tuple(each) for each in found.reshape(-1, 4).tolist()} == {(10, 20, 30, 255), (200, 100, 50, 255)}


def test_sixteen_bits_are_stretched_between_what_is_there(tmp_path: Path) -> None:
    cells = np.tile(np.linspace(300, 3300, 300), (3, 200, 1)).astype(np.uint16)
    cells[:, 0, 0], cells[:, 0, 1] = 0, 65535
    picture = opened(at_home(tmp_path / "a.tif", cells))
    found = parts(picture.read_piece(-10.0, 30.0, 0.2, 256))
    picture.close()
    assert found[100, 2, 0] <= 3
    # of figures that are spread evenly the darkest 2 % are those of the first 6 of 300 columns
    assert found[100, 5, 0] <= 1
    assert found[100, 8, 0] >= 2
    # column 150 is in the middle of what lies between them and the last 6
    assert found[100, 150, 0] == pytest.approx(128, abs=3)


def test_of_more_than_four_bands_those_called_red_green_and_blue_are_shown(tmp_path: Path) -> None:
    """As a camera of five colours writes them: blue first, then what the eye does not see."""
    cells = np.stack([np.full((200, 300), each, np.uint8) for each in (10, 20, 30, 40, 50)])
    path = at_home(tmp_path / "a.tif", cells, photometric="MINISBLACK")
    assert np.abs(middle(path)[..., :3] - (10, 20, 30)).max() <= 1
    assert notes_of(path) == ("a.tif: bands 1, 2, 3 are shown as red, green and blue; 2 more are left out.",)
    with rasterio.open(path, "r+") as made:
        made.descriptions = ("Blue", "Green", "red ", "Red edge", "NIR")
    assert np.abs(middle(path)[..., :3] - (30, 20, 10)).max() <= 1
    assert notes_of(path) == ("a.tif: bands 3, 2, 1 are shown as red, green and blue; 2 more are left out.",)


@pytest.mark.parametrize("kind", ["uint8", "uint16"])
@pytest.mark.parametrize("bands", [4, 6])
def test_an_empty_rim_in_an_alpha_band_is_clear_and_is_no_black_to_stretch_by(tmp_path: Path, kind: str, bands: int) -> None:
    full = np.iinfo(kind).max
    cells = np.tile(np.linspace(100, 200, 300), (bands, 200, 1)).astype(kind)
    cells[:, :, :52] = 0
    cells[-1] = np.where(np.arange(300) < 52, 0, full)
    path = at_home(tmp_path / "a.tif", cells, photometric="MINISBLACK")
    with rasterio.open(path, "r+") as made:
        made.colorinterp = [ColorInterp[each] for each in ("red", "green", "blue", "undefined", "undefined")[: bands - 1]] + [
            ColorInterp.alpha
        ]
    found = middle(path)
    assert (found[:, :2] == 0).all()
    assert (found[:, 3:, 3] == 255).all()
    if kind == "uint16":
        # what is left begins at column 52 of 300: black there, and not grey above a black rim of 0
        assert found[:, 3:, :3].max() <= 20
    said = [f"a.tif: bands 1, 2, 3 are shown as red, green and blue; {bands - 4} more are left out."] * (bands > 4)
    said += ["a.tif: it has 16 bits: its darkest 2 % are shown black and its lightest 2 % white."] * (kind == "uint16")
    assert list(notes_of(path)) == said


def test_one_band_of_plain_whole_numbers_may_be_grey_and_is_shown_so(tmp_path: Path) -> None:
    cells = np.tile(np.linspace(0, 255, 300), (1, 200, 1)).astype(np.uint8)
    path = at_home(tmp_path / "a.tif", cells)
    assert is_grey(path)
    assert np.abs(middle(path) - np.append(np.full(3, 49), 255)).max() <= 8
    assert notes_of(path) == ()
    assert is_grey(at_home(tmp_path / "b.tif", cells.astype(np.uint16)))
    # white is 0 in a picture that is kept like a negative (TIFF 6.0, section 3)
    negative = middle(at_home(tmp_path / "c.tif", 255 - cells, photometric="MINISWHITE"))
    assert np.abs(negative[:, 0, :3] - np.append(np.full(2, 42), 42)).max() <= 3
    # one bit: 0 is black and 1 is white
    stripes = np.tile((np.arange(300) // 4 % 2).astype(np.uint8), (1, 200, 1))
    path = plain(tmp_path / "d.png", stripes, grid(HOME, HOME.crs, 0.2, (200, 300), (-10.0, -10.0)))
    write_raster(path, stripes, None, None, driver="PNG", nbits=1)
    assert np.abs(middle(path, HOME.crs)[:, :, 0] - 255 * (np.arange(50, 66) // 4 % 2)).max() <= 1
    for name, other in (("e.tif", cells.astype(np.float32)), ("f.tif", cells.astype(np.int16)), ("g.tif", noise(20, 30))):
        assert not is_grey(at_home(tmp_path / name, other)), name
    assert not is_grey(at_home(tmp_path / "h.tif", cells, scales=(0.1,)))
    assert not is_grey(tmp_path / "none.tif")


def test_figures_with_fractions_are_no_picture(tmp_path: Path) -> None:
    for bands in (1, 3):
        path = at_home(tmp_path / f"{bands}.tif", noise(20, 30)[:bands].astype(np.float32))
        assert "holds figures, not colours. Export it as a picture of three bands of 8 or 16 bits." in refused(path)


@pytest.mark.parametrize(
    ("name", "turn"),
    [("south up", (0.2, 0.0, 0.0, 0.2)), ("turned", (0.1732, 0.1, 0.1, -0.1732)), ("to the west", (-0.2, 0, 0, -0.2))],
)
def test_a_world_file_may_turn_a_picture(tmp_path: Path, name: str, turn: tuple[float, float, float, float]) -> None:
    a, d, b, e = turn
    wide, high = 300, 200
    at_x, at_y = HOME.origin_x_m + 3.0, HOME.origin_y_m + 5.0
    corner = Affine(a, b, at_x - (a * wide + b * high) / 2, d, e, at_y - (d * wide + e * high) / 2)
    path = plain(tmp_path / "a.png", ramps(high, wide), corner)
    picture = opened(path, crs=HOME.crs)
    found = parts(picture.read_piece(1.0, 7.0, 0.1, 40))
    picture.close()
    off_m = (np.arange(40) + 0.5) * 0.1
    east, north = np.meshgrid(HOME.origin_x_m + 1.0 + off_m, HOME.origin_y_m + 7.0 - off_m)
    back = ~corner
    column, row = back.a * east + back.b * north + back.c, back.d * east + back.e * north + back.f
    assert np.abs(found[..., 0] - (column - 0.5) * 255 / (wide - 1)).max() < 2.0
    assert np.abs(found[..., 1] - (row - 0.5) * 255 / (high - 1)).max() < 2.0


@pytest.mark.parametrize("name", ["a.png", "a.jpg"])
@pytest.mark.parametrize("bands", [1, 3])
def test_a_plain_picture_lies_where_its_world_file_says(tmp_path: Path, name: str, bands: int) -> None:
    cells = ramps(200, 300)[:bands]
    corner = grid(HOME, HOME.crs, 0.2, (200, 300), (-10.0, -10.0))
    path = plain(tmp_path / name, cells, corner, "EPSG:32610")
    aerial = look_at_picture(path, [BLOCK], HOME)
    expected = [(-10, 30), (50, 30), (50, -10), (-10, -10)]
    assert np.abs(np.array(aerial.corners_m) - expected).max() < 1e-5
    found = middle(path)
    assert np.abs(found[..., 0] - 255 * np.arange(50, 66) / 299).max() < 3.5
    path.with_suffix(".prj").unlink()
    assert "does not say in which map system" in refused(path)
    assert "--crs" in refused(path)
    assert lacks_system(path)
    assert look_at_picture(path, [BLOCK], HOME, "EPSG:32610").corners_m == aerial.corners_m
    assert middle(path, "EPSG:32610").tolist() == found.tolist()


def test_a_tiff_without_a_place_takes_its_world_file(tmp_path: Path) -> None:
    path = write_raster(tmp_path / "a.tif", noise(200, 300), None, None, **RGB)
    assert "does not say where it lies. Put its world file (.tfw) beside it" in refused(path)
    corner = grid(HOME, HOME.crs, 0.2, (200, 300), (-10.0, -10.0))
    figures = (0.2, 0, 0, -0.2, corner.c + 0.1, corner.f - 0.1)
    (tmp_path / "a.TFW").write_text(" ".join(map(str, figures)), encoding="utf-8")
    found = look_at_picture(path, [BLOCK], HOME, "EPSG:32610").corners_m
    assert np.abs(np.array(found) - [(-10, 30), (50, 30), (50, -10), (-10, -10)]).max() < 1e-5
