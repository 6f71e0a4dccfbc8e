"""What stands on the sheet: shade inside the outline only, certainty as texture, marks that can be counted in pixels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from canvas_scenes import make_block, make_scene, read_scene
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor, QImage
from pytestqt.qtbot import QtBot

from vinemap.desk import tiles
from vinemap.desk.canvas import MapCanvas
from vinemap.desk.map_marks import number_step
from vinemap.desk.map_pens import STOP_PX, clear_image, draw_stop, smooth_painter
from vinemap.desk.map_scene import GROUND, WALK, WORK, BandMark, StopMarks, WalkLine, no_stops
from vinemap.desk.tile_maker import Picture, TileKey, make_tile
from vinemap.sheets.ink import DARK, LIGHT, OUTDOOR, place_on_ramp, ramp_rgba

BLOCK = make_block(rows=30, vines=60, bearing_deg=75.0, bow_m=3.0)
SCENE = replace(make_scene(BLOCK, 20), stops=no_stops())


def rgb_of(image: QImage) -> np.ndarray:
    plain = image.convertToFormat(QImage.Format.Format_RGB32)
    lines = np.frombuffer(plain.constBits(), np.uint8).reshape(plain.height(), plain.bytesPerLine() // 4, 4)
    return lines[:, : plain.width(), 2::-1].astype(int)


def pixel_places_m(key: TileKey) -> np.ndarray:
    side = np.arange(512) + 0.5
    x, y = np.meshgrid((key.column * 512 + side) * key.m_per_px, -(key.line * 512 + side) * key.m_per_px)
    return np.stack([x, y], axis=-1)


def middle_key(m_per_px: float, number: int = 1) -> TileKey:
    x_m, y_m = BLOCK.outline.centroid.coords[0]
    return TileKey(number, m_per_px, 1.0, int(x_m / m_per_px // 512), int(-y_m / m_per_px // 512))


@pytest.fixture
def canvas(qtbot: QtBot) -> Iterator[MapCanvas]:
    made = MapCanvas()
    qtbot.addWidget(made)
    made.resize(700, 500)
    made.show()
    yield made
    made.close()


@pytest.mark.parametrize("m_per_px", [0.05, 0.4, 2.0])
def test_no_shade_outside_the_outline(m_per_px: float) -> None:
    scene = read_scene(replace(SCENE, certainty=np.zeros(len(SCENE.vines), np.int8)))
    x_m, y_m = BLOCK.outline.exterior.coords[5][:2]
    key = TileKey(1, m_per_px, 1.0, int(x_m / m_per_px // 512), int(-y_m / m_per_px // 512))
    rgb = rgb_of(make_tile(Picture(1, scene), key).ground)
    places = pixel_places_m(key)
    clear_of_line = BLOCK.outline.buffer(2.0 * m_per_px)
    outside = ~shapely.contains_xy(clear_of_line, places[..., 0], places[..., 1])
    inside = shapely.contains_xy(BLOCK.outline.buffer(-2.0 * m_per_px), places[..., 0], places[..., 1])
    sheet = QColor(LIGHT.sheet).getRgb()[:3]
    assert outside.sum() > 0
    assert inside.sum() > 0
    assert (rgb[outside] == sheet).all()
    assert (rgb[inside] != sheet).any(axis=-1).mean() > 0.99


@pytest.mark.parametrize("share", [0.0, 0.02, 0.1, 0.2, 0.4, 0.9])
def test_the_shade_is_the_colour_of_the_ramp(share: float) -> None:
    flat = replace(SCENE, incidence=np.full(len(SCENE.vines), share), certainty=None)
    key = middle_key(2.5)
    rgb = rgb_of(make_tile(Picture(1, read_scene(flat)), key).ground)
    places = pixel_places_m(key)
    inside = shapely.contains_xy(BLOCK.outline.buffer(-8.0), places[..., 0], places[..., 1])
    assert inside.sum() > 50
    assert np.abs(rgb[inside] - ramp_rgba(LIGHT)[int(place_on_ramp(np.array(share))), :3].astype(int)).max() <= 3


def test_unsure_is_worn_and_not_known_is_bare() -> None:
    """Worn by 1.45 px of every 3.9 px across the strokes; no colour of the ramp where it is not known."""
    key, dark = middle_key(1.0), ramp_rgba(LIGHT)[255, :3].astype(int)
    places = pixel_places_m(key)
    inside = shapely.contains_xy(BLOCK.outline.buffer(-8.0), places[..., 0], places[..., 1])
    shares = []
    for code in (0, 1, 2):
        flat = replace(SCENE, incidence=np.full(len(SCENE.vines), 0.4), certainty=np.full(len(SCENE.vines), code, np.int8))
        rgb = rgb_of(make_tile(Picture(1, read_scene(flat)), key).ground)[inside]
        sheet = np.array(QColor(LIGHT.sheet).getRgb()[:3])
        # Row lines lie over all three alike, so a little less than all is shade.
        shares.append(float(((sheet - rgb) / (sheet - dark)).clip(0, 1).mean()))
    assert shares[0] > 0.95
    assert shares[1] == pytest.approx(shares[0] * (1 - 1.45 / (5.5 / np.sqrt(2))), abs=0.03)
    assert shares[2] < 0.12


def test_a_living_vine_without_a_figure_is_not_known() -> None:
    is_blank = SCENE.vines.row >= 15
    incidence = np.where(is_blank, np.nan, 0.4)
    key = middle_key(0.8)  # too far for vine dots, so that all is shade
    rgb = rgb_of(make_tile(Picture(1, read_scene(replace(SCENE, incidence=incidence, certainty=None))), key).ground)
    places = pixel_places_m(key)
    is_shaded = np.abs(rgb - ramp_rgba(LIGHT)[255, :3].astype(int)).max(axis=-1) < 40
    shares = []
    for part in (~is_blank, is_blank):
        x_m, y_m = SCENE.vines.x_m[part & (SCENE.vines.row % 15 > 2)], SCENE.vines.y_m[part & (SCENE.vines.row % 15 > 2)]
        near = shapely.MultiPoint(np.column_stack([x_m, y_m])).convex_hull.buffer(-4.0)
        shares.append(is_shaded[shapely.contains_xy(near, places[..., 0], places[..., 1])].mean())
    assert shares[0] > 0.98
    assert shares[1] == 0.0


def test_tiles_meet_without_a_seam() -> None:
    """The same ground drawn in one tile and across two is the same to the pixel, away from smooth line edges."""
    picture, key = Picture(1, read_scene(SCENE)), middle_key(0.1)
    left = rgb_of(make_tile(picture, key).ground)
    right = rgb_of(make_tile(picture, replace(key, column=key.column + 1)).ground)
    step_inside = np.abs(np.diff(left[:, -60:], axis=1)).mean()
    step_over = np.abs(right[:, 0] - left[:, -1]).mean()
    assert step_over < 2.0 * step_inside + 1.0


def test_the_share_of_black_in_a_stop_is_the_share_of_mildew() -> None:
    """Ring area is what was looked at, pupil area what had mildew; drawn 20 times larger to count pixels well."""
    scale = 20.0
    image = clear_image(500, 500, 1.0)
    image.fill(QColor(0, 0, 255))
    painter = smooth_painter(image)
    draw_stop(painter, QPointF(250, 250), 20, 8, LIGHT, STOP_PX * scale, 0.01)
    painter.end()
    rgb = rgb_of(image)
    ink = np.array(QColor(LIGHT.ink).getRgb()[:3])
    ring = (np.array(image.pixelColor(250, 250).getRgb()[:3]) == ink).all()
    black = (np.abs(rgb - ink).max(axis=-1) < 60).sum()
    paper = (np.abs(rgb - np.array(QColor(LIGHT.sheet).getRgb()[:3])).max(axis=-1) < 60).sum()
    assert ring
    assert black / (black + paper) == pytest.approx(8 / 20, abs=0.01)


def test_the_threshold_moves_without_new_tiles(qtbot: QtBot, canvas: MapCanvas, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[TileKey] = []

    def counted(picture: Picture, key: TileKey) -> object:
        made.append(key)
        return make_tile(picture, key)

    monkeypatch.setattr(tiles, "make_tile", counted)
    canvas.set_scene(read_scene(SCENE))
    qtbot.waitUntil(lambda: canvas.is_settled)
    # the first whole picture asks for the tiles around the window: they too are made before the count is taken
    canvas.grab()
    qtbot.waitUntil(lambda: canvas.is_settled)
    assert len(made) > 0
    before, pictures = len(made), []
    for threshold in (0.1, 0.2, 0.3, None):
        canvas.set_threshold(threshold)
        pictures.append(rgb_of(canvas.grab().toImage()))
    assert len(made) == before
    assert all((a != b).any() for a, b in pairwise(pictures))


def test_the_threshold_line_lies_on_the_threshold(qtbot: QtBot, canvas: MapCanvas) -> None:
    known = replace(SCENE, certainty=None)
    picture = Picture(1, read_scene(known))
    picture.make_lines(0)
    lines = picture.lines(0)
    assert lines is not None
    points = np.vstack(lines.at(0.2))
    assert shapely.dwithin(BLOCK.outline, shapely.points(points), 0.01).all()
    away = np.hypot(SCENE.vines.x_m[:, None] - points[:, 0], SCENE.vines.y_m[:, None] - points[:, 1])
    nearest = SCENE.incidence[away.argmin(axis=0)]
    # The field changes by less than 0.05 from one vine to the next.
    assert np.abs(nearest - 0.2).max() < 0.05


def test_turning_back_to_the_round_before_shows_its_tiles_at_once(qtbot: QtBot, canvas: MapCanvas) -> None:
    first, second = read_scene(SCENE), read_scene(replace(SCENE, incidence=SCENE.incidence * 0.5))
    canvas.set_scene(first)
    qtbot.waitUntil(lambda: canvas.is_settled)
    canvas.set_scene(second)
    assert not canvas.is_settled
    qtbot.waitUntil(lambda: canvas.is_settled)
    canvas.set_scene(first)
    assert canvas.is_settled


def test_late_tiles_are_dropped_and_old_ones_go(monkeypatch: pytest.MonkeyPatch) -> None:
    shop = tiles.TileShop(lambda generation, key, tile: None, lambda error: None)
    tile = make_tile(Picture(1, read_scene(SCENE)), middle_key(1.0))
    assert shop.take(shop.generation, middle_key(1.0), tile)
    shop.turn()
    assert not shop.take(shop.generation - 1, middle_key(2.0), tile)
    assert shop.ready() == [middle_key(1.0)]
    monkeypatch.setattr(tiles, "CACHE_BYTES", 3 * tile.size_bytes)
    for column in range(10):
        shop.take(shop.generation, replace(middle_key(1.0), column=column), tile)
    assert shop.size_bytes == 3 * tile.size_bytes
    assert [key.column for key in shop.ready()] == [7, 8, 9]


def test_a_tile_that_cant_be_made_is_not_hushed_up(qtbot: QtBot, canvas: MapCanvas, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(picture: Picture, key: TileKey) -> object:
        raise ArithmeticError("a defect")

    monkeypatch.setattr(tiles, "make_tile", broken)
    with qtbot.captureExceptions() as seen:
        canvas.set_scene(read_scene(SCENE))
        qtbot.waitUntil(lambda: len(seen) > 0)
        # the other tiles of the picture fail too; the map must be quiet before the next test
        monkeypatch.undo()
        canvas.set_scene(read_scene(SCENE))
        qtbot.waitUntil(lambda: canvas.is_settled, timeout=20_000)
    assert seen[0][0] is ArithmeticError


def test_row_numbers_never_touch() -> None:
    for m_per_px in (0.05, 0.2, 0.5, 1.0, 5.0):
        for bearing in (0.0, 45.0, 90.0):
            step = number_step(2.5, bearing, m_per_px, 2)
            gap_px = step * 2.5 / m_per_px
            assert gap_px >= (9.0 if bearing == 90.0 else 10.0)
    assert number_step(2.5, 90.0, 0.2, 2) == 1


@pytest.mark.parametrize("ink", [LIGHT, DARK, OUTDOOR])
@pytest.mark.parametrize("mode", [GROUND, WALK, WORK])
def test_each_step_in_each_theme_is_drawn(qtbot: QtBot, canvas: MapCanvas, ink: object, mode: str) -> None:
    bands = tuple(BandMark(row, 5, 500, kind, row % 5, 345.0) for row, kind in enumerate("LFDRTPCV"))
    stops = StopMarks(SCENE.vines.x_m[:9], SCENE.vines.y_m[:9], np.full(9, 20), np.arange(9))
    walk = WalkLine(stops.x_m, stops.y_m)
    canvas.set_scene(read_scene(replace(SCENE, bands=bands, stops=stops), mode=mode, ink=ink, walk=walk, title="Title"))
    canvas.set_chosen(BLOCK.name, "7")
    qtbot.waitUntil(lambda: canvas.is_settled)
    rgb = rgb_of(canvas.grab().toImage())
    assert len(np.unique(rgb.reshape(-1, 3), axis=0)) > 20
    chosen = rgb
    canvas.set_chosen(BLOCK.name, "no such row")
    assert (rgb_of(canvas.grab().toImage()) != chosen).any(), "the chosen row was marked, and is no longer"


def test_columns_that_do_not_match_are_refused() -> None:
    with pytest.raises(ValueError, match="incidence does not match"):
        replace(SCENE, incidence=np.zeros(3))
