"""Tree lines and hedges on the map: drawn where they stand, and listed. The ground is invented."""

import numpy as np
from hand_window import px

from vinemap.ground.edges import Edge
from vinemap.season.weather_edits import with_edges

LINE = np.array([(-30.0, 0.0), (-30.0, 60.0)])


def seen(window, hand):
    """The colours of a few places on the sheet: across the line where it stands, and far from it."""
    image = window.canvas.grab().toImage()
    middle, away = px(hand, (-30.0, 20.0)), px(hand, (-45.0, 20.0))
    across = [image.pixelColor(middle.x() + step, middle.y()).lightness() for step in range(-4, 5)]
    return across, image.pixelColor(away.x(), away.y()).lightness()


def test_a_hedge_is_drawn_where_it_stands_and_undo_takes_it_away(qtbot, window, hand):
    hand.end()
    window.canvas.camera.fit((-60, -10, 90, 70), window.canvas.width(), window.canvas.height())
    qtbot.waitUntil(lambda: window.canvas.is_settled)
    paper = seen(window, hand)
    window.book.apply("a hedge", lambda season: with_edges(season, [Edge("poplars", LINE, 14.0, 0.4)]))
    qtbot.waitUntil(lambda: window.canvas.is_settled)
    across, away = seen(window, hand)
    assert min(across) < min(paper[0]) - 40, "a band of ink"
    assert across[4] > min(across) + 40, "hollow in its middle"
    assert away == paper[1]
    facts = {fact.label: fact.value for fact in window.ledger._facts._facts}
    assert facts["poplars, to shade and shelter"] == "14 m high"
    window.book.undo()
    qtbot.waitUntil(lambda: window.canvas.is_settled)
    assert seen(window, hand) == paper
