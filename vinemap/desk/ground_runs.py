"""Vines of one row chosen by hand, from vine to vine, and marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, Qt

from vinemap.desk.ground_handles import Run, vine_near
from vinemap.desk.map_pick import find_spot
from vinemap.ground.block import Block

if TYPE_CHECKING:
    from vinemap.desk.ground_hand import GroundHand

MARK_KEYS = {Qt.Key.Key_D: "dead", Qt.Key.Key_M: "missing", Qt.Key.Key_N: "replanted", Qt.Key.Key_L: "living"}
FIRST_CHOOSE = "Choose vines first: Shift-drag along a row, or E."


class GroundRuns:
    """The vines that are chosen, None where there are none."""

    def __init__(self, hand: GroundHand) -> None:
        self._hand = hand
        self.run: Run | None = None
        self._is_held = False
        self._further_from: int | None = None

    @property
    def is_held(self) -> bool:
        """True while the hand is drawing along the row."""
        return self._is_held

    def let_go(self) -> None:
        """Choose nothing."""
        self.run, self._is_held, self._further_from = None, False, None

    def keep_if_fits(self, was: Block | None, now: Block | None) -> None:
        """Let go of vines that an edit has taken away or numbered otherwise."""
        if self.run is None:
            return
        is_same = was is not None and now is not None and (was.name, was.rows.labels) == (now.name, now.rows.labels)
        if now is None or not is_same or self.run.span[1] > int(now.rows.vine_count[self.run.row]):
            self.let_go()

    # ---- mouse

    def begin(self, here: QPointF) -> bool:
        """Take hold of the vine under the pointer; False where there is none of this block."""
        hand, canvas = self._hand, self._hand.window.canvas
        scene = hand.scene
        spot = find_spot(canvas.scene, *hand.view.to_m(here.x(), here.y()))
        if spot is None or scene is None or canvas.scene.blocks[spot.block] is not scene:
            return False
        vine = int(scene.vines.ordinal[spot.vine])
        is_further = self.run is not None and self.run.row == spot.row
        self._further_from = self.run.anchor if is_further and self.run is not None else None
        self._is_held = True
        self.choose(Run(spot.row, vine, vine))
        return True

    def move(self, here: QPointF) -> None:
        """Follow the hand along the row."""
        run, scene = self.run, self._hand.scene
        if run is None or scene is None:
            return
        vine = vine_near(scene, run.row, *self._hand.view.to_m(here.x(), here.y()))
        if vine != run.last:
            self._further_from = None
            self.choose(Run(run.row, run.anchor, vine))

    def release(self) -> None:
        """The hand lets go; a single vine in the row of the run before makes that one longer."""
        self._is_held = False
        if self.run is not None and self._further_from is not None:
            self.choose(Run(self.run.row, self._further_from, self.run.last))

    # ---- keys

    def ask(self, block: Block, row: int) -> None:
        """Choose vines of a row by their numbers."""
        count = int(block.rows.vine_count[row])
        words = f"Which vines of row {block.rows.labels[row]}, from 1 to {count}?"
        text = self._hand.deeds.ask_text("Choose vines", words, f"1 to {count}")
        if not text:
            return
        numbers = [int(part) for part in text.replace("-", " ").replace("–", " ").split() if part.isdecimal()]
        if not 1 <= len(numbers) <= 2 or not all(1 <= each <= count for each in numbers):
            self._hand.tell(f"“{text}” is not understood. Write for example 1 to {count}.")
            return
        self.choose(Run(row, numbers[0], numbers[-1]))

    def choose(self, run: Run) -> None:
        """Choose these vines."""
        self.run = run
        self._hand.grip.leave()
        self._hand.said = ""
        self._hand.redraw()

    def mark(self, key: Qt.Key) -> None:
        """Mark the vines that are chosen, by the key for it."""
        hand, run = self._hand, self.run
        block = hand.block
        if block is None or run is None:
            hand.tell(FIRST_CHOOSE)
        elif key == Qt.Key.Key_V:
            hand.tell(hand.deeds.mark_variety(block, run))
        else:
            words = MARK_KEYS[key]
            hand.tell(hand.deeds.mark(block, run, words) or f"Marked {words}.")
