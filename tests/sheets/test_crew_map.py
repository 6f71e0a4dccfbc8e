"""The crew's map as data: all on the page, grey, in two languages, with cautions, and no row of the list lost."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from sheet_blocks import make_block, make_plan, mark_bounds, measure, places_around, texts, whole

from vinemap.sheets.crew_map import BlockPlan, crew_map, crew_maps
from vinemap.sheets.marks import Dots, Page, Path, Strokes, Words
from vinemap.sheets.words import KIND_WORDS, WORDS, Both
from vinemap.work.diary import KINDS

GREY = re.compile(r"#([0-9A-F]{2})\1\1")


def plans() -> dict[str, BlockPlan]:
    usual, large, thin = make_block(wave_m=6), make_block(150, 200, 95), make_block(6, 320, 35, name="Cañada Ñandú " * 6)
    none_over = Both("No row is above 10 %.", "Ninguna hilera pasa del 10 %.")
    return {
        "usual": make_plan(usual, places=places_around(usual)),
        "every row": make_plan(large, tuple(whole(large, n, KINDS[n // 20]) for n in range(150))),
        "one row": make_plan(make_block(1, 90, 80)),
        "two hundred rows": make_plan(make_block(200, 260, 0)),
        "diagonal": make_plan(make_block(60, 170, 45)),
        "thin": make_plan(thin, places=places_around(thin)),
        "nothing": make_plan(make_block(30, 100, 120), (), why_none=none_over),
    }


PLANS = plans()
PAGES = {name: crew_map(plan, measure) for name, plan in PLANS.items()}
ALL = [pytest.param(page, id=f"{name} {number}") for name, pages in PAGES.items() for number, page in enumerate(pages, 1)]


@pytest.mark.parametrize("page", ALL)
def test_everything_is_on_the_page(page: Page) -> None:
    assert (page.width_mm, page.height_mm) == (297.0, 210.0)
    for mark in page.marks:
        left, top, right, bottom = mark_bounds(mark)
        assert left >= 4.0, mark
        assert top >= 4.0, mark
        assert right <= 293.0, mark
        assert bottom <= 207.0, mark


@pytest.mark.parametrize("page", ALL)
def test_a_photocopy_loses_nothing(page: Page) -> None:
    for mark in page.marks:
        colours = [getattr(mark, name, "") for name in ("fill", "stroke", "halo")]
        assert all(GREY.fullmatch(colour) for colour in colours if colour), mark
        if isinstance(mark, Words):
            assert mark.size_pt >= 7.0


@pytest.mark.parametrize("page", ALL)
def test_no_two_words_lie_on_each_other(page: Page) -> None:
    words = [mark for mark in page.marks if isinstance(mark, Words) and mark.text.strip()]
    boxes = []
    for mark in words:
        left, top, right, bottom = mark_bounds(mark)
        down = bottom - top
        boxes.append(shapely.box(left + 0.1, top + 0.25 * down, right - 0.1, bottom - 0.27 * down))
    pairs = shapely.STRtree(boxes).query(np.array(boxes), predicate="intersects")
    touching = {(words[a].text, words[b].text) for a, b in pairs.T if a < b}
    assert not touching


@pytest.mark.parametrize("name", sorted(PLANS))
def test_each_kind_has_its_pattern_letter_and_both_languages(name: str) -> None:
    said = texts(PAGES[name][0])
    for kind in PLANS[name].kinds:
        assert said.count(kind) >= 2  # in the legend, and in the list or on the map
        assert said[said.index(KIND_WORDS[kind].english) + 1] == KIND_WORDS[kind].spanish


@pytest.mark.parametrize("name", sorted(PLANS))
def test_every_piece_is_listed_once_with_a_box_to_tick(name: str) -> None:
    plan, pages = PLANS[name], PAGES[name]
    boxes = [mark for page in pages for mark in page.marks if isinstance(mark, Path) and _is_tick_box(mark)]
    assert len(boxes) == len(plan.pieces)
    if plan.pieces:
        assert f"{sum(piece.minutes for piece in plan.pieces):,.0f}" in texts(pages[-1])


def _is_tick_box(mark: Path) -> bool:
    size = np.ptp(mark.rings[0], axis=0)
    return bool(np.allclose(size, 3.2)) and mark.is_closed and not mark.fill


def test_a_long_list_goes_on_and_says_so_and_the_sheets_are_numbered() -> None:
    pages = PAGES["every row"]
    assert len(pages) > 1
    for number, page in enumerate(pages, 1):
        assert f"sheet {number} of {len(pages)} · hoja {number} de {len(pages)}" in texts(page)
        assert (WORDS["more"].english in " ".join(texts(page))) is (number < len(pages))


def test_several_blocks_are_numbered_through() -> None:
    pages = crew_maps([PLANS["one row"], PLANS["nothing"]], measure)
    assert [page.title for page in pages] == ["Well Field: open the vines", "Well Field: nothing to do"]
    assert "sheet 2 of 2 · hoja 2 de 2" in texts(pages[1])


@pytest.mark.parametrize("page", ALL)
def test_the_cautions_are_on_every_sheet(page: Page) -> None:
    said = " ".join(texts(page))
    for words in (WORDS["label"], WORDS["hands"]):
        assert words.english in said
        assert words.spanish in said
    assert "Keep out of" in said
    assert "No entre a" in said
    assert "Hot after 14:00." in said
    assert str(WORDS["invented"]) in said
    assert "Call · llame" in said


def test_without_spray_heat_or_invention_the_sheet_does_not_speak_of_them() -> None:
    plan = replace(PLANS["one row"], keep_out=(), hot_after=None, is_invented=False, call="Rosa 555 0100")
    said = " ".join(texts(crew_map(plan, measure)[0]))
    assert "Keep out" not in said
    assert "Hot after" not in said
    assert "invented" not in said
    assert "Label and local rules come first." in said
    assert "Rosa 555 0100" in said


def test_nothing_to_do_is_a_sentence_with_its_reason() -> None:
    said = " ".join(texts(PAGES["nothing"][0]))
    assert "Nothing to open or spray in this block now." in said
    assert "Ahora no hay nada que abrir ni pulverizar en este cuadro." in said
    assert "No row is above 10 %." in said
    assert "start" not in texts(PAGES["nothing"][0])


def test_a_long_name_is_set_smaller_and_never_cut() -> None:
    name = "Cañada Ñandú " * 6
    said = " ".join(texts(PAGES["thin"][0]))
    assert name.strip() in said


@pytest.mark.parametrize(
    ("faces", "note"),
    [(("east", "south-east"), "morning"), (("west",), "afternoon"), (("east", "west"), "thick"), (("north",), "thick")],
)
def test_the_note_on_the_thick_line_is_true_for_every_row(faces: tuple[str, ...], note: str) -> None:
    block = make_block(20, 80, 0)
    pieces = tuple(whole(block, 3 + n, "F", -1, face) for n, face in enumerate(faces))
    said = texts(crew_map(make_plan(block, pieces), measure)[0])
    assert [name for name in ("morning", "afternoon", "thick") if WORDS[name].english in said] == [note]


def test_without_a_side_there_is_no_note() -> None:
    block = make_block(20, 80, 0)
    said = texts(crew_map(make_plan(block, (whole(block, 3, "P", 0, ""),)), measure)[0])
    assert not {WORDS[name].english for name in ("morning", "afternoon", "thick")} & set(said)


def test_the_start_is_at_the_end_nearer_to_the_gate() -> None:
    block = make_block(20, 80, 90)  # rows run east

    def start_x(plan: BlockPlan) -> float:
        page = crew_map(plan, measure)[0]
        return next(mark.x_mm for mark in page.marks if isinstance(mark, Words) and mark.text == "start")

    west = start_x(make_plan(block, (whole(block, 5, "F"),)))
    gate = replace(places_around(block)[0], x_m=95.0)
    assert start_x(make_plan(block, (whole(block, 5, "F"),), places=(gate,))) > west + 60


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    page = PAGES["usual"][0]
    said = texts(page)
    scale = float(next(text for text in said if text.startswith("1 : ")).removeprefix("1 : ").replace(" ", ""))
    metres = float(next(text for text in said if re.fullmatch(r"\d+ m", text)).removesuffix(" m"))
    bars = [
        np.ptp(mark.rings[0][:, 0])
        for mark in page.marks
        if isinstance(mark, Path) and np.isclose(np.ptp(mark.rings[0][:, 1]), 1.1)
    ]
    assert max(bars) == pytest.approx(metres * 1000 / scale)


def test_long_row_names_are_wrapped_whole_in_the_list() -> None:
    block = make_block(3, 80, 90)
    rows = replace(block.rows, labels=("Norte 104 bis", "2", "3"))
    block = replace(block, rows=rows)
    said = "".join(texts(crew_map(make_plan(block, (whole(block, 0, "L"),)), measure)[0])).replace(" ", "")
    assert said.count("Norte104bis") >= 3  # both ends and the list


def test_many_cautions_make_the_map_smaller_and_stay_on_the_page() -> None:
    more = tuple(Both(f"Caution {n}: mind the ditch by the road.", f"Aviso {n}: cuidado con la zanja.") for n in range(8))
    (page,) = crew_map(make_plan(make_block(10, 80, 90), cautions=more), measure)
    assert all(mark_bounds(mark)[1] > 4 for mark in page.marks)
    said = " ".join(texts(page))
    assert all(each.english in said for each in more[:1])
    assert "Caution 7" in said


def test_hundreds_of_strokes_are_batched() -> None:
    page = PAGES["every row"][0]
    strokes = [mark for mark in page.marks if isinstance(mark, Strokes)]
    assert sum(len(mark.ends) for mark in strokes) > 5000
    assert len(page.marks) < 2500
    assert any(isinstance(mark, Dots) and len(mark.points) > 20 for mark in page.marks)


def test_the_printing_is_dated_on_the_foot() -> None:
    plan = replace(PLANS["one row"], printed=dt.datetime(2026, 6, 14, 18, 5))
    assert any("printed 14 June 18:05" in text for text in texts(crew_map(plan, measure)[0]))
