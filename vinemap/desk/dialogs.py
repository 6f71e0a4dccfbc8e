"""What all dialogs have in common: two answers at the foot, and a part that scrolls."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QFrame, QScrollArea, QWidget

from vinemap.desk.type import BODY, screen_font, set_ground
from vinemap.sheets.ink import Ink


def answers(dialog: QDialog, yes: str, no: str = "") -> QDialogButtonBox:
    """The two answers of a dialog, in words of their own; "" keeps the usual word for thinking again."""
    kinds = QDialogButtonBox.StandardButton
    buttons = QDialogButtonBox(kinds.Ok | kinds.Cancel)
    buttons.button(kinds.Ok).setText(yes)
    if no:
        buttons.button(kinds.Cancel).setText(no)
    for button in buttons.buttons():
        button.setFont(screen_font(BODY))
        button.setIcon(QIcon())
    buttons.accepted.connect(dialog.accept)
    buttons.rejected.connect(dialog.reject)
    return buttons


def scrolled(holder: QWidget, dialog: QDialog, ink: Ink) -> QScrollArea:
    """A part of a dialog that may be taller than the screen, on the dialog's ground."""
    scroll = QScrollArea()
    scroll.setWidget(holder)
    scroll.setWidgetResizable(True)
    scroll.setFrameShape(QFrame.Shape.NoFrame)
    scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    for widget in (dialog, holder, scroll.viewport()):
        set_ground(widget, ink.ground)
    return scroll
