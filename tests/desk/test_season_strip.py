"""The season strip as a hand and an eye meet it: weather in the hand it was got in; all figures are invented."""

import datetime as dt

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QColor

from vinemap.desk import strip as drawn
from vinemap.desk.strip import SeasonStrip
from vinemap.desk.type import set_ground
from vinemap.service.strip import DayMark, make_strip
from vinemap.sheets.ink import THEMES
from vinemap.vineclock.pressure import pressure
from vinemap.vineclock.weather import FORECAST, READ, Weather
from vinemap.work.conditions import Stage

START, BLOOM = dt.date(2026, 4, 1), dt.date(2026, 5, 29)
HOUR = 3600


def weather_of(first, temp_degc, origin):
    time = (first.toordinal() - dt.date(1970, 1, 1).toordinal()) * 24 * HOUR + HOUR * np.arange(len(temp_degc))
    none = np.full(len(time), np.nan)
    return Weather("post", 0.0, time, temp_degc, none, none, none, none, none, origin)


@pytest.fixture(params=list(THEMES))
def widget(request, qtbot):
    """Forty days: read, then without readings, then a forecast with heat."""
    temp = np.full(40 * 24, 24.0)
    temp[20 * 24 : 31 * 24] = np.nan
    temp[35 * 24 + 14] = 36.0
    origin = np.full(len(temp), READ, np.int8)
    origin[32 * 24 :] = FORECAST
    weather = weather_of(dt.date(2026, 4, 10), temp, origin)
    pressed = pressure(weather, None)
    stage = Stage(BLOOM, False, dt.date(2026, 9, 15), False)
    events = (DayMark(dt.date(2026, 4, 18), "primary infection"),)
    made = SeasonStrip(THEMES[request.param])
    qtbot.addWidget(made)
    set_ground(made, made._ink.ground)
    made.resize(1280, drawn.HEIGHT)
    made.show_strip(make_strip((), (), pressed, stage, 28.0, START, (events, ())), ())
    return made


def inked(widget, date, top, bottom):
    """How many pixels around a date, from one height to another, stand out from the ground."""
    image = widget.grab().toImage()
    x = round(widget.x_of(date))
    ground = QColor(widget._ink.ground).lightness()
    seen = [image.pixelColor(x + k, y).lightness() for k in range(-2, 3) for y in range(top, bottom)]
    return sum(abs(each - ground) > 60 for each in seen)


RIBBON = drawn.PRESSURE_Y - 17, drawn.PRESSURE_Y + 18
SKY = drawn.SKY_Y - 6, drawn.SKY_Y + 6


def test_read_is_whole_missing_is_worn_and_forecast_is_hollow(widget):
    whole, worn, hollow = (inked(widget, dt.date(2026, *day), *RIBBON) for day in ((4, 25), (5, 10), (5, 15)))
    # at a pressure of 100 the ribbon is 32 px thick, and five columns are counted
    assert whole > 140
    assert 20 < worn < 0.9 * whole
    assert 0 < hollow < 40


def test_heat_and_events_have_a_place_of_their_own(widget):
    assert inked(widget, dt.date(2026, 4, 18), *SKY) > 3
    assert inked(widget, dt.date(2026, 5, 15), *SKY) > 0
    assert inked(widget, dt.date(2026, 4, 25), *SKY) == 0


def test_a_press_on_the_pressure_asks_why_and_twice_on_the_axis_dates(qtbot, widget):
    asked, dated = [], []
    widget.asked_why.connect(asked.append)
    widget.dated.connect(dated.append)
    x = round(widget.x_of(dt.date(2026, 4, 25)))
    for y in (drawn.PRESSURE_Y, drawn.SKY_Y):
        qtbot.mouseClick(widget, Qt.MouseButton.LeftButton, pos=QPoint(x, y))
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton, pos=QPoint(x, drawn.AXIS_Y + 10))
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton, pos=QPoint(40, drawn.PRESSURE_Y))
    assert asked == [dt.date(2026, 4, 25)] * 2
    qtbot.mouseDClick(widget, Qt.MouseButton.LeftButton, pos=QPoint(x, drawn.AXIS_Y + 10))
    qtbot.mouseDClick(widget, Qt.MouseButton.LeftButton, pos=QPoint(x, drawn.WORK_Y))
    assert dated == [dt.date(2026, 4, 25)]


def test_it_is_no_taller_than_it_was(widget):
    assert widget.height() == 154


def test_without_weather_it_says_so_and_asks_nothing(qtbot):
    made = SeasonStrip(THEMES["light"])
    qtbot.addWidget(made)
    made.resize(1280, drawn.HEIGHT)
    stage = Stage(None, False, dt.date(2026, 9, 15), True)
    made.show_strip(make_strip((), (), None, stage, 28.0, START), ())
    assert made.grab().width() == 1280
    assert made._strip.words_on(START) == "1 April, fruit open to mildew 0 %"
