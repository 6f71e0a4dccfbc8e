"""The book face of the sheets and the window, and the width of words set in it."""

from __future__ import annotations

import os
import sys
from functools import cache
from importlib import resources
from pathlib import Path

from PySide6.QtGui import QFont, QFontDatabase, QFontMetricsF
from PySide6.QtWidgets import QApplication

from vinemap.sheets.marks import MM_PER_PT

FACE = "Vollkorn"
OTHER_FACES = ("DejaVu Serif", "Georgia", "Times New Roman")
SIZE_PX = 100
"""Words are set at this size and scaled by the painter, so that every width is in proportion on every device."""

SMALL_CAPS_TRACKING = 106.0
"""Per cent: small caps are set 6 % apart."""


@cache
def ensure_gui() -> QApplication:
    """The running Qt program, or a new one without a screen. Fonts and painting need it; keeps it alive."""
    running = QApplication.instance()
    if isinstance(running, QApplication):
        return running
    if sys.platform.startswith("linux") and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    return QApplication(["vinemap"])


def font_folder() -> Path:
    """Where the fonts lie: beside the package in a checkout, inside it when installed."""
    package = Path(str(resources.files("vinemap")))
    installed = package / "_resources" / "fonts"
    return installed if installed.is_dir() else package.parent / "resources" / "fonts"


@cache
def load_face() -> str:
    """The family to set words in: our book face, or the best serif at hand where its files are missing."""
    ensure_gui()
    for file in sorted(font_folder().glob("*.[to]tf")):
        QFontDatabase.addApplicationFont(str(file))
    families = set(QFontDatabase.families())
    for family in (FACE, *OTHER_FACES):
        if family in families:
            return family
    return QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont).family()


@cache
def font(weight: int = 400, is_italic: bool = False, is_small_caps: bool = False, is_plain: bool = False) -> QFont:
    """A font of the face at SIZE_PX with lining figures of one width (old-style figures read as letters).

    A plain one has no features: it is never seen, and only carries the letters a reader of a PDF searches for.
    """
    face = QFont(load_face())
    face.setPixelSize(SIZE_PX)
    face.setWeight(QFont.Weight(weight))
    face.setItalic(is_italic)
    face.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    face.setStyleStrategy(QFont.StyleStrategy.PreferOutline)
    if is_plain:
        return face
    for feature in ("lnum", "tnum"):
        face.setFeature(QFont.Tag(feature), 1)
    for feature in ("liga", "calt"):  # a joined "fi", or an f that makes room, has no letter in Qt's PDF
        face.setFeature(QFont.Tag(feature), 0)
    if is_small_caps:
        face.setFeature(QFont.Tag("smcp"), 1)
        face.setLetterSpacing(QFont.SpacingType.PercentageSpacing, SMALL_CAPS_TRACKING)
    return face


@cache
def _metrics(weight: int, is_italic: bool) -> QFontMetricsF:
    return QFontMetricsF(font(weight, is_italic))


def measure(text: str, size_pt: float, weight: int = 400, is_italic: bool = False) -> float:
    """Width [mm] of words at a size [pt], weight (400..800) and italic or not: what the sheets ask for."""
    return _metrics(weight, is_italic).horizontalAdvance(text) / SIZE_PX * size_pt * MM_PER_PT
