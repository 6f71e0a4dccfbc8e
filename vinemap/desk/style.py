"""How the few ready-made controls look: flat, ruled, in the ink of the theme."""

from __future__ import annotations

from PySide6.QtGui import QColor, QPalette

from vinemap.sheets.ink import Ink


def style_sheet(ink: Ink) -> str:
    """The style of scroll bars, the block list, the slider, the hours, and what stands in dialogs."""
    return f"""
QScrollBar:vertical {{ background: {ink.ground}; width: 9px; margin: 0; }}
QScrollBar::handle:vertical {{ background: {ink.rule}; min-height: 28px; margin-left: 4px; }}
QScrollBar::handle:vertical:hover {{ background: {ink.ink_faint}; }}
QScrollBar::add-line, QScrollBar::sub-line {{ height: 0; }}
QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
QComboBox, QAbstractSpinBox, QPlainTextEdit, QDialogButtonBox QPushButton {{
    background: {ink.sheet}; color: {ink.ink}; border: 1px solid {ink.rule}; padding: 3px 8px; border-radius: 0;
}}
QAbstractSpinBox::up-button, QAbstractSpinBox::down-button {{ width: 0; border: none; }}
QComboBox::drop-down {{ border: none; width: 26px; }}
QComboBox::down-arrow {{ image: none; }}
QComboBox:focus, QAbstractSpinBox:focus, QPlainTextEdit:focus {{ border: 2px solid {ink.focus}; }}
QDialogButtonBox QPushButton {{ border-color: {ink.ink_soft}; padding: 4px 14px; }}
QDialogButtonBox QPushButton:disabled {{ color: {ink.ink_faint}; border-color: {ink.rule}; }}
QDialogButtonBox QPushButton:focus {{ border: 2px solid {ink.focus}; padding: 3px 13px; }}
QCheckBox::indicator {{ width: 13px; height: 13px; background: {ink.sheet}; border: 1px solid {ink.ink_soft}; }}
QCheckBox::indicator:checked {{ background: {ink.ink}; }}
QComboBox QAbstractItemView {{
    background: {ink.sheet}; color: {ink.ink}; border: 1px solid {ink.ink};
    selection-background-color: {ink.wash}; selection-color: {ink.ink};
}}
QSlider::groove:horizontal {{ height: 2px; background: {ink.rule}; }}
QSlider::sub-page:horizontal {{ height: 2px; background: {ink.ink}; }}
QSlider::handle:horizontal {{
    width: 12px; height: 12px; margin: -6px 0; border-radius: 7px; background: {ink.sheet}; border: 2px solid {ink.ink};
}}
QSlider::handle:horizontal:focus {{ border-color: {ink.focus}; }}
QLineEdit {{ background: {ink.ground}; color: {ink.ink}; border: none; border-bottom: 1px solid {ink.rule}; }}
QLineEdit:focus {{ border-bottom: 2px solid {ink.focus}; }}
QToolTip {{ background: {ink.sheet}; color: {ink.ink}; border: 1px solid {ink.ink}; padding: 3px 6px; }}
"""


def palette(ink: Ink) -> QPalette:
    """The palette of the theme, so that nothing falls back to a colour of the system."""
    made = QPalette()
    roles = {
        QPalette.ColorRole.Window: ink.ground,
        QPalette.ColorRole.Base: ink.sheet,
        QPalette.ColorRole.AlternateBase: ink.wash,
        QPalette.ColorRole.Button: ink.ground,
        QPalette.ColorRole.Text: ink.ink,
        QPalette.ColorRole.WindowText: ink.ink,
        QPalette.ColorRole.ButtonText: ink.ink,
        QPalette.ColorRole.PlaceholderText: ink.ink_soft,
        QPalette.ColorRole.Highlight: ink.wash,
        QPalette.ColorRole.HighlightedText: ink.ink,
    }
    for role, colour in roles.items():
        made.setColor(role, QColor(colour))
    return made
