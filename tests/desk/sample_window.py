"""A window on a sample estate that several tests share."""

import datetime as dt

from pytestqt.qtbot import QtBot

from vinemap.desk.window import Window
from vinemap.service.book import open_book


def is_settled(window):
    """All that was asked for is there, and drawn."""
    return not window.head._job.isVisible() and window.canvas.is_settled


def opened_sample(request, path, now: dt.datetime) -> Window:
    """A window on a season file, once its answers are made: its threads begin before any test."""
    window = Window(open_book(path), now=lambda: now)
    window.resize(1280, 720)
    window.show()
    QtBot(request).waitUntil(lambda: is_settled(window), timeout=60_000)
    return window
