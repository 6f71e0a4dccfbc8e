"""Windows on invented seasons; a test file that needs another one makes its own under the same name."""

import numpy as np
import pytest
import shapely
from hand_window import invented_file, opened_hand

from vinemap.desk.window import Window
from vinemap.files.projection import frame_for
from vinemap.ground.block import Block, RowTable
from vinemap.season.value import Estate, Season
from vinemap.service.book import new_book


@pytest.fixture
def path(tmp_path):
    return invented_file(tmp_path)


@pytest.fixture
def window(qtbot, path):
    made = opened_hand(qtbot, path)
    yield made
    made.close()


@pytest.fixture
def hand(window):
    return window.finding.hand


@pytest.fixture
def small_window(qtbot, tmp_path):
    """One block of two rows, and nothing else."""
    rows = RowTable(("1", "2"), np.array([[0, 0], [0, 20], [2.5, 0], [2.5, 20]]), [0, 2, 4], [2.0, 2.0], [10, 10])
    block = Block("Long Acre", shapely.box(-2, -2, 5, 22), rows, 2.5, 2.0)
    season = Season(Estate("Invented", frame_for(-122.7, 38.6), -8.0), (block,))
    window = Window(new_book(tmp_path / "a.vinemap", season))
    qtbot.addWidget(window)
    window.show()
    qtbot.waitExposed(window)
    yield window
    window.close()
