"""The ledger under Tab: passing by never moves the list."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from vinemap.desk.ledger import Ledger
from vinemap.service.ledger import Column, Line, Page
from vinemap.sheets.ink import LIGHT


def test_tab_leaves_a_long_list_where_it_is(qtbot):
    ledger = Ledger(LIGHT)
    qtbot.addWidget(ledger)
    ledger.resize(404, 500)
    lines = tuple(Line("Long Acre", row, (str(row),)) for row in range(200))
    ledger.show_page(Page("Long Acre", "", columns=(Column("Row", 3),), lines=lines), None, None, None)
    onward = QPushButton("On")
    ledger.foot.addWidget(onward)
    ledger.show()
    ledger.activateWindow()
    qtbot.waitUntil(ledger.isActiveWindow)
    ledger.table.setFocus()
    qtbot.keyClick(ledger.table, Qt.Key.Key_Tab)
    assert onward.hasFocus()
    assert ledger._scroll.verticalScrollBar().maximum() > 0
    assert ledger._scroll.verticalScrollBar().value() == 0
