"""Type on the screen: fonts of the house face at a size, and labels set in them."""

from __future__ import annotations

from functools import cache

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFont, QPalette
from PySide6.QtWidgets import QLabel, QWidget

from vinemap.desk.fonts import font

PLACE, ESTATE, STEP, SUBTITLE, BODY, LEDGER, HEAD, SMALL = 27, 21, 18, 15, 15, 15, 13, 14


@cache
def screen_font(size_px: int, weight: int = 400, is_italic: bool = False, is_small_caps: bool = False) -> QFont:
    """The house face at a size in logical pixels."""
    face = QFont(font(weight, is_italic, is_small_caps))
    face.setPixelSize(size_px)
    return face


def label(
    text: str, size_px: int, colour: str, weight: int = 400, is_italic: bool = False, parent: QWidget | None = None
) -> QLabel:
    """A label that wraps."""
    made = QLabel(text, parent)
    made.setFont(screen_font(size_px, weight, is_italic))
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(True)
    set_colour(made, colour)
    return made


def set_colour(widget: QWidget, colour: str) -> None:
    """Set the colour of a widget's words."""
    palette = widget.palette()
    for role in (QPalette.ColorRole.WindowText, QPalette.ColorRole.Text, QPalette.ColorRole.ButtonText):
        palette.setColor(role, QColor(colour))
    widget.setPalette(palette)


def set_ground(widget: QWidget, colour: str) -> None:
    """Fill a widget's ground."""
    palette = widget.palette()
    palette.setColor(QPalette.ColorRole.Window, QColor(colour))
    palette.setColor(QPalette.ColorRole.Base, QColor(colour))
    widget.setPalette(palette)
    widget.setAutoFillBackground(True)
