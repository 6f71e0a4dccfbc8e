"""The question how the rows of a block run: figures to give, and what comes of them, said and drawn at once."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from PySide6.QtCore import QPoint, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QDialogButtonBox,
    QDoubleSpinBox,
    QFormLayout,
    QLineEdit,
    QSpinBox,
    QWidget,
)

from vinemap.desk.controls import Choice
from vinemap.desk.dialogs import answers
from vinemap.desk.type import BODY, label, screen_font, set_colour, set_ground
from vinemap.errors import InputError
from vinemap.ground.block import RowTable
from vinemap.ground.planting import RowPlan, planned_rows, planned_words
from vinemap.ground.renumber import TOWARD_DEG, across_sign
from vinemap.ground.rowmaker import LARGEST_ROW, LARGEST_SPACING_M, SMALLEST_SPACING_M
from vinemap.sheets.ink import Ink

_WIDEST_HEADLAND_M = 100.0
_DOWN_PX = 120
_EDGE, _OFFSET = "rows follow the bend of the outline's edge", "every other row is shifted by half a spacing"


@dataclass(frozen=True, slots=True)
class Planting:
    """How a block is planted: its name, which stays for a block that is there, and the plan of its rows."""

    name: str
    plan: RowPlan


class PlantingDialog(QDialog):
    """The name of a new block, and how rows run in an outline. ``planned`` tells the rows at each change, None for none."""

    planned = Signal(object)

    def __init__(self, proposed: Planting, outline: shapely.Polygon, ink: Ink, parent: QWidget, is_new: bool = True) -> None:
        super().__init__(parent)
        self._outline, self._name_given = outline, proposed.name
        self.setWindowTitle("A new block" if is_new else f"Rows of {proposed.name}")
        set_ground(self, ink.ground)
        self._form, self._ink, plan = QFormLayout(self), ink, proposed.plan
        self.name = QLineEdit(proposed.name)
        if is_new:
            self._add("name of the block", self.name)
        self.bearing = self._figure("rows run, degrees clockwise from north", plan.bearing_deg, 0.0, 360.0)
        self.row_spacing = self._figure("between rows, m", plan.row_spacing_m, SMALLEST_SPACING_M, LARGEST_SPACING_M)
        self.vine_spacing = self._figure("between vines, m", plan.vine_spacing_m, SMALLEST_SPACING_M, LARGEST_SPACING_M)
        self.headland = self._figure("kept free where rows end, m", plan.headland_m, 0.0, _WIDEST_HEADLAND_M)
        self.side = Choice("the first row stands in the", ink)
        self._offer_sides(plan.from_side)
        self._add(self.side.accessibleName(), self.side)
        self.first_row = QSpinBox()
        self.first_row.setRange(0, LARGEST_ROW)
        self.first_row.setValue(plan.first_row)
        self._add("its number", self.first_row)
        self.is_along_edge, self.is_offset = self._tick(_EDGE, plan.is_along_edge), self._tick(_OFFSET, plan.is_offset)
        self.told = label("", BODY, ink.ink, 400, True)
        # two lines at every answer: a dialog that changes its height under the hand is hit wrongly
        self.told.setMinimumHeight(2 * self.told.sizeHint().height())
        self._form.addRow(self.told)
        self.buttons = answers(self, "Make its rows")
        self._form.addRow(self.buttons)
        for box in (self.row_spacing, self.vine_spacing, self.headland):
            box.valueChanged.connect(self._on_change)
        self.bearing.valueChanged.connect(self._on_bearing)
        self.first_row.valueChanged.connect(self._on_change)
        self.side.currentTextChanged.connect(self._on_change)
        self.is_along_edge.toggled.connect(self._on_change)
        self.is_offset.toggled.connect(self._on_change)

    def begin(self, beside: QWidget) -> None:
        """Say and draw what the proposed figures give, once somebody listens; stands over ``beside``, off the map."""
        self.adjustSize()
        place = beside.mapToGlobal(QPoint((beside.width() - self.width()) // 2, _DOWN_PX))
        self.move(place)
        self._on_change()

    def planting(self) -> Planting:
        """What was given."""
        plan = RowPlan(
            self.bearing.value(),
            self.row_spacing.value(),
            self.vine_spacing.value(),
            self.headland.value(),
            self.first_row.value(),
            self.side.currentText(),
            self.is_along_edge.isChecked(),
            self.is_offset.isChecked(),
        )
        return Planting(self.name.text(), plan)

    def _add(self, words: str, widget: QWidget) -> None:
        widget.setFont(screen_font(BODY))
        widget.setAccessibleName(words)
        self._form.addRow(label(words, BODY, self._ink.ink), widget)

    def _figure(self, words: str, value: float, least: float, most: float) -> QDoubleSpinBox:
        box = QDoubleSpinBox()
        box.setRange(least, most)
        box.setDecimals(2)
        box.setValue(value)
        self._add(words, box)
        return box

    def _tick(self, words: str, is_on: bool) -> QCheckBox:
        box = QCheckBox(words)
        box.setFont(screen_font(BODY))
        set_colour(box, self._ink.ink)
        box.setChecked(is_on)
        self._form.addRow(box)
        return box

    def _offer_sides(self, chosen: str) -> None:
        """Offer the sides on which a first row can stand: not those the rows run toward."""
        sides = [side for side in TOWARD_DEG if _is_side(self.bearing.value(), side)]
        self.side.blockSignals(True)
        self.side.clear()
        self.side.addItems(sides)
        self.side.setCurrentText(chosen if chosen in sides else sides[0] if "west" not in sides else "west")
        self.side.blockSignals(False)

    def _on_bearing(self) -> None:
        self._offer_sides(self.side.currentText())
        self._on_change()

    def _on_change(self) -> None:
        plan = self.planting().plan
        rows: RowTable | None = None
        try:
            rows = planned_rows(self._outline, plan)
            self.told.setText(f"That makes {planned_words(self._outline, plan, rows)}")
        except InputError as error:
            self.told.setText(str(error))
        self.buttons.button(QDialogButtonBox.StandardButton.Ok).setEnabled(rows is not None)
        self.planned.emit(rows)


def _is_side(bearing_deg: float, side: str) -> bool:
    try:
        across_sign(bearing_deg, side)
    except InputError:
        return False
    return True
