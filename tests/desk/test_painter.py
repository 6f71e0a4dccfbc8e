"""The painter on pictures and PDF: ink where the marks say, true sizes, words that can be searched."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path as File

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication

from vinemap.desk.fonts import FACE, font_folder, load_face, measure
from vinemap.desk.painter import draw_image, write_pdf, write_png
from vinemap.errors import FileError, InputError
from vinemap.sheets.marks import MM_PER_PT, Dots, Mark, Page, Path, Shade, Strokes, Words

pytestmark = pytest.mark.usefixtures("qapp")
SQUARE = np.array([[10.0, 10.0], [30.0, 10.0], [30.0, 30.0], [10.0, 30.0]])
HOLE = np.array([[17.0, 17.0], [23.0, 17.0], [23.0, 23.0], [17.0, 23.0]])


def page(*marks: Mark) -> Page:
    return Page("Try", 60.0, 40.0, marks)


def grey_at(image: QImage, x_mm: float, y_mm: float) -> int:
    return QColor(image.pixel(round(x_mm * 10), round(y_mm * 10))).lightness()


def black_share(image: QImage) -> float:
    cells = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine() // 4, 4)
    return float(1.0 - cells[..., :3].mean() / 255.0)


def drawn(*marks: Mark) -> QImage:
    return draw_image(page(*marks), 254.0)  # ten dots to the millimetre


def test_a_page_has_its_size_and_is_white() -> None:
    image = drawn()
    assert (image.width(), image.height()) == (600, 400)
    assert black_share(image) == 0.0


def test_a_filled_shape_leaves_its_hole_open_and_closes_its_outline() -> None:
    image = drawn(Path((SQUARE, HOLE), stroke="#000000", width_mm=1.0, fill="#808080"))
    assert grey_at(image, 13, 13) == 128
    assert grey_at(image, 20, 20) == 255
    assert grey_at(image, 10, 20) == 0  # the side that closes the ring
    assert grey_at(image, 40, 20) == 255


def test_an_open_line_is_not_closed_and_is_as_wide_as_it_says() -> None:
    image = drawn(Path((SQUARE,), stroke="#000000", width_mm=2.0))
    assert grey_at(image, 10, 20) == 255
    column = [grey_at(image, 20, y / 10) for y in range(80, 120)]
    assert sum(value < 128 for value in column) == 20


def test_dashes_are_in_millimetres() -> None:
    line = np.array([[5.0, 20.0], [55.0, 20.0]])
    image = drawn(Path((line,), stroke="#000000", width_mm=0.5, dash=(4.0, 6.0)))
    assert [grey_at(image, x, 20.0) < 128 for x in (7, 12, 17, 22, 27)] == [True, False, True, False, True]


def test_strokes_and_dots_cover_their_area() -> None:
    rows = np.arange(5.0, 35.0, 2.0)
    ends = np.column_stack([np.full(len(rows), 5.0), rows, np.full(len(rows), 55.0), rows])
    assert black_share(drawn(Strokes(ends, "#000000", 0.5))) == pytest.approx(len(rows) * 50 * 0.5 / 2400, rel=0.02)
    points = np.array([[15.0, 20.0], [40.0, 20.0]])
    dots = drawn(Dots(points, np.array([5.0, 8.0]), fill="#000000"))
    assert black_share(dots) == pytest.approx(np.pi * (25 + 64) / 2400, rel=0.01)
    ring = drawn(Dots(points, np.array([5.0, 8.0]), stroke="#000000", width_mm=1.0))
    assert grey_at(ring, 15, 20) == 255
    assert black_share(ring) == pytest.approx(2 * np.pi * 13 / 2400, rel=0.02)


def test_shade_has_its_first_row_at_the_top_and_stays_in_its_clip() -> None:
    rgba = np.zeros((4, 1, 4), np.uint8)
    rgba[:, :, 3] = 255
    rgba[2:] = 255
    image = drawn(Shade(rgba, 10.0, 0.0, 20.0, 40.0, (SQUARE,)))
    assert grey_at(image, 20, 13) == 0  # between the middles of the two black rows, at 5 and 15 mm
    assert grey_at(image, 20, 27) == 255
    assert grey_at(image, 20, 5) == 255  # outside the clip


def test_shade_without_ink_leaves_the_paper() -> None:
    assert black_share(drawn(Shade(np.zeros((4, 4, 4), np.uint8), 0.0, 0.0, 60.0, 40.0))) == 0.0


@pytest.mark.parametrize(("anchor", "side"), [("start", 1), ("middle", 0), ("end", -1)])
def test_words_stand_at_their_anchor(anchor: str, side: int) -> None:
    image = drawn(Words(30.0, 20.0, "HHHH", 12.0, anchor=anchor, fill="#000000"))
    dark = [x for x in range(600) if any(grey_at(image, x / 10, y / 10) < 128 for y in range(160, 200, 4))]
    width = measure("HHHH", 12.0, 400, False)
    middle = (dark[0] + dark[-1]) / 20
    assert middle == pytest.approx(30.0 + side * width / 2, abs=0.3)
    # the air beside an H is less than a tenth of its size on each side
    assert width - 2 * 0.1 * 12.0 * MM_PER_PT < (dark[-1] - dark[0]) / 10 < width


def test_words_can_be_turned_and_haloed() -> None:
    image = drawn(Words(30.0, 20.0, "HHHH", 12.0, angle_deg=90.0, fill="#000000"))
    assert any(grey_at(image, x / 10, 28.0) < 128 for x in range(295, 345))
    wash = Path((SQUARE,), fill="#808080")
    haloed = drawn(wash, Words(20.0, 22.0, "I", 14.0, anchor="middle", fill="#000000", halo="#FFFFFF"))
    assert any(grey_at(haloed, x / 10, 20.5) > 240 for x in range(170, 200))


@given(st.text(st.characters(codec="latin-1", categories=("L", "N")), min_size=1, max_size=12), st.floats(7, 30))
@settings(derandomize=True, max_examples=30)
def test_width_is_in_proportion_to_size(text: str, size_pt: float) -> None:
    assert measure(text, 2 * size_pt, 400, False) == pytest.approx(2 * measure(text, size_pt, 400, False))


def test_the_book_face_is_at_hand_with_figures_of_one_width() -> None:
    if not any(font_folder().glob("*.ttf")):
        pytest.skip("the fonts are not in this copy")
    assert load_face() == FACE
    assert measure("1111", 10.0) == measure("0000", 10.0) == measure("4567", 10.0)
    assert measure("row", 10.0, 800) > measure("row", 10.0, 400)


def test_a_pdf_has_its_pages_at_their_size(tmp_path: File) -> None:
    a4 = Page("One", 297.0, 210.0, (Words(20, 20, "uno", 12),))
    upright = Page("Two", 210.0, 297.0, (Words(20, 20, "dos", 12),))
    write_pdf([a4, upright], tmp_path / "two.pdf")
    content = (tmp_path / "two.pdf").read_bytes()
    assert content.startswith(b"%PDF")
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", content)
    # A4 is 842 by 595 points
    assert [(round(float(w)), round(float(h))) for w, h in boxes] == [(842, 595), (595, 842)]


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="no reader of PDF words here")
def test_words_figures_and_accents_of_a_pdf_can_be_searched(tmp_path: File) -> None:
    marks = (
        Words(20, 20, "Cañada 104, abrir los dos lados", 12, 600),
        Words(20, 40, "hileras 12–72, firme", 10, 400, True),
        Words(20, 60, "share", 10, is_small_caps=True),
    )
    write_pdf([Page("Try", 297.0, 210.0, marks)], tmp_path / "try.pdf")
    said = subprocess.run(["pdftotext", tmp_path / "try.pdf", "-"], capture_output=True, check=True).stdout.decode()
    said = said.replace(" ", "")
    assert "Cañada104,abrirlosdoslados" in said
    assert "hileras12–72,firme" in said
    assert "share" in said


def test_a_picture_is_the_same_each_time_and_has_its_dots(tmp_path: File) -> None:
    sheet = page(Words(5, 20, "Well Field 15", 14), Path((SQUARE,), stroke="#000000"))
    for name in ("one.png", "two.png"):
        write_png(sheet, tmp_path / name, 100)
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()
    assert QImage(str(tmp_path / "one.png")).width() == round(60 / 25.4 * 100)


def test_no_page_and_no_folder_are_refused_in_words(tmp_path: File) -> None:
    with pytest.raises(InputError, match="no page to print"):
        write_pdf([], tmp_path / "none.pdf")
    for write in (lambda path: write_pdf([page()], path), lambda path: write_png(page(), path)):
        with pytest.raises(FileError, match="could not be written"):
            write(tmp_path / "missing" / "sheet.out")
    assert not list(tmp_path.iterdir())


def test_painting_needs_no_window(qapp: QApplication) -> None:
    before = len(qapp.topLevelWidgets())
    drawn(Words(5, 20, "Well Field", 14))
    assert len(qapp.topLevelWidgets()) == before
