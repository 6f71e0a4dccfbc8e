"""The aerial picture below the map: pale, under everything, shown, hidden and removed by hand; all of it is invented."""

from __future__ import annotations

import shutil
import sys
import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from canvas_scenes import make_block, make_scene
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor
from PySide6.QtTest import QTest

from vinemap.desk import underlay_keeper
from vinemap.desk.asking import GREY
from vinemap.desk.map_scene import GROUND, READ, MapScene
from vinemap.desk.tile_maker import Picture, TileKey, make_tile
from vinemap.desk.underlay import COLOUR, STRENGTH, Underlay, lay_under, pale
from vinemap.desk.window import Window
from vinemap.errors import FileError
from vinemap.files.picture_reader import look_at_picture, open_picture
from vinemap.season.value import Estate, Season
from vinemap.service.book import new_book, open_book
from vinemap.sheets.ink import DARK, LIGHT

sys.path.append(str(Path(__file__).resolve().parents[1] / "files"))
from raster_makers import HOME, grid, write_raster

BLOCK = make_block(rows=12, vines=20)
SCENE = make_scene(BLOCK, 10)
GREEN = (40, 120, 30)


def green(path: Path, south_west_m: tuple[float, float] = (-100.0, -120.0)) -> Path:
    """200 m of one green, with a bite of it empty in the upper left corner."""
    cells = np.tile(np.array(GREEN, np.uint8)[:, None, None], (1, 200, 200))
    cells[:, :50, :50] = 0
    corner = grid(HOME, HOME.crs, 1.0, (200, 200), south_west_m)
    return write_raster(path, cells, corner, HOME.crs, nodata=0, photometric="RGB")


def expected(colour: tuple[int, int, int]) -> np.ndarray:
    """The colour on the sheet, reckoned with fractions."""
    sheet = np.array(QColor(LIGHT.sheet).getRgb()[:3], float)
    muted = COLOUR * np.array(colour) + (1 - COLOUR) * np.dot(colour, (0.299, 0.587, 0.114))
    return STRENGTH * muted + (1 - STRENGTH) * sheet


def rgb(pixel: int) -> np.ndarray:
    return np.array([pixel >> 16 & 255, pixel >> 8 & 255, pixel & 255], float)


# ---- on the sheet


@pytest.mark.parametrize("ink", [LIGHT, DARK])
def test_pale_is_a_share_of_muted_colour_on_the_sheet(ink) -> None:
    rng = np.random.default_rng(3)
    alpha = rng.choice([0, 60, 255], (40, 40)).astype(np.uint32)
    colours = [(rng.integers(0, 256, (40, 40)) * alpha // 255).astype(np.uint32) for _ in range(3)]
    laid = pale(alpha << 24 | colours[0] << 16 | colours[1] << 8 | colours[2], ink)
    assert (laid >> 24 == 255).all()
    sheet = np.array(QColor(ink.sheet).getRgb()[:3], float)
    grey = np.tensordot((0.299, 0.587, 0.114), np.array(colours, float), 1)
    for number, shift in enumerate((16, 8, 0)):
        muted = COLOUR * colours[number] + (1 - COLOUR) * grey
        exact = STRENGTH * muted + (1 - STRENGTH * alpha / 255.0) * sheet[number]
        assert np.abs((laid >> shift & 255) - exact).max() <= 2.0
    assert (laid[alpha == 0] & 0xFFFFFF == int(ink.sheet[1:], 16)).all()


def test_no_colour_of_a_picture_is_darker_than_the_ink_of_a_row_is_on_paper() -> None:
    darkest = pale(np.array([[0xFF000000]], np.uint32), LIGHT)
    assert rgb(int(darkest[0, 0])).min() > 150
    assert QColor(LIGHT.ink).lightness() < 50


def tiles(tmp_path: Path, mode: str) -> tuple[np.ndarray, np.ndarray]:
    """One tile without and with the picture, opaque pixels (512, 512); 0.25 m a pixel, upper left corner at 0, 0."""
    path = green(tmp_path / "a.tif")
    picture = open_picture(look_at_picture(path, [BLOCK], HOME), HOME, tmp_path)
    bare = MapScene((SCENE,), mode)
    made = []
    for scene in (bare, replace(bare, underlay=Underlay(picture, lambda *_: pytest.fail("it was read")))):
        image = make_tile(Picture(1, scene), TileKey(1, 0.25, 1.0, 0, 0)).ground
        made.append(np.frombuffer(image.constBits(), np.uint32).reshape(512, 512).copy())
    picture.close()
    return made[0], made[1]


def test_the_field_is_the_same_with_a_picture_below_and_around_it_is_the_picture(tmp_path: Path) -> None:
    import shapely

    without, with_it = tiles(tmp_path, READ)
    at_m = (np.arange(512) + 0.5) * 0.25
    east, north = np.meshgrid(at_m, -at_m)
    inside = shapely.contains_xy(BLOCK.outline.buffer(-1.0), east, north)
    outside = ~shapely.contains_xy(BLOCK.outline.buffer(1.0), east, north) & (east < 99) & (north > -119)
    assert inside.sum() > 1000
    assert (with_it[inside] == without[inside]).all()
    assert len(np.unique(with_it[outside])) == 1
    assert np.abs(rgb(int(with_it[outside][0])) - expected(GREEN)).max() <= 2
    # past its edges, 100 m east and 120 m south, there is the sheet
    beyond = (east > 101) | (north < -121)
    assert (with_it[beyond] & 0xFFFFFF == int(LIGHT.sheet[1:], 16)).all()


def test_on_ground_outlines_and_vines_stay_above_the_picture(tmp_path: Path) -> None:
    without, with_it = tiles(tmp_path, GROUND)
    paper = without & 0xFFFFFF == int(LIGHT.sheet[1:], 16)
    ink = rgb(int(without.min())).max()
    lines = np.array([rgb(int(pixel)).max() for pixel in without.ravel()]).reshape(512, 512) <= ink + 8
    assert lines.sum() > 100
    assert np.array([rgb(int(pixel)).max() for pixel in with_it[lines]]).max() <= ink + 8
    assert (with_it[paper][:, None] != without[paper][:, None]).mean() > 0.5


def test_a_picture_that_fails_leaves_the_sheet_and_is_told(tmp_path: Path) -> None:
    class Failing:
        def read_piece(self, *asked):
            raise FileError("It can't be read.", "Bring it in again.")

    told, bare = [], np.full((8, 8), 0xFF112233, np.uint32)
    picture = Failing()
    lay_under(bare, Underlay(picture, lambda *each: told.append(each)), LIGHT, 0.0, 0.0, 1.0)
    assert (bare == 0xFF112233).all()
    assert [(each[0], str(each[1])) for each in told] == [(picture, "It can't be read. Bring it in again.")]


# ---- in the window


@pytest.fixture
def book_path(tmp_path):
    season = Season(Estate("Invented", HOME, -8.0), (BLOCK,))
    new_book(tmp_path / "a.vinemap", season).close()
    return tmp_path / "a.vinemap"


def open_window(qtbot, path):
    window = Window(open_book(path))
    qtbot.addWidget(window)
    window.resize(1100, 700)
    window.show()
    qtbot.waitUntil(lambda: is_settled(window), timeout=20_000)
    return window


def is_settled(window):
    return not window.underlay.is_waiting and window.canvas.is_settled


@pytest.fixture
def window(qtbot, book_path):
    window = open_window(qtbot, book_path)
    yield window
    window.close()


def find(qtbot, window, text):
    window.head.find_line.setText(text)
    QTest.keyClick(window.head.find_line, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: is_settled(window), timeout=20_000)


def bring_in(qtbot, window, path):
    window.asking.ask_files = lambda: [path]
    qtbot.mouseClick(window.left_verb, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: is_settled(window), timeout=20_000)


def colour_beside(window) -> np.ndarray:
    """Colour of the sheet 4 m west of the block's west end."""
    west, south, _, north = BLOCK.outline.bounds
    x, y = window.canvas._view().to_px(west - 4.0, (south + north) / 2)
    return np.array(window.canvas.grab().toImage().pixelColor(round(x), round(y)).getRgb()[:3], float)


def test_it_is_brought_in_shown_hidden_removed_and_brought_back(qtbot, window, tmp_path) -> None:
    sheet = np.array(QColor(LIGHT.sheet).getRgb()[:3], float)
    for deed in ("show the picture", "hide the picture", "remove the picture"):
        find(qtbot, window, deed)
        assert "There is no picture" in window.ledger.refusal()
    bring_in(qtbot, window, green(tmp_path / "a.tif"))
    assert window.ledger.refusal() == ""
    assert "picture a.tif" in [fact.label for fact in window.ledger._facts._facts]
    assert np.abs(colour_beside(window) - expected(GREEN)).max() <= 3
    window.go_to("Walk")
    qtbot.waitUntil(lambda: is_settled(window))
    assert np.abs(colour_beside(window) - sheet).max() == 0
    find(qtbot, window, "show the picture")
    assert window.state.step == "Walk"
    assert np.abs(colour_beside(window) - expected(GREEN)).max() <= 3
    find(qtbot, window, "hide the picture")
    window.go_to("Ground")
    qtbot.waitUntil(lambda: is_settled(window))
    assert np.abs(colour_beside(window) - sheet).max() == 0
    find(qtbot, window, "show the picture")
    find(qtbot, window, "remove the picture")
    assert window.book.season.aerial is None
    assert np.abs(colour_beside(window) - sheet).max() == 0
    assert (tmp_path / "a.tif").is_file()
    qtbot.mouseClick(window.undo, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: is_settled(window))
    assert np.abs(colour_beside(window) - expected(GREEN)).max() <= 3


def test_what_was_hidden_stays_hidden_until_a_picture_is_brought_in(qtbot, window, book_path, tmp_path) -> None:
    bring_in(qtbot, window, green(tmp_path / "a.tif"))
    find(qtbot, window, "hide the picture")
    window.close()
    again = open_window(qtbot, book_path)
    assert again.state.step == "Ground"
    assert again.canvas.scene.underlay is None
    bring_in(qtbot, again, green(tmp_path / "b.tif", (-90.0, -120.0)))
    assert again.canvas.scene.underlay is not None
    assert again.canvas.scene.underlay.picture.name == "b.tif"
    again.close()


def test_a_picture_of_another_place_is_refused_in_the_window(qtbot, window, tmp_path) -> None:
    bring_in(qtbot, window, green(tmp_path / "a.tif", (9000.0, 9000.0)))
    assert "covers no block of this estate" in window.ledger.refusal()
    assert window.book.season.aerial is None


def test_a_picture_that_is_gone_is_said_in_a_line_and_found_again(qtbot, window, book_path, tmp_path) -> None:
    away = tmp_path / "away"
    away.mkdir()
    path = green(away / "a.tif")
    bring_in(qtbot, window, path)
    window.close()
    shutil.move(path, tmp_path / "kept.tif")
    again = open_window(qtbot, book_path)
    assert again.canvas.scene.underlay is None
    assert again.canvas.scene.remark.startswith("The picture a.tif is not where it was.")
    again.go_to("Walk")
    assert again.canvas.scene.remark == ""
    again.go_to("Ground")
    shutil.move(tmp_path / "kept.tif", path)
    bring_in(qtbot, again, path)
    qtbot.waitUntil(lambda: again.canvas.scene.underlay is not None, timeout=20_000)
    assert again.canvas.scene.remark == ""
    again.close()


def test_a_file_that_fails_while_it_is_read_is_said_and_the_map_goes_on(qtbot, window, tmp_path) -> None:
    bring_in(qtbot, window, green(tmp_path / "a.tif"))
    underlay = window.canvas.scene.underlay
    assert underlay is not None
    underlay.tell(underlay.picture, FileError("a.tif can't be read.", "Look at the disk."))
    qtbot.waitUntil(lambda: window.canvas.scene.remark == "a.tif can't be read. Look at the disk.", timeout=20_000)
    assert window.canvas.scene.underlay is None
    assert underlay.picture.read_piece(0.0, 0.0, 0.01, 8) is None or underlay.picture._source is None


def test_the_window_opens_and_closes_while_a_picture_is_still_being_opened(qtbot, window, book_path, tmp_path, monkeypatch):
    bring_in(qtbot, window, green(tmp_path / "a.tif"))
    window.close()
    go_on, begun = threading.Event(), threading.Event()

    def slow(aerial, frame, folder, tick):
        begun.set()
        while not go_on.wait(0.005):
            tick(0.5)
        return open_picture(aerial, frame, folder, tick)

    monkeypatch.setattr(underlay_keeper, "open_picture", slow)
    again = Window(open_book(book_path))
    qtbot.addWidget(again)
    again.show()
    qtbot.waitUntil(lambda: begun.is_set() and again.canvas.is_settled, timeout=20_000)
    assert again.underlay.is_waiting
    assert again.canvas.scene.underlay is None
    # closing stops it: nobody lets it go on
    again.close()
    assert not go_on.is_set()


@pytest.mark.parametrize(("answer", "is_picture"), [(GREY[1], True), (GREY[0], False), ("", False)])
def test_whether_one_grey_band_is_a_picture_is_asked(qtbot, window, tmp_path, monkeypatch, answer, is_picture) -> None:
    corner = grid(HOME, HOME.crs, 1.0, (200, 200), (-100.0, -120.0))
    path = write_raster(tmp_path / "a.tif", np.tile(np.arange(200, dtype=np.uint8), (1, 200, 1)), corner, HOME.crs)
    asked = []
    monkeypatch.setattr(window.asking, "ask_column", lambda *given: asked.append(given) or answer)
    bring_in(qtbot, window, path)
    assert asked == [("a.tif", "It has one band. What is it?", GREY)]
    season = window.book.season
    assert (season.aerial is not None, len(season.covariates)) == (is_picture, int(answer == GREY[0]))
    assert (window.canvas.scene.underlay is not None) == is_picture


def test_the_map_system_of_a_picture_that_names_none_is_asked(qtbot, window, tmp_path, monkeypatch) -> None:
    path = write_raster(tmp_path / "a.png", np.full((3, 50, 50), 90, np.uint8), None, None, driver="PNG")
    figures = (4.0, 0, 0, -4.0, HOME.origin_x_m - 98.0, HOME.origin_y_m + 78.0)
    (tmp_path / "a.pgw").write_text("\n".join(map(str, figures)), encoding="utf-8")
    asked = []
    monkeypatch.setattr(window.asking, "ask_system", lambda names: asked.append(names) or HOME.crs.removeprefix("EPSG:"))
    bring_in(qtbot, window, path)
    assert asked == [["a.png"]]
    assert window.ledger.refusal() == ""
    assert window.book.season.aerial is not None
