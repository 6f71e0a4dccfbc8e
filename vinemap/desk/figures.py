"""The figures that stand behind every gain, each with where it comes from, to be corrected by the manager."""

from __future__ import annotations

from dataclasses import fields, replace

from PySide6.QtWidgets import (
    QDialog,
    QDoubleSpinBox,
    QGridLayout,
    QVBoxLayout,
    QWidget,
)

from vinemap.desk.dialogs import answers, scrolled
from vinemap.desk.type import BODY, SMALL, label, screen_font
from vinemap.sheets.ink import Ink
from vinemap.work.assumptions import SOURCES, Assumptions

WORDS = {
    "threshold": ("too much mildew from, share of clusters", 0.01, 0.9),
    "clusters_per_vine": ("clusters on a vine", 1.0, 500.0),
    "kg_per_cluster": ("weight of a cluster, kg", 0.01, 3.0),
    "growth_per_day": ("growth a day at pressure 100", 0.0, 1.0),
    "opening_effect": ("growth taken away by opening firmly, share", 0.0, 0.95),
    "spray_effect": ("growth taken away by a fresh spray, share", 0.0, 0.95),
    "spread_along_m": ("spread along the row, m", 0.5, 50.0),
    "spread_across_m": ("spread across the rows, m", 0.5, 50.0),
    "spread_share": ("new infections that come from around, share", 0.0, 0.9),
    "minutes_open": ("minutes a vine to open one face", 0.05, 30.0),
    "minutes_open_both": ("minutes a vine to open both faces", 0.05, 30.0),
    "least_kg_per_hour": ("fruit an hour must save to be worth it, kg", 0.0, 500.0),
    "crew_hours": ("hand hours in the week", 0.0, 2000.0),
    "sprayer_hours": ("sprayer hours in the week", 0.0, 2000.0),
    "productive_share": ("share of an hour that is worked", 0.1, 1.0),
    "sprayer_kmh": ("speed of the sprayer, km/h", 0.5, 20.0),
    "sprayer_efficiency": ("share of the sprayer's time in the row", 0.1, 1.0),
    "sprayer_row_minutes": ("minutes of the sprayer into a row and out", 0.0, 60.0),
    "last_spray_days": ("days without spray before harvest", 0.0, 120.0),
    "fruit_resists_days": ("days from bloom until berries resist", 10.0, 60.0),
    "closing_degree_days": ("degree days until an opening has closed", 50.0, 2000.0),
    "late_opening_effect": ("effect of late opening, by practice, share", 0.0, 1.0),
    "faces_alike": ("faces are alike below, share of hot sun", 0.0, 0.5),
    "burn_share": ("bare clusters that burn on the hottest face, share", 0.0, 1.0),
    "burn_loss": ("fruit that a burned cluster loses, share", 0.0, 1.0),
    "burn_hot_kwh_m2": ("hot sun of the hottest face, kWh/m²", 10.0, 1000.0),
    "heat_caution_degc": ("heat to be watched from, °C", 20.0, 50.0),
    "heat_stop_degc": ("heat that keeps a hot face closed, °C", 20.0, 50.0),
}
"""Each figure in words, with the least and the most it can be."""


class FiguresDialog(QDialog):
    """One line a figure: what it is, its value, its source."""

    def __init__(self, now: Assumptions, ink: Ink, parent: QWidget) -> None:
        super().__init__(parent)
        self._now = now
        self._boxes: dict[str, QDoubleSpinBox] = {}
        self.setWindowTitle("The figures behind every gain")
        self.resize(760, 640)
        grid_holder = QWidget()
        grid = QGridLayout(grid_holder)
        grid.setColumnStretch(2, 1)
        for row, each in enumerate(fields(Assumptions)):
            words, least, most = WORDS[each.name]
            box = QDoubleSpinBox()
            box.setRange(least, most)
            box.setDecimals(2 if most <= 3 else 1)
            box.setFont(screen_font(BODY))
            box.setValue(getattr(now, each.name))
            box.setAccessibleName(words)
            self._boxes[each.name] = box
            grid.addWidget(label(words, BODY, ink.ink), row, 0)
            grid.addWidget(box, row, 1)
            grid.addWidget(label(SOURCES[each.name], SMALL, ink.ink_soft, 400, True), row, 2)
        column = QVBoxLayout(self)
        column.addWidget(label("Put in your own counts. What is not changed keeps its source.", BODY, ink.ink))
        column.addWidget(scrolled(grid_holder, self, ink), 1)
        column.addWidget(answers(self, "Take these"))

    def figures(self) -> Assumptions:
        """The figures as they stand in the boxes; one that was not touched keeps every digit."""
        changed = {
            name: box.value() for name, box in self._boxes.items() if abs(box.value() - getattr(self._now, name)) > 5e-3
        }
        return replace(self._now, **changed)
