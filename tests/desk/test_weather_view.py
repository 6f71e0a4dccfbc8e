"""The page "Why is the pressure what it is?" in the window: on the tiny southern sample, whose figures are invented."""

import datetime as dt
from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from sample_window import is_settled, opened_sample

from vinemap.desk.sheet_view import MARGIN, PER_MM
from vinemap.desk.weather_view import PAD_PX
from vinemap.desk.window import LEFT
from vinemap.service.sample import make_season, sample_folder
from vinemap.service.weather_page import NO_WEATHER, TITLE
from vinemap.sheets.weather_sheet import LABEL_MM

DAY = dt.date(2025, 12, 10)


@pytest.fixture(scope="module")
def shared(qapp, request, tmp_path_factory):
    """One window for all: its threads begin before any test."""
    path = tmp_path_factory.mktemp("weather") / "wattlequern.vinemap"
    window = opened_sample(request, make_season(sample_folder() / "wattlequern", path, 1), dt.datetime(2025, 12, 21, 5, 0))
    yield window
    window.close()


@pytest.fixture
def window(shared):
    shared.go_to("Read")
    return shared


def page_is_shown(window):
    return window.stack.currentWidget() is window.weather.view


def test_a_press_on_the_strip_asks_why_that_day(qtbot, window):
    place = QPoint(round(window.strip.x_of(DAY)), 98)
    qtbot.mouseClick(window.strip, Qt.MouseButton.LeftButton, pos=place)
    assert page_is_shown(window)
    assert window.state.why_day == DAY
    assert window.ledger._title.text() == TITLE
    assert window.ledger._subtitle.text().startswith("Wednesday 10 December")
    assert "unbroken between 70 and 85 °F" in window.weather.view.accessibleDescription()
    assert not window.threshold.isVisible()
    assert not window.left_verb.isVisible()
    qtbot.mouseClick(window.weather.back, Qt.MouseButton.LeftButton)
    assert not page_is_shown(window)
    assert window.left_verb.text() == LEFT["Read"]
    assert window.threshold.isVisible()
    assert not window.weather.save.isVisible()


def test_keys_go_there_from_day_to_day_and_back(qtbot, window):
    qtbot.keyClick(window, "w")
    assert window.state.why_day == window.steps.round_of(window.book.season, window.state).date
    day = window.state.why_day
    for key, days in ((Qt.Key.Key_Right, 1), (Qt.Key.Key_PageDown, 7), (Qt.Key.Key_Left, -1), (Qt.Key.Key_PageUp, -7)):
        qtbot.keyClick(window.weather.view, key)
        day += dt.timedelta(days=days)
        assert window.state.why_day == day
    qtbot.keyClick(window, "w")
    assert not page_is_shown(window)
    window.finding.ask(TITLE)
    assert page_is_shown(window)
    qtbot.keyClick(window, "4")
    assert not page_is_shown(window)


def test_escape_goes_back_and_the_strip_tells_the_day(qtbot, window):
    window.weather.ask(DAY)
    assert "10 December, pressure" in window.strip.accessibleDescription()
    qtbot.keyClick(window.weather.view, Qt.Key.Key_Escape)
    assert not page_is_shown(window)
    assert "December" not in window.strip.accessibleDescription()


def test_weather_that_is_taken_away_takes_its_page_along(window):
    window.weather.ask(DAY)
    window.book.apply("no weather", lambda season: replace(season, weather=None))
    assert window.state.why_day is None
    assert not page_is_shown(window)
    window.book.undo()


def test_a_day_of_the_table_is_pressed(qtbot, window):
    window.weather.ask(DAY)
    view, plan = window.weather.view, window.weather.view.plan
    wide = (view.sheet()[1].width_mm - LABEL_MM) / len(plan.days)
    at = QPointF(MARGIN + PAD_PX, MARGIN + PAD_PX) + PER_MM * QPointF(LABEL_MM + 2.5 * wide, 12.0)
    qtbot.mouseClick(view, Qt.MouseButton.LeftButton, pos=at.toPoint())
    assert window.state.why_day == plan.days[2]
    qtbot.mouseClick(view, Qt.MouseButton.LeftButton, pos=QPoint(300, view.height() - 40))
    assert window.state.why_day == plan.days[2]


def test_the_end_of_the_weather_is_the_last_day(window):
    window.weather.ask(dt.date(2030, 1, 1))
    last = window.state.why_day
    assert last == dt.date.fromordinal(int(window.steps.answers.facts(window.book.season).pressure.date[-1]))
    window.weather._on_stepped(1)
    assert window.state.why_day == last


def test_it_stands_on_every_step_and_the_hand_lets_go_of_the_ground(window):
    for step in ("Ground", "Walk", "Work", "Week", "Paper"):
        window.go_to(step)
        window.weather.ask(DAY)
        assert page_is_shown(window)
        assert not window.finding.giving.verb.isVisible()
    window.go_to("Ground")
    window.finding.hand.turn()
    window.weather.ask(DAY)
    assert not window.finding.hand.is_on
    window.finding.hand.turn()
    assert not page_is_shown(window)
    window.finding.hand.end()


def test_all_of_it_is_painted(window):
    window.weather.ask(DAY)
    image = window.weather.view.grab().toImage()
    colours = {image.pixelColor(x, y).name() for x in range(0, image.width(), 3) for y in range(0, image.height(), 3)}
    assert {window.ink.sheet.lower(), window.ink.ink.lower(), window.ink.wash.lower()} <= colours


def test_it_is_saved_and_printed_with_the_season(window, tmp_path, monkeypatch):
    asked = []

    def answer(proposed):
        asked.append(proposed.name)
        return tmp_path / "why.pdf"

    monkeypatch.setattr(window.asking, "ask_pdf", answer)
    window.weather.ask(DAY)
    window.weather.save.click()
    window.finding.ask("save as PDF")
    assert asked == ["wattlequern-pressure-2025-12-10.pdf"] * 2
    assert (tmp_path / "why.pdf").read_bytes().startswith(b"%PDF")
    assert [page.title for page in window.asking._pages()] == [
        "Wattlequern: why the pressure is what it is, Wednesday 10 December",
        "Wattlequern: the season",
    ]
    assert page_is_shown(window)


def test_without_weather_there_is_no_page(qtbot, small_window):
    small_window.weather.turn()
    assert small_window.ledger.refusal() == NO_WEATHER
    assert small_window.state.why_day is None


def corner_title(window):
    corner = window.canvas.scene.corner
    return corner.title if corner is not None else None


def test_the_wind_stands_in_a_corner_of_the_map_and_the_sun_of_a_chosen_row(qtbot, window):
    for step, title in (("Ground", "Where the wind comes from"), ("Read", None), ("Work", "Where the wind comes from")):
        window.go_to(step)
        qtbot.waitUntil(lambda: is_settled(window), timeout=60_000)
        assert corner_title(window) == title
    block = window.book.season.blocks[0]
    window.look(chosen=(block.name, 4))
    day = window.steps.round_of(window.book.season, window.state).date
    assert corner_title(window) == f"Sun on row {block.rows.labels[4]} of {block.name}, {day.day} December"
    window.look(chosen=None)
    assert corner_title(window) == "Where the wind comes from"


def corner_of(canvas):
    view = canvas._view()
    return canvas._sheet._corner(view, canvas._sheet._furniture(view, has_corner=True))


def test_the_corner_is_left_free_where_blocks_fill_the_sheet(qtbot, window):
    window.go_to("Ground")
    qtbot.waitUntil(lambda: is_settled(window), timeout=60_000)
    canvas = window.canvas
    canvas.fit()
    assert corner_of(canvas) is not None
    canvas.camera.zoom(8.0, canvas.width() / 2, canvas.height() / 2, canvas.width(), canvas.height())
    # zoomed to the middle of a block: the picture would hide vines
    x, y = window.book.season.blocks[0].outline.centroid.coords[0]
    canvas.camera.x_m, canvas.camera.y_m = x, y
    assert corner_of(canvas) is None
    canvas.fit()
